// Drives the editor as a person does, by mouse and keyboard, with the extension installed from its package. Pictures of every
// step go to target/editor-shots (KEYON_SHOTS names another folder). Only tests whose names hold the words in KEYON_ONLY run.
import fs from "node:fs";
import path from "node:path";
import { extension, start } from "./editor.mjs";
import { hands } from "./user/hands.mjs";
import { fill, tests } from "./user/tests.mjs";

const shots = process.env.KEYON_SHOTS ?? path.resolve(extension, "../../target/editor-shots");
const theme = process.env.KEYON_THEME ?? "Default Light Modern";
const settings = {
  "workbench.colorTheme": theme, "workbench.tips.enabled": false, "workbench.enableExperiments": false, "chat.commandCenter.enabled": false,
  "workbench.secondarySideBar.defaultVisibility": "hidden", "extensions.autoCheckUpdates": false, "update.mode": "none", "window.dialogStyle": "custom",
  "editor.hover.delay": 50, "editor.minimap.enabled": false, "files.simpleDialog.enable": true, "files.autoSave": "off",
};
const chosen = Object.entries(tests).filter(([name]) => name.includes(process.env.KEYON_ONLY ?? ""));
let passed = 0;
let failed = 0;

/** Runs what is chosen in an editor of its own. An editor in which already the first one fails is given up, unless it is the last try. */
async function drive(last) {
  const { page, port, workspace, stop, notes } = await start({ fill, vsix: process.env.KEYON_VSIX, settings });
  try {
    const you = hands(page, workspace, shots);
    await page.goto(`http://127.0.0.1:${port}/?folder=${encodeURIComponent(workspace)}`);
    await you.see(".monaco-workbench", undefined, 60_000);
    for (const [name, test] of chosen) {
      try {
        await test(you);
        await you.quiet();
        passed++;
        console.log(`ok   ${name}`);
      } catch (error) {
        await you.shot(`failed-${name.replace(/\W+/g, "-")}`).catch(() => {});
        const first = passed + failed === 0;
        if (first) console.log(notes().replace(/^/gm, "note "));
        if (first && !last) {
          console.log(`note the editor did not come up (${name}: ${error}): once more in a new one`);
          return false;
        }
        failed++;
        console.log(`FAIL ${name} ${error.stack || error}`);
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
  return true;
}

(await drive(false)) || (await drive(true));
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 && passed > 0 ? 0 : 1);
