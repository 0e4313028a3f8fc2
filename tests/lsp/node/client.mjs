// An editor for the tests: the protocol's own client library on a server that it runs as a child process.
//
// It sends documents and edits as an editor does, keeps what it is told, and answers what it is asked. Whatever the
// library or the server complains of is a failure when the editor leaves.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, realpathSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";
import { fileURLToPath, pathToFileURL } from "node:url";
import * as lsp from "vscode-languageserver-protocol/node";

const SERVER = process.env.COATWRIGHT_LSP;
assert(SERVER, "COATWRIGHT_LSP names no server");

/** How long the server may take for anything. */
const PATIENCE = 30_000;

/** The recipes of the project: the demo salon and the standards. */
export const RECIPES = fileURLToPath(new URL("../../../recipes/", import.meta.url));

/**
 * What an editor on this library says of itself where the server has something to say: it counts UTF-16 units, is sent its
 * messages, and shows places, trees, links, Markdown and pages.
 */
export const CAPABILITIES = {
  general: { positionEncodings: ["utf-16"], markdown: { parser: "marked" } },
  window: { showDocument: { support: true }, showMessage: {}, workDoneProgress: true },
  workspace: {
    applyEdit: true,
    workspaceEdit: { documentChanges: true },
    didChangeWatchedFiles: { dynamicRegistration: true, relativePatternSupport: true },
    symbol: {},
    executeCommand: {},
    codeLens: { refreshSupport: true },
    inlayHint: { refreshSupport: true },
    semanticTokens: { refreshSupport: true },
  },
  textDocument: {
    synchronization: { didSave: true },
    publishDiagnostics: {
      relatedInformation: true,
      versionSupport: true,
      codeDescriptionSupport: true,
      tagSupport: { valueSet: [lsp.DiagnosticTag.Unnecessary, lsp.DiagnosticTag.Deprecated] },
    },
    completion: { contextSupport: true, completionItem: { documentationFormat: ["markdown", "plaintext"] } },
    hover: { contentFormat: ["markdown", "plaintext"] },
    signatureHelp: {
      contextSupport: true,
      signatureInformation: { activeParameterSupport: true, parameterInformation: { labelOffsetSupport: true } },
    },
    definition: { linkSupport: true },
    references: {},
    documentHighlight: {},
    documentSymbol: { hierarchicalDocumentSymbolSupport: true },
    codeAction: {
      isPreferredSupport: true,
      codeActionLiteralSupport: { codeActionKind: { valueSet: ["", "quickfix", "source", "source.fixAll"] } },
    },
    codeLens: {},
    formatting: {},
    rangeFormatting: {},
    rename: { prepareSupport: true },
    documentLink: { tooltipSupport: true },
    foldingRange: { lineFoldingOnly: true },
    selectionRange: {},
    semanticTokens: {
      requests: { range: true, full: { delta: true } },
      tokenTypes: Object.values(lsp.SemanticTokenTypes),
      tokenModifiers: Object.values(lsp.SemanticTokenModifiers),
      formats: ["relative"],
    },
    inlayHint: {},
    typeHierarchy: {},
  },
};

/** A promise, or a failure when it takes too long. */
function inTime(promise, what) {
  let clock;
  const late = new Promise((_, fail) => {
    clock = setTimeout(() => fail(new Error(`waited in vain: ${what}`)), PATIENCE);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(clock));
}

export const pause = (milliseconds) => new Promise((wake) => setTimeout(wake, milliseconds));

/** Looks until there is something to see, and gives that. */
export async function until(what, look) {
  for (let waited = 0; waited < PATIENCE; waited += 5) {
    const seen = look();
    if (seen) return seen;
    await pause(5);
  }
  throw new Error(`waited in vain: ${what}`);
}

/** The text with some edits; edits that overlap are refused. */
export function applied(text, edits) {
  return lsp.TextDocument.applyEdits(lsp.TextDocument.create("untitled:text", "trim", 0, text), edits);
}

/** The server's process, and the library's connection to it. */
export class Server {
  constructor(environment = {}) {
    this.process = spawn(SERVER, ["--stdio"], { stdio: "pipe", env: { ...process.env, ...environment } });
    this.ended = new Promise((tell) => this.process.on("close", (code, signal) => tell(signal ?? code)));
    // What the server says on the side, and what the library says of messages that it can't use.
    this.complaints = [];
    const note = (words) => this.complaints.push(words);
    this.process.stderr.setEncoding("utf8").on("data", note);
    this.connection = lsp.createProtocolConnection(
      new lsp.StreamMessageReader(this.process.stdout),
      new lsp.StreamMessageWriter(this.process.stdin),
      { error: note, warn: note, info: note, log: note },
    );
    this.connection.onError(([why]) => note(String(why)));
    this.connection.onUnhandledNotification(({ method }) => note(`nobody listens to ${method}`));
    // Any request but those that the client has said it answers.
    this.connection.onRequest((method) => {
      note(`nobody answers ${method}`);
      return new lsp.ResponseError(lsp.ErrorCodes.MethodNotFound, method);
    });
  }

  async start(capabilities, folder = null) {
    this.connection.listen();
    const rootUri = folder && pathToFileURL(folder).href;
    const result = await this.ask(lsp.InitializeRequest.type, {
      processId: process.pid,
      clientInfo: { name: "coatwright-tests" },
      rootUri,
      workspaceFolders: rootUri && [{ uri: rootUri, name: "salon" }],
      capabilities,
    });
    await this.tell(lsp.InitializedNotification.type, {});
    return result;
  }

  ask(type, params, token) {
    return inTime(this.connection.sendRequest(type, params, token), `the answer to ${type.method}`);
  }

  tell(type, params) {
    return inTime(this.connection.sendNotification(type, params), `that ${type.method} is sent`);
  }

  /** The exit code. The server's input is still open then: it ends because it was told to. */
  async end() {
    const code = await inTime(this.ended, "the end");
    assert.equal(this.process.stdin.writableEnded, false);
    this.connection.dispose();
    return code;
  }
}

export class Editor {
  /** An editor with a copy of the demo salon, and the server with a place of its own for what it makes. */
  constructor(home) {
    this.folder = join(home, "salon");
    mkdirSync(this.folder);
    const salon = join(RECIPES, "saltmarsh");
    for (const name of readdirSync(salon)) copyFileSync(join(salon, name), join(this.folder, name));
    this.server = new Server({ XDG_CACHE_HOME: join(home, "cache") });
    // The documents by address, what was published, and what the server asked for.
    this.documents = new Map();
    this.published = [];
    this.registered = [];
    this.shown = [];
    this.told = [];
    this.refreshed = [];
    const { connection } = this.server;
    connection.onNotification(lsp.PublishDiagnosticsNotification.type, (said) => void this.published.push(said));
    connection.onRequest(lsp.RegistrationRequest.type, ({ registrations }) => void this.registered.push(...registrations));
    connection.onNotification(lsp.ShowMessageNotification.type, (said) => void this.told.push(said));
    connection.onRequest(lsp.ShowDocumentRequest.type, (page) => {
      this.shown.push(page);
      return { success: true };
    });
    for (const { type } of [lsp.InlayHintRefreshRequest, lsp.CodeLensRefreshRequest, lsp.DiagnosticRefreshRequest]) {
      connection.onRequest(type, () => void this.refreshed.push(type.method));
    }
  }

  /** Shuts the server down: it ends well, and nothing odd was said but what was expected. */
  async leave(expected) {
    assert.equal(await this.ask(lsp.ShutdownRequest.type), null);
    await this.tell(lsp.ExitNotification.type);
    assert.equal(await this.server.end(), 0);
    const { complaints } = this.server;
    assert(complaints.every((words) => expected?.test(words)), complaints.join("\n"));
  }

  ask(type, params, token) {
    return this.server.ask(type, params, token);
  }

  tell(type, params) {
    return this.server.tell(type, params);
  }

  uri(name) {
    return pathToFileURL(join(this.folder, name)).href;
  }

  text(uri) {
    return this.documents.get(uri).getText();
  }

  line(uri, number) {
    return this.text(uri).split("\n")[number];
  }

  /** Opens a text, or a file as it is. */
  async open(name, text = readFileSync(join(this.folder, name), "utf8")) {
    const uri = this.uri(name);
    this.documents.set(uri, lsp.TextDocument.create(uri, "trim", 1, text));
    const textDocument = { uri, languageId: "trim", version: 1, text };
    await this.tell(lsp.DidOpenTextDocumentNotification.type, { textDocument });
    return uri;
  }

  /** Replaces what is between two characters. Edits keep their order whether or not they are waited for. */
  replace(uri, start, end, text) {
    const before = this.documents.get(uri);
    const range = { start: before.positionAt(start), end: before.positionAt(end) };
    const after = before.getText().slice(0, start) + text + before.getText().slice(end);
    const version = before.version + 1;
    this.documents.set(uri, lsp.TextDocument.create(uri, "trim", version, after));
    const params = { textDocument: { uri, version }, contentChanges: [{ range, text }] };
    return this.tell(lsp.DidChangeTextDocumentNotification.type, params);
  }

  /** Replaces some words. */
  edit(uri, old, text) {
    const start = this.find(uri, old);
    return this.replace(uri, start, start + old.length, text);
  }

  /** Types some words at a place, key by key, and tells what is said after each. */
  async type(uri, at, words) {
    const said = [];
    for (const [number, key] of [...words].entries()) {
      await this.replace(uri, at + number, at + number, key);
      said.push({ typed: words.slice(0, number + 1), messages: await this.messages(uri) });
    }
    return said;
  }

  /** Makes the change of a quick fix. */
  async apply(change) {
    const [{ textDocument, edits }, ...others] = change.documentChanges;
    const { uri, version } = textDocument;
    const document = this.documents.get(uri);
    assert.deepEqual([others, version], [[], document.version]);
    const wanted = applied(document.getText(), edits);
    const places = edits.map((edit) => [document.offsetAt(edit.range.start), document.offsetAt(edit.range.end), edit.newText]);
    // From the last to the first, so that none moves another.
    for (const place of places.sort(([a], [b]) => b - a)) await this.replace(uri, ...place);
    assert.equal(this.text(uri), wanted);
  }

  /** Where some words stand; they stand there once. */
  find(uri, words) {
    const [before, ...after] = this.text(uri).split(words);
    assert.equal(after.length, 1, `${after.length} times in the text: ${words}`);
    return before.length;
  }

  range(uri, words) {
    const start = this.find(uri, words);
    const document = this.documents.get(uri);
    return { start: document.positionAt(start), end: document.positionAt(start + words.length) };
  }

  /** What a question about a place begins with: so many characters into some words. */
  at(uri, words, inside = 0) {
    return { textDocument: { uri }, position: this.documents.get(uri).positionAt(this.find(uri, words) + inside) };
  }

  /** The words at a range. */
  words(uri, range) {
    return this.documents.get(uri).getText(range);
  }

  /** The newest publication that is wanted, heard already or to come. */
  said(what, wanted) {
    return until(what, () => this.published.findLast(wanted));
  }

  /** The messages for the text as it is now. */
  async messages(uri) {
    const { version } = this.documents.get(uri);
    const own = (p) => p.uri === uri && p.version === version;
    await this.said(`the messages for version ${version}`, own);
    // Words and names may be told before the proof. Whoever answers a question next has told both.
    await this.ask(lsp.FoldingRangeRequest.type, { textDocument: { uri } });
    await pause(20);
    return this.published.findLast(own).diagnostics;
  }

  /** The actions for a range. */
  actions(uri, range, context) {
    return this.ask(lsp.CodeActionRequest.type, { textDocument: { uri }, range, context });
  }
}

/** A test with an editor, which leaves well at its end. */
export function editing(name, body, { capabilities = CAPABILITIES, expected } = {}) {
  test(name, async (context) => {
    const home = realpathSync(mkdtempSync(join(tmpdir(), "coatwright-node-")));
    const editor = new Editor(home);
    // A test that fails leaves neither a server nor a folder behind.
    context.after(async () => {
      editor.server.process.kill();
      await editor.server.ended;
      rmSync(home, { recursive: true, force: true });
    });
    editor.result = await editor.server.start(capabilities, editor.folder);
    await until("that the server asks to be told of files", () => editor.registered.length > 0);
    await body(editor);
    await editor.leave(expected);
  });
}
