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
const chosen = { in: "", positions: {}, stimuli: {}, setups: new Set(), view: "state", fit: true };

/** What is asked of the core with every question: the state. */
const asked = () => ({
  in: chosen.in || undefined,
  set: [
    ...Object.entries(chosen.positions).map(([name, position]) => `${name}=${position}`),
    ...Object.entries(chosen.stimuli).map(([name, { value, unit }]) => `${name}=${value} ${unit}`.trim()),
  ],
  setups: [...chosen.setups],
});

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

const choice = (label, options, current, pick, describe = (o) => o) => {
  const group = make("div", { class: "choices", role: "radiogroup", "aria-label": label });
  options.forEach((option) => {
    const button = make("button", { type: "button", role: "radio", "aria-checked": String(option === current), tabindex: option === current ? "0" : "-1", "data-option": option, onclick: () => pick(option) }, describe(option));
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
    field("scenario", "State", choice("State", names, chosen.in, (name) => { Object.assign(chosen, { in: name, positions: {}, stimuli: {} }); update(); }, title), ...todo.map((t) => make("p", {}, `To do: ${t}`)));
  }
  for (const control of circuit.controls) {
    const name = control.qualified;
    const now = state.controls?.[control.qualified] ?? state.controls?.[control.name];
    field(name, control.title ?? control.name, choice(name, control.positions, now, (position) => { chosen.positions[name] = position; update(); }));
  }
  for (const stimulus of circuit.stimuli) {
    const now = chosen.stimuli[stimulus.name]?.value ?? state.stimuli?.[stimulus.name] ?? stimulus.nominal;
    const factor = stimulus.unit === "%" ? 100 : 1;
    const shown = chosen.stimuli[stimulus.name] ? now : now * factor;
    const range = make("input", { type: "range", min: stimulus.low * factor, max: stimulus.high * factor, step: "any", value: shown, "aria-label": stimulus.name, "data-option": "range",
      onchange: (event) => { chosen.stimuli[stimulus.name] = { value: Number(event.target.value).toPrecision(4), unit: stimulus.unit.replace("°C", "degC") }; update(); } });
    field(`stimulus ${stimulus.name}`, `${stimulus.name}: ${Number(shown).toPrecision(3)} ${stimulus.unit}`, range);
  }
  const toggles = (title, names, word) => {
    if (!names.length) return;
    const all = make("div", { class: "choices" });
    for (const name of names) {
      const setup = `${word} ${name}`;
      all.append(make("button", { type: "button", "aria-pressed": String(chosen.setups.has(setup)), "data-option": setup, onclick: () => { chosen.setups.has(setup) ? chosen.setups.delete(setup) : chosen.setups.add(setup); update(); } }, name));
    }
    const some = [...chosen.setups].some((s) => s.startsWith(word));
    box.append(make("details", { "data-group": word, ...(some || held === word ? { open: "" } : {}) }, make("summary", {}, title), all));
  };
  toggles("Pull fuses", circuit.fuses, "pull");
  toggles("Unplug devices", circuit.devices.map((d) => d.name), "unplug");
  if (held && option !== null) {
    document.querySelector(`[data-group="${CSS.escape(held)}"] [data-option="${CSS.escape(option ?? "")}"]`)?.focus({ preventScroll: true });
  }
};

const html = (id, text) => { $(id).innerHTML = text; }; // the core escapes every name and text of the circuit

const devices = (state) => {
  const rows = Object.entries(state.devices ?? {}).map(([name, d]) => make("tr", { "data-device": name }, make("td", {}, name), make("td", {}, d.state + (d.grade ? ` (${d.grade})` : "")), make("td", { class: "figure" }, d.amps === undefined || d.amps === null ? "" : `${Number(d.amps).toFixed(3)} A`)));
  $("devices").replaceChildren(make("table", {}, make("thead", {}, make("tr", {}, ...["device", "does", "current"].map((t) => make("th", { scope: "col" }, t)))), make("tbody", {}, ...rows)));
};

const points = (state) => {
  const volts = (v) => (v === null || v === undefined ? "" : Number(v).toFixed(3));
  const rows = Object.entries(state.points ?? {}).map(([name, p]) => make("tr", { "data-point": name, "data-volts": p.volts ?? "" }, make("td", {}, make("button", { type: "button", onclick: () => { $("red").value = name; reading(); $("reading").scrollIntoView({ block: "nearest" }); } }, name)), make("td", {}, p.node_state), make("td", { class: "figure" }, volts(p.volts))));
  $("points").replaceChildren(make("table", {}, make("thead", {}, make("tr", {}, ...["point", "state", "volts"].map((t) => make("th", { scope: "col" }, t)))), make("tbody", {}, ...rows)));
};

const reading = async () => {
  const instrument = $("instrument").value;
  const red = $("red").value;
  const found = await ask("meter", { red, black: $("black").value, instrument });
  $("shown").textContent = found.error ?? (instrument === "lamp" ? `${found.lamp} (${found.words})` : found.words);
  $("cautions").replaceChildren(...(found.cautions ?? []).map((c) => make("p", { class: "caution" }, c)));
  const why = await ask("point", { point: red });
  $("why").textContent = why.text ?? why.error ?? "";
};

const update = async () => {
  const state = await ask("state");
  if (state.error) {
    $("status").textContent = state.error;
    return;
  }
  $("status").textContent = state.changes?.length ? `changed: ${state.changes.map((c) => c.words ?? c).join(", ")}` : "";
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
  restart = await core.start(document.getElementById("core").textContent.trim());
  circuit = core.ask({ do: "load", ...data });
  chosen.in = circuit.view ?? circuit.scenarios[0]?.name ?? "";
  for (const id of ["red", "black"]) {
    $(id).replaceChildren(...(id === "black" ? ["ground"] : []).concat(circuit.points).map((p) => make("option", { value: p }, p)));
    $(id).addEventListener("change", reading);
  }
  $("instrument").addEventListener("change", reading);
  $("diagram").addEventListener("click", (event) => {
    const at = event.target.closest("[data-at]")?.getAttribute("data-at");
    if (at && circuit.points.includes(at)) {
      $("red").value = at;
      reading();
    }
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
  await update();
  const table = await ask("table");
  html("table", table.html ?? "");
};

main().catch((error) => {
  document.body.prepend(make("p", { class: "error", role: "alert" }, `This page could not start: ${error}. It needs a browser of 2023 or later.`));
});
