// An editor with the core beside it: findings, hover, completion, diagram, table. No server.
import { EditorView, basicSetup } from "codemirror";
import { hoverTooltip } from "@codemirror/view";
import { autocompletion } from "@codemirror/autocomplete";
import { lintGutter, setDiagnostics } from "@codemirror/lint";
import { StreamLanguage } from "@codemirror/language";

const $ = (id) => document.getElementById(id);
const examples = JSON.parse($("data").textContent);
const { core } = window.keyon;

const heads = new Set("circuit use view supply ground splice connector wire fuse breaker link device part module scenario expect exercise readings switch control variant about elsewhere gang unused allow pins positions contact changeover coil winding motor resistor lamp heater diode track transducer thermistor variable grade fault symptom probes ask".split(" "));
const language = StreamLanguage.define({
  name: "keyon",
  token(stream, state) {
    if (stream.sol()) state.head = true;
    if (stream.eatSpace()) return null;
    const head = state.head;
    state.head = false;
    if (stream.match(/^#.*/)) return "comment";
    if (stream.match(/^"(?:[^"\\]|\\.)*"?/)) return "string";
    if (stream.match(/^(?:->|\.\.|\+-|±)/)) return "operator";
    if (stream.match(/^[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?/)) return "number";
    if (stream.match(/^[{}()]/)) { state.head = true; return "bracket"; }
    const word = stream.match(/^[\p{L}_][\p{L}\p{M}0-9_]*(?:\.[\p{L}0-9_]+)*/u);
    if (word) return head && heads.has(word[0]) ? "keyword" : word[0].includes(".") ? "propertyName" : "variableName";
    stream.next();
    return null;
  },
  startState: () => ({ head: true }),
  languageData: { commentTokens: { line: "#" } },
});

let restart;
let name = "circuit.keyon";
const held = { in: undefined };
const ask = async (request) => {
  try {
    return core.ask({ ...held, ...request });
  } catch {
    await restart();
    core.ask({ do: "load", name, text: view.state.doc.toString(), libraries: examples.libraries });
    try { return core.ask({ ...held, ...request }); } catch { return { error: "the core broke down on this text" }; }
  }
};

const refresh = async () => {
  const text = view.state.doc.toString();
  let loaded;
  try {
    loaded = core.ask({ do: "load", name, text, libraries: examples.libraries });
  } catch {
    await restart();
    return;
  }
  const length = view.state.doc.length;
  const clamp = (at) => Math.max(0, Math.min(length, at));
  view.dispatch(setDiagnostics(view.state, loaded.findings.map((f) => ({
    from: clamp(f.from), to: clamp(Math.max(f.to, f.from)), severity: f.level === "error" ? "error" : f.level === "warning" ? "warning" : "info",
    source: f.rule, message: f.help ? `${f.message}\n${f.help}` : f.message,
  }))));
  const errors = loaded.findings.filter((f) => f.level === "error").length;
  $("count").textContent = loaded.findings.length ? `findings: ${loaded.findings.length}, errors: ${errors}` : "no findings";
  $("findings").replaceChildren(...loaded.findings.map((f) => {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = `${f.line}:${f.column} ${f.level} ${f.rule}: ${f.message}`;
    button.addEventListener("click", () => { view.dispatch({ selection: { anchor: clamp(f.from) }, scrollIntoView: true }); view.focus(); });
    item.append(button);
    return item;
  }));
  const names = loaded.scenarios.map((s) => s.name);
  if (!names.includes(held.in)) held.in = loaded.view ?? names[0];
  $("scenario").replaceChildren(...["", ...names].map((s) => new Option(s || "everything at rest", s, false, s === (held.in ?? ""))));
  if (loaded.library) {
    $("diagram").replaceChildren();
    $("table").replaceChildren();
    return;
  }
  const drawing = await ask({ do: "draw", view: $("view").value });
  $("diagram").innerHTML = drawing.svg ?? ""; // the core escapes every name and text
  const table = await ask({ do: "table" });
  $("table").innerHTML = table.html ?? "";
  document.body.dataset.ready = String(Number(document.body.dataset.ready ?? 0) + 1);
};

let timer;
const soon = () => { clearTimeout(timer); timer = setTimeout(() => { void refresh(); void share(); }, 250); };

/** The text in the address, packed: a link holds the whole circuit, and nothing is sent to a server. */
const share = async () => {
  const packed = await new Response(new Blob([view.state.doc.toString()]).stream().pipeThrough(new CompressionStream("deflate-raw"))).arrayBuffer();
  let binary = "";
  for (const b of new Uint8Array(packed)) binary += String.fromCharCode(b);
  history.replaceState(null, "", `#${btoa(binary).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "")}`);
};
const shared = async () => {
  const code = location.hash.slice(1);
  if (!code) return undefined;
  try {
    const bytes = Uint8Array.from(atob(code.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
    return await new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"))).text();
  } catch {
    return undefined;
  }
};

const hover = hoverTooltip(async (view, at) => {
  const found = await ask({ do: "hover", at });
  if (!found.text) return null;
  return { pos: Math.min(found.from, view.state.doc.length), end: Math.min(found.to, view.state.doc.length), above: true, create: () => {
    const dom = document.createElement("pre");
    dom.className = "hover";
    dom.textContent = found.text;
    return { dom };
  } };
});
const complete = async (context) => {
  const word = context.matchBefore(/[\p{L}_0-9.]*/u);
  if (!context.explicit && word.from === word.to) return null;
  core.ask({ do: "load", name, text: context.state.doc.toString(), libraries: examples.libraries });
  const found = await ask({ do: "complete", at: context.pos });
  if (!found.items?.length) return null;
  return { from: found.from, options: found.items.map((i) => ({ label: i.label, detail: i.detail ?? undefined, info: i.about ?? undefined, apply: i.insert })), validFor: /^[\p{L}_0-9]*$/u };
};

let view;
const main = async () => {
  restart = await core.start($("core").textContent.trim());
  const first = Object.keys(examples.circuits)[0];
  const text = (await shared()) ?? examples.circuits[first];
  name = first;
  view = new EditorView({
    doc: text,
    parent: $("editor"),
    extensions: [basicSetup, language, lintGutter(), hover, autocompletion({ override: [complete] }), EditorView.cspNonce.of(document.querySelector("script[nonce]").nonce),
      EditorView.contentAttributes.of({ "aria-label": "The circuit as text" }), EditorView.updateListener.of((u) => u.docChanged && soon())],
  });
  $("example").replaceChildren(...Object.keys(examples.circuits).map((n) => new Option(n.replace(/^.*\//, "").replace(/\.keyon$/, ""), n)));
  $("example").addEventListener("change", () => {
    name = $("example").value;
    held.in = undefined;
    view.dispatch({ changes: { from: 0, to: view.state.doc.length, insert: examples.circuits[name] } });
  });
  $("scenario").addEventListener("change", () => { held.in = $("scenario").value || undefined; void refresh(); });
  $("view").addEventListener("change", () => void refresh());
  await refresh();
};
main().catch((error) => { document.body.prepend(`This page could not start: ${error}. It needs a browser of 2023 or later.`); });
