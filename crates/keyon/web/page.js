// One circuit in a page: what is set on the left, what follows from it on the right.
const data = JSON.parse(document.getElementById("data").textContent);
const $ = (id) => document.getElementById(id);
const make = (tag, attributes = {}, ...children) => {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value !== undefined && value !== null) element.setAttribute(name, value);
  }
  element.append(...children.filter((c) => c !== undefined && c !== null));
  return element;
};

let circuit;
let restart;
const chosen = { in: "", positions: {}, stimuli: {}, setups: new Set(), view: "state", fit: true, last: undefined };
/** Where the page holds answers in place of the core: which states it has. */
const { recorded } = core;

/** What is asked of the core with every question: the state. */
const asked = () => ({
  in: chosen.in || undefined,
  set: [
    ...Object.entries(chosen.positions).map(([name, position]) => `${name}=${position}`),
    ...Object.entries(chosen.stimuli).map(([name, { value, unit }]) => `${name}=${value} ${unit}`.trim()),
  ],
  setups: [...chosen.setups],
});

/** What is asked with these choices in place of some of those that stand. */
const askedWith = (more) => {
  const standing = { ...chosen };
  Object.assign(chosen, more);
  const request = asked();
  Object.assign(chosen, standing);
  return request;
};

/** The choices with a control turned, or a set-up made or taken back. */
const turned = (name, position) => ({ positions: { ...chosen.positions, [name]: position } });
const toggled = (setup) => {
  const setups = new Set(chosen.setups);
  setups.has(setup) ? setups.delete(setup) : setups.add(setup);
  return { setups };
};
const choose = (choices, last) => {
  Object.assign(chosen, choices, { last });
  update();
};

/** Goes to the nearest state that the page holds, and says what that took back. */
const settle = () => {
  if (!recorded || recorded.has(asked())) return "";
  const { last } = chosen;
  const wanted = [...Object.entries(chosen.positions).map(([n, p]) => `${n} ${p}`), ...chosen.setups];
  const none = new Set();
  const setups = new Set(chosen.setups.has(last) ? [last] : []);
  const positions = last in chosen.positions ? { [last]: chosen.positions[last] } : {};
  const near = [{ setups }, { positions, setups }, { setups: none }, { positions: {}, setups: none }];
  Object.assign(chosen, near.find((choices) => recorded.has(askedWith(choices))) ?? near[near.length - 1]);
  const kept = [...Object.entries(chosen.positions).map(([n, p]) => `${n} ${p}`), ...chosen.setups];
  const lost = wanted.filter((w) => !kept.includes(w));
  const title = circuit.scenarios.find((s) => s.name === chosen.in)?.title ?? (chosen.in || "everything at rest");
  return `That state is not in this page. The nearest that is: ${[title, ...kept].join(", ")}; taken back: ${lost.join(", ")}.`;
};

/** Marks what leads away from what is chosen, because the page does not hold it. */
const mark = (button, choices) => {
  if (!recorded || recorded.has(askedWith(choices))) return;
  button.setAttribute("data-away", "");
  button.setAttribute("aria-describedby", "away");
};

/** Asks; a core that broke down is made anew and loaded again, once. */
const ask = async (what, more = {}) => {
  const request = { do: what, ...asked(), ...more };
  try {
    return core.ask(request);
  } catch {
    await restart();
    core.ask({ do: "load", ...data });
    return core.ask(request);
  }
};

const choice = (label, options, current, pick, describe = (o) => o, leads = undefined) => {
  const group = make("div", { class: "choices", role: "radiogroup", "aria-label": label });
  options.forEach((option) => {
    const button = make("button", { type: "button", role: "radio", "aria-checked": String(option === current), tabindex: option === current ? "0" : "-1", "data-option": option, onclick: () => pick(option) }, describe(option));
    if (leads && option !== current) mark(button, leads(option));
    group.append(button);
  });
  // Arrow keys move within the group, as radio buttons do.
  group.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const at = options.indexOf(event.target.getAttribute("data-option"));
    const next = options[(at + step + options.length) % options.length];
    pick(next);
    document.querySelector(`[aria-label="${CSS.escape(label)}"] [data-option="${CSS.escape(next)}"]`)?.focus();
  });
  return group;
};

const controls = async (state) => {
  const box = $("controls");
  const held = document.activeElement?.closest("[data-group]")?.getAttribute("data-group");
  const option = document.activeElement?.getAttribute("data-option");
  box.replaceChildren();
  const field = (name, title, ...inside) => box.append(make("fieldset", { "data-group": name }, make("legend", {}, title), ...inside));
  if (circuit.scenarios.length) {
    const names = ["", ...circuit.scenarios.map((s) => s.name)];
    const title = (name) => (name ? circuit.scenarios.find((s) => s.name === name).title ?? name : "everything at rest");
    const todo = circuit.scenarios.find((s) => s.name === chosen.in)?.do ?? [];
    field("scenario", "State", choice("State", names, chosen.in, (name) => choose({ in: name, positions: {}, stimuli: {} }), title), ...todo.map((t) => make("p", {}, `To do: ${t}`)));
  }
  for (const control of circuit.controls) {
    const name = control.qualified;
    const now = state.controls?.[control.qualified] ?? state.controls?.[control.name];
    field(name, control.title ?? control.name, choice(name, control.positions, now, (position) => choose(turned(name, position), name), undefined, (position) => turned(name, position)));
  }
  for (const stimulus of circuit.stimuli) {
    const now = chosen.stimuli[stimulus.name]?.value ?? state.stimuli?.[stimulus.name] ?? stimulus.nominal;
    // Said, and set, in the author's unit; a ratio in percent.
    const unit = stimulus.shown?.unit ?? (stimulus.unit === "ratio" ? "%" : stimulus.unit);
    const factor = stimulus.shown ? 1 / stimulus.shown.factor : unit === "%" ? 100 : 1;
    const shown = chosen.stimuli[stimulus.name] ? now : now * factor;
    if (recorded) {
      box.append(make("p", {}, `${stimulus.name}: ${Number(Number(shown).toPrecision(4))} ${unit.replace("degC", "°C")}`));
      continue;
    }
    const range = make("input", { type: "range", min: stimulus.low * factor, max: stimulus.high * factor, step: "any", value: shown, "aria-label": stimulus.name, "data-option": "range",
      onchange: (event) => { chosen.stimuli[stimulus.name] = { value: Number(event.target.value).toPrecision(4), unit: unit.replace("°C", "degC") }; update(); } });
    field(`stimulus ${stimulus.name}`, `${stimulus.name}: ${Number(shown).toPrecision(3)} ${unit.replace("degC", "°C")}`, range);
  }
  const toggles = (title, names, word, group = word) => {
    if (!names.length) return;
    const all = make("div", { class: "choices" });
    for (const name of names) {
      const setup = `${word} ${name}`;
      const button = make("button", { type: "button", "aria-pressed": String(chosen.setups.has(setup)), "data-option": setup, onclick: () => choose(toggled(setup), setup) }, name);
      mark(button, toggled(setup));
      all.append(button);
    }
    const some = names.some((name) => chosen.setups.has(`${word} ${name}`));
    box.append(make("details", { "data-group": group, ...(some || held === group ? { open: "" } : {}) }, make("summary", {}, title), all));
  };
  toggles("Pull fuses", circuit.fuses, "pull");
  toggles("Unplug devices", circuit.devices.map((d) => d.name), "unplug");
  toggles("Unplug connectors", circuit.connectors, "unplug", "connectors");
  if (box.querySelector("[data-away]")) box.append(make("p", { id: "away" }, "Dashed: leads away from here, to the nearest state that is in this page."));
  if (held && option !== null) {
    document.querySelector(`[data-group="${CSS.escape(held)}"] [data-option="${CSS.escape(option ?? "")}"]`)?.focus({ preventScroll: true });
  }
};

const html = (id, text) => { $(id).innerHTML = text; }; // the core escapes every name and text of the circuit

/** With three decimals, and no minus before a zero. */
const fixed = (value) => Number(value).toFixed(3).replace(/^-(0\.0+)$/, "$1");

const devices = (state) => {
  const rows = Object.entries(state.devices ?? {}).map(([name, d]) => make("tr", { "data-device": name }, make("td", {}, name), make("td", {}, d.state + (d.grade ? ` (${d.grade})` : "")), make("td", { class: "figure" }, d.amps === undefined || d.amps === null ? "" : `${fixed(d.amps)} A`)));
  $("devices").replaceChildren(make("table", {}, make("thead", {}, make("tr", {}, ...["device", "does", "current"].map((t) => make("th", { scope: "col" }, t)))), make("tbody", {}, ...rows)));
};

const points = (state) => {
  const volts = (v) => (v === null || v === undefined ? "" : fixed(v));
  // A point with two names, or the inner side of one, is read at the name that the leads have.
  const named = (name, p) => [name, p.same_as].find((n) => circuit.points.includes(n));
  const tap = (name, at) => (at ? make("button", { type: "button", onclick: () => { put(at); $("reading").scrollIntoView({ block: "nearest" }); } }, name) : name);
  const rows = Object.entries(state.points ?? {}).map(([name, p]) => make("tr", { "data-point": name, "data-volts": p.volts ?? "" }, make("td", {}, tap(name, named(name, p))), make("td", {}, p.node_state), make("td", { class: "figure" }, volts(p.volts))));
  $("points").replaceChildren(make("table", {}, make("thead", {}, make("tr", {}, ...["point", "state", "volts"].map((t) => make("th", { scope: "col" }, t)))), make("tbody", {}, ...rows)));
};

/** Where the black lead can be: anywhere, or where the page holds readings for. */
const leads = () => {
  const black = $("black");
  const can = recorded ? recorded.blacks({ ...asked(), red: $("red").value, instrument: $("instrument").value }) : ["ground", ...circuit.points];
  if (black.options.length === can.length && [...black.options].every((o, i) => o.value === can[i])) return;
  const before = black.value;
  black.replaceChildren(...can.map((p) => make("option", { value: p }, p)));
  black.value = can.includes(before) ? before : "ground";
};

/** Puts the red lead somewhere. */
const put = (at) => {
  $("red").value = at;
  reading();
};

const reading = async () => {
  leads();
  const instrument = $("instrument").value;
  const red = $("red").value;
  const found = await ask("meter", { red, black: $("black").value, instrument });
  $("shown").textContent = found.error ?? (instrument === "lamp" ? `${found.lamp} (${found.words})` : found.words);
  $("cautions").replaceChildren(...(found.cautions ?? []).map((c) => make("p", { class: "caution" }, c)));
  const why = await ask("point", { point: red });
  $("why").textContent = why.text ?? why.error ?? "";
};

/** What is set, in a line, for paper. */
const line = (state) => {
  const title = circuit.scenarios.find((s) => s.name === chosen.in)?.title ?? chosen.in;
  const set = Object.entries(state.controls ?? {}).map(([name, position]) => `${name} ${position}`);
  return [...(title ? [title] : []), ...set, ...(state.changes ?? [])].join(", ");
};

const update = async () => {
  const settled = settle();
  const state = await ask("state");
  if (state.error) {
    $("status").textContent = state.error;
    return;
  }
  const changed = state.changes?.length ? `changed: ${state.changes.map((c) => c.words ?? c).join(", ")}` : "";
  $("status").textContent = [settled, changed].filter((t) => t).join(" ");
  $("set").textContent = line(state);
  await controls(state);
  const drawing = await ask("draw", { view: chosen.view });
  html("diagram", drawing.svg ?? "");
  devices(state);
  points(state);
  const pinout = await ask("pinout");
  html("pinouts", pinout.html || "<p>The circuit has no module.</p>");
  await reading();
  document.body.dataset.ready = String(Number(document.body.dataset.ready ?? 0) + 1);
};

const main = async () => {
  restart = await core.start(document.getElementById("core")?.textContent.trim());
  circuit = core.ask({ do: "load", ...data });
  chosen.in = circuit.view ?? circuit.scenarios[0]?.name ?? "";
  $("red").replaceChildren(...circuit.points.map((p) => make("option", { value: p }, p)));
  for (const id of ["red", "black"]) $(id).addEventListener("change", reading);
  if (recorded) $("held").replaceChildren(make("p", {}, recorded.note));
  $("instrument").addEventListener("change", reading);
  $("diagram").addEventListener("click", (event) => {
    const at = event.target.closest("[data-at]")?.getAttribute("data-at");
    if (at && circuit.points.includes(at)) put(at);
  });
  $("views").append(choice("View", ["state", "plain", "colours"], chosen.view, function pick(view) {
    chosen.view = view;
    for (const b of $("views").querySelectorAll("button")) b.setAttribute("aria-checked", String(b.getAttribute("data-option") === view));
    update();
  }), make("button", { type: "button", "aria-pressed": "true", onclick: (event) => {
    chosen.fit = !chosen.fit;
    event.currentTarget.setAttribute("aria-pressed", String(chosen.fit));
    $("diagram").classList.toggle("fit", chosen.fit);
  } }, "fit the width"));
  // Paper has no folds.
  window.addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((d) => d.setAttribute("open", "")));
  await update();
  const table = await ask("table");
  html("table", table.html ?? "");
};

main().catch((error) => {
  document.body.prepend(make("p", { class: "error", role: "alert" }, `This page could not start: ${error}. It needs a browser of ${recorded ? 2020 : 2023} or later.`));
});
