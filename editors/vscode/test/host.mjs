// Opens the editor in a browser with the extension under development, and runs test/host/index.js in its extension host.
import { spawn } from "node:child_process";
import fs from "node:fs";
import net from "node:net";
import os from "node:os";
import path from "node:path";
import { createRequire } from "node:module";

const home = process.env.KEYON_EDITOR_HOME;
const { chromium } = createRequire(path.join(home, "package.json"))("playwright-core");
const extension = path.resolve(path.dirname(new URL(import.meta.url).pathname), "..");
const corpus = path.resolve(extension, "../../corpus");
const temp = fs.mkdtempSync(path.join(os.tmpdir(), "keyon-host-"));
const [user, workspace] = [path.join(temp, "user"), path.join(temp, "ws")];
fs.mkdirSync(path.join(user, "User"), { recursive: true });
fs.cpSync(path.join(corpus, "circuits"), path.join(workspace, "circuits"), { recursive: true });
fs.cpSync(path.join(corpus, "parts"), path.join(workspace, "parts"), { recursive: true });
fs.writeFileSync(path.join(workspace, "note.md"), "# Note\n\n```keyon\ncircuit n\nsupply b 12 V\nground G1\nlamp L 5 W 12 V\nwire 1 b -> L.1\nwire 2 L.2 -> G9\n```\n");
fs.writeFileSync(path.join(user, "User/settings.json"), JSON.stringify({
  "keyon.server.path": process.env.KEYON, "telemetry.telemetryLevel": "off", "workbench.startupEditor": "none", "git.enabled": false,
}));
fs.writeFileSync(path.join(temp, "config.yaml"), "");
const port = await new Promise((done) => {
  const server = net.createServer().listen(0, "127.0.0.1", () => { const { port } = server.address(); server.close(() => done(port)); });
});
const entry = path.join(home, "node_modules/code-server/out/node/entry.js");
const gallery = JSON.stringify({ serviceUrl: "", itemUrl: "", resourceUrlTemplate: "" });
const server = spawn("node", [entry, "--user-data-dir", user, "--extensions-dir", path.join(temp, "extensions"), "--config", path.join(temp, "config.yaml"), "--auth", "none", "--bind-addr", `127.0.0.1:${port}`, "--disable-telemetry", "--disable-update-check", "--disable-workspace-trust", "--disable-getting-started-override"],
  { env: { ...process.env, EXTENSIONS_GALLERY: gallery, HOME: temp, XDG_CONFIG_HOME: temp, XDG_DATA_HOME: temp }, stdio: "ignore", detached: true });
for (let i = 0; i < 200; i++) {
  try { if ((await fetch(`http://127.0.0.1:${port}/healthz`)).ok) break; } catch { /* not up yet */ }
  await new Promise((r) => setTimeout(r, 100));
}
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"] });
const page = await (await browser.newContext({ viewport: { width: 1400, height: 900 } })).newPage();
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
await browser.close();
try { process.kill(-server.pid); } catch { /* gone */ }
fs.rmSync(temp, { recursive: true, force: true });
process.exit(code === 0 ? 0 : 1);
