// Drives the editor as a person does, by mouse and keyboard, with the extension installed from its package. Pictures of every
// step go to target/editor-shots (KEYON_SHOTS names another folder). Only tests whose names hold the words in KEYON_ONLY run.
import fs from "node:fs";
import path from "node:path";
import { extension, start } from "./editor.mjs";
import { hands } from "./user/hands.mjs";
import { fill, tests } from "./user/tests.mjs";

const shots = process.env.KEYON_SHOTS ?? path.resolve(extension, "../../target/editor-shots");
const theme = process.env.KEYON_THEME ?? "Default Light Modern";
const { page, port, workspace, stop } = await start({
  fill,
  vsix: process.env.KEYON_VSIX,
  settings: {
    "workbench.colorTheme": theme, "workbench.tips.enabled": false, "workbench.enableExperiments": false, "chat.commandCenter.enabled": false,
    "workbench.secondarySideBar.defaultVisibility": "hidden", "extensions.autoCheckUpdates": false, "update.mode": "none", "window.dialogStyle": "custom",
    "editor.hover.delay": 50, "editor.minimap.enabled": false, "files.simpleDialog.enable": true, "files.autoSave": "off",
  },
});
let passed = 0;
let failed = 0;
try {
  const you = hands(page, workspace, shots);
  await page.goto(`http://127.0.0.1:${port}/?folder=${encodeURIComponent(workspace)}`);
  await you.see(".monaco-workbench", undefined, 60_000);
  for (const [name, test] of Object.entries(tests).filter(([name]) => name.includes(process.env.KEYON_ONLY ?? ""))) {
    try {
      await test(you);
      await you.quiet();
      passed++;
      console.log(`ok   ${name}`);
    } catch (error) {
      failed++;
      console.log(`FAIL ${name} ${error.stack || error}`);
      await you.shot(`failed-${name.replace(/\W+/g, "-")}`).catch(() => {});
    }
  }
} catch (error) {
  failed++;
  console.log(`FAIL ${error.stack || error}`);
  fs.mkdirSync(shots, { recursive: true });
  await page.screenshot({ path: path.join(shots, "failed.png") }).catch(() => {});
} finally {
  await stop();
}
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 && passed > 0 ? 0 : 1);
