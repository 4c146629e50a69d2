import { execFile } from "node:child_process";
import { commands, Disposable, EventEmitter, TextDocumentContentProvider, Uri, ViewColumn, window, workspace } from "vscode";
import { LanguageClient } from "vscode-languageclient/node";

/** Of documents that hold an answer. */
const SCHEME = "keyon-answer";

/** What is asked. It stands in the document's address, so that an answer can be given again after a restart. */
export type Question =
  | { kind: "table"; uri: string; name?: string }
  | { kind: "explain"; rule: string }
  | { kind: "run"; file: string; what: string; subject: string };

/** Answers in Markdown, shown as the editor shows Markdown, beside the text. They follow it. */
export class Answers implements TextDocumentContentProvider, Disposable {
  private readonly changed = new EventEmitter<Uri>();
  readonly onDidChange = this.changed.event;
  private readonly disposables: Disposable[] = [];
  private timer: NodeJS.Timeout | undefined;

  constructor(private readonly client: () => LanguageClient | undefined, private readonly program: () => string) {
    this.disposables.push(
      workspace.registerTextDocumentContentProvider(SCHEME, this),
      workspace.onDidChangeTextDocument((e) => e.document.uri.scheme !== SCHEME && this.soon(["table"])),
      workspace.onDidSaveTextDocument(() => this.soon(["table", "run"])),
    );
  }

  async provideTextDocumentContent(uri: Uri): Promise<string> {
    return (await this.answer(JSON.parse(uri.query) as Question).catch((error: unknown) => String(error instanceof Error ? error.message : error))) ?? "";
  }

  /** The answer; nothing where there is none. */
  async answer(question: Question): Promise<string | null> {
    const client = this.client();
    if (question.kind === "run") {
      const args = [question.what, question.file, "--format", "markdown", "--", question.subject];
      return new Promise((done, fail) => {
        execFile(this.program(), args, { maxBuffer: 1 << 26 }, (error, out, complaint) => (out ? done(out) : fail(new Error(complaint.trim() || String(error)))));
      });
    }
    if (!client) {
      return null;
    }
    if (question.kind === "explain") {
      return client.sendRequest<string | null>("keyon/explain", { rule: question.rule });
    }
    const { markdown } = await client.sendRequest<{ markdown: string | null }>("keyon/table", { uri: question.uri, name: question.name ?? null });
    return markdown;
  }

  /** Opens an answer beside the text, if there is one; whether there is. */
  async show(title: string, question: Question): Promise<boolean> {
    if (!(await this.answer(question))) {
      return false;
    }
    const uri = Uri.from({ scheme: SCHEME, path: `/${title.replace(/[\\/]/g, " ")}`, query: JSON.stringify(question) });
    this.changed.fire(uri);
    const before = window.activeTextEditor;
    try {
      await commands.executeCommand("markdown.showLockedPreviewToSide", uri);
      // Who writes goes on writing.
      await (before && window.showTextDocument(before.document, before.viewColumn));
    } catch {
      // The editor's own Markdown is switched off: then as text.
      await window.showTextDocument(await workspace.openTextDocument(uri), { viewColumn: ViewColumn.Beside, preview: true, preserveFocus: true });
    }
    return true;
  }

  /** After a breath the answers that are open are asked for again. */
  private soon(kinds: Question["kind"][]): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      for (const document of workspace.textDocuments) {
        if (document.uri.scheme === SCHEME && kinds.includes((JSON.parse(document.uri.query) as Question).kind)) {
          this.changed.fire(document.uri);
        }
      }
    }, 300);
  }

  dispose(): void {
    clearTimeout(this.timer);
    this.changed.dispose();
    this.disposables.forEach((d) => d.dispose());
  }
}
