#!/usr/bin/env node
// Stands for the language server where only its commands matter: answers each with a page that says what was asked.

let unread = Buffer.alloc(0);

const pages = {
  "coatwright.dogOnTheTable": (words) => `<p>${words}</p>`,
  "coatwright.sheet": (words) => ({ html: `<p>${words}</p>`, title: "Sheet of t" }),
};

function answer({ method, params }) {
  switch (method) {
    case "initialize":
      return { capabilities: { executeCommandProvider: { commands: Object.keys(pages) } } };
    case "workspace/executeCommand": {
      const [{ textDocument, position }] = params.arguments;
      return pages[params.command](`${params.command} ${textDocument.uri} ${position.line}:${position.character}`);
    }
    default:
      return null;
  }
}

process.stdin.on("data", (data) => {
  unread = Buffer.concat([unread, data]);
  for (;;) {
    const head = /^Content-Length: (\d+)\r\n\r\n/.exec(unread.toString("latin1"));
    if (!head || unread.length < head[0].length + Number(head[1])) return;
    const end = head[0].length + Number(head[1]);
    const message = JSON.parse(unread.subarray(head[0].length, end));
    unread = unread.subarray(end);
    if (message.method === "exit") process.exit(0);
    if (message.id === undefined || !message.method) continue;
    const body = JSON.stringify({ jsonrpc: "2.0", id: message.id, result: answer(message) });
    process.stdout.write(`Content-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`);
  }
});
