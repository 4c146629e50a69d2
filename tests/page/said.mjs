// What `keyon state` prints, and what a page shows, in the same shape: by name, as text.
import { execFileSync } from "node:child_process";

/** The tables of a printed state, and what is sensed. Columns begin where their titles do. */
export const printed = (keyon, file, args) => {
  let text;
  try {
    text = execFileSync(keyon, ["state", file, ...args], { stdio: ["ignore", "pipe", "ignore"], maxBuffer: 1 << 28 });
  } catch (error) {
    text = error.stdout;
  }
  const lines = text.toString().split("\n");
  const tables = { device: {}, point: {} };
  lines.forEach((line, at) => {
    if (!/^-+\+-+$/.test(line)) return;
    const bar = line.indexOf("+");
    const columns = [...lines[at - 1].slice(bar + 1).matchAll(/\S+(?: \S+)*/g)].map((m) => [m[0], bar + 1 + m.index]);
    const table = tables[lines[at - 1].slice(0, bar).trim()];
    for (let row = at + 1; table && lines[row]?.[bar] === "|"; row++) {
      const letters = [...lines[row]];
      const name = letters.slice(0, bar).join("").trim();
      columns.forEach(([title, from], i) => { (table[name] ??= {})[title] = letters.slice(from, columns[i + 1]?.[1]).join("").trim(); });
    }
  });
  delete tables.point[""]; // a blank line parts what belongs together
  const senses = lines.findIndex((l) => l.startsWith("senses "));
  let sensed = senses < 0 ? "" : lines[senses].slice(7).trim();
  for (let at = senses + 1; senses >= 0 && lines[at].startsWith(" "); at++) sensed += ` ${lines[at].trim()}`;
  return { ...tables, sensed };
};

/** The same of a page. */
export const shown = (page) => page.evaluate(() => {
  const rows = (what, read) => Object.fromEntries([...document.querySelectorAll(what)].map((row) => [row.dataset.device ?? row.dataset.part ?? row.dataset.point, read([...row.cells].map((c) => c.textContent), row)]));
  return {
    device: rows("[data-device], [data-part]", (cells, row) => Object.fromEntries([...row.closest("table").querySelectorAll("th")].map((th, i) => [th.textContent, cells[i]]).slice(1))),
    point: rows("[data-point]", ([, volts, state], row) => ({ volts, "node state": state, "known as": row.querySelector(".alias")?.textContent ?? "" })),
    sensed: [...document.querySelectorAll('#controls [data-group^="stimulus "] legend, #controls > [data-sensed]')].map((e) => e.textContent.replace(": ", " ")).join(", "),
  };
});

/** Where they differ. */
export const differences = (one, other) => {
  const out = one.sensed === other.sensed ? [] : [`sensed: ${one.sensed} | ${other.sensed}`];
  for (const kind of ["device", "point"]) {
    for (const name of new Set([...Object.keys(one[kind]), ...Object.keys(other[kind])])) {
      const [a, b] = [one[kind][name] ?? {}, other[kind][name] ?? {}];
      for (const key of Object.keys({ ...a, ...b })) if ((a[key] ?? "") !== (b[key] ?? "")) out.push(`${kind} ${name} ${key}: ${a[key]} | ${b[key]}`);
    }
  }
  return out;
};

/** Words in their order, without the rules of tables. */
export const words = (text) => text.split(/\s+/).filter((w) => w && !/^(\||-+\+-+)$/.test(w)).join(" ");

/** The words of an element, each text apart. */
export const wordsIn = (page, id) => page.evaluate((id) => {
  const all = [];
  const walk = document.createTreeWalker(document.getElementById(id), NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) all.push(walk.currentNode.textContent);
  return all.join(" ").split(/\s+/).filter((w) => w).join(" ");
}, id);
