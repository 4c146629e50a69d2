import { randomBytes } from "node:crypto";
import { Disposable, TextDocument, ViewColumn, WebviewPanel, window, workspace } from "vscode";
import { LanguageClient } from "vscode-languageclient/node";
import { tableHtml } from "./table";

/** The diagram and the truth table of a document, beside it; they follow the text and the held scenario. */
export class Preview implements Disposable {
  private panel: WebviewPanel | undefined;
  private document: TextDocument | undefined;
  private timer: NodeJS.Timeout | undefined;
  private turn = 0;
  private readonly disposables: Disposable[] = [];
  /** What is shown, for whoever asks (the tests do). */
  shown = "";

  constructor(private readonly client: () => LanguageClient | undefined) {
    this.disposables.push(
      workspace.onDidChangeTextDocument((e) => e.document === this.document && this.soon()),
      window.onDidChangeActiveTextEditor((e) => {
        if (this.panel && e && (e.document.languageId === "keyon" || e.document.languageId === "markdown")) {
          this.document = e.document;
          this.soon();
        }
      }),
    );
  }

  open(document: TextDocument): void {
    this.document = document;
    if (!this.panel) {
      this.panel = window.createWebviewPanel("keyon.preview", "Keyon", { viewColumn: ViewColumn.Beside, preserveFocus: true }, { enableScripts: false, localResourceRoots: [] });
      this.panel.onDidDispose(() => { this.panel = undefined; });
    }
    void this.refresh();
  }

  /** After a breath: a diagram for every keystroke would only be in the way. */
  soon(): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.refresh(), 150);
  }

  async refresh(): Promise<void> {
    const { panel, document } = this;
    const client = this.client();
    if (!panel || !document || !client) {
      return;
    }
    const turn = ++this.turn;
    const uri = document.uri.toString();
    const view = workspace.getConfiguration("keyon").get<string>("preview.view", "state");
    let body: string;
    try {
      const drawing = await client.sendRequest<{ svg: string }>("keyon/draw", { uri, view });
      const table = await client.sendRequest<{ markdown: string | null }>("keyon/table", { uri });
      body = `<figure>${drawing.svg}</figure><section>${tableHtml(table.markdown ?? "")}</section>`;
    } catch {
      // An edit came in between: the next refresh is on its way.
      return;
    }
    if (turn !== this.turn || panel !== this.panel) {
      return;
    }
    panel.title = `Keyon: ${document.fileName.split(/[\\/]/).pop()}`;
    const nonce = randomBytes(16).toString("base64");
    panel.webview.html = `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'nonce-${nonce}'">
<style nonce="${nonce}">
body { font: 13px/1.5 var(--vscode-font-family, sans-serif); color: #111; background: #fff; margin: 8px; }
figure { margin: 0 0 16px; overflow: auto; } svg { max-width: 100%; height: auto; }
table { border-collapse: collapse; margin: 8px 0; } th, td { border: 1px solid #bbb; padding: 2px 8px; text-align: left; }
</style></head><body>${body}</body></html>`;
    this.shown = body;
  }

  dispose(): void {
    clearTimeout(this.timer);
    this.panel?.dispose();
    this.disposables.forEach((d) => d.dispose());
  }
}
