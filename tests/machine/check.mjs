// SARIF logs against the schema that OASIS published (npm: @microsoft/jest-sarif carries it), and the configurations in docs/ci.
//
//   node check.mjs SCHEMA DOCS_CI LOG MESSAGES [LOG MESSAGES …]
//
// MESSAGES is what `--format json` writes of the same texts: both must tell the same, at the same places.
import assert from "node:assert/strict";
import fs from "node:fs";
import path from "node:path";
import Ajv from "ajv-draft-04";
import addFormats from "ajv-formats";
import YAML from "yaml";

const [schemaFile, ci, ...logs] = process.argv.slice(2);
const read = (file) => fs.readFileSync(file, "utf8");
// The schema has a pattern that isn't one under the `u` flag.
const ajv = addFormats(new Ajv({ strict: false, unicodeRegExp: false, allErrors: true }));
const valid = ajv.compile(JSON.parse(read(schemaFile)));

let results = 0;
for (let i = 0; i < logs.length; i += 2) {
  const log = JSON.parse(read(logs[i]));
  assert.ok(valid(log), `${logs[i]}: ${JSON.stringify(valid.errors, null, 2)}`);
  const [run] = log.runs;
  const messages = read(logs[i + 1]).split("\n").filter(Boolean).map((line) => JSON.parse(line));
  assert.equal(run.results.length, messages.length, logs[i]);
  const rules = run.tool.driver.rules;
  assert.deepEqual(rules.map((r) => r.id), [...new Set(rules.map((r) => r.id))]);
  for (const [n, result] of run.results.entries()) {
    const message = messages[n];
    const { artifactLocation, region } = result.locations[0].physicalLocation;
    assert.equal(rules[result.ruleIndex].id, message.code);
    assert.ok(rules[result.ruleIndex].help.markdown.startsWith(`# ${message.code}: `));
    assert.deepEqual([result.ruleId, result.level, decodeURIComponent(artifactLocation.uri)], [message.code, message.severity, message.place.file]);
    const { start, end } = message.place;
    assert.deepEqual(
      [region.startLine, region.startColumn, region.endLine, region.endColumn],
      [start.line, start.column, end.line, end.column],
    );
    assert.equal((result.relatedLocations ?? []).length, message.related.length);
    assert.equal((result.fixes ?? []).length, message.fixes.filter((f) => f.edits.length).length);
    results += 1;
  }
  // Spoilt logs are refused: otherwise nothing above was said.
  if (run.results.length === 0) continue;
  for (const spoil of [
    (l) => (l.version = "2.0"),
    (l) => delete l.runs[0].tool.driver.name,
    (l) => (l.runs[0].results[0].level = "fatal"),
    (l) => (l.runs[0].results[0].locations[0].physicalLocation.region.startLine = 0),
    (l) => (l.runs[0].results[0].bicycle = 1),
  ]) {
    const spoilt = structuredClone(log);
    spoil(spoilt);
    assert.ok(!valid(spoilt), `${spoil}`);
  }
}
assert.ok(results > 3, `${results}`);

// What other programs read: the keys that they ask for (from their manuals, from memory), and commands that the program knows.
const yaml = (name) => YAML.parse(read(path.join(ci, name)), { strict: true });
const steps = yaml("github-workflow.yml").jobs.check.steps;
assert.ok(steps.every((s) => Boolean(s.uses) !== Boolean(s.run)) && steps.at(-1).with.sarif_file === "recipes.sarif");
const job = yaml("gitlab-ci.yml").recipes;
assert.ok(job.script.length && job.artifacts.reports.junit === "cases.xml");
const hooks = yaml("pre-commit-config.yaml").repos[0].hooks;
assert.ok(hooks.length === 2 && hooks.every((h) => h.id && h.name && h.entry && h.language === "system" && new RegExp(h.files).test("a.trim")));
console.log(`tests/machine: ${results} results in ${logs.length / 2} logs, 3 configurations`);
