// What a person does with the editor: look, point, click, type. Nothing here knows the extension.
import fs from "node:fs";
import path from "node:path";

/** Waits until `find` gives something. */
export async function until(what, find, ms = 30_000) {
  const start = Date.now();
  for (;;) {
    const found = await find();
    if (found) return found;
    if (Date.now() - start > ms) throw new Error(`waited in vain for ${what}`);
    await new Promise((r) => setTimeout(r, 40));
  }
}

/** Hands and eyes on a page of the editor. Pictures go into `shots`. */
export function hands(page, workspace, shots) {
  fs.rmSync(shots, { recursive: true, force: true });
  fs.mkdirSync(shots, { recursive: true });
  const press = (...keys) => keys.reduce((before, key) => before.then(() => page.keyboard.press(key)), Promise.resolve());
  const type = (text) => page.keyboard.type(text);
  let count = 0;
  const shot = (name) => page.screenshot({ path: path.join(shots, `${String(++count).padStart(2, "0")}-${name}.png`) });
  /** Something with this text is seen. */
  const see = async (selector, text, ms = 30_000) => {
    const found = page.locator(selector, text === undefined ? {} : { hasText: text }).first();
    await found.waitFor({ timeout: ms });
    return found;
  };
  /** Nothing with this text is seen any more. */
  const gone = (selector, text) => until(`${selector} ${text ?? ""} to go`, async () => !(await page.locator(selector, text === undefined ? {} : { hasText: text }).filter({ visible: true }).count()));
  /** Picks from the list that F1 opens. */
  const command = async (title) => {
    await press("F1");
    await see(".quick-input-widget input");
    await type(title);
    await (await see(".quick-input-list .monaco-list-row", title)).click();
  };
  /** Opens a file by its name; a second name tells two of one name apart. */
  const open = async (name) => {
    await press("Control+P");
    await see(".quick-input-widget input");
    await type(name);
    await (await see(".quick-input-list .monaco-list-row", path.basename(name))).click();
    await see(".tab.active", path.basename(name));
    await see(".editor-instance .view-line");
  };
  /** Puts the cursor before a column of a line, both from 1. */
  const caret = async (line, column = 1) => {
    await press("Control+G");
    await see(".quick-input-widget input");
    await type(`${line}:${column}`);
    await press("Enter");
    await see(".statusbar-item", new RegExp(`Ln ${line}, Col ${column}`));
  };
  /** A line of the text with its hints that reads like this. */
  const line = (like) => until(`a line like ${like}`, async () => (await page.locator(".view-line").allInnerTexts()).some((text) => like.test(text.replace(/\u00a0/g, " "))));
  /** Where a piece of text stands on the screen, in the editor that is in front. */
  const place = (text, nth = 0) => until(`${text} in the text`, () => page.evaluate(([text, nth]) => {
    const editor = document.querySelector(".editor-group-container.active .monaco-editor") ?? document.querySelector(".monaco-editor");
    const lines = [...(editor?.querySelectorAll(".view-lines .view-line") ?? [])].map((line) => [line.getBoundingClientRect().top, line]).sort((a, b) => a[0] - b[0]);
    for (const [, line] of lines) {
      const walker = document.createTreeWalker(line, NodeFilter.SHOW_TEXT);
      const nodes = [];
      let whole = "";
      for (let node = walker.nextNode(); node; node = walker.nextNode()) {
        nodes.push([whole.length, node]);
        whole += node.data.replace(/\u00a0/g, " ");
      }
      const at = whole.indexOf(text);
      if (at < 0 || nth-- > 0) continue;
      const point = (offset, end) => { const [start, node] = nodes.filter(([start]) => (end ? start < offset : start <= offset)).at(-1); return [node, offset - start]; };
      const range = document.createRange();
      range.setStart(...point(at, false));
      range.setEnd(...point(at + text.length, true));
      const { x, y, width, height } = range.getBoundingClientRect();
      return { x, y, width, height };
    }
    return null;
  }, [text, nth]));
  /** Rests the mouse on a piece of text until a hover shows that says all of this; its text. */
  const hover = async (text, saying, nth = 0) => {
    await page.mouse.move(5, 5);
    return until(`a hover of ${text} that says ${saying}`, async () => {
      // Looked for each time, since lenses that come push the text down; a nudge, since what came too early shows what was known then.
      const at = await place(text, nth);
      await page.mouse.move(at.x + at.width / 2 + Math.random(), at.y + at.height / 2);
      const shown = await page.locator(".monaco-hover:visible").allInnerTexts();
      return shown.find((text) => [saying].flat().every((s) => text.replace(/\u00a0/g, " ").includes(s)));
    });
  };
  const click = async (text, nth = 0) => {
    const at = await place(text, nth);
    await page.mouse.click(at.x + at.width / 2, at.y + at.height / 2);
  };
  /** A lens is there. */
  const lensSeen = (title) => until(`the lens ${title}`, async () => {
    const there = () => page.locator(".codelens-decoration a", { hasText: title }).count();
    if (await there()) return true;
    // The editor may forget to lay lenses out until something moves, and waits while it moves.
    await page.mouse.move(700, 300);
    await page.mouse.wheel(0, 40);
    await page.mouse.wheel(0, -400);
    return until("a moment", there, 5000).catch(() => false);
  }, 90_000);
  /** Clicks a lens until it shows: lenses move while the editor lays them out anew. */
  const lens = (title, done) => until(`what the lens ${title} does`, async () => {
    await page.locator(".codelens-decoration a", { hasText: title }).first().click({ timeout: 2000 }).catch(() => {});
    return until("a moment", done, 1500).catch(() => false);
  });
  /** The file on disk fulfils this, once it is saved. */
  const saved = async (name, what) => {
    const found = () => { const text = fs.readFileSync(path.join(workspace, name), "utf8"); return what(text) && text; };
    return until(`${name} on disk`, async () => {
      await press("Control+S");
      return until("a moment", found, 1500).catch(() => undefined);
    });
  };
  /** The page inside a panel: the editor puts each into a frame in a frame. */
  const panel = (nth = 0) => page.frameLocator("iframe.webview.ready").nth(nth).frameLocator("iframe#active-frame");
  /** Nothing pops up that complains. */
  const quiet = async () => {
    const said = await page.locator(".notification-toast .notification-list-item-message").allInnerTexts();
    if (said.length) throw new Error(`the editor says: ${said.join("; ")}`);
  };
  /** Closes what stands beside the text. */
  const closeBeside = async () => {
    await page.locator(".editor-group-container").nth(1).locator(".tab.active .codicon-close").click();
    await until("one group", async () => (await page.locator(".editor-group-container").count()) === 1);
    await page.locator(".editor-group-container .view-lines").first().waitFor();
    await press("Control+1");
  };
  /** The page of a panel in which something fits a selector. */
  const pageWith = (selector) => until(`a panel with ${selector}`, async () => {
    for (const frame of page.frames()) if (await frame.locator(selector).filter({ visible: true }).count().catch(() => 0)) return frame;
    return undefined;
  });
  /** Some page beside the text says all of this. */
  const read = (...saying) => until(`a page that says ${saying}`, async () => {
    for (const frame of page.frames()) {
      const text = await frame.locator("body").innerText({ timeout: 500 }).catch(() => "");
      if (saying.every((what) => text.includes(what))) return text;
    }
    return undefined;
  });
  return { page, pageWith, read, quiet, closeBeside, press, type, shot, see, gone, command, open, caret, line, place, hover, click, lens, lensSeen, saved, panel, until };
}
