// The core's answers in many states, written down when the page was made: what the page asks, it looks up. See
// `crates/web/src/record` for how it is written.
const core = (() => {
  const record = JSON.parse(document.getElementById("data").textContent);
  const DIGITS = "!#$%'()*+,-./0123456789:;=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[]^_`abcdefghijklmnopqrstuvwxyz{|}~";
  const HALF = DIGITS.length / 2;
  const numbers = (text) => {
    const out = [];
    let number = 0;
    for (const letter of text) {
      const digit = DIGITS.indexOf(letter);
      number = number * HALF + (digit % HALF);
      if (digit < HALF) {
        out.push(number);
        number = 0;
      }
    }
    return out;
  };
  const parents = numbers(record.parents);
  // Of each pattern: the ordinal of every state. A state has its parent's where the pattern says nothing.
  const patterns = [];
  const lists = numbers(record.patterns);
  for (let at = 0; at < lists.length; at += lists[at] + 1) {
    const said = new Map();
    for (let i = at + 1, state = 0; i <= at + lists[at]; i += 2, state++) {
      state += lists[i];
      said.set(state, lists[i + 1]);
    }
    const ordinals = [];
    parents.forEach((parent, state) => ordinals.push(said.get(state) ?? (state ? ordinals[parent] : 0)));
    patterns.push(ordinals);
  }
  const columns = [];
  const values = numbers(record.columns);
  for (let at = 0; at < values.length; at += values[at] + 2) {
    columns.push({ ordinals: patterns[values[at + 1]], strings: values.slice(at + 2, at + 2 + values[at]) });
  }
  const unpacked = {};
  const text = (name, state) => {
    if (!unpacked[name]) unpacked[name] = numbers(record.texts[name]).map((n) => columns[n]);
    return unpacked[name].map((c) => record.strings[c.strings[c.ordinals[state]]]).join("");
  };
  const { circuit, bases } = record;
  const base = (name) => bases.find((b) => b.name === (name ?? ""));
  /** The recorded state that is asked for, if it is there. */
  const find = ({ in: name, set = [], setups = [] }) => {
    const from = base(name);
    if (!from) return undefined;
    const at = [...from.at];
    for (const setting of set) {
      const cut = setting.lastIndexOf("=");
      const control = circuit.controls.findIndex((c) => c.qualified === setting.slice(0, cut));
      if (control < 0) return undefined;
      at[control] = circuit.controls[control].positions.indexOf(setting.slice(cut + 1));
    }
    return record.states[`${from.world}|${at.join(".")}|${setups.join("|")}`];
  };
  const away = { error: "This is not in this page." };
  const point = (name) => circuit.points.indexOf(name);
  const noLamp = { error: `The test lamp is not in this page for this state: it is for ${record.all ? "states without set-ups" : "those listed under State"}.` };
  /** Where the black lead can be in a state, with the red one at a point. */
  const blacks = (request) => {
    const state = find(request);
    const red = point(request.red);
    const more = state < record.full && red >= 0 ? record.blacks[red] : [];
    const can = request.instrument === "lamp" ? more.filter((i) => record.supplies.includes(i)) : more;
    return ["ground", ...can.map((i) => circuit.points[i])];
  };
  const ask = (request) => {
    if (request.do === "load") return circuit;
    if (request.do === "table") return { html: record.table };
    if (request.do === "draw" && request.view !== "state") return { svg: text(request.view, 0) };
    const state = find(request);
    if (state === undefined) return away;
    switch (request.do) {
      case "shown": return JSON.parse(text("shown", state));
      case "draw": return { svg: text("draw", state) };
      case "pinout": return { html: text("pinout", state) };
      case "point": {
        const at = point(request.point);
        if (at < 0) return away;
        const lines = text(`w${at}`, state).split("\n");
        const scenario = base(request.in).line;
        if (scenario) lines.splice(2, 0, scenario);
        return { text: lines.join("\n"), cautions: JSON.parse(text(`c${at}`, state)) };
      }
      case "meter": {
        if (request.instrument === "lamp" && state >= record.full) return noLamp;
        if (!blacks(request).includes(request.black)) return away;
        const red = point(request.red);
        if (red < 0) return away;
        const lead = request.black === "ground" ? "" : `.${point(request.black)}`;
        const shown = JSON.parse(text(`${request.instrument === "lamp" ? "l" : "m"}${red}${lead}`, state));
        return { ...shown, cautions: JSON.parse(text(`c${red}`, state)) };
      }
      default: return away;
    }
  };
  const note = `This page computes nothing: it holds ${parents.length} states, computed beforehand${record.all ? ", with every position of the controls" : ""}. What is sensed is as the chosen state has it. The meter's black lead can be on ground; in ${record.all ? "states without set-ups" : "the states listed under State"} also on a supply or on the other side of what the red lead is at, and there is a test lamp.`;
  return { start: async () => async () => {}, ask, recorded: { has: (request) => find(request) !== undefined, blacks, note } };
})();
