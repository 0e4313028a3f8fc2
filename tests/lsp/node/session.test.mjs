// A session from its beginning to its end: what is agreed, edits in bursts, questions taken back, what no server expects.

import assert from "node:assert/strict";
import { test } from "node:test";
import * as lsp from "vscode-languageserver-protocol/node";
import { CAPABILITIES, Server, editing, pause, until } from "./client.mjs";

/** A recipe with so many slips that the server is busy with it for a while. */
const SLIPS = 2000;
const LONG = `recipe t {\n${"  clpi body\n".repeat(SLIPS)}}\n`;

const hover = (uri, line, character) => [lsp.HoverRequest.type, { textDocument: { uri }, position: { line, character } }];

editing("what is agreed", async (editor) => {
  const { capabilities, serverInfo } = editor.result;
  assert.equal(serverInfo.name, "coatwright-lsp");
  assert.match(serverInfo.version, /^\d+\.\d+\.\d+$/);
  assert.equal(capabilities.positionEncoding, lsp.PositionEncodingKind.UTF16);
  const { openClose, change, save } = capabilities.textDocumentSync;
  assert.deepEqual([openClose, change, save], [true, lsp.TextDocumentSyncKind.Incremental, { includeText: false }]);
  // Messages are sent to this client, so it isn't told that it could ask.
  assert.equal(capabilities.diagnosticProvider, undefined);
  assert.deepEqual(capabilities.renameProvider, { prepareProvider: true });
  assert.deepEqual(
    editor.registered.map((r) => [r.method, r.registerOptions]),
    [["workspace/didChangeWatchedFiles", { watchers: [{ globPattern: "**/*.trim" }] }]],
  );
  // The library's own tracing is a notification that the server may not mind.
  const uri = await editor.open("harbour-short.trim");
  await editor.server.connection.trace(lsp.Trace.Messages, { log() {} });
  assert.equal(await editor.ask(...hover(uri, 3, 12)), null);
});

editing("columns are UTF-16 units", async (editor) => {
  const uri = await editor.open("t.trim", "-- 🐩 Bramble’s\nrecipe t { title “🐩 é”; clpi body with #7F with the coat }\n");
  const [message, ...others] = await editor.messages(uri);
  assert.deepEqual([message.code, others, editor.words(uri, message.range)], ["W006", [], "clpi"]);
  assert.deepEqual(message.range.start, { line: 1, character: 25 });
  await editor.edit(uri, "clpi", "🐩 clpi");
  await editor.edit(uri, "🐩 clpi", "clip");
  assert.deepEqual((await editor.messages(uri)).filter((m) => m.code === "W006"), []);
});

const asking = {
  ...CAPABILITIES,
  workspace: { ...CAPABILITIES.workspace, diagnostics: { refreshSupport: true } },
  textDocument: { ...CAPABILITIES.textDocument, diagnostic: { relatedDocumentSupport: false } },
};

editing(
  "a client that asks for its messages is told when to ask again, and is sent none",
  async (editor) => {
    const { interFileDependencies, workspaceDiagnostics } = editor.result.capabilities.diagnosticProvider;
    assert.deepEqual([interFileDependencies, workspaceDiagnostics], [true, true]);
    const told = (times) => until(`a reason to ask again: ${times}`, () => editor.refreshed.length === times);
    const recipe = await editor.open("harbour-short.trim");
    await told(1);
    const ask = (previousResultId) =>
      editor.ask(lsp.DocumentDiagnosticRequest.type, { textDocument: { uri: recipe }, previousResultId });
    const first = await ask();
    assert.deepEqual([first.kind, first.items], [lsp.DocumentDiagnosticReportKind.Full, []]);
    assert.deepEqual(await ask(first.resultId), { kind: lsp.DocumentDiagnosticReportKind.Unchanged, resultId: first.resultId });
    const house = await editor.open("house.trim");
    await told(2);
    await editor.edit(house, "keep     sanitary never in reverse", "keep     sanitary never clipper");
    await editor.tell(lsp.DidSaveTextDocumentNotification.type, { textDocument: { uri: house } });
    await told(3);
    const second = await ask(first.resultId);
    assert.equal(second.kind, lsp.DocumentDiagnosticReportKind.Full);
    const [message] = second.items;
    assert.equal(message.code, "C003");
    assert.deepEqual(message.relatedInformation[0].location.uri, house);
    assert.deepEqual(new Set(editor.refreshed), new Set([lsp.DiagnosticRefreshRequest.method]));
    assert.deepEqual(editor.published, []);
  },
  { capabilities: asking },
);

editing("a burst of edits is few publications, and the last is for the last text", async (editor) => {
  const uri = await editor.open("harbour-short.trim");
  await editor.messages(uri);
  const heard = editor.published.length;
  // Each edit builds on the one before: lost or applied in another order, the words are others.
  const sent = [];
  for (let number = 1; number <= 29; number += 1) {
    sent.push(editor.edit(uri, number === 1 ? "Harbour short" : `Harbour ${number - 1}`, `Harbour ${number}`));
  }
  sent.push(editor.edit(uri, "skim     stop with", "skin     stop with"));
  await Promise.all(sent);
  const [message, ...others] = await editor.messages(uri);
  assert.deepEqual([message.code, others, editor.words(uri, message.range)], ["W006", [], "skin"]);
  await pause(300);
  const versions = editor.published.slice(heard).map((p) => p.version);
  assert.equal(versions.at(-1), 31);
  assert(versions.length <= 10, `${versions.length} publications`);
  assert.deepEqual(versions, [...new Set(versions)].sort((a, b) => a - b));
  const [recipe] = await editor.ask(lsp.DocumentSymbolRequest.type, { textDocument: { uri } });
  assert.equal(recipe.name, "harbour-short");
  assert.match(editor.text(uri), /title {4}"Harbour 29"/);
  assert.equal(recipe.detail, "Harbour 29");
});

editing("a question that is taken back is answered so, and the server lives on", async (editor) => {
  const uri = await editor.open("t.trim", LONG);
  const question = { textDocument: { uri } };
  // An answer, or that there is none because nobody wants it; anything else is a failure, and so is silence.
  const outcome = async (answer) => {
    try {
      return (await answer) && "answered";
    } catch (why) {
      assert(why instanceof lsp.ResponseError, String(why));
      assert.equal(why.code, lsp.LSPErrorCodes.RequestCancelled);
      return "cancelled";
    }
  };
  const outcomes = [];
  for (const wait of [0, 0, 5, 50, 500]) {
    const source = new lsp.CancellationTokenSource();
    const answer = editor.ask(lsp.FoldingRangeRequest.type, question, source.token);
    if (wait) await pause(wait);
    source.cancel();
    outcomes.push(await outcome(answer));
    // Another text, or the server would remember the answer's beginnings.
    await editor.replace(uri, 0, 0, "\n");
  }
  // Taken back at once it is never worked out, since the text before it takes longer.
  assert.equal(outcomes[0], "cancelled");
  // Taken back when it is answered already, it is answered.
  const source = new lsp.CancellationTokenSource();
  const folds = await editor.ask(lsp.FoldingRangeRequest.type, question, source.token);
  source.cancel();
  assert.equal(folds[0].endLine, SLIPS + outcomes.length);
  const messages = await editor.messages(uri);
  assert(messages.length > 0 && messages.every((m) => m.code));
});

editing(
  "a malformed message is answered and survived",
  async (editor) => {
    const uri = await editor.open("harbour-short.trim");
    await editor.messages(uri);
    const frame = (body) => `Content-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`;
    const slips = ['{"jsonrpc":"2.0","id":7,"meth', "[]", '{"jsonrpc":"2.0","id":{},"method":"x"}'].map(frame);
    for (const [number, slip] of [...slips, "no header at all\r\n\r\n"].entries()) {
      // Past the library, between two of its own messages.
      await new Promise((sent) => editor.server.process.stdin.write(slip, sent));
      await editor.edit(uri, number ? `Harbour ${number - 1}` : "Harbour short", `Harbour ${number}`);
      assert.deepEqual(await editor.messages(uri), []);
      assert.match((await editor.ask(...hover(uri, 20, 41))).contents.value, /^\*\*#7F\*\*/);
    }
    const refusals = editor.server.complaints.map((words) => Number(/"code": (-\d+)/.exec(words)?.[1]));
    assert.deepEqual(refusals, [-32700, -32600, -32600, -32700]);
  },
  // The library complains of answers to nothing that it has asked.
  { expected: /^Received response message without id/ },
);

editing("what is unknown is refused or passed over", async (editor) => {
  const { connection } = editor.server;
  const refused = (code) => (why) => why instanceof lsp.ResponseError && why.code === code;
  await assert.rejects(connection.sendRequest("coatwright/unheard", {}), refused(lsp.ErrorCodes.MethodNotFound));
  // In the protocol, and not offered by this server.
  const place = { textDocument: { uri: editor.uri("dogs.trim") }, position: { line: 0, character: 0 } };
  await assert.rejects(editor.ask(lsp.CallHierarchyPrepareRequest.type, place), refused(lsp.ErrorCodes.MethodNotFound));
  await assert.rejects(editor.ask(lsp.HoverRequest.type, place), refused(lsp.ErrorCodes.InvalidParams));
  await connection.sendNotification("coatwright/unheard", {});
  const uri = await editor.open("dogs.trim");
  assert.deepEqual(await editor.messages(uri), []);
});

for (const [words, shutdown, code] of [
  ["after shutdown, exit is a good end", true, 0],
  ["without shutdown, exit is a failure", false, 1],
]) {
  test(`${words}, while the input stays open`, async (context) => {
    const server = new Server();
    context.after(() => server.process.kill());
    // A client that says nothing of itself, so that nothing is asked of it.
    await server.start({});
    if (shutdown) {
      assert.equal(await server.ask(lsp.ShutdownRequest.type), null);
      await assert.rejects(
        server.ask(lsp.WorkspaceSymbolRequest.type, { query: "" }),
        (why) => why.code === lsp.ErrorCodes.InvalidRequest,
      );
    }
    await server.tell(lsp.ExitNotification.type);
    assert.equal(await server.end(), code);
    assert.deepEqual(server.complaints, []);
  });
}
