// Every question that the server says it answers, asked through the library's own types on the demo salon.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { fileURLToPath } from "node:url";
import * as lsp from "vscode-languageserver-protocol/node";
import { applied, editing, until } from "./client.mjs";

/** What the server said that it answers, and what was asked here. */
let offered;
const asked = new Set();

/** A test of what the server offers under some names, in the recipe that learners begin with. */
function feature(providers, name, body) {
  editing(name, async (editor) => {
    const { capabilities } = editor.result;
    offered = Object.keys(capabilities).filter((key) => key.endsWith("Provider"));
    for (const provider of providers) {
      assert(capabilities[provider], provider);
      asked.add(provider);
    }
    const uri = await editor.open("harbour-short.trim");
    assert.deepEqual(await editor.messages(uri), []);
    await body(editor, uri, { textDocument: { uri } });
  });
}

/** A refusal in words for a person. */
const refused = (message) => ({ code: lsp.LSPErrorCodes.RequestFailed, message });

/** The name of the file at an address. */
const file = (uri) => uri.slice(uri.lastIndexOf("/") + 1);

feature(["hoverProvider"], "hover", async (editor, uri) => {
  const blade = await editor.ask(lsp.HoverRequest.type, editor.at(uri, "#7F with the coat", 1));
  assert.equal(blade.contents.kind, lsp.MarkupKind.Markdown);
  assert.equal(editor.words(uri, blade.range), "#7F");
  assert.match(blade.contents.value, /^\*\*#7F\*\*/);
  assert.match(blade.contents.value, /^- leaves 3 to 4 mm in reverse$/m);
  const zone = await editor.ask(lsp.HoverRequest.type, editor.at(uri, "skim belly rear", "skim bel".length));
  assert.match(zone.contents.value, /^- said by `skim belly rear with #10.*` \(saltmarsh-base\.trim, line 33\)$/m);
  assert.equal(await editor.ask(lsp.HoverRequest.type, editor.at(uri, '"Harbour short"', 3)), null);
});

feature(["completionProvider"], "completion", async (editor, uri) => {
  const line = "skim     stop with ";
  await editor.edit(uri, `${line}#10 with the coat`, line);
  const ask = async (inside, context) => {
    const items = await editor.ask(lsp.CompletionRequest.type, { ...editor.at(uri, `${line}\n`, inside), context });
    return new Map(items.map((item) => [item.label, item]));
  };
  const byBlank = { triggerKind: lsp.CompletionTriggerKind.TriggerCharacter, triggerCharacter: " " };
  const tools = await ask(line.length, byBlank);
  assert.equal(tools.get("#10").detail, "1.5 to 1.8 mm in reverse; 1.5 to 3.6 mm with the coat");
  assert(!tools.has("#50"), "the salon's kit doesn't hold it");
  assert(!tools.has("belly rear"), "a part of the dog is no tool");
  // A blank offers only what must follow.
  assert.equal((await ask("skim     ".length, byBlank)).size, 0);
  const zones = await ask("skim     ".length, { triggerKind: lsp.CompletionTriggerKind.Invoked });
  assert(zones.has("belly rear") && !zones.has("#10"));
  const text = applied(editor.text(uri), [tools.get("#10").textEdit]);
  assert.equal(text, editor.text(uri).replace(`${line}\n`, `${line}#10\n`));
});

feature(["signatureHelpProvider"], "signature help", async (editor, uri) => {
  const place = editor.at(uri, "skim     stop with #10", "skim     stop with ".length);
  const { signatures, activeSignature, activeParameter } = await editor.ask(lsp.SignatureHelpRequest.type, place);
  const { label, parameters } = signatures[activeSignature];
  assert.match(label, /^skim ZONES to LENGTH with TOOL in reverse/);
  assert.equal(parameters[activeParameter].label, "with TOOL");
  // A client finds each part by its words.
  for (const part of parameters) assert(label.includes(part.label), part.label);
});

feature(["definitionProvider"], "definition", async (editor, uri) => {
  const [base] = await editor.ask(lsp.DefinitionRequest.type, editor.at(uri, "saltmarsh-base", 3));
  assert.equal(editor.words(uri, base.originSelectionRange), "saltmarsh-base");
  assert.equal(base.targetUri, editor.uri("saltmarsh-base.trim"));
  const { start, end } = base.targetSelectionRange;
  const line = readFileSync(fileURLToPath(base.targetUri), "utf8").split("\n")[start.line];
  assert.equal(line.slice(start.character, end.character), "saltmarsh-base");
  // A word of the basics leads to a copy that can be opened.
  const [finding] = await editor.ask(lsp.DefinitionRequest.type, editor.at(uri, "face-shy", 3));
  const lines = readFileSync(fileURLToPath(finding.targetUri), "utf8").split("\n");
  assert.equal(lines[finding.targetRange.start.line], "finding face-shy {");
});

feature(["referencesProvider"], "references", async (editor, uri) => {
  const ask = (includeDeclaration) =>
    editor.ask(lsp.ReferencesRequest.type, { ...editor.at(uri, "saltmarsh-base", 3), context: { includeDeclaration } });
  const [all, uses] = [await ask(true), await ask(false)];
  assert(all.some((place) => place.uri === uri && editor.words(uri, place.range) === "saltmarsh-base"));
  assert(all.some(({ uri }) => file(uri) === "dune-column.trim"));
  assert.deepEqual(all.filter((place) => !uses.some((use) => use.uri === place.uri)).map(({ uri }) => file(uri)), ["saltmarsh-base.trim"]);
});

feature(["documentHighlightProvider"], "document highlight", async (editor, uri) => {
  const marks = await editor.ask(lsp.DocumentHighlightRequest.type, editor.at(uri, "torso to body-length", "torso to b".length));
  assert.deepEqual(marks.map((mark) => editor.words(uri, mark.range)), ["body-length", "body-length", "body-length"]);
  const { Read, Write } = lsp.DocumentHighlightKind;
  assert.deepEqual(marks.map((mark) => mark.kind), [Write, Read, Read]);
});

feature(["renameProvider"], "rename", async (editor, uri) => {
  const place = editor.at(uri, "recipe harbour-short", "recipe har".length);
  const prepared = await editor.ask(lsp.PrepareRenameRequest.type, place);
  assert.deepEqual([prepared.placeholder, editor.words(uri, prepared.range)], ["harbour-short", "harbour-short"]);
  const basics = editor.at(uri, "skim belly rear", "skim bel".length);
  await assert.rejects(editor.ask(lsp.PrepareRenameRequest.type, basics), refused(/^`belly-rear` is a word of the basics/));
  const { documentChanges } = await editor.ask(lsp.RenameRequest.type, { ...place, newName: "harbour trim" });
  assert.deepEqual(documentChanges.map((c) => file(c.textDocument.uri)).sort(), ["cases.trim", "dogs.trim", "harbour-short.trim"]);
  for (const { textDocument, edits } of documentChanges) {
    // A file that isn't open has no version.
    assert.equal(textDocument.version, textDocument.uri === uri ? 1 : null);
    const before = readFileSync(fileURLToPath(textDocument.uri), "utf8");
    assert.equal(applied(before, edits), before.replaceAll(/\bharbour-short\b/g, "harbour-trim"));
  }
  await assert.rejects(editor.ask(lsp.RenameRequest.type, { ...place, newName: "short-tide" }), refused(/`short-tide` is taken/));
});

feature(["documentSymbolProvider"], "document symbols", async (editor, uri, document) => {
  const [recipe, ...others] = await editor.ask(lsp.DocumentSymbolRequest.type, document);
  assert.deepEqual([recipe.name, recipe.kind, others], ["harbour-short", lsp.SymbolKind.Class, []]);
  assert.equal(editor.words(uri, recipe.selectionRange), "harbour-short");
  const guard = recipe.children.find((symbol) => symbol.name === "guard sensitive-belly");
  assert.deepEqual(guard.children.map((symbol) => symbol.name), ["skim belly rear"]);
  assert.equal(recipe.children.find((symbol) => symbol.name === "body-length").kind, lsp.SymbolKind.Constant);
});

feature(["workspaceSymbolProvider"], "workspace symbols", async (editor) => {
  // With tokens for parts and progress, as this library may send them: the answer is whole all the same.
  const params = { query: "bramb", workDoneToken: "work", partialResultToken: "parts" };
  const found = await editor.ask(lsp.WorkspaceSymbolRequest.type, params);
  const dog = found.find((symbol) => symbol.name === "bramble");
  assert.deepEqual([dog.kind, dog.location.uri], [lsp.SymbolKind.Object, editor.uri("dogs.trim")]);
  const { start, end } = dog.location.range;
  const line = readFileSync(fileURLToPath(dog.location.uri), "utf8").split("\n")[start.line];
  assert.equal(line.slice(start.character, end.character), "bramble");
});

feature(["semanticTokensProvider"], "semantic tokens: whole, changed and in part", async (editor, uri, document) => {
  const { legend } = editor.result.capabilities.semanticTokensProvider;
  const painted = (data) => {
    const words = [];
    let [line, character] = [0, 0];
    for (let at = 0; at < data.length; at += 5) {
      const [down, right, length, type, modifiers] = data.slice(at, at + 5);
      [line, character] = [line + down, down ? right : character + right];
      const range = { start: { line, character }, end: { line, character: character + length } };
      const names = legend.tokenModifiers.filter((_, bit) => modifiers & (1 << bit));
      words.push([editor.words(uri, range), legend.tokenTypes[type], ...names].join(" "));
    }
    return words;
  };
  // A character that is two units wide stands before the others of its line.
  await editor.edit(uri, "-- The first trim", "-- 🐩 The first trim");
  const whole = await editor.ask(lsp.SemanticTokensRequest.type, document);
  const words = painted(whole.data);
  assert(words[0].startsWith("-- 🐩 The first trim") && words[0].endsWith("face clean. comment"), words[0]);
  for (const word of ["recipe keyword", "body-length parameter declaration", "sensitive-belly event defaultLibrary"]) {
    assert(words.includes(word), word);
  }
  await editor.edit(uri, "skim     stop with", "skim     cheeks, stop with");
  const change = await editor.ask(lsp.SemanticTokensDeltaRequest.type, { ...document, previousResultId: whole.resultId });
  const data = [...whole.data];
  for (const { start, deleteCount, data: fresh = [] } of change.edits) data.splice(start, deleteCount, ...fresh);
  const fresh = await editor.ask(lsp.SemanticTokensRequest.type, document);
  assert.deepEqual(data, fresh.data);
  assert(change.edits.every((edit) => (edit.data ?? []).length < 30), "more than what has changed");
  const range = editor.range(uri, "cheeks, foreface with #10 in reverse");
  const part = await editor.ask(lsp.SemanticTokensRangeRequest.type, { ...document, range });
  assert.deepEqual(painted(part.data).slice(0, 2), ["cheeks property defaultLibrary", "foreface property defaultLibrary"]);
  assert(part.data.length < 8 * 5, "more than what was asked for");
});

feature(["inlayHintProvider"], "inlay hints", async (editor, uri, document) => {
  const range = editor.range(uri, "cheeks, foreface with #10 in reverse");
  const [hint, ...others] = await editor.ask(lsp.InlayHintRequest.type, { ...document, range });
  assert.deepEqual([hint.label, others], ["1.5 to 1.8 mm", []]);
  assert.deepEqual(hint.position, editor.range(uri, "cheeks, foreface with #10").end);
});

feature(["foldingRangeProvider"], "folding ranges", async (editor, uri, document) => {
  const folds = await editor.ask(lsp.FoldingRangeRequest.type, document);
  const { line } = editor.range(uri, "guard    face-shy {").start;
  const guard = folds.find((fold) => fold.startLine === line);
  assert.equal(editor.line(uri, guard.endLine), "    keep   head in short turns");
});

feature(["selectionRangeProvider"], "selection ranges", async (editor, uri, document) => {
  const { position } = editor.at(uri, "topknot to 18 mm", 2);
  let [growing] = await editor.ask(lsp.SelectionRangeRequest.type, { ...document, positions: [position] });
  const grown = [];
  for (; growing; growing = growing.parent) grown.push(editor.words(uri, growing.range));
  assert.equal(grown[0], "topknot");
  assert(grown.includes("when     weight under 6 kg { shape topknot to 18 mm by shears }"));
  assert.equal(grown.at(-1), editor.text(uri));
  assert(grown.slice(1).every((outer, number) => outer.includes(grown[number]) && outer.length > grown[number].length));
});

feature(["documentFormattingProvider", "documentRangeFormattingProvider"], "formatting", async (editor, uri, document) => {
  const before = editor.text(uri);
  const options = { tabSize: 2, insertSpaces: true };
  await editor.edit(uri, "skim     stop with #10", "skim  stop   with #10");
  const whole = await editor.ask(lsp.DocumentFormattingRequest.type, { ...document, options });
  assert.equal(applied(editor.text(uri), whole), before);
  assert(whole.every((edit) => edit.range.start.line === edit.range.end.line && !edit.newText.trim()), "only blanks are changed");
  const part = (words) => editor.ask(lsp.DocumentRangeFormattingRequest.type, { ...document, options, range: editor.range(uri, words) });
  assert.deepEqual(await part("skim  stop   with #10"), whole);
  assert.deepEqual(await part('title    "Harbour short"'), []);
});

feature(["documentLinkProvider"], "document links", async (editor, uri, document) => {
  const [base, ...others] = await editor.ask(lsp.DocumentLinkRequest.type, document);
  assert.deepEqual([editor.words(uri, base.range), others], ["saltmarsh-base", []]);
  const [target, line] = base.target.split("#L");
  assert.equal(target, editor.uri("saltmarsh-base.trim"));
  assert.match(readFileSync(fileURLToPath(target), "utf8").split("\n")[line - 1], /^recipe saltmarsh-base /);
});

feature(["codeLensProvider"], "code lenses, and what the second one does", async (editor, uri, document) => {
  const lenses = await editor.ask(lsp.CodeLensRequest.type, document);
  assert.deepEqual(lenses.map((lens) => lens.command.title), ["Safe for 3 coats, 3 kg to 35 kg", "Sheet for bramble"]);
  assert(lenses.every((lens) => editor.words(uri, lens.range) === "harbour-short"));
  const { command, arguments: given } = lenses[1].command;
  assert.equal((await editor.ask(lsp.ExecuteCommandRequest.type, { command, arguments: given })).title, "Bramble: Harbour short");
  // From a lens the page is opened too, and it can be.
  const page = await until("that the page is shown", () => editor.shown[0]);
  assert.equal(page.external, true);
  assert.match(readFileSync(fileURLToPath(page.uri), "utf8"), /^<!doctype html>[^]*Bramble/i);
});

feature(["codeLensProvider"], "a case is run from its lens", async (editor) => {
  const uri = await editor.open("cases.trim");
  const ask = async () => (await editor.ask(lsp.CodeLensRequest.type, { textDocument: { uri } }))[0].command;
  const run = ({ command, arguments: given }) => editor.ask(lsp.ExecuteCommandRequest.type, { command, arguments: given });
  const passes = await ask();
  assert.equal(passes.title, "Run the case: it passes");
  assert.deepEqual(await run(passes), { passed: true, expects: 4, fails: 0, messages: [] });
  await editor.edit(uri, "expect  ears leave", "expect  ears shape");
  const fails = await ask();
  assert.equal(fails.title, "Run the case: 1 of 4 lines don't hold");
  const { passed, messages } = await run(fails);
  assert.deepEqual([passed, messages], [false, [{ line: 9, message: "T001 the ears: left" }]]);
  const words = await until("that both are told", () => editor.told.length === 2 && editor.told.map(({ message }) => message));
  assert.deepEqual(words, ["bramble-at-the-belly passes.", "bramble-at-the-belly doesn't pass:\nline 9: T001 the ears: left"]);
});

feature(["codeActionProvider"], "code actions", async (editor, uri, document) => {
  const { codeActionKinds } = editor.result.capabilities.codeActionProvider;
  assert.deepEqual(codeActionKinds, [lsp.CodeActionKind.QuickFix, lsp.CodeActionKind.SourceFixAll]);
  const before = editor.text(uri);
  await editor.edit(uri, "skim     stop with", "skin     stop with");
  const diagnostics = await editor.messages(uri);
  const ask = (range, only) => editor.ask(lsp.CodeActionRequest.type, { ...document, range, context: { diagnostics, only } });
  const [fix, ...others] = await ask(diagnostics[0].range);
  assert.deepEqual([fix.title, fix.kind, fix.isPreferred, others], ["write `skim`", "quickfix", true, []]);
  assert.deepEqual(await ask(editor.range(uri, "title")), []);
  // Everything at once only for those who ask for it, and then wherever the cursor is.
  const [every] = await ask(editor.range(uri, "title"), [lsp.CodeActionKind.SourceFixAll]);
  assert.equal(every.kind, "source.fixAll");
  await editor.apply(every.edit);
  assert.equal(editor.text(uri), before);
  assert.deepEqual(await editor.messages(uri), []);
});

feature(["typeHierarchyProvider"], "type hierarchy: who extends whom", async (editor, uri) => {
  const [base] = await editor.ask(lsp.TypeHierarchyPrepareRequest.type, editor.at(uri, "saltmarsh-base", 2));
  assert.deepEqual([base.name, base.kind, base.uri], ["saltmarsh-base", lsp.SymbolKind.Class, editor.uri("saltmarsh-base.trim")]);
  const below = await editor.ask(lsp.TypeHierarchySubtypesRequest.type, { item: base });
  assert.deepEqual(below.map((item) => item.name).filter((name) => /^[dh]/.test(name)), ["dune-column", "harbour-short"]);
  const own = below.find((item) => item.name === "harbour-short");
  assert.deepEqual([own.uri, editor.words(uri, own.selectionRange)], [uri, "harbour-short"]);
  const above = await editor.ask(lsp.TypeHierarchySupertypesRequest.type, { item: own });
  assert.deepEqual(above.map((item) => item.name), ["saltmarsh-base"]);
});

feature(["executeCommandProvider"], "commands", async (editor, uri, document) => {
  const names = ["coatwright.sheet", "coatwright.dogOnTheTable", "coatwright.explain", "coatwright.case"];
  assert.deepEqual(editor.result.capabilities.executeCommandProvider.commands, names);
  const run = (command, ...given) => editor.ask(lsp.ExecuteCommandRequest.type, { command, arguments: given });
  assert.match(await run("coatwright.explain", "C003"), /^# C003/);
  const card = await editor.open("dogs.trim");
  const sheet = await run("coatwright.sheet", editor.at(card, "sex      dog, neutered"));
  assert.equal(sheet.title, "Bramble: Harbour short");
  // With the dog on the table the recipe is told anew: what is done to this dog instead.
  const range = { start: { line: 0, character: 0 }, end: { line: 99, character: 0 } };
  const hints = async () => (await editor.ask(lsp.InlayHintRequest.type, { ...document, range })).map((hint) => hint.label);
  const before = await hints();
  await run("coatwright.dogOnTheTable", { ...document, dog: "bramble" });
  await until("that hints and lenses are to be asked for again", () => editor.refreshed.length === 2);
  assert.deepEqual(editor.refreshed.sort(), [lsp.CodeLensRefreshRequest.method, lsp.InlayHintRefreshRequest.method]);
  assert((await hints()).some((label) => label.includes("on bramble") && !before.includes(label)));
  assert.equal(await run("coatwright.dogOnTheTable", null), null);
  await until("that they are to be asked for once more", () => editor.refreshed.length === 4);
  assert.deepEqual(await hints(), before);
  const unknown = { code: lsp.ErrorCodes.InvalidParams, message: "there is no command `coatwright.bark`" };
  await assert.rejects(run("coatwright.bark"), unknown);
});

test("whatever the server offers is asked for here", () => assert.deepEqual([...asked].sort(), offered.sort()));
