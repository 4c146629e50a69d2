// The page that computes nothing (`keyon page --static`): what it shows in its states is the terminal's, a state that it does not
// hold is never shown as another, and no WebAssembly is in it or allowed.
import { execFileSync } from "node:child_process";
import path from "node:path";
import { differences, printed, shown, words, wordsIn } from "./said.mjs";

const SCREENS = process.env.KEYON_SCREENS;

export const test = async ({ keyon, root, temp, browser, axe, terminal, check }) => {
  // At most so many states: some circuits have all of theirs, the sprayer far from it.
  for (const [name, states] of [["first_lamp", 64], ["ferry_ramp", 22], ["orchard_sprayer", 38]]) {
    const file = path.join(root, `corpus/circuits/${name}.keyon`);
    const out = path.join(temp, `${name}.static.html`);
    execFileSync(keyon, ["page", file, "--static", "--states", String(states), "-o", out]);
    const what = `static ${name}`;
    const size = (await import("node:fs")).statSync(out).size;
    check(size < 700_000, `${what}: ${size} bytes`);
    // WebAssembly taken away, and the page's own policy in force: axe runs in a second visit.
    const context = await browser.newContext({ viewport: { width: 1280, height: 900 } });
    await context.addInitScript(() => { delete globalThis.WebAssembly; delete globalThis.DecompressionStream; });
    const page = await context.newPage();
    const requests = [];
    const errors = [];
    page.on("request", (r) => { if (!r.url().startsWith("file:")) requests.push(r.url()); });
    page.on("pageerror", (e) => errors.push(e.message));
    page.on("console", (m) => { if (m.type() === "error") errors.push(m.text()); });
    await page.goto(`file://${out}`);
    const ready = (n) => page.waitForFunction((n) => Number(document.body.dataset.ready) >= n, n, { timeout: 60000 });
    await ready(1);
    const policy = await page.getAttribute('meta[http-equiv="Content-Security-Policy"]', "content");
    check(policy.startsWith("default-src 'none'") && !policy.includes("wasm") && !policy.includes("unsafe"), `${what}: ${policy}`);
    let turn = 1;
    const click = async (button) => { await button.click(); await ready(++turn); };
    const state = () => page.evaluate(() => ({
      in: document.querySelector('[data-group="scenario"] [aria-checked="true"]')?.dataset.option ?? "",
      set: Object.fromEntries([...document.querySelectorAll("#controls fieldset")].filter((f) => !["scenario"].includes(f.dataset.group)).map((f) => [f.dataset.group, f.querySelector('[aria-checked="true"]')?.dataset.option]).filter((p) => p[1])),
      setups: [...document.querySelectorAll('#controls [aria-pressed="true"]')].map((b) => b.dataset.option),
    }));
    /** Whatever is chosen by the buttons, the terminal says the same of it. */
    const compare = async (when) => {
      const chosen = await state();
      const setups = chosen.setups.flatMap((s) => [`--${s.split(" ")[0]}`, s.split(" ")[1]]);
      const args = (chosen.in ? ["--in", chosen.in] : []).concat(setups);
      // Only what differs from the scenario is set: its duties stay.
      const own = terminal(file, args).controls;
      const differs = Object.entries(chosen.set).filter(([n, p]) => (own[n] ?? own[n.replace(/^.*\./, "")]) !== p);
      args.push(...differs.flatMap(([n, p]) => ["--set", `${n}=${p}`]));
      const said = printed(keyon, file, args);
      check(Object.keys(said.point).length > 2, `${what} ${when}: points`);
      const wrong = differences(await shown(page), said);
      check(wrong.length === 0, `${what} ${when} (${JSON.stringify(chosen)}): ${wrong}`);
      // The red lead where it is: what is said above it and the meter.
      const red = await page.inputValue("#red");
      const trace = execFileSync(keyon, ["trace", file, red, ...args], { stdio: ["ignore", "pipe", "ignore"] }).toString();
      check((await wordsIn(page, "why")) === words(trace), `${what} ${when}: the way to ${red}`);
      check((await page.locator("#diagram svg").count()) === 1, `${what} ${when}: a diagram`);
    };
    await compare("at the start");
    const options = await page.$$eval('[data-group="scenario"] button', (all) => all.map((b) => b.dataset.option));
    for (const option of options.slice(0, 5)) {
      await click(page.locator(`[data-group="scenario"] [data-option="${option}"]`));
      check((await state()).in === option, `${what}: ${option} is chosen`);
      await compare(`in ${option || "rest"}`);
    }
    await page.reload();
    turn = 1;
    await ready(1);
    const groups = await page.$$eval("#controls fieldset", (all) => all.map((f) => f.dataset.group).filter((g) => g !== "scenario"));
    let away = 0;
    for (const group of groups.slice(0, 7)) {
      const button = page.locator(`[data-group="${group}"] button`).last();
      const option = await button.getAttribute("data-option");
      const leads = await button.getAttribute("data-away");
      await click(button);
      const words = await page.textContent("#status");
      check((leads !== null) === /not in this page/.test(words), `${what}: ${group} ${option} ${leads}: ${words}`);
      if (leads !== null) away++;
      await compare(`${group} ${option}`);
    }
    check(name !== "orchard_sprayer" || away > 0, `${what}: not everything is in it`);
    await page.reload();
    turn = 1;
    await ready(1);
    await page.locator('details[data-group="pull"] summary').click();
    await click(page.locator('details[data-group="pull"] button').first());
    await compare("with a fuse pulled");
    // Two leads: across what the red one is at, in a scenario.
    await page.reload();
    turn = 1;
    await ready(1);
    await page.evaluate(() => document.querySelector("#diagram [data-at]").dispatchEvent(new MouseEvent("click", { bubbles: true })));
    check((await page.inputValue("#red")) === (await page.getAttribute("#diagram [data-at]", "data-at")), `${what}: a tap puts the red lead`);
    for (const instrument of ["meter", "lamp"]) {
      await page.selectOption("#instrument", instrument);
      const blacks = await page.$$eval("#black option", (all) => all.map((o) => o.value));
      check(blacks.length > 1, `${what}: the black lead has places`);
      for (const black of blacks) {
        await page.selectOption("#black", black);
        check(/ V|floats|no settled/.test(await page.textContent("#shown")), `${what}: ${instrument} ${black}: ${await page.textContent("#shown")}`);
      }
    }
    check(requests.length === 0, `${what}: no request (${requests})`);
    check(errors.length === 0, `${what}: no error (${errors})`);
    const low = await page.$$eval("button, select", (all) => all.filter((e) => e.offsetParent !== null && e.getBoundingClientRect().height < 47.5).length);
    check(low === 0, `${what}: ${low} targets lower than 48 pixels`);
    if (SCREENS) await page.screenshot({ path: path.join(SCREENS, `${name}-1280.png`), fullPage: true });
    await page.setViewportSize({ width: 360, height: 740 });
    check((await page.evaluate(() => document.documentElement.scrollWidth)) <= 360, `${what}: one column at 360 pixels`);
    if (SCREENS) await page.screenshot({ path: path.join(SCREENS, `${name}-360.png`), fullPage: true });
    await context.close();
    const open = await browser.newContext({ viewport: { width: 1280, height: 900 }, bypassCSP: true });
    const second = await open.newPage();
    await second.goto(`file://${out}`);
    await second.waitForFunction(() => Number(document.body.dataset.ready) >= 1);
    await second.evaluate(axe);
    const found = await second.evaluate(() => window.axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
    for (const violation of found.violations) check(false, `${what}: ${violation.id}: ${violation.help} (${violation.nodes[0]?.html?.slice(0, 120)})`);
    check(found.passes.length > 5, `${what}: axe looked`);
    await open.close();
  }
};
