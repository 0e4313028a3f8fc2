// Starts the language server, and shows beside the text what its commands answer.

import * as vscode from "vscode";
import { LanguageClient, type LanguageClientOptions, type ServerOptions } from "vscode-languageclient/node";
import { View } from "./view";

/** A client that leaves it to `complain` to say that there is no server: it knows the way out. */
class Client extends LanguageClient {
  private cameUp = false;

  override async start(): Promise<void> {
    await super.start();
    this.cameUp = true;
  }

  override error(message: string, data?: unknown, show: boolean | "force" = true): void {
    super.error(message, data, this.cameUp && show);
  }
}

let client: LanguageClient | undefined;

export async function activate(context: vscode.ExtensionContext): Promise<void> {
  const dog = new View("coatwright.dogOnTheTable", "Dog on the table", () => client);
  const sheet = new View("coatwright.sheet", "Sheet", () => client);
  context.subscriptions.push(
    dog,
    sheet,
    vscode.commands.registerCommand("coatwright.showDog", () => dog.show()),
    vscode.commands.registerCommand("coatwright.showSheet", () => sheet.show()),
    vscode.commands.registerCommand("coatwright.restart", restart),
    vscode.workspace.onDidChangeConfiguration(async (change) => {
      if (change.affectsConfiguration("coatwright.server.path")) await restart();
    }),
  );
  await start();
}

export async function deactivate(): Promise<void> {
  await stop();
}

async function restart(): Promise<void> {
  await stop();
  await start();
}

async function stop(): Promise<void> {
  const old = client;
  client = undefined;
  // A server that never came up can't be stopped, and needn't be.
  await old?.dispose().catch(() => undefined);
}

async function start(): Promise<void> {
  const command = vscode.workspace.getConfiguration("coatwright").get("server.path", "").trim() || "coatwright-lsp";
  const server: ServerOptions = { command };
  const options: LanguageClientOptions = {
    documentSelector: [{ scheme: "file", language: "trim" }],
    outputChannelName: "Coatwright",
  };
  const started = new Client("coatwright", "Coatwright", server, options);
  client = started;
  try {
    await started.start();
  } catch (why) {
    if (client === started) client = undefined;
    await complain(command, why);
  }
}

async function complain(command: string, why: unknown): Promise<void> {
  const settings = "Open the settings";
  const reason = why instanceof Error ? why.message : String(why);
  const chosen = await vscode.window.showErrorMessage(
    `The language server ${command} can't be started (${reason}). Install it with "cargo install --path lsp", or set coatwright.server.path.`,
    settings,
  );
  if (chosen === settings) {
    await vscode.commands.executeCommand("workbench.action.openSettings", "coatwright.server.path");
  }
}
