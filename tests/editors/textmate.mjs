// The TextMate grammar against the real parser: every recipe and sample of the project, token by token.
//
//   node textmate.mjs TOKENS     with the lines that `trim_tokens` prints

import assert from "node:assert";
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import oniguruma from "vscode-oniguruma";
import textmate from "vscode-textmate";

const root = join(dirname(fileURLToPath(import.meta.url)), "..", "..");
const wasm = createRequire(import.meta.url).resolve("vscode-oniguruma/release/onig.wasm");
await oniguruma.loadWASM(readFileSync(wasm));

const path = join(root, "lsp", "editors", "textmate", "trim.tmLanguage.json");
const registry = new textmate.Registry({
  onigLib: Promise.resolve({
    createOnigScanner: (sources) => new oniguruma.OnigScanner(sources),
    createOnigString: (text) => new oniguruma.OnigString(text),
  }),
  loadGrammar: async () => textmate.parseRawGrammar(readFileSync(path, "utf8"), path),
});
const grammar = await registry.loadGrammar("source.trim");

// The scope that each kind of token has.
const SCOPES = {
  block: "keyword.declaration.trim",
  name: "entity.name.type.trim",
  comment: "comment.line",
  note: "comment.block.source.trim",
  string: "string.quoted",
  prose: "string.unquoted.prose.trim",
  blade: "constant.other.blade.trim",
  number: "constant.numeric.trim",
  date: "constant.numeric.date.trim",
  verb: "support.function.verb.trim",
  part: "support.function.part.trim",
};
// Kinds that the editor knows exactly: what it shows as one of these is one. (It calls more things a number: `two combs`.)
const EXACT = ["block", "comment", "note", "string", "prose", "blade", "verb", "part", "date"];

const scopeOf = (scopes, kind) => scopes.some((s) => s === SCOPES[kind] || s.startsWith(`${SCOPES[kind]}.`));

/** The runs of one kind, as `start-end` in bytes; prose, which goes over lines, comes out line by line. */
function runs(text, kinds) {
  const found = Object.fromEntries(kinds.map((kind) => [kind, []]));
  const odd = [];
  let stack = textmate.INITIAL;
  let at = 0;
  for (const line of text.split("\n")) {
    const { tokens, ruleStack } = grammar.tokenizeLine(line, stack);
    stack = ruleStack;
    const byte = (column) => at + Buffer.byteLength(line.slice(0, column));
    for (const token of tokens) {
      const [start, end] = [byte(token.startIndex), byte(Math.min(token.endIndex, line.length))];
      if (start === end) continue;
      for (const kind of kinds) {
        if (!scopeOf(token.scopes, kind)) continue;
        const last = found[kind].at(-1);
        if (last && last[1] === start) last[1] = end;
        else found[kind].push([start, end]);
        // Nothing stands inside what is said in words.
        if (["comment", "note", "string", "prose"].includes(kind) && !scopeOf(token.scopes.slice(-1), kind)) {
          odd.push([start, end, token.scopes.at(-1)]);
        }
      }
    }
    at += Buffer.byteLength(line) + 1;
  }
  return { found, odd };
}

const files = [];
for (const line of readFileSync(process.argv[2], "utf8").split("\n").filter(Boolean)) {
  const said = JSON.parse(line);
  if (said.file) files.push({ ...said, tokens: [] });
  else files.at(-1).tokens.push(said);
}
assert(files.length > 30, "the corpus is there");

let [failed, seen, read] = [0, 0, 0];
for (const { file, mistakes, tokens } of files) {
  // A variant may have become a mistake; the slips are meant to be.
  if (mistakes && !file.startsWith("tests/")) continue;
  read += 1;
  const bytes = readFileSync(join(file.startsWith("/") ? "" : root, file));
  const text = bytes.toString("utf8");
  const { found, odd } = runs(text, Object.keys(SCOPES));
  const fail = (what, start, end) => {
    failed += 1;
    const line = bytes.subarray(0, start).filter((b) => b === 10).length + 1;
    if (failed <= 40) console.error(`${file}:${line}: ${what}: ${JSON.stringify(bytes.subarray(start, end).toString())}`);
  };
  for (const [start, end, scope] of odd) fail(`${scope} inside words`, start, end);
  const real = Object.fromEntries(Object.keys(SCOPES).map((kind) => [kind, new Set()]));
  for (let { kind, start, end } of tokens) {
    // A name in quotes is a text for the editor.
    if (kind === "name" && bytes[start] === 0x22) kind = "string";
    if (kind !== "prose") {
      real[kind].add(`${start}-${end}`);
      continue;
    }
    // Prose is compared line by line, without the blanks around.
    for (const line of text.matchAll(/[^\n]+/g)) {
      const inner = line[0].trim();
      const from = Buffer.byteLength(text.slice(0, line.index + line[0].indexOf(inner)));
      if (inner && from >= start && from < end) real.prose.add(`${from}-${from + Buffer.byteLength(inner)}`);
    }
  }
  for (const kind of Object.keys(SCOPES)) {
    const mine = new Set();
    for (let [start, end] of found[kind]) {
      if (kind === "prose") {
        const said = bytes.subarray(start, end).toString();
        if (!said.trim()) continue;
        start += Buffer.byteLength(said.slice(0, said.length - said.trimStart().length));
        end = start + Buffer.byteLength(said.trim());
      }
      mine.add(`${start}-${end}`);
    }
    for (const range of real[kind]) {
      seen += 1;
      if (!mine.has(range)) fail(`no ${kind}`, ...range.split("-").map(Number));
    }
    for (const range of mine) {
      if (EXACT.includes(kind) && !real[kind].has(range)) fail(`not a ${kind}`, ...range.split("-").map(Number));
    }
  }
}
assert(seen > 3000, "tokens were compared");
console.log(`textmate: ${read} files, ${seen} tokens; ${failed ? `${failed} differ` : "all alike"}`);
process.exit(failed ? 1 : 0);
