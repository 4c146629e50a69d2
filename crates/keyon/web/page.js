// One circuit in a page: what is set on the left, what follows from it on the right.
const data = JSON.parse(document.getElementById("data").textContent);
const $ = (id) => document.getElementById(id);
let circuit;
let restart;
const chosen = { in: "", positions: {}, stimuli: {}, setups: new Set(), view: "state", last: undefined, picked: undefined };
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

/** A number with four digits, as the language writes it: without an exponent. */
const plain = (value) => String(Number(Number(value).toPrecision(4)));

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
    const now = state.controls[name];
    field(name, control.title ?? control.name, choice(name, control.positions, now, (position) => choose(turned(name, position), name), undefined, (position) => turned(name, position)));
  }
  for (const stimulus of circuit.stimuli) {
    const now = state.stimuli[stimulus.name];
    const words = `${stimulus.name}: ${now.text}`;
    if (recorded) {
      box.append(make("p", { "data-sensed": "" }, words));
      continue;
    }
    // Set in the author's unit; a ratio in percent.
    const unit = stimulus.shown?.unit ?? (stimulus.unit === "ratio" ? "%" : stimulus.unit);
    const factor = stimulus.shown ? 1 / stimulus.shown.factor : unit === "%" ? 100 : 1;
    const range = make("input", { type: "range", min: stimulus.low * factor, max: stimulus.high * factor, step: "any", value: now.value * factor, "aria-label": stimulus.name, "aria-valuetext": now.text, "data-option": "range",
      onchange: (event) => { chosen.stimuli[stimulus.name] = { value: plain(event.target.value), unit: unit.replace("°C", "degC") }; update(); } });
    field(`stimulus ${stimulus.name}`, words, range);
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

const devices = (state) => {
  const all = Object.entries(state.devices);
  const titles = Object.keys(all[0]?.[1] ?? {});
  // What an element of a device does is indented below it.
  const rows = all.map(([name, d]) => ({ ...(name.startsWith(" ") ? { class: "part", "data-part": name.trim() } : { "data-device": name }), cells: [name.trim(), ...titles.map((t) => d[t])] }));
  $("devices").replaceChildren(all.length ? tableOf(["device", ...titles], [false, ...titles.map((t) => t !== "state")], rows) : make("p", {}, "The circuit has no load."));
};

const points = (state) => {
  const tap = (name) => (circuit.points.includes(name) ? make("button", { type: "button", onclick: () => { put(name); $("reading").scrollIntoView({ block: "nearest" }); } }, name) : name);
  const named = (name, p) => make("div", {}, tap(name), p.alias ? make("div", { class: "alias" }, p.alias) : null);
  const rows = Object.entries(state.points).map(([name, p]) => ({ "data-point": name, cells: [named(name, p), p.volts, p.state] }));
  $("points").replaceChildren(tableOf(["point", "volts", "state"], [false, true], rows), ...state.notes.map((n) => make("p", {}, n)));
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
  return pick();
};

/** The red lead's point is what was chosen: read there, and marked in the drawing. */
const pick = async () => {
  chosen.picked = $("red").value;
  await reading();
  show();
};

/** Marks what is chosen in the drawing. */
const marked = () => [...$("diagram").querySelectorAll("[data-at]")].filter((e) => e.getAttribute("data-at") === chosen.picked);
const show = () => {
  $("diagram").querySelectorAll(".picked").forEach((e) => e.classList.remove("picked"));
  marked().forEach((e) => e.classList.add("picked"));
};

/** Puts what is chosen into the middle of the drawing that is seen, or else the drawing's own middle. */
const centre = () => {
  const figure = $("diagram");
  const [box, seen] = [(marked()[0] ?? figure.querySelector("svg"))?.getBoundingClientRect(), figure.getBoundingClientRect()];
  if (!box) return;
  figure.scrollLeft += box.left + box.width / 2 - seen.left - figure.clientWidth / 2;
  figure.scrollTop += box.top + box.height / 2 - seen.top - figure.clientHeight / 2;
};

/** What a tap meant: a fitted drawing is small, so the nearest that can be tapped within a finger's width. */
const tapped = (event) => {
  const at = (element) => element?.closest?.("#diagram [data-at]")?.getAttribute("data-at");
  for (let away = 0; away <= 24; away += 4) {
    for (let turn = 0; turn < (away ? 12 : 1); turn++) {
      const angle = (turn * Math.PI) / 6;
      const found = at(document.elementFromPoint(event.clientX + away * Math.cos(angle), event.clientY + away * Math.sin(angle)));
      if (found) return found;
    }
  }
  return at(event.target);
};

const reading = async () => {
  leads();
  const instrument = $("instrument").value;
  const red = $("red").value;
  const found = await ask("meter", { red, black: $("black").value, instrument });
  const words = found.error ?? (instrument === "lamp" ? `${found.lamp} (${found.words})` : found.words);
  $("shown").textContent = words;
  $("picked").textContent = chosen.picked === red ? `${red}: ${words}` : "";
  $("cautions").replaceChildren(...(found.cautions ?? []).map((c) => make("p", { class: "caution" }, c)));
  const why = await ask("point", { point: red });
  $("why").replaceChildren(...laidOut(why.text ?? why.error ?? ""));
  fit();
};

/** What is set, in a line, for paper. */
const line = (state) => {
  const title = circuit.scenarios.find((s) => s.name === chosen.in)?.title ?? chosen.in;
  return [...(title ? [title] : []), ...Object.entries(state.lines).map(([label, words]) => `${label}: ${words}`)].join("; ");
};

const update = async () => {
  const settled = settle();
  const state = await ask("shown");
  if (state.error) {
    $("status").textContent = state.error;
    return;
  }
  const changed = state.changes?.length ? `changed: ${state.changes.join(", ")}` : "";
  $("status").textContent = [settled, changed].filter((t) => t).join(" ");
  $("set").textContent = line(state);
  await controls(state);
  const drawing = await ask("draw", { view: chosen.view });
  html("diagram", drawing.svg ?? "");
  show();
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
  $("red").addEventListener("change", pick);
  $("black").addEventListener("change", reading);
  if (recorded) $("held").replaceChildren(make("p", {}, recorded.note));
  $("instrument").addEventListener("change", reading);
  $("diagram").addEventListener("click", (event) => {
    const at = tapped(event);
    if (at && circuit.points.includes(at)) put(at);
  });
  $("views").append(choice("View", ["state", "plain", "colours"], chosen.view, function pick(view) {
    chosen.view = view;
    for (const b of $("views").querySelectorAll("button")) b.setAttribute("aria-checked", String(b.getAttribute("data-option") === view));
    update();
  }), make("button", { type: "button", "aria-pressed": "false", onclick: (event) => {
    const whole = $("diagram").classList.toggle("fit");
    event.currentTarget.setAttribute("aria-pressed", String(!whole));
    if (!whole) centre();
  } }, "full size"));
  // What is unfolded, or turned round, has another width.
  document.addEventListener("toggle", fit, true);
  window.addEventListener("resize", fit);
  // Paper has no folds.
  window.addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((d) => d.setAttribute("open", "")));
  await update();
  const table = await ask("table");
  html("table", table.html ?? "");
  fit();
};

main().catch((error) => {
  document.body.prepend(make("p", { class: "error", role: "alert" }, `This page could not start: ${error}. It needs a browser of ${recorded ? 2020 : 2023} or later.`));
});
