// A page in a real browser: every displayed value is the terminal's, whatever is switched; no request leaves it; it is readable
// on a phone and to a screen reader (axe-core). Usage: node browser.mjs PATH_TO_KEYON HOME_WITH_playwright-core_AND_axe-core
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { createRequire } from "node:module";
import { differences, printed, shown, wordsIn } from "./said.mjs";

const [keyon, home] = process.argv.slice(2).map((p) => path.resolve(p));
const require = createRequire(path.join(home, "package.json"));
const { chromium } = require("playwright-core");
const axe = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const root = path.resolve(path.dirname(new URL(import.meta.url).pathname), "../..");
const temp = fs.mkdtempSync(path.join(os.tmpdir(), "keyon-page-"));
let passed = 0;
let failed = 0;
const check = (ok, what) => { ok ? passed++ : (failed++, console.log(`FAIL ${what}`)); };
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });

/** What the terminal says of a state. */
const terminal = (file, args) => {
  try {
    return JSON.parse(execFileSync(keyon, ["state", file, "--format", "json", ...args], { stdio: ["ignore", "pipe", "ignore"], maxBuffer: 1 << 28 }));
  } catch (error) {
    return JSON.parse(error.stdout);
  }
};

// Sheets and drawings as PDF, printed by the same browser.
{
  const env = { ...process.env, KEYON_BROWSER: process.env.CHROMIUM ?? "/usr/bin/chromium" };
  const file = path.join(root, "corpus/circuits/orchard_sprayer.keyon");
  const printed = (name, args) => {
    const out = path.join(temp, name);
    execFileSync(keyon, [...args, "-o", out], { env });
    const text = fs.readFileSync(out, "latin1");
    const boxes = [...text.matchAll(/\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/g)].map((m) => [Math.round(m[1]), Math.round(m[2])].join("x"));
    return { pdf: text.startsWith("%PDF-"), boxes };
  };
  for (const [paper, size] of [["a4", "595x842"], ["letter", "612x792"], ["a3", "842x1191"]]) {
    for (const key of [[], ["--key"]]) {
      const { pdf, boxes } = printed(`sheet_${paper}${key.length}.pdf`, ["sheet", file, "dead_left", "--paper", paper, ...key]);
      check(pdf && boxes.length > 0 && boxes.length < 4 && boxes.every((box) => box === size), `sheet on ${paper} ${key}: ${boxes}`);
    }
  }
  const wide = printed("wide.pdf", ["sheet", file, "--in", "cab_high", "--of", "panel_switch", "--of", "fan_selector"]);
  check(wide.pdf && wide.boxes.length > 0, `a wide sheet: ${wide.boxes}`);
  const drawing = printed("drawing.pdf", ["draw", file, "--in", "spraying"]);
  check(drawing.pdf && drawing.boxes.length === 1, `a drawing is one page: ${drawing.boxes}`);
}


for (const name of ["orchard_sprayer", "grain_dryer", "first_lamp"]) {
  const file = path.join(root, `corpus/circuits/${name}.keyon`);
  const out = path.join(temp, `${name}.html`);
  execFileSync(keyon, ["page", file, "-o", out]);
  // axe is put in by the test: the page's own policy would rightly refuse it.
  const context = await browser.newContext({ viewport: { width: 1200, height: 900 }, bypassCSP: true });
  const page = await context.newPage();
  const requests = [];
  const errors = [];
  page.on("request", (r) => { if (!r.url().startsWith("file:") && !r.url().startsWith("blob:")) requests.push(r.url()); });
  page.on("pageerror", (e) => errors.push(e.message));
  await page.goto(`file://${out}`);
  const ready = (n) => page.waitForFunction((n) => Number(document.body.dataset.ready) >= n, n, { timeout: 60000 });
  await ready(1);
  let turn = 1;
  const compare = async (args, what) => {
    const said = printed(keyon, file, args);
    check(Object.keys(said.point).length > 2, `${name} ${what}: points`);
    const wrong = differences(await shown(page), said);
    check(wrong.length === 0, `${name} ${what}: ${wrong}`);
  };
  const first = await page.evaluate(() => document.querySelector('[data-group="scenario"] [aria-checked="true"]')?.getAttribute("data-option") ?? "");
  await compare(first ? ["--in", first] : [], "at the start");
  // Each control to its last position, one after the other.
  const groups = await page.$$eval("#controls fieldset", (all) => all.map((f) => f.dataset.group).filter((g) => g !== "scenario" && !g.startsWith("stimulus")));
  const set = [];
  for (const group of groups.slice(0, 6)) {
    const button = page.locator(`[data-group="${group}"] button`).last();
    const option = await button.getAttribute("data-option");
    await button.click();
    await ready(++turn);
    set.push("--set", `${group}=${option}`);
    await compare([...(first ? ["--in", first] : []), ...set], `with ${set.join(" ")}`);
  }
  // What is sensed goes to its highest, in its own unit.
  const range = page.locator('#controls input[type="range"]').first();
  if (await range.count()) {
    await range.evaluate((input) => { input.value = input.max; input.dispatchEvent(new Event("change")); });
    await ready(++turn);
    check((await page.textContent("#status")) === "", `${name}: what is sensed is set: ${await page.textContent("#status")}`);
    // Said as the terminal says it, and as it takes it.
    const sensed = (await shown(page)).sensed.split(", ")[0];
    const again = printed(keyon, file, [...(first ? ["--in", first] : []), ...set, "--set", sensed.replace(" ", "=")]).sensed.split(", ")[0];
    check(sensed === again && !/e\+/.test(sensed), `${name}: what is sensed: ${sensed} | ${again}`);
    await page.locator('[data-group="scenario"] [aria-checked="true"]').click();
    await ready(++turn);
    set.length = 0;
  }
  // A fuse is pulled.
  await page.locator('details[data-group="pull"] summary').click();
  const fuse = page.locator('details[data-group="pull"] button').first();
  const pulled = (await fuse.getAttribute("data-option")).replace(/^pull /, "");
  await fuse.click();
  await ready(++turn);
  await compare([...(first ? ["--in", first] : []), ...set, "--pull", pulled], `with ${pulled} pulled`);
  // A connector is unplugged beside it.
  const plugs = page.locator('details[data-group="connectors"] summary');
  if (await plugs.count()) {
    await plugs.click();
    const plug = page.locator('details[data-group="connectors"] button').first();
    const name = (await plug.getAttribute("data-option")).replace(/^unplug /, "");
    await plug.click();
    await ready(++turn);
    await compare([...(first ? ["--in", first] : []), ...set, "--pull", pulled, "--unplug", name], `with ${name} unplugged`);
  }
  // Side by side: what is set, the drawing and what the meter shows are in sight together.
  const boxes = () => page.evaluate(() => Object.fromEntries(["controls", "devices", "diagram", "shown", "h-tables"].map((id) => { const b = document.getElementById(id).getBoundingClientRect(); return [id, [b.left, b.top, b.right, b.bottom]]; })));
  await page.evaluate(() => scrollTo(0, 0));
  let box = await boxes();
  check(box.controls[2] <= box.diagram[0] && box.shown[3] <= 900, `${name}: side by side (${JSON.stringify(box)})`);
  // Full size stands on the drawing's middle, with nothing chosen yet.
  const middle = () => page.evaluate(() => { const f = document.getElementById("diagram"); return [f.scrollLeft + f.clientWidth / 2 - f.scrollWidth / 2, f.scrollTop + f.clientHeight / 2 - f.scrollHeight / 2].map(Math.abs); });
  const full = page.locator("#views button", { hasText: "full size" });
  await full.click();
  check((await middle()).every((away) => away < 3), `${name}: full size from the middle (${await middle()})`);
  await full.click();
  // A tap beside a wire, in the fitted drawing, puts the red lead there, marks it and reads it.
  const at = await page.evaluate(() => {
    const path = document.querySelector("#diagram [data-at]");
    path.scrollIntoView({ block: "center" });
    const p = path.getPointAtLength(path.getTotalLength() / 2).matrixTransform(path.getScreenCTM());
    return [p.x + 7, p.y + 7];
  });
  await page.mouse.click(...at);
  const red = await page.inputValue("#red");
  const picked = await page.evaluate(() => [...document.querySelectorAll("#diagram .picked")].map((e) => e.getAttribute("data-at")));
  check(picked.length > 0 && picked.every((p) => p === red), `${name}: a tap reads a point (${red}, ${picked})`);
  check((await page.textContent("#picked")).startsWith(`${red}: `), `${name}: and says so: ${await page.textContent("#picked")}`);
  check((await wordsIn(page, "why")).startsWith(`${red} `), `${name}: and why`);
  await full.click();
  const seen = await page.evaluate(() => {
    const [f, p] = [document.getElementById("diagram"), document.querySelector("#diagram .picked")].map((e) => e.getBoundingClientRect());
    return p.left < f.right && p.right > f.left && p.top < f.bottom && p.bottom > f.top;
  });
  check(seen, `${name}: full size shows what is chosen`);
  await full.click();
  check(/V|floats|no settled/.test(await page.textContent("#shown")), `${name}: the meter shows something`);
  check(requests.length === 0, `${name}: no request (${requests})`);
  check(errors.length === 0, `${name}: no error (${errors})`);
  const targets = await page.$$eval("button, select", (all) => all.filter((e) => e.offsetParent !== null && e.getBoundingClientRect().height < 47.5).length);
  check(targets === 0, `${name}: ${targets} targets lower than 48 pixels`);
  await page.setViewportSize({ width: 360, height: 740 });
  check((await page.evaluate(() => document.documentElement.scrollWidth)) <= 360, `${name}: one column at 360 pixels`);
  // In their order, each by a link that stays in sight; with everything unfolded nothing is to be pushed sideways.
  box = await boxes();
  const tops = Object.values(box).map((b) => b[1]);
  check(tops.every((top, i) => i === 0 || top >= tops[i - 1]), `${name}: in order at 360 pixels (${tops})`);
  for (const link of await page.$$("nav a")) {
    await link.click();
    const top = await page.evaluate((id) => document.getElementById(id).getBoundingClientRect().top, (await link.getAttribute("href")).slice(1));
    check(top >= 0 && top < 680 && (await link.isVisible()), `${name}: a link leads on (${top})`);
  }
  await page.evaluate(() => document.querySelectorAll("details").forEach((d) => d.setAttribute("open", "")));
  await page.waitForTimeout(100);
  const pushed = await page.evaluate(() => [...document.querySelectorAll("main .scroll, #why")].filter((e) => e.scrollWidth > e.clientWidth).map((e) => e.id));
  check(pushed.length === 0, `${name}: nothing is to be pushed sideways (${pushed})`);
  const cards = await page.evaluate(() => [...document.querySelectorAll("#pinouts .cards td + td")].map((td) => td.getAttribute("data-title")));
  check(name === "first_lamp" || (cards.length > 0 && cards.every((title) => title)), `${name}: rows with their titles`);
  await page.evaluate(axe);
  const found = await page.evaluate(() => window.axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
  for (const violation of found.violations) check(false, `${name}: ${violation.id}: ${violation.help} (${violation.nodes[0]?.html?.slice(0, 120)})`);
  check(found.passes.length > 5, `${name}: axe looked`);
  await context.close();
}
await (await import("./static.mjs")).test({ keyon, root, temp, browser, axe, terminal, check });
{
  // The playground: examples, findings where they stand, a link that holds the text.
  const folder = path.join(temp, "playground");
  execFileSync(keyon, ["playground", folder]);
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  const page = await context.newPage();
  const requests = [];
  const errors = [];
  page.on("request", (r) => { if (!r.url().startsWith("file:") && !r.url().startsWith("blob:") && !r.url().startsWith("data:")) requests.push(r.url()); });
  page.on("pageerror", (e) => errors.push(e.message));
  await page.goto(`file://${folder}/index.html`);
  const ready = (n) => page.waitForFunction((n) => Number(document.body.dataset.ready) >= n, n, { timeout: 60000 });
  await ready(1);
  check((await page.locator("#diagram svg").count()) === 1, "playground: a diagram");
  await page.selectOption("#example", "circuits/grain_dryer.keyon");
  await ready(2);
  check((await page.textContent("#diagram svg title")).includes("Grain dryer"), "playground: an example with a library");
  check((await page.textContent("#count")) === "no findings", `playground: ${await page.textContent("#count")}`);
  await page.locator(".cm-content").click();
  await page.keyboard.press("Control+End");
  await page.keyboard.type("\nwire 999 nowhere.1 -> G1\n");
  await page.waitForFunction(() => /unknown-name/.test(document.getElementById("findings").textContent), null, { timeout: 60000 });
  check(true, "playground: a finding");
  await page.waitForFunction(() => location.hash.length > 100, null, { timeout: 60000 });
  const link = page.url();
  const other = await context.newPage();
  await other.goto(link);
  await other.waitForFunction(() => /unknown-name/.test(document.getElementById("findings").textContent), null, { timeout: 60000 });
  check(true, "playground: the link holds the text");
  check(requests.length === 0, `playground: no request (${requests})`);
  check(errors.length === 0, `playground: no error (${errors})`);
  await context.close();
}
await browser.close();
fs.rmSync(temp, { recursive: true, force: true });
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
