// How answers lie on the page: text of the terminal as lists and tables, and tables that fit whatever shows them.
const make = (tag, attributes = {}, ...children) => {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value !== undefined && value !== null) element.setAttribute(name, value);
  }
  element.append(...children.filter((c) => c !== undefined && c !== null));
  return element;
};

/** A table; titles and cells are texts or elements, `figures` says which columns hold figures. */
const tableOf = (titles, figures, rows) => {
  const column = (i) => (figures[i] ? { class: "figure" } : {});
  return make("table", {},
    make("thead", {}, make("tr", {}, ...titles.map((t, i) => make("th", { scope: "col", ...column(i) }, t)))),
    make("tbody", {}, ...rows.map(({ cells, ...attributes }) => make("tr", attributes, ...cells.map((c, i) => make("td", column(i), c))))));
};

/** The terminal's text as elements: tables stay tables, labelled lines become a list, what was wrapped is joined again. */
const laidOut = (text) => {
  const out = [];
  for (const block of text.split(/\n{2,}/)) {
    const lines = block.split("\n").filter((l) => l.trim());
    const rule = lines.findIndex((l) => /^-+\+-+$/.test(l));
    if (rule > 0) {
      const [table, rest] = tableIn(lines.slice(rule - 1));
      out.push(table, ...rest.map((l) => make("p", {}, l)));
      continue;
    }
    const parts = [];
    // In a block without labels only a mark begins a new line: the others were wrapped.
    const labelled = lines.some((l) => /^\S.* {2,}\S/.test(l));
    for (const line of lines) {
      if (parts.length && (/^\s/.test(line) || (!labelled && !line.startsWith("! ")))) parts[parts.length - 1] += ` ${line.trim()}`;
      else parts.push(line.trim());
    }
    let list;
    for (const part of parts) {
      const [, label, words] = /^(\S.*?) {2,}(\S.*)$/.exec(part) ?? [];
      if (label === undefined) {
        list = undefined;
        out.push(make("p", {}, part));
        continue;
      }
      if (!list) out.push((list = make("dl")));
      list.append(make("dt", {}, label), make("dd", {}, words));
    }
  }
  return out;
};

/** The table that some lines begin with, and the lines behind it. Columns begin where their titles do. */
const tableIn = ([head, , ...lines]) => {
  const bar = head.indexOf(" | ");
  const starts = [0];
  const titles = [head.slice(0, bar).trim()];
  for (const match of head.slice(bar + 3).matchAll(/\S+(?: \S+)*/g)) {
    starts.push(bar + 3 + match.index);
    titles.push(match[0]);
  }
  const end = lines.findIndex((l) => l.slice(bar, bar + 2) !== " |");
  const own = end < 0 ? lines : lines.slice(0, end);
  const rows = own.map((line) => {
    const letters = [...line];
    return { cells: starts.map((from, i) => letters.slice(from, i ? starts[i + 1] : bar).join("").trim()) };
  });
  const figures = titles.map((_, i) => i > 0 && rows.some((r) => r.cells[i]) && rows.every((r) => /^(|-|-?\d.*|unlimited|floats)$/.test(r.cells[i]) && !/\d [a-z]{2}/.test(r.cells[i])));
  return [tableOf(titles, figures, rows), end < 0 ? [] : lines.slice(end)];
};

/** Each table that is wider than its place is set row by row; what it is to a screen reader stays. */
const fit = () => {
  const tables = [...document.querySelectorAll("main table")];
  for (const table of tables) {
    table.classList.remove("cards");
    if (table.hasAttribute("role")) continue;
    const titles = [...table.querySelectorAll("thead th")].map((th) => th.textContent);
    table.setAttribute("role", "table");
    const role = (what, name) => table.querySelectorAll(what).forEach((e) => e.setAttribute("role", name));
    role("thead, tbody", "rowgroup");
    role("tr", "row");
    role("th", "columnheader");
    role("td", "cell");
    for (const row of table.tBodies[0]?.rows ?? []) [...row.cells].forEach((cell, i) => cell.setAttribute("data-title", titles[i] ?? ""));
  }
  const wide = tables.filter((t) => t.parentElement.clientWidth > 0 && t.offsetWidth > t.parentElement.clientWidth);
  wide.forEach((t) => t.classList.add("cards"));
};
