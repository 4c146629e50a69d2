import { commands, Disposable, ExtensionContext, TextDocument, Uri, window, workspace } from "vscode";
import { LanguageClient, LanguageClientOptions, ServerOptions, State } from "vscode-languageclient/node";
import { Answers } from "./answers";
import { explain, make, table } from "./ask";
import { Holding } from "./holding";
import { Preview } from "./preview";
import { program } from "./program";

let client: LanguageClient | undefined;

/** What the tests look at. */
export interface Api { client: () => LanguageClient | undefined; preview: Preview; status: () => string }

const OPTIONS = (): LanguageClientOptions => ({
  documentSelector: [{ language: "keyon" }, ...(workspace.getConfiguration("keyon").get<boolean>("notes", true) ? [{ scheme: "file", language: "markdown" }] : [])],
  synchronize: { fileEvents: ["**/*.keyon", "**/keyon.toml", "**/*.md"].map((glob) => workspace.createFileSystemWatcher(glob)) },
  outputChannelName: "Keyon",
  middleware: {
    // A finding's rule can be clicked: its page opens beside the text.
    handleDiagnostics: (uri, diagnostics, next) => {
      for (const diagnostic of diagnostics) {
        if (typeof diagnostic.code === "string") {
          diagnostic.code = { value: diagnostic.code, target: Uri.parse(`command:keyon.explainRule?${encodeURIComponent(JSON.stringify([diagnostic.code]))}`) };
        }
      }
      next(uri, diagnostics);
    },
    // The server's lenses name its own commands: here they open things beside the text.
    provideCodeLenses: async (document, token, next) => {
      const lenses = await next(document, token);
      for (const lens of lenses ?? []) {
        if (lens.command) {
          const [, what] = lens.command.arguments ?? [];
          const own: Record<string, string> = { "keyon.hold": "keyon.lens.hold", "keyon.table": "keyon.lens.table", "keyon.draw": "keyon.preview" };
          lens.command.command = own[lens.command.command] ?? lens.command.command;
          lens.command.arguments = [document.uri, what];
        }
      }
      return lenses;
    },
  },
});

async function start(context: ExtensionContext): Promise<void> {
  const command = program(context);
  const run = { command, args: ["lsp"] };
  const server: ServerOptions = { run, debug: run };
  client = new LanguageClient("keyon", "Keyon", server, OPTIONS());
  try {
    await client.start();
  } catch (error) {
    const again = "Set the Path";
    const chosen = await window.showErrorMessage(`Keyon's program could not be started (${command}): ${String(error)}`, again);
    if (chosen === again) {
      await commands.executeCommand("workbench.action.openSettings", "keyon.server.path");
    }
  }
}

export async function activate(context: ExtensionContext): Promise<Api> {
  const holding = new Holding(() => client, context.workspaceState);
  const media = Uri.joinPath(context.extensionUri, "media");
  const preview = new Preview(() => client, holding, media);
  const answers = new Answers(() => client, () => program(context), media);
  let breath: NodeJS.Timeout | undefined;

  let last: TextDocument | undefined;
  /** The document that a command is about: the one in front, else the one that was (a walkthrough or a panel is in front now). */
  const active = async (): Promise<TextDocument | undefined> => {
    const document = window.activeTextEditor?.document ?? last;
    if (holding.served(document) && !document.isClosed && client?.state === State.Running) {
      return document;
    }
    const begin = "New Circuit";
    if ((await window.showInformationMessage("Open a circuit first: a file that ends in .keyon, or a note with a keyon block.", begin)) === begin) {
      await commands.executeCommand("keyon.new");
    }
    return undefined;
  };
  /** A command about the document in front. */
  const about = (command: string, run: (document: TextDocument, ...args: never[]) => unknown): Disposable =>
    commands.registerCommand(command, async (...args: unknown[]) => {
      const document = await active();
      return document && run(document, ...(args as never[]));
    });

  context.subscriptions.push(
    preview, answers, holding,
    holding.onDidChange(() => preview.soon()),
    commands.registerCommand("keyon.new", async () => {
      const editor = await window.showTextDocument(await workspace.openTextDocument({ language: "keyon" }));
      await commands.executeCommand("editor.action.insertSnippet", { langId: "keyon", name: "First circuit" });
      return editor.document;
    }),
    about("keyon.preview", (document) => preview.open(document)),
    about("keyon.holdScenario", (document, name?: string) => (typeof name === "string" ? holding.hold(document, name) : holding.choose(document))),
    about("keyon.releaseScenario", (document) => holding.hold(document, undefined)),
    about("keyon.lens.hold", (document, _uri, scenario: string) => holding.hold(document, scenario)),
    about("keyon.lens.table", (document, _uri, name: string | null) => table(answers, document, name ?? undefined)),
    about("keyon.tableOf", (document) => {
      const editor = window.activeTextEditor;
      const range = editor && document.getWordRangeAtPosition(editor.selection.active, /[\p{L}_0-9][\p{L}\p{M}_0-9.]*/u);
      return table(answers, document, range && document.getText(range));
    }),
    about("keyon.run", (document) => (document.isUntitled ? window.showInformationMessage("Save the circuit first.") : make(answers, document))),
    commands.registerCommand("keyon.explainRule", (rule?: string) => explain(answers, client, rule)),
    commands.registerCommand("keyon.restart", async () => {
      await client?.stop().catch(() => undefined);
      await start(context);
      await holding.show();
    }),
    window.onDidChangeActiveTextEditor((editor) => {
      last = holding.served(editor?.document) ? editor.document : last;
      void holding.show();
    }),
    // Scenarios come and go while one types: told after a breath, not for every keystroke.
    workspace.onDidChangeTextDocument((e) => {
      if (e.document === window.activeTextEditor?.document) {
        clearTimeout(breath);
        breath = setTimeout(() => void holding.show(), 500);
      }
    }),
    workspace.onDidChangeConfiguration((e) => {
      if (e.affectsConfiguration("keyon.server.path") || e.affectsConfiguration("keyon.notes")) {
        void commands.executeCommand("keyon.restart");
      } else if (e.affectsConfiguration("keyon.preview")) {
        preview.soon();
      }
    }),
  );
  await start(context);
  last = window.activeTextEditor?.document;
  await holding.show();
  return { client: () => client, preview, status: () => holding.status.text };
}

export async function deactivate(): Promise<void> {
  await client?.stop();
}
