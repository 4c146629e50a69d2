import { ConfigurationTarget, Disposable, TextDocument, Uri, ViewColumn, WebviewPanel, window, workspace } from "vscode";
import { LanguageClient, Range as ServerRange } from "vscode-languageclient/node";
import { Holding } from "./holding";
import { page, Shown, Told } from "./panel";
import { tableHtml } from "./table";

/** The diagram and the truth table of a document, beside it; they follow the text and the held scenario. */
export class Preview implements Disposable {
  private panel: WebviewPanel | undefined;
  private document: TextDocument | undefined;
  private timer: NodeJS.Timeout | undefined;
  private turn = 0;
  private content: Shown | undefined;
  private readonly disposables: Disposable[] = [];
  /** What is shown, for whoever asks (the tests do). */
  shown = "";

  constructor(private readonly client: () => LanguageClient | undefined, private readonly holding: Holding, private readonly media: Uri) {
    this.disposables.push(
      workspace.onDidChangeTextDocument((e) => e.document === this.document && this.soon()),
      window.onDidChangeActiveTextEditor((e) => {
        if (this.panel && e && this.holding.served(e.document) && e.document !== this.document) {
          this.document = e.document;
          this.soon();
        }
      }),
    );
  }

  open(document: TextDocument): void {
    this.document = document;
    if (this.panel) {
      this.panel.reveal(undefined, true);
    } else {
      const panel = window.createWebviewPanel("keyon.preview", "Keyon", { viewColumn: ViewColumn.Beside, preserveFocus: true }, { enableScripts: true, localResourceRoots: [this.media] });
      panel.iconPath = { light: Uri.joinPath(this.media, "keyon-light.svg"), dark: Uri.joinPath(this.media, "keyon-dark.svg") };
      panel.onDidDispose(() => { this.panel = undefined; });
      panel.webview.onDidReceiveMessage((told: Told) => void this.told(told));
      panel.webview.html = page(panel.webview, this.media);
      this.panel = panel;
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
    try {
      const { scenario: held, scenarios } = await this.holding.now(document);
      const { svg } = await client.sendRequest<{ svg: string }>("keyon/draw", { uri, view, tappable: true });
      const { markdown } = await client.sendRequest<{ markdown: string | null }>("keyon/table", { uri });
      if (turn !== this.turn || panel !== this.panel) {
        return;
      }
      this.content = { uri, svg, table: tableHtml(markdown ?? ""), view, held, scenarios };
    } catch {
      // An edit came in between: the next refresh is on its way.
      return;
    }
    panel.title = `Keyon: ${document.fileName.split(/[\\/]/).pop()}`;
    this.shown = `${this.content.svg}${this.content.table}`;
    void panel.webview.postMessage(this.content);
  }

  /** What was done in the page. */
  private async told({ ready, reveal, hold, view }: Told): Promise<void> {
    const { document } = this;
    // A page that was hidden begins anew.
    if (ready && this.content) {
      void this.panel?.webview.postMessage(this.content);
    }
    if (view) {
      await workspace.getConfiguration("keyon").update("preview.view", view, ConfigurationTarget.Global);
    }
    if (document && hold !== undefined) {
      await this.holding.hold(document, hold || undefined);
    }
    if (document && reveal) {
      await this.reveal(document, reveal);
    }
  }

  /** Puts the cursor where the thing of this name is declared. */
  private async reveal(document: TextDocument, name: string): Promise<void> {
    const place = await this.client()?.sendRequest<{ uri: string; range: ServerRange } | null>("keyon/locate", { uri: document.uri.toString(), name }).catch(() => null);
    const client = this.client();
    if (place && client) {
      const selection = client.protocol2CodeConverter.asRange(place.range);
      const column = window.visibleTextEditors.find((editor) => editor.document === document)?.viewColumn ?? ViewColumn.One;
      await window.showTextDocument(Uri.parse(place.uri), { viewColumn: column, selection });
    }
  }

  dispose(): void {
    clearTimeout(this.timer);
    this.panel?.dispose();
    this.disposables.forEach((d) => d.dispose());
  }
}
