import { EventEmitter, MarkdownString, Memento, StatusBarAlignment, StatusBarItem, TextDocument, window } from "vscode";
import { LanguageClient, State } from "vscode-languageclient/node";

/** What is held, and what could be. */
export interface Held { scenario: string | null; scenarios: string[] }

const key = (document: TextDocument): string => `scenario:${document.uri.toString()}`;

/** The scenario that hover, hints and diagram speak of, one a document; remembered for the workspace. */
export class Holding {
  readonly status: StatusBarItem = window.createStatusBarItem("keyon.scenario", StatusBarAlignment.Right, 90);
  private readonly changes = new EventEmitter<void>();
  /** Another scenario was chosen. */
  readonly onDidChange = this.changes.event;

  constructor(private readonly client: () => LanguageClient | undefined, private readonly memory: Memento) {
    this.status.name = "Keyon: held scenario";
    this.status.command = "keyon.holdScenario";
  }

  /** Whether the server answers for a document. */
  served(document: TextDocument | undefined): document is TextDocument {
    return document !== undefined && (document.languageId === "keyon" || (document.languageId === "markdown" && /(^|\n)\s*(```|~~~)\s*keyon\b/.test(document.getText())));
  }

  private ask(document: TextDocument, scenario?: string): Promise<Held> {
    const client = this.client();
    return client ? client.sendRequest<Held>("keyon/hold", { uri: document.uri.toString(), scenario: scenario ?? null }) : Promise.reject(new Error("not running"));
  }

  /** What is held now. A scenario that was held and is gone since is let go. */
  now(document: TextDocument): Promise<Held> {
    return this.ask(document, this.memory.get<string>(key(document))).catch(() => this.ask(document));
  }

  /** Holds a scenario; without one the file's own choice applies again. */
  async hold(document: TextDocument, scenario: string | undefined): Promise<void> {
    await this.ask(document, scenario);
    await this.memory.update(key(document), scenario);
    await this.show();
    this.changes.fire();
  }

  /** Lets the user choose. */
  async choose(document: TextDocument): Promise<void> {
    const { scenarios, scenario } = await this.now(document);
    if (!scenarios.length) {
      return void window.showInformationMessage("The circuit has no scenario: add one, like  scenario lit { arm on }");
    }
    const own = { label: "$(discard) The file's own choice", name: undefined };
    const items = [...scenarios.map((name) => ({ label: name, description: name === scenario ? "held" : "", name })), ...(this.memory.get(key(document)) ? [own] : [])];
    const chosen = await window.showQuickPick(items, { placeHolder: "The state that hover, hints and the diagram speak of" });
    if (chosen) {
      await this.hold(document, chosen.name);
    }
  }

  /** Says in the status bar what is held. */
  async show(): Promise<void> {
    const document = window.activeTextEditor?.document;
    if (!this.served(document) || this.client()?.state !== State.Running) {
      return this.status.hide();
    }
    const held = await this.now(document).catch(() => undefined);
    if (held) {
      this.status.text = `$(circuit-board) ${held.scenario ?? "at rest"}`;
      this.status.tooltip = new MarkdownString(`Hover, hints and the diagram speak of ${held.scenario ? `the scenario \`${held.scenario}\`` : "the state at rest"}. Click to hold another.`);
      this.status.show();
    }
  }

  dispose(): void {
    this.status.dispose();
    this.changes.dispose();
  }
}
