// A page beside the text. The server draws it, whole, for the place of the cursor; the view asks anew as the text changes.

import * as vscode from "vscode";
import { ExecuteCommandRequest, type LanguageClient } from "vscode-languageclient/node";

/** What the server's commands answer: a page, perhaps with a title; nothing where there is nothing to show. */
type Answer = string | { html: string; title?: string } | null;

/** So long after the last key the page is asked for. */
const PAUSE = 250;

export class View implements vscode.Disposable {
  private panel: vscode.WebviewPanel | undefined;
  private editor: vscode.TextEditor | undefined;
  private timer: NodeJS.Timeout | undefined;
  /** Counts what was asked, so that a late answer to an older question is dropped. */
  private asked = 0;
  private readonly listeners: vscode.Disposable[];

  constructor(
    /** The command of the server that draws the page. */
    private readonly command: string,
    private readonly title: string,
    private readonly client: () => LanguageClient | undefined,
  ) {
    this.listeners = [
      vscode.workspace.onDidChangeTextDocument(({ document }) => {
        // Any file of a house may change the page.
        if (document.languageId === "trim") this.soon();
      }),
      vscode.window.onDidChangeTextEditorSelection(({ textEditor }) => this.follow(textEditor)),
      vscode.window.onDidChangeActiveTextEditor((editor) => editor && this.follow(editor)),
    ];
  }

  async show(): Promise<void> {
    const editor = vscode.window.activeTextEditor;
    if (editor?.document.languageId === "trim") this.editor = editor;
    if (this.panel) {
      this.panel.reveal(undefined, true);
    } else {
      const where = { viewColumn: vscode.ViewColumn.Beside, preserveFocus: true };
      // The page is the server's, with pictures and styles of its own and nothing that runs.
      this.panel = vscode.window.createWebviewPanel(this.command, this.title, where, {
        enableScripts: false,
        localResourceRoots: [],
      });
      this.panel.onDidDispose(() => {
        this.panel = undefined;
        clearTimeout(this.timer);
      });
    }
    await this.draw();
  }

  dispose(): void {
    clearTimeout(this.timer);
    this.panel?.dispose();
    for (const listener of this.listeners) listener.dispose();
  }

  private follow(editor: vscode.TextEditor): void {
    if (editor.document.languageId !== "trim") return;
    this.editor = editor;
    this.soon();
  }

  private soon(): void {
    if (!this.panel) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.draw(), PAUSE);
  }

  private async draw(): Promise<void> {
    const { panel, editor } = this;
    const client = this.client();
    if (!panel || !editor) return;
    const asked = ++this.asked;
    let page: string;
    let title = this.title;
    try {
      if (!client) throw new Error("the language server isn't running");
      const answer: Answer = await client.sendRequest(ExecuteCommandRequest.type, {
        command: this.command,
        arguments: [
          {
            textDocument: client.code2ProtocolConverter.asTextDocumentIdentifier(editor.document),
            position: client.code2ProtocolConverter.asPosition(editor.selection.active),
          },
        ],
      });
      if (answer === null) {
        page = words("There is nothing to show for this place: put the cursor into a recipe or a dog's card.");
      } else if (typeof answer === "string") {
        page = answer;
      } else {
        page = answer.html;
        title = answer.title ?? title;
      }
    } catch (why) {
      page = words(why instanceof Error ? why.message : String(why));
    }
    // Asked again meanwhile, or closed.
    if (asked !== this.asked || this.panel !== panel) return;
    panel.title = title;
    panel.webview.html = page;
  }
}

/** A page of plain words. */
function words(text: string): string {
  const safe = text.replace(/[&<>]/g, (c) => `&#${c.charCodeAt(0)};`);
  return `<!doctype html><html lang="en"><title>Coatwright</title><p>${safe}</p></html>`;
}
