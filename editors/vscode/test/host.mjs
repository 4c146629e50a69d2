// Opens the editor in a browser with the extension under development, and runs test/host/index.js in its extension host.
import fs from "node:fs";
import path from "node:path";
import { corpus, extension, start } from "./editor.mjs";

const { page, port, workspace, stop } = await start({
  fill: (folder) => {
    for (const name of ["circuits", "parts"]) fs.cpSync(path.join(corpus, name), path.join(folder, name), { recursive: true });
    fs.writeFileSync(path.join(folder, "note.md"), "# Note\n\n```keyon\ncircuit n\nsupply b 12 V\nground G1\nlamp L 5 W 12 V\nwire 1 b -> L.1\nwire 2 L.2 -> G9\n```\n");
  },
});
const finished = new Promise((done) => {
  void page.exposeFunction("codeAutomationLog", (type, args) => console.log(...args.filter((a) => !/^%c|background|color:/.test(String(a)))));
  void page.exposeFunction("codeAutomationExit", (code) => done(code));
  setTimeout(() => done("timeout"), 120_000);
});
const remote = (p) => `vscode-remote://127.0.0.1:${port}${p}`;
const payload = JSON.stringify([["extensionDevelopmentPath", remote(extension)], ["extensionTestsPath", remote(path.join(extension, "test/host/index.js"))], ["skipWelcome", "true"]]);
await page.goto(`http://127.0.0.1:${port}/?folder=${encodeURIComponent(workspace)}&payload=${encodeURIComponent(payload)}`);
const code = await finished;
if (process.env.SCREENSHOT) await page.screenshot({ path: process.env.SCREENSHOT }).catch(() => {});
await stop();
process.exit(code === 0 ? 0 : 1);
