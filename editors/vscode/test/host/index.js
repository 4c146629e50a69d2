// Runs inside the extension host of the real editor.
const vscode = require("vscode");
const assert = require("assert");

const until = async (what, f, ms = 20000) => {
  const start = Date.now();
  for (;;) {
    const found = await f();
    if (found) return found;
    if (Date.now() - start > ms) throw new Error(`waited in vain for ${what}`);
    await new Promise((r) => setTimeout(r, 50));
  }
};

exports.run = async () => {
  let passed = 0;
  let failed = 0;
  const test = async (name, f) => {
    try {
      await f();
      passed++;
      console.log(`ok   ${name}`);
    } catch (error) {
      failed++;
      console.log(`FAIL ${name} ${error.stack || error}`);
    }
  };
  const folder = vscode.workspace.workspaceFolders[0].uri;
  const uri = vscode.Uri.joinPath(folder, "circuits/orchard_sprayer.keyon");
  const document = await vscode.workspace.openTextDocument(uri);
  const editor = await vscode.window.showTextDocument(document);
  const run = (command, ...args) => vscode.commands.executeCommand(command, ...args);
  const at = (needle, add = 0) => document.positionAt(document.getText().indexOf(needle) + add);
  const all = new vscode.Range(0, 0, document.lineCount, 0);
  const extension = vscode.extensions.getExtension("keyon.keyon");
  const api = await extension.activate();

  await test("language and server", async () => {
    assert.equal(document.languageId, "keyon");
    await until("the server", () => api.client()?.state === 2);
  });
  await test("hover says what a point carries", async () => {
    const hover = await until("hover", async () => { const h = await run("vscode.executeHoverProvider", uri, at("left_valve.2", 3)); return h.length && h; });
    assert.match(hover[0].contents[0].value, /left_valve/);
  });
  await test("semantic tokens, lenses, colours, hints, symbols, folds", async () => {
    assert.ok((await run("vscode.provideDocumentSemanticTokens", uri)).data.length > 500);
    const lenses = await run("vscode.executeCodeLensProvider", uri, 100);
    assert.ok(lenses.some((l) => l.command?.command === "keyon.lens.hold"));
    assert.ok((await run("vscode.executeDocumentColorProvider", uri)).length > 50);
    assert.ok((await run("vscode.executeInlayHintProvider", uri, all)).length > 20);
    assert.ok((await run("vscode.executeDocumentSymbolProvider", uri)).some((s) => s.name === "SCU"));
    assert.ok((await run("vscode.executeFoldingRangeProvider", uri)).length > 10);
  });
  await test("definition, uses, rename, workspace symbols, trace", async () => {
    const place = await run("vscode.executeDefinitionProvider", uri, at(": boom_valve", 3));
    assert.match((place[0].uri ?? place[0].targetUri).path, /spray\.keyon$/);
    assert.ok((await run("vscode.executeReferenceProvider", uri, at("S12", 1))).length > 4);
    const edit = await run("vscode.executeDocumentRenameProvider", uri, at("left_valve", 2), "port_valve");
    assert.ok(edit.get(uri).length > 5);
    assert.ok((await run("vscode.executeWorkspaceSymbolProvider", "boom_valve")).length >= 1);
    const [item] = await run("vscode.prepareCallHierarchy", uri, at("left_valve.1", 11));
    const calls = await run("vscode.provideIncomingCalls", item);
    assert.equal(calls[0].from.name, "S12");
  });
  await test("a mistake is found and goes when it is undone", async () => {
    const end = document.lineAt(document.lineCount - 1).range.end;
    await editor.edit((b) => b.insert(end, "\nwire 999 nowhere.1 -> G1\n"));
    const found = await until("the finding", () => { const d = vscode.languages.getDiagnostics(uri).filter((d) => /nowhere/.test(d.message)); return d.length && d; });
    assert.equal(String(found[0].code.value ?? found[0].code), "unknown-name");
    await run("undo");
    await until("no finding", () => !vscode.languages.getDiagnostics(uri).some((d) => /nowhere/.test(d.message)));
  });
  await test("signature help and completion", async () => {
    const help = await run("vscode.executeSignatureHelpProvider", uri, at("boom_valve(coil = 22", 12));
    assert.match(help.signatures[0].label, /boom_valve\(coil/);
    const list = await run("vscode.executeCompletionItemProvider", uri, at("left_valve.1", 11));
    assert.ok(list.items.length > 0);
  });
  await test("formatting leaves a laid-out file alone", async () => {
    const edits = await run("vscode.executeFormatDocumentProvider", uri, { tabSize: 2, insertSpaces: true });
    assert.equal((edits ?? []).length, 0);
  });
  await test("the held scenario is shown in the status bar and in the preview", async () => {
    await run("keyon.holdScenario", "pumping");
    await until("the status", () => /pumping/.test(api.status()));
    await run("keyon.preview");
    const shown = await until("the preview", () => /<svg/.test(api.preview.shown) && api.preview.shown);
    assert.match(shown, /pumping/);
    assert.match(shown, /<table>/);
    await run("keyon.holdScenario", "spraying");
    await until("the preview follows", () => /spraying/.test(api.preview.shown));
  });
  await test("a circuit in a note is checked", async () => {
    const note = vscode.Uri.joinPath(folder, "note.md");
    await vscode.window.showTextDocument(await vscode.workspace.openTextDocument(note));
    const found = await until("the note's finding", () => { const d = vscode.languages.getDiagnostics(note); return d.length && d; });
    assert.equal(found.find((d) => /G9/.test(d.message)).range.start.line, 8);
  });
  console.log(`${passed} passed, ${failed} failed`);
  if (failed) throw new Error(`${failed} failed`);
};
