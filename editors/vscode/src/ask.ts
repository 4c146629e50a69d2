import { commands, DocumentSymbol, languages, SymbolKind, TextDocument, window } from "vscode";
import { LanguageClient } from "vscode-languageclient/node";
import { Answers } from "./answers";

/** The truth table of a name, or of the whole circuit. */
export async function table(answers: Answers, document: TextDocument, name: string | undefined): Promise<void> {
  if (!(await answers.show(`Truth table of ${name ?? "the circuit"}`, { kind: "table", uri: document.uri.toString(), name }))) {
    await window.showInformationMessage(`${name ?? "The circuit"} has no truth table: name a device, a driver, a control or a module.`);
  }
}

/** The page of a rule: of the finding at the cursor, else of one that is chosen. */
export async function explain(answers: Answers, client: LanguageClient | undefined, rule: string | undefined): Promise<void> {
  if (!client) {
    return;
  }
  let name = rule;
  if (!name) {
    const here = window.activeTextEditor;
    const found = here ? languages.getDiagnostics(here.document.uri).filter((d) => d.source === "keyon" && d.range.contains(here.selection.active)) : [];
    name = found.map((d) => String(typeof d.code === "object" ? d.code.value : d.code))[0];
  }
  if (!name) {
    const rules = await client.sendRequest<{ name: string; level: string; summary: string }[]>("keyon/rules");
    const items = rules.map(({ name, level, summary }) => ({ label: name, description: level, detail: summary }));
    name = (await window.showQuickPick(items, { placeHolder: "What is checked", matchOnDetail: true }))?.label;
  }
  if (name && !(await answers.show(name, { kind: "explain", rule: name }))) {
    await window.showWarningMessage(`There is no rule ${name}.`);
  }
}

/** Names of the circuit that fit a purpose, in their order. */
async function names(document: TextDocument, what: string): Promise<{ label: string; description: string }[]> {
  if (what === "sheet") {
    return [...document.getText().matchAll(/^\s*exercise\s+([\p{L}\p{N}_]+)\s*("[^"]*")?/gmu)].map((m) => ({ label: m[1], description: m[2]?.slice(1, -1) ?? "" }));
  }
  const symbols = (await commands.executeCommand<DocumentSymbol[] | undefined>("vscode.executeDocumentSymbolProvider", document.uri)) ?? [];
  const kinds = what === "pinout" ? [SymbolKind.Class, SymbolKind.Namespace] : [SymbolKind.Object, SymbolKind.Class];
  const all = symbols.flatMap((symbol) => [symbol, ...(symbol.kind === SymbolKind.Module ? symbol.children : [])]);
  const fit = kinds.flatMap((wanted) => all.filter(({ kind }) => kind === wanted));
  return fit.map(({ name, detail }) => ({ label: name, description: detail }));
}

const WHAT = [
  { label: "Pin-out", description: "each cavity of a module or connector: wire, role, readings", what: "pinout", of: "Of which module or connector" },
  { label: "Probe plan", description: "where to put the probe, and what every reading would mean", what: "probe", of: "Of which device" },
  { label: "Sheet", description: "an exercise for learners", what: "sheet", of: "Which exercise" },
];

/** A pin-out, probe plan or sheet of the saved circuit. */
export async function make(answers: Answers, document: TextDocument): Promise<void> {
  const chosen = await window.showQuickPick(WHAT, { placeHolder: "What shall be made" });
  if (!chosen) {
    return;
  }
  const known = await names(document, chosen.what);
  const subject = known.length
    ? (await window.showQuickPick(known, { placeHolder: chosen.of, matchOnDescription: true }))?.label
    : void (await window.showInformationMessage(`${chosen.label}: the circuit has none. ${chosen.of}?`));
  if (subject && (!document.isDirty || (await document.save()))) {
    try {
      await answers.show(`${chosen.label} ${subject}`, { kind: "run", file: document.fileName, what: chosen.what, subject });
    } catch (error) {
      await window.showErrorMessage(error instanceof Error ? error.message : String(error));
    }
  }
}
