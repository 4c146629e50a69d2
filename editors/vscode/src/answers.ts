import { execFile } from "node:child_process";
import { commands, Disposable, Uri, ViewColumn, WebviewPanel, window, workspace } from "vscode";
import { LanguageClient } from "vscode-languageclient/node";
import { escapeHtml } from "./table";

/** What is asked. */
export type Question =
  | { kind: "table"; uri: string; name?: string }
  | { kind: "explain"; rule: string }
  | { kind: "run"; file: string; what: string; subject: string };

/** An answer that stands beside the text. */
interface Standing { panel: WebviewPanel; question: Question; markdown: string }

/** Answers in Markdown, rendered beside the text. They follow it, and the text keeps the cursor. */
export class Answers implements Disposable {
  private readonly standing = new Map<string, Standing>();
  private readonly disposables: Disposable[] = [];
  private timer: NodeJS.Timeout | undefined;

  constructor(private readonly client: () => LanguageClient | undefined, private readonly program: () => string, private readonly media: Uri) {
    this.disposables.push(
      workspace.onDidChangeTextDocument(() => this.soon(["table"])),
      workspace.onDidSaveTextDocument(() => this.soon(["table", "run"])),
    );
  }

  /** Opens an answer, if there is one; whether there is. */
  async show(title: string, question: Question): Promise<boolean> {
    const markdown = await this.answer(question);
    if (!markdown) {
      return false;
    }
    const key = JSON.stringify(question);
    const before = this.standing.get(key);
    if (before) {
      before.panel.reveal(undefined, true);
      await this.fill(before, markdown);
      return true;
    }
    const panel = window.createWebviewPanel("keyon.answer", title, { viewColumn: ViewColumn.Beside, preserveFocus: true }, { enableFindWidget: true, localResourceRoots: [this.media] });
    panel.iconPath = { light: Uri.joinPath(this.media, "keyon-light.svg"), dark: Uri.joinPath(this.media, "keyon-dark.svg") };
    panel.onDidDispose(() => this.standing.delete(key));
    const standing = { panel, question, markdown: "" };
    this.standing.set(key, standing);
    await this.fill(standing, markdown);
    return true;
  }

  /** The answer; nothing where there is none. */
  private async answer(question: Question): Promise<string | null> {
    if (question.kind === "run") {
      const args = [question.what, question.file, "--format", "markdown", "--", question.subject];
      return new Promise((done, fail) => {
        execFile(this.program(), args, { maxBuffer: 1 << 26 }, (error, out, complaint) => (out ? done(out) : fail(new Error(complaint.trim() || String(error)))));
      });
    }
    const client = this.client();
    if (!client) {
      return null;
    }
    if (question.kind === "explain") {
      return client.sendRequest<string | null>("keyon/explain", { rule: question.rule });
    }
    const { markdown } = await client.sendRequest<{ markdown: string | null }>("keyon/table", { uri: question.uri, name: question.name ?? null });
    return markdown;
  }

  private async fill(standing: Standing, markdown: string): Promise<void> {
    if (standing.markdown === markdown) {
      return;
    }
    standing.markdown = markdown;
    // The editor's own Markdown may be switched off: then as it is written.
    const body = await commands.executeCommand<string>("markdown.api.render", markdown).then((html) => html, () => `<pre>${escapeHtml(markdown)}</pre>`);
    if (standing.markdown === markdown) {
      const { webview } = standing.panel;
      const style = webview.asWebviewUri(Uri.joinPath(this.media, "panel.css")).toString();
      webview.html = `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src ${webview.cspSource}">
<link rel="stylesheet" href="${style}"></head><body class="answer">${body}</body></html>`;
    }
  }

  /** After a breath the answers that hang on the text are asked for again. What cannot be answered just now stays as it is. */
  private soon(kinds: Question["kind"][]): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      for (const standing of this.standing.values()) {
        if (kinds.includes(standing.question.kind)) {
          void this.answer(standing.question).then((markdown) => (markdown ? this.fill(standing, markdown) : undefined), () => undefined);
        }
      }
    }, 300);
  }

  dispose(): void {
    clearTimeout(this.timer);
    this.standing.forEach(({ panel }) => panel.dispose());
    this.disposables.forEach((d) => d.dispose());
  }
}
