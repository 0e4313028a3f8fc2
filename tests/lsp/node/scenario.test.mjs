// A learner at the keyboard: what is underlined while a line is typed, what mends it, and what a card changes.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { DiagnosticSeverity } from "vscode-languageserver-protocol/node";
import { RECIPES, editing, pause } from "./client.mjs";

const TYPED = "clip belly with #10 in reverse";

/** For so many milliseconds after its last letter a word counts as being written. */
const WRITING = 1200;

/** A text with some words once in it replaced. */
function changed(text, old, words) {
  assert.equal(text.split(old).length, 2, old);
  return text.replace(old, () => words);
}

const brief = (messages) => messages.map((m) => m.code);

/** Types the line at a place and asserts what every key may say; the answer is what is said in the end. */
async function typed(editor, uri, at) {
  const said = await editor.type(uri, at, TYPED);
  // `#1` is no blade, and nobody is told so who is on the way to `#10`.
  assert(said.some(({ typed }) => typed.endsWith("#1")));
  for (const { typed, messages } of said) assert(!brief(messages).includes("M002"), typed);
  // What is forbidden is told once the way is written, or as good as written, and not before.
  for (const { typed, messages } of said) assert.equal(brief(messages).includes("C003"), /in reverse?$/.test(typed), typed);
  return said.at(-1).messages;
}

/** What is said of the blade: which rule, where, in which words, and by whose line. */
function forbidden(editor, uri, at, message, dog, way) {
  const blade = at + TYPED.indexOf("#10");
  const document = editor.documents.get(uri);
  assert.equal(message.severity, DiagnosticSeverity.Error);
  assert.equal(message.source, "coatwright");
  assert.deepEqual(message.range, { start: document.positionAt(blade), end: document.positionAt(blade + "#10".length) });
  assert.deepEqual(message.message.split("\n"), [
    "the wrong way on the belly rear: #10",
    `That way the edge scrapes or lifts the skin.${dog}`,
    `Gentler, and allowed by every rule here: \`clip with #10 ${way}\`.`,
  ]);
  const [rule, ...others] = message.relatedInformation;
  const house = readFileSync(fileURLToPath(editor.uri("house.trim")), "utf8").split("\n");
  assert.deepEqual([rule.location.uri, rule.message, others], [editor.uri("house.trim"), "the rule for every dog: saltmarsh", []]);
  assert.match(house[rule.location.range.start.line], /^ {2}keep +sanitary never in reverse$/);
  // The page about the rule is a file that can be opened.
  assert.match(readFileSync(fileURLToPath(message.codeDescription.href), "utf8"), /^# C003/);
}

/** Takes the quick fix of a message; of the text only the words of the answer have changed. */
async function mend(editor, uri, message, title, old, answer) {
  const before = editor.text(uri);
  const fixes = await editor.actions(uri, message.range, { diagnostics: [message], only: ["quickfix"] });
  const fix = fixes.find((f) => f.title === title && f.diagnostics[0].code === message.code);
  assert(fix, JSON.stringify(fixes));
  assert.deepEqual([fix.kind, fix.diagnostics], ["quickfix", [message]]);
  await editor.apply(fix.edit);
  assert.equal(editor.text(uri), changed(before, old, answer));
  return editor.messages(uri);
}

editing("a forbidden line in a recipe is underlined, and its quick fix leaves nothing to say", async (editor) => {
  // A standard that the salon adopts: its belly is still to be written.
  let text = readFileSync(join(RECIPES, "standards", "poodle-sporting-clip.trim"), "utf8");
  text = changed(text, "  skim     belly rear with #10 with the coat, one pass, blade cool\n", "");
  text = changed(text, "  clip     belly front with #7F with the coat, blade cool\n", "  \n");
  const uri = await editor.open("poodle-sporting-clip.trim", text);
  await editor.messages(uri);
  const at = editor.find(uri, "  \n") + 2;
  const [message, ...others] = await typed(editor, uri, at);
  assert.deepEqual([message.code, others], ["C003", []]);
  forbidden(editor, uri, at, message, "", "across");
  assert.deepEqual(await mend(editor, uri, message, "write `across`", TYPED, "clip belly with #10 across"), []);
});

editing("a forbidden answer for a finding is underlined on its dog", async (editor) => {
  const path = fileURLToPath(editor.uri("harbour-short.trim"));
  const answer = "guard    sensitive-belly { skim belly rear with #10 with the coat, one pass }";
  const uri = await editor.open("harbour-short.trim", changed(readFileSync(path, "utf8"), answer, "guard    sensitive-belly {  }"));
  const at = editor.find(uri, "sensitive-belly {  }") + "sensitive-belly { ".length;
  const before = await typed(editor, uri, at);
  const message = before.find((m) => m.code === "C003");
  forbidden(editor, uri, at, message, " The dog it fails for: a dog of 5 kg with a curl coat, sensitive belly.", "with the coat");
  // The answer is too close as well, which is for the author to decide: the fix mends the way alone.
  const onTheBlade = brief(before.filter((m) => editor.words(uri, m.range) === "#10"));
  assert.deepEqual(onTheBlade, ["C003", "C004"]);
  const after = await mend(editor, uri, message, "write `with the coat`", TYPED, "clip belly with #10 with the coat");
  assert.deepEqual(brief(after).filter((code) => code.startsWith("C")), ["C004"]);
});

editing("a finding without an answer leads to its line, and the quick fix writes the answer", async (editor) => {
  const uri = await editor.open("harbour-short.trim");
  assert.deepEqual(await editor.messages(uri), []);
  const [guard] = editor.text(uri).match(/ {2}guard +face-shy \{[^}]*\}\n/);
  await editor.edit(uri, guard, "");
  const [message, ...others] = await editor.messages(uri);
  assert.deepEqual([message.code, others, editor.words(uri, message.range)], ["C005", [], "harbour-short"]);
  assert.match(message.message, /^harbour-short has no answer on the bridge for a dog that is face shy\n/);
  const [finding] = message.relatedInformation;
  const basics = readFileSync(fileURLToPath(finding.location.uri), "utf8").split("\n");
  assert.equal(basics[finding.location.range.start.line], "finding face-shy {");
  const last = "topknot at most 45 mm; eyes open }\n";
  const answer = "  guard face-shy { leave bridge, muzzle, chin, cheek }\n";
  assert.deepEqual(await mend(editor, uri, message, "leave those parts on such a dog", last, last + answer), []);
});

editing("whoever stops at half a blade is told, and whoever goes on isn't", async (editor) => {
  const before = "  clip    body with ";
  const uri = await editor.open("t.trim", `recipe t {\n  serves  coat curl\n  leave   whole coat\n${before} with the coat\n}\n`);
  await editor.messages(uri);
  const at = editor.find(uri, before) + before.length;
  const blades = (messages) => messages.filter((m) => m.code === "M002").map((m) => editor.words(uri, m.range));
  const half = await editor.type(uri, at, "#1");
  assert.deepEqual(half.map(({ messages }) => blades(messages)), [[], []]);
  // The same text is told again when the author has paused.
  const { version } = editor.documents.get(uri);
  await editor.said("half a blade", (p) => p.version === version && blades(p.diagnostics).length === 1);
  assert.deepEqual(blades(await editor.messages(uri)), ["#1"]);
  const [whole] = await editor.type(uri, at + "#1".length, "0");
  assert.deepEqual(blades(whole.messages), []);
  // And nothing comes after it.
  await pause(WRITING + 300);
  assert.equal(editor.published.at(-1).version, version + 1);
});

editing("a line that is typed to its end shows nothing on its way, and a slip in it is told once it is behind", async (editor) => {
  const before = "  leave   whole coat\n";
  const uri = await editor.open("t.trim", `recipe t {\n  serves  coat curl\n${before}\n}\n`);
  await editor.messages(uri);
  const at = editor.find(uri, before) + before.length;
  // A trim of one part may show a line; what is asked here is what the words themselves say.
  const words = ({ messages }) => messages.filter((m) => /^[WM]/.test(m.code)).map((m) => `${m.code} ${editor.words(uri, m.range)}`);
  const line = "  clip body with #10 with the coat";
  const typed = await editor.type(uri, at, line);
  assert.deepEqual(typed.flatMap(words), []);
  const slip = await editor.type(uri, at + line.length, "\n  clpi");
  assert.deepEqual(slip.flatMap(words), []);
  const [behind] = (await editor.type(uri, at + line.length + "\n  clpi".length, " ")).slice(-1);
  assert.deepEqual(words(behind), ["W006 clpi"]);
});

editing("a finding that is typed on an open card marks the statement that it changes", async (editor) => {
  const recipe = await editor.open("harbour-short.trim");
  assert.deepEqual(await editor.messages(recipe), []);
  const card = await editor.open("dogs.trim");
  await editor.messages(card);
  const line = "finding  hot-spot on left cheek";
  const marks = (messages) => messages.filter((m) => m.message.startsWith("on bramble, ") && m.message.includes("hot spot"));
  const wart = editor.find(card, "  finding  wart on left lip\n");
  await editor.replace(card, wart, wart, "  \n");
  await editor.type(card, wart + 2, line);
  // A hot spot anywhere would be one for every statement; with its place it is one.
  const said = await editor.said("the mark", (p) => p.uri === recipe && marks(p.diagnostics).length === 1);
  const [mark] = marks(said.diagnostics);
  assert.deepEqual([mark.severity, mark.code], [DiagnosticSeverity.Information, undefined]);
  assert.equal(mark.message, "on bramble, left cheek: for a vet because of hot spot");
  assert.equal(editor.words(recipe, mark.range), "clip     cheeks, foreface");
  const [finding] = mark.relatedInformation;
  assert.deepEqual([finding.location.uri, finding.location.range], [card, editor.range(card, "hot-spot")]);
  // The recipe wasn't touched: its marks go as they came when the line is taken out.
  const heard = editor.published.length;
  await editor.edit(card, `  ${line}\n`, "");
  const after = await editor.said("that the mark goes", (p) => p.uri === recipe && editor.published.indexOf(p) >= heard);
  assert.deepEqual([after.version, marks(after.diagnostics)], [1, []]);
});
