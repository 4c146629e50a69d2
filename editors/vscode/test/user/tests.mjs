// What a person can do with a circuit in the editor, one after the other in one window.
import assert from "node:assert/strict";
import fs from "node:fs";
import path from "node:path";
import { corpus } from "../editor.mjs";

const BEACON = `circuit beacon_light "Pump beacon"

supply battery  12.6 V  inner 15 mohm
ground G1       "rear frame stud"

fuse   F1  battery -> arm.1  5 A
switch arm "Beacon switch"
wire   11  arm.2 -> beacon.1  0.75 mm2  OG  2.4 m
wire   12  beacom.2 -> G1     0.75 mm2  BK/WH  0.8 m
lamp   beacon "Pump beacon"  10 W 12 V

scenario dark { arm off }
scenario lit  { arm on }

expect in lit {
  beacon    operates
  beacon.1  above 12 V
}
`;

/** What somebody types who has read no manual. */
const TYPED = `circuit mine "My lamp"
supply battery 12.6 V
ground G1
fuse F1 battery -> arm.1 5 A
switch arm "Switch"
lamp lamp 10 W 12 V
wire 1 arm.2 -> lamp.1 0.75 mm2 RD 1 m
wire 2 lamp.2 -> G1 0.75 mm2 BK/WH 1.5 m
scenario lit { arm on }
expect in lit {
  lamp operates
  lamp.1 above 12 V
}
`;

/** The workspace: a circuit with a slip of the pen, the same in a note, and the repository's own circuits. */
export function fill(folder) {
  for (const name of ["circuits", "parts"]) fs.cpSync(path.join(corpus, name), path.join(folder, name), { recursive: true });
  fs.writeFileSync(path.join(folder, "beacon.keyon"), BEACON);
  fs.writeFileSync(path.join(folder, "mine.keyon"), "");
  fs.writeFileSync(path.join(folder, "note.md"), `# The beacon\n\nIt hangs at the boom.\n\n\`\`\`keyon\n${BEACON.replace("beacom", "beacon")}\`\`\`\n`);
}

/** What each user's page of the walkthrough speaks of. */
const MEDIA = { "You write courses": "list of lines", "You maintain a library": "names its rule", "You keep notes on a machine": "which state is held" };

const LENS = ".codelens-decoration a";
const PROBLEM = ".markers-panel .monaco-list-row";
const STATUS = ".statusbar-item[id='keyon.keyon.keyon.scenario']";

export const tests = {
  "a mistake is underlined and stands in the Problems view": async (you) => {
    await (await you.see(".explorer-folders-view .monaco-list-row", "beacon.keyon", 60_000)).dblclick();
    await you.see(".view-line", "beacon_light");
    await you.page.locator(".squiggly-error").first().waitFor({ state: "attached", timeout: 60_000 });
    await you.press("Control+Shift+M");
    await you.see(PROBLEM, "beacom");
    await you.lensSeen("diagram");
    await you.shot("problems");
  },
  "a hover says the finding, another what a point carries": async (you) => {
    assert.match(await you.hover("beacom", "unknown-name"), /did you mean/);
    await you.shot("hover-finding");
    assert.match(await you.hover("arm.2", "floats"), /Back-probe/);
    await you.shot("hover-point");
  },
  "the rule's name in a hover opens its page": async (you) => {
    await you.hover("beacom", "unknown-name");
    await you.page.locator(".monaco-hover:visible a", { hasText: "unknown-name" }).click();
    await you.read("unknown-name", "Wrong");
    await you.shot("rule");
    await you.closeBeside();
  },
  "a finding is mended by the keyboard": async (you) => {
    await you.caret(9, 14);
    await you.press("Control+.");
    await you.see(".action-widget", "beacon.2");
    await you.shot("fixes");
    await you.press("Enter");
    await you.place("beacon.2 -> G1");
    await you.gone(PROBLEM, "beacom");
    await you.press("Control+Shift+M");
    await you.shot("mended");
  },
  "completion is taken by the keyboard": async (you) => {
    await you.caret(11);
    await you.press("Enter");
    await you.type("view ");
    await you.see(".suggest-widget.visible .monaco-list-row", "lit");
    await you.shot("completion");
    await you.press("ArrowDown", "Enter", "Enter");
    assert.match(await you.saved("beacon.keyon", (text) => text.includes("view ")), /\nview lit\n+scenario dark/);
  },
  "F2 renames a lamp and all that speaks of it": async (you) => {
    await you.caret(10, 10);
    await you.press("F2");
    await you.page.waitForFunction(() => document.activeElement?.closest(".rename-box"));
    await you.shot("rename");
    await you.press("Control+A");
    await you.type("mast_lamp");
    await you.press("Enter");
    await you.place("mast_lamp \"Pump");
    const text = await you.saved("beacon.keyon", (text) => text.includes("mast_lamp.1  above"));
    assert.equal(text.match(/mast_lamp/g).length, 5);
  },
  "a lens holds a scenario: hints and the status item follow": async (you) => {
    await you.see(STATUS, "lit");
    await you.lens("hold this scenario", () => you.page.locator(STATUS, { hasText: "dark" }).count());
    await you.line(/lamp +mast_lamp.*rests/);
    await you.until("the lens says it", async () => (await you.page.locator(LENS).allInnerTexts()).indexOf("shown") < (await you.page.locator(LENS).allInnerTexts()).indexOf("hold this scenario"));
    await (await you.see(STATUS)).click();
    await you.see(".quick-input-list .monaco-list-row", "file's own choice");
    await you.shot("held-choose");
    await you.type("lit");
    await you.press("Enter");
    await you.see(STATUS, "lit");
    await you.line(/lamp +mast_lamp.*operates/);
    await you.line(/fuse +F1.*5 A.*0\.\d+ A/);
    await you.shot("held");
  },
  "the truth table stands beside and follows an edit": async (you) => {
    await you.lens("truth table", () => you.page.locator("iframe.webview.ready").count());
    const says = (what) => you.until(`a table that says ${what}`, async () => what.test(await you.panel().locator("body").innerText().catch(() => "")));
    await says(/mast_lamp[^]*operates/);
    // The text keeps the cursor.
    await you.see(".statusbar-item", /Ln \d+/);
    await you.shot("table");
    await you.click("switch arm");
    await you.press("End");
    // As one pastes it.
    await you.page.keyboard.insertText("\nlamp spare 5 W 12 V\nwire 13 arm.2 -> spare.1 0.75 mm2 RD 1 m\nwire 14 spare.2 -> G1 0.75 mm2 BK 1 m");
    await says(/spare[^]*operates/);
    await you.shot("table-follows");
    await you.closeBeside();
  },
  "format puts the columns in order": async (you) => {
    await you.command("Format Document");
    await you.place("lamp spare  5 W");
    const text = await you.saved("beacon.keyon", (text) => text.includes("lamp spare  5 W"));
    assert.match(text, /^wire 14 {2}spare\.2 -> G1 {2,}0\.75 mm2 {2}BK {2,}1 m$/m);
    await you.shot("formatted");
  },
  "the diagram stands beside; a click in it moves the cursor": async (you) => {
    await you.lens("diagram", () => you.page.locator("iframe.webview.ready").count());
    const panel = you.panel();
    await panel.locator("figure svg").waitFor();
    assert.equal(await panel.locator("#scenario").inputValue(), "lit");
    await you.shot("diagram");
    await panel.locator("figure text", { hasText: /^mast_lamp$/ }).click();
    await you.see(".statusbar-item", /Ln 13, Col /);
    await you.shot("revealed");
    await panel.locator("#scenario").selectOption("dark");
    await you.see(STATUS, "dark");
    await panel.locator("#closer").click();
    await panel.locator("figure title", { hasText: "dark" }).waitFor({ state: "attached" });
    await you.shot("diagram-dark-scenario");
  },
  "folds close what stands in braces": async (you) => {
    await you.press("Control+1");
    await you.open("circuits/orchard_sprayer.keyon");
    await you.caret(5);
    await you.press("Control+Shift+[");
    await you.gone(".view-line", "author");
    await you.panel().locator("figure text", { hasText: /^left_valve$/ }).first().waitFor();
    await you.shot("folded");
  },
  "a module hovers, its table opens, colours have swatches": async (you) => {
    await you.caret(44, 1);
    assert.ok(await you.until("swatches", () => you.page.locator(".colorpicker-color-decoration").count()) > 8);
    await you.hover("left_valve.1", ["left_valve.1", "key off"]);
    await you.shot("hover-valve");
    await you.hover("SCU.A.4", "left_cmd");
    await you.shot("hover-cavity");
    await you.hover("mid_valve", "boom_valve");
    await you.shot("hover-device");
  },
  "a circuit is typed from nothing, and no completion gets in the way": async (you) => {
    await you.open("mine.keyon");
    // The editor indents, and closes what is opened.
    for (const line of TYPED.replace(/^ +/gm, "").replace(/\n}\n$/, "").split("\n")) {
      await you.page.keyboard.type(line, { delay: 20 });
      // A breath, as a person has before a new line: the lists that come with a slow answer have come by then.
      await you.page.waitForTimeout(250);
      if (line !== "lamp.1 above 12 V") await you.press("Enter");
    }
    await you.shot("typed");
    const text = await you.saved("mine.keyon", (text) => text.includes("lit"));
    assert.equal(`${text}\n`, TYPED);
  },
  "New Circuit begins with one that works; Tab leads through its names": async (you) => {
    await you.command("Keyon: New Circuit");
    await you.see(".tab.active", "Untitled");
    await you.place("scenario lit { arm on }");
    await you.until("its name to be chosen", () => you.page.locator(".editor-group-container.active .selected-text").count());
    await you.type("porch");
    await you.press("Tab");
    await you.type("Porch light");
    await you.press("Tab", "Escape");
    await you.place('circuit porch "Porch light"');
    await you.see(STATUS, "lit");
    await you.line(/lamp +lamp.*operates/);
    await you.shot("new-circuit");
    await you.command("View: Revert and Close Editor");
  },
  "a pin-out is chosen from lists and stands beside": async (you) => {
    await you.open("circuits/orchard_sprayer.keyon");
    await you.command("Keyon: Pin-out, Probe Plan or Sheet");
    await (await you.see(".quick-input-list .monaco-list-row", "each cavity of a module")).click();
    await you.see(".quick-input-list .monaco-list-row", "SCU");
    await you.shot("pinout-choose");
    await you.press("Enter");
    await you.read("seen from the wire side", "left_cmd");
    // The text keeps the cursor.
    await you.see(".statusbar-item", /Ln \d+/);
    await you.shot("pinout");
  },
  "a circuit in a note is served in its place": async (you) => {
    await you.press("Control+1");
    await you.open("note.md");
    await you.hover("beacon.1", ["beacon.1", "arm on"]);
    await you.shot("note");
  },
  "dark themes": async (you) => {
    await you.command("Preferences: Toggle between Light/Dark Themes");
    await you.page.locator(".monaco-workbench.vs-dark").waitFor();
    await you.press("Control+1");
    await you.open("circuits/grain_dryer.keyon");
    await you.command("Keyon: Show Diagram and Truth Table");
    const page = await you.pageWith("figure svg");
    await page.locator("body.vscode-dark").waitFor();
    await you.shot("dark");
    await page.locator("#view").selectOption("colours");
    await page.locator("body.own").waitFor();
    await you.shot("dark-own-colours");
    await page.locator("#view").selectOption("state");
    await page.locator("body:not(.own)").waitFor();
  },
  "a walkthrough for each user": async (you) => {
    await you.command("Welcome: Open Walkthrough...");
    await you.type("Keyon");
    await (await you.see(".quick-input-list .monaco-list-row", "Keyon")).click();
    for (const title of ["You write courses", "You maintain a library", "You keep notes on a machine"]) {
      await (await you.see(".getting-started-step", title)).click();
      await you.see(".getting-started-step.expanded", title);
      await you.read(MEDIA[title]);
      await you.shot(`walkthrough-${title.split(" ")[1]}`);
    }
  },
};
