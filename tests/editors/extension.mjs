// Loads the packaged extension with a stand-in for the editor: what it contributes is there, every command it offers is
// registered, a missing server is told with the way out, and a view shows the page that the server answers.
//
//   node extension.mjs FOLDER     with the unpacked .vsix

import assert from "node:assert";
import { existsSync, readFileSync } from "node:fs";
import Module, { createRequire } from "node:module";
import { join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const folder = resolve(process.argv[2], "extension");
const manifest = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));

for (const { configuration } of manifest.contributes.languages) {
  const settings = JSON.parse(readFileSync(join(folder, configuration), "utf8"));
  const regexes = [settings.wordPattern, ...Object.values(settings.indentationRules), ...settings.onEnterRules.map((r) => r.beforeText)];
  for (const regex of regexes) new RegExp(regex.pattern ?? regex, regex.flags ?? "");
  const word = new RegExp(settings.wordPattern.pattern, `g${settings.wordPattern.flags}`);
  assert.deepEqual("clip hind-legs, café with #7F".match(word), ["clip", "hind-legs", "café", "with", "#7F"]);
  const deeper = new RegExp(settings.indentationRules.increaseIndentPattern);
  for (const line of ["recipe a {", "  about", "  when weight under 6 kg {  -- why", '  case "a { b" {']) assert(deeper.test(line), line);
  for (const line of ["  prep { bath; dry }", '  about "{"', "  -- not {", "}"]) assert(!deeper.test(line), line);
}
for (const { path } of manifest.contributes.grammars) {
  assert.equal(JSON.parse(readFileSync(join(folder, path), "utf8")).scopeName, "source.trim");
}
assert(existsSync(join(folder, manifest.main)));

// Whatever the client library asks the editor for is a class, a function and an object at once; what the extension itself
// asks for is spelt out below.
const anything = () =>
  new Proxy(class {}, {
    get: (target, name) => (name in target || typeof name === "symbol" ? target[name] : (target[name] = anything())),
    apply: () => anything(),
  });
const commands = new Map();
const told = [];
const panels = [];
let server = "no-such-server";
const vscode = {
  version: "1.82.0",
  commands: { registerCommand: (name, run) => (commands.set(name, run), { dispose() {} }), executeCommand: async () => undefined },
  window: {
    showErrorMessage: async (words) => void told.push(words),
    activeTextEditor: {
      document: { languageId: "trim", uri: { scheme: "file", toString: () => "file:///house/t.trim" } },
      selection: { active: { line: 3, character: 7 } },
    },
    createWebviewPanel: (_, title, __, options) => {
      const panel = { title, options, webview: { html: "" }, onDidDispose() {}, dispose() {}, reveal() {} };
      panels.push(panel);
      return panel;
    },
  },
  workspace: {
    getConfiguration: () => ({ get: (_, otherwise) => (otherwise === "" ? server : otherwise) }),
    workspaceFolders: undefined,
    textDocuments: [],
    notebookDocuments: [],
  },
  EventEmitter: class {
    event = () => ({ dispose() {} });
    fire() {}
    dispose() {}
  },
  ViewColumn: { Beside: -2 },
  env: { appName: "test", language: "en" },
};
const blend = (mine) =>
  new Proxy(mine, {
    get: (target, name) => {
      if (!(name in target)) target[name] = anything();
      const found = target[name];
      return found && typeof found === "object" && !Array.isArray(found) ? blend(found) : found;
    },
  });
const load = Module._load;
const editor = blend(vscode);
Module._load = (name, ...rest) => (name === "vscode" ? editor : load(name, ...rest));

const extension = createRequire(import.meta.url)(join(folder, manifest.main));
await extension.activate({ subscriptions: [] });
assert.deepEqual([...commands.keys()].sort(), manifest.contributes.commands.map((c) => c.command).sort());
assert.equal(told.length, 1, told.join("; "));
assert.match(told[0], /no-such-server.*coatwright\.server\.path/);

// Without a server the view says so.
const shown = async (panel, words) => {
  for (let i = 0; i < 200 && !words.test(panel.webview.html); i += 1) await new Promise((wake) => setTimeout(wake, 25));
  assert.match(panel.webview.html, words);
};
await commands.get("coatwright.showDog")();
await shown(panels[0], /isn't running/);
assert.equal(panels[0].options.enableScripts, false);

// With one it shows the page that is drawn for the place of the cursor.
server = fileURLToPath(new URL("a-server.mjs", import.meta.url));
await commands.get("coatwright.restart")();
assert.equal(told.length, 1, told.join("; "));
await commands.get("coatwright.showDog")();
await shown(panels[0], /<p>coatwright\.dogOnTheTable file:\/\/\/house\/t\.trim 3:7<\/p>/);
await commands.get("coatwright.showSheet")();
await shown(panels[1], /<p>coatwright\.sheet file:\/\/\/house\/t\.trim 3:7<\/p>/);
assert.equal(panels[1].title, "Sheet of t");
await extension.deactivate();
console.log("extension: ok");
process.exit(0);
