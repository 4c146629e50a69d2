import { execFile } from "node:child_process";
import { commands, ExtensionContext, languages, MarkdownString, StatusBarAlignment, TextDocument, ViewColumn, window, workspace } from "vscode";
import { LanguageClient, LanguageClientOptions, ServerOptions, State } from "vscode-languageclient/node";
import { Preview } from "./preview";
import { program } from "./program";

let client: LanguageClient | undefined;

const served = (document: TextDocument | undefined): document is TextDocument =>
  document !== undefined && (document.languageId === "keyon" || (document.languageId === "markdown" && /(^|\n)\s*(```|~~~)\s*keyon\b/.test(document.getText())));

/** What the tests look at. */
export interface Api { client: () => LanguageClient | undefined; preview: Preview; status: () => string }

export async function activate(context: ExtensionContext): Promise<Api> {
  const preview = new Preview(() => client);
  const status = window.createStatusBarItem("keyon.scenario", StatusBarAlignment.Right, 90);
  status.name = "Keyon: held scenario";
  status.command = "keyon.holdScenario";
  context.subscriptions.push(preview, status);

  const showStatus = async () => {
    const document = window.activeTextEditor?.document;
    if (!served(document) || client?.state !== State.Running) {
      return status.hide();
    }
    const held = await hold(document, context.workspaceState.get<string>(key(document)), false).catch(() => undefined);
    if (held) {
      status.text = `$(circuit-board) ${held.scenario ?? "at rest"}`;
      status.tooltip = new MarkdownString(`Hover and hints speak of ${held.scenario ? `the scenario \`${held.scenario}\`` : "the state at rest"}. Click to hold another.`);
      status.show();
    }
  };

  let breath: NodeJS.Timeout | undefined;
  const start = async () => {
    const command = program(context);
    const run = { command, args: ["lsp"] };
    const server: ServerOptions = { run, debug: run };
    const notes = workspace.getConfiguration("keyon").get<boolean>("notes", true);
    const options: LanguageClientOptions = {
      documentSelector: [{ language: "keyon" }, ...(notes ? [{ scheme: "file", language: "markdown" }] : [])],
      synchronize: { fileEvents: [workspace.createFileSystemWatcher("**/*.keyon"), workspace.createFileSystemWatcher("**/keyon.toml")] },
      outputChannelName: "Keyon",
      // The extension brings templates of its own.
      initializationOptions: { snippets: false },
      middleware: {
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
    };
    client = new LanguageClient("keyon", "Keyon", server, options);
    try {
      await client.start();
    } catch (error) {
      const again = "Set the Path";
      const chosen = await window.showErrorMessage(`Keyon's program could not be started (${command}): ${String(error)}`, again);
      if (chosen === again) {
        await commands.executeCommand("workbench.action.openSettings", "keyon.server.path");
      }
      return;
    }
    await showStatus();
  };

  const active = async (): Promise<TextDocument | undefined> => {
    const document = window.activeTextEditor?.document;
    if (served(document) && client?.state === State.Running) {
      return document;
    }
    await window.showInformationMessage("Open a circuit first: a file that ends in .keyon, or a note with a keyon block.");
    return undefined;
  };

  const holdAndShow = async (document: TextDocument, scenario: string | undefined) => {
    await context.workspaceState.update(key(document), scenario);
    await hold(document, scenario, true);
    await showStatus();
    preview.soon();
  };

  const beside = async (markdown: string) => {
    const document = await workspace.openTextDocument({ language: "markdown", content: markdown });
    await window.showTextDocument(document, { viewColumn: ViewColumn.Beside, preview: true, preserveFocus: true });
  };

  context.subscriptions.push(
    commands.registerCommand("keyon.preview", async () => {
      const document = await active();
      if (document) {
        preview.open(document);
      }
    }),
    commands.registerCommand("keyon.holdScenario", async (name?: string) => {
      const document = await active();
      if (!document) {
        return;
      }
      const { scenarios, scenario } = await hold(document, context.workspaceState.get<string>(key(document)), false);
      if (!scenarios.length) {
        return void window.showInformationMessage("The circuit has no scenario: add one, like  scenario lit { arm on }");
      }
      const chosen = name ?? (await window.showQuickPick(scenarios.map((label) => ({ label, description: label === scenario ? "held" : "" })), { placeHolder: "The state that hover, hints and the diagram speak of" }))?.label;
      if (chosen) {
        await holdAndShow(document, chosen);
      }
    }),
    commands.registerCommand("keyon.releaseScenario", async () => {
      const document = await active();
      if (document) {
        await holdAndShow(document, undefined);
      }
    }),
    commands.registerCommand("keyon.lens.hold", async (_uri, scenario: string) => {
      const document = await active();
      if (document) {
        await holdAndShow(document, scenario);
      }
    }),
    commands.registerCommand("keyon.lens.table", async (_uri, name: string | null) => {
      const document = await active();
      if (document) {
        await table(document, name ?? undefined, beside);
      }
    }),
    commands.registerCommand("keyon.tableOf", async () => {
      const document = await active();
      const editor = window.activeTextEditor;
      if (document && editor) {
        const range = document.getWordRangeAtPosition(editor.selection.active, /[\p{L}_0-9][\p{L}\p{M}_0-9.]*/u);
        await table(document, range && document.getText(range), beside);
      }
    }),
    commands.registerCommand("keyon.explainRule", async (rule?: string) => {
      const here = window.activeTextEditor;
      const found = here ? languages.getDiagnostics(here.document.uri).filter((d) => d.range.contains(here.selection.active)) : [];
      const code = found.map((d) => (typeof d.code === "object" ? String(d.code.value) : String(d.code ?? "")))[0];
      const name = rule ?? (await window.showInputBox({ prompt: "The rule's name, as findings say it", value: code ?? "" }));
      if (name && client) {
        const text = await client.sendRequest<string | null>("keyon/explain", { rule: name.trim() });
        if (text) {
          await beside(text);
        } else {
          await window.showWarningMessage(`There is no rule ${name}.`);
        }
      }
    }),
    commands.registerCommand("keyon.run", async () => {
      const document = await active();
      if (!document || document.isUntitled) {
        return void window.showInformationMessage("Save the circuit first.");
      }
      const what = await window.showQuickPick(["pinout", "probe", "sheet"], { placeHolder: "What shall be made" });
      if (!what) {
        return;
      }
      const subject = await window.showInputBox({ prompt: what === "sheet" ? "The exercise's name" : "A module, connector, device or point" });
      if (!subject) {
        return;
      }
      await document.save();
      const args = [what, document.fileName, "--format", "markdown", "--", subject];
      execFile(program(context), args, { maxBuffer: 1 << 26 }, (error, out, complaint) => {
        void (out ? beside(out) : window.showErrorMessage(complaint.trim() || String(error)));
      });
    }),
    commands.registerCommand("keyon.restart", async () => {
      await client?.stop().catch(() => undefined);
      await start();
    }),
    window.onDidChangeActiveTextEditor(() => void showStatus()),
    // Scenarios come and go while one types: told after a breath, not for every keystroke.
    workspace.onDidChangeTextDocument((e) => {
      if (e.document === window.activeTextEditor?.document) {
        clearTimeout(breath);
        breath = setTimeout(() => void showStatus(), 500);
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
  await start();
  return { client: () => client, preview, status: () => status.text };
}

const key = (document: TextDocument): string => `scenario:${document.uri.toString()}`;

interface Held { scenario: string | null; scenarios: string[] }

/** Holds a scenario. One that is gone since is let go, unless it was asked for just now. */
async function hold(document: TextDocument, scenario: string | undefined, asked: boolean): Promise<Held> {
  const uri = document.uri.toString();
  const ask = (wish?: string) => client!.sendRequest<Held>("keyon/hold", { uri, scenario: wish ?? null });
  try {
    return await ask(scenario);
  } catch (error) {
    if (asked) {
      throw error;
    }
    return ask();
  }
}

async function table(document: TextDocument, name: string | undefined, beside: (markdown: string) => Promise<void>): Promise<void> {
  const found = await client!.sendRequest<{ markdown: string | null }>("keyon/table", { uri: document.uri.toString(), name: name ?? null });
  if (found.markdown) {
    await beside(found.markdown);
  } else {
    await window.showInformationMessage(`${name ?? "The circuit"} has no truth table: name a device, a driver, a control or a module.`);
  }
}

export async function deactivate(): Promise<void> {
  await client?.stop();
}
