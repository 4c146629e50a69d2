/** Text in HTML. */
export function escapeHtml(text: string): string {
  return text.replace(/[&<>"']/g, (c) => `&#${c.charCodeAt(0)};`);
}

/** The cells of a line of a Markdown table, escapes taken back. */
function cells(line: string): string[] {
  const out: string[] = [];
  let cell = "";
  const inner = line.trim().replace(/^\|/, "");
  for (let i = 0; i < inner.length; i++) {
    if (inner[i] === "\\" && i + 1 < inner.length) {
      cell += inner[++i];
    } else if (inner[i] === "|") {
      out.push(cell.trim());
      cell = "";
    } else {
      cell += inner[i];
    }
  }
  return out;
}

const plain = (text: string): string => text.replace(/&lt;/g, "<").replace(/&amp;/g, "&");

/** Markdown's escapes taken back. */
const unescape = (line: string): string => line.replace(/\\([\\`*_[\]|#])/g, "$1");

/** The tables and lines of the server's Markdown as HTML; everything in it is text. */
export function tableHtml(markdown: string): string {
  const out: string[] = [];
  let rows: string[][] = [];
  const flush = () => {
    if (rows.length) {
      const [head, ...body] = rows;
      const row = (cs: string[], tag: string) => `<tr>${cs.map((c) => `<${tag}>${escapeHtml(plain(c))}</${tag}>`).join("")}</tr>`;
      out.push(`<table><thead>${row(head, "th")}</thead><tbody>${body.map((b) => row(b, "td")).join("")}</tbody></table>`);
      rows = [];
    }
  };
  for (const line of markdown.split(/\r?\n/)) {
    if (/^\|[-:| ]+\|\s*$/.test(line)) {
      continue;
    }
    if (line.startsWith("|")) {
      rows.push(cells(line));
      continue;
    }
    flush();
    const heading = /^#{1,6} (.*)$/.exec(line);
    if (heading) {
      out.push(`<h2>${escapeHtml(plain(unescape(heading[1])))}</h2>`);
    } else if (line.trim()) {
      out.push(`<p>${escapeHtml(plain(unescape(line)))}</p>`);
    }
  }
  flush();
  return out.join("\n");
}
