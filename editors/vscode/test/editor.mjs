// The real editor (its build for the browser) with a workspace of its own under a temporary folder, in headless Chromium.
import { execFileSync, spawn } from "node:child_process";
import fs from "node:fs";
import net from "node:net";
import os from "node:os";
import path from "node:path";
import { createRequire } from "node:module";

const home = process.env.KEYON_EDITOR_HOME;
const { chromium } = createRequire(path.join(home, "package.json"))("playwright-core");

/** The folder of the extension. */
export const extension = path.resolve(path.dirname(new URL(import.meta.url).pathname), "..");
/** The circuits and parts of the repository. */
export const corpus = path.resolve(extension, "../../corpus");

/** Starts editor and browser. `fill(folder)` makes the workspace; `settings` are the user's; `vsix` is installed first. */
export async function start({ fill, settings = {}, vsix, viewport = { width: 1400, height: 900 } }) {
  const temp = fs.mkdtempSync(path.join(os.tmpdir(), "keyon-editor-"));
  const [user, workspace, extensions, config] = ["user", "ws", "extensions", "config.yaml"].map((name) => path.join(temp, name));
  fs.mkdirSync(path.join(user, "User"), { recursive: true });
  fs.mkdirSync(workspace);
  fill(workspace);
  const usual = { "keyon.server.path": process.env.KEYON, "telemetry.telemetryLevel": "off", "workbench.startupEditor": "none", "git.enabled": false };
  fs.writeFileSync(path.join(user, "User/settings.json"), JSON.stringify({ ...usual, ...settings }));
  fs.writeFileSync(config, "");
  const entry = path.join(home, "node_modules/code-server/out/node/entry.js");
  const gallery = JSON.stringify({ serviceUrl: "", itemUrl: "", resourceUrlTemplate: "" });
  const env = { ...process.env, EXTENSIONS_GALLERY: gallery, HOME: temp, XDG_CONFIG_HOME: temp, XDG_DATA_HOME: temp };
  delete env.PORT;
  const folders = ["--user-data-dir", user, "--extensions-dir", extensions, "--config", config];
  const log = path.join(temp, "editor.log");
  const out = fs.openSync(log, "a");
  if (vsix) {
    execFileSync("node", [entry, ...folders, "--install-extension", vsix], { env, stdio: ["ignore", out, out] });
    const listed = execFileSync("node", [entry, ...folders, "--list-extensions"], { env, stdio: ["ignore", "pipe", out] }).toString();
    if (!listed.includes("keyon")) throw new Error(`the extension is not listed after its installation: ${listed}${fs.readFileSync(log, "utf8")}`);
  }
  const port = await new Promise((done) => {
    const server = net.createServer().listen(0, "127.0.0.1", () => { const { port } = server.address(); server.close(() => done(port)); });
  });
  const server = spawn("node", [entry, ...folders, "--auth", "none", "--bind-addr", `127.0.0.1:${port}`, "--disable-telemetry", "--disable-update-check", "--disable-workspace-trust", "--disable-getting-started-override"], { env, stdio: ["ignore", out, out], detached: true });
  const gone = new Promise((done) => server.once("exit", done));
  for (let i = 0; i < 200; i++) {
    try { if ((await fetch(`http://127.0.0.1:${port}/healthz`)).ok) break; } catch { /* not up yet */ }
    await new Promise((r) => setTimeout(r, 100));
  }
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"] });
  const page = await (await browser.newContext({ viewport })).newPage();
  /** Ends both and takes the folder away. */
  const stop = async () => {
    await browser.close();
    try { process.kill(-server.pid); } catch { /* gone */ }
    await Promise.race([gone, new Promise((r) => setTimeout(r, 5000))]);
    fs.rmSync(temp, { recursive: true, force: true, maxRetries: 5, retryDelay: 200 });
  };
  /** The last lines of what the editor and its extension host noted, for whoever wonders why nothing works. */
  const notes = () => {
    const files = fs.readdirSync(temp, { recursive: true }).map((name) => path.join(temp, name)).filter((name) => name.endsWith(".log") && fs.statSync(name).size);
    return files.sort().map((name) => `${path.relative(temp, name)}:\n${fs.readFileSync(name, "utf8").trimEnd().split("\n").slice(-8).join("\n")}`).join("\n");
  };
  return { page, port, workspace, stop, notes };
}
