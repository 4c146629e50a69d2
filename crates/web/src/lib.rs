//! The core as a page asks it: one JSON request in, one JSON answer out. Runs as WebAssembly in a page and in the
//! playground, and natively in tests. It decides nothing: every answer is one of the crates below.

mod answers;
pub mod memory;
#[cfg(not(target_arch = "wasm32"))]
pub mod record;
mod world;

use keyon_circuit::{Elaboration, Source, elaborate, ids::*, model::Circuit};
use keyon_present::{Standing, View, about::Asked};
use keyon_solve::{Never, State, probe::across, solve};
use serde_json::{Map, Value, json};
use std::{collections::BTreeMap, sync::Arc};
use world::Texts;

/// A circuit that is looked at.
#[derive(Debug, Default)]
pub struct Session {
    elaboration: Option<Elaboration>,
    /// Its drawing's layout, once somebody looks at a state.
    standing: Option<Standing>,
}

impl Session {
    /// Answers a request. Never fails: what is wrong is the answer's `error`.
    pub fn answer(&mut self, request: &str) -> String {
        let answer = match serde_json::from_str::<Value>(request) {
            Ok(request) => self.respond(&request).unwrap_or_else(|error| json!({ "error": error })),
            Err(error) => json!({ "error": error.to_string() }),
        };
        answer.to_string()
    }

    fn respond(&mut self, request: &Value) -> Result<Value, String> {
        let word = |name: &str| request.get(name).and_then(Value::as_str);
        if word("do") == Some("load") {
            return Ok(self.load(request));
        }
        let elaboration = self.elaboration.as_ref().ok_or("no circuit is loaded")?;
        let circuit = &elaboration.circuit;
        if let Some(what @ ("hover" | "complete")) = word("do") {
            return Ok(edit(elaboration, request, what == "hover"));
        }
        let (state, asked) = state(elaboration, request)?;
        match word("do") {
            Some("state") => answers::state(circuit, &solve(circuit, &state), &asked),
            Some("shown") => answers::shown(circuit, &solve(circuit, &state), &asked),
            Some("draw") => Ok(json!({ "svg": match word("view") {
                Some("plain") => answers::drawing(circuit, View::Plain),
                Some("colours") => answers::drawing(circuit, View::Insulation),
                _ => {
                    let standing = self.standing.get_or_insert_with(|| Standing::new(circuit));
                    standing.svg(circuit, &solve(circuit, &state))
                }
            } })),
            Some("table") => Ok(json!({ "html": answers::table(circuit, &state)? })),
            Some("pinout") => Ok(json!({ "html": answers::pinouts(circuit, &state)? })),
            Some("point") => {
                let point = point(circuit, word("point").unwrap_or_default())?;
                let solution = solve(circuit, &state);
                let cautions = keyon_present::cautions::at_point(circuit, &solution, point);
                Ok(json!({ "text": answers::way(circuit, &solution, point, &asked), "cautions": cautions }))
            }
            Some("meter") => {
                let red = point(circuit, word("red").unwrap_or_default())?;
                let black = point(circuit, word("black").unwrap_or("ground"))?;
                let instrument = answers::instrument(&state, word("instrument") == Some("lamp"));
                let shown = across(circuit, &state, red, black, instrument.ohms());
                let solution = solve(circuit, &state);
                let cautions = answers::cautions(circuit, &solution, red);
                let mut answer = answers::reading(circuit, &solution, [red, black], shown, instrument);
                answer.insert("cautions".into(), json!(cautions));
                Ok(Value::Object(answer))
            }
            Some(other) => Err(format!("nothing is known to do as `{other}`")),
            None => Err("the request says nothing to do".to_owned()),
        }
    }

    /// Reads a circuit and says what can be set and looked at in it.
    fn load(&mut self, request: &Value) -> Value {
        let elaboration = read(request);
        let findings = findings(&elaboration);
        let mut loaded = describe(&elaboration);
        loaded.insert("findings".into(), json!(findings));
        self.elaboration = Some(elaboration);
        self.standing = None;
        Value::Object(loaded)
    }
}

/// The circuit of a request to load it.
fn read(request: &Value) -> Elaboration {
    let text = request.get("text").and_then(Value::as_str).unwrap_or_default();
    let name = request.get("name").and_then(Value::as_str).unwrap_or("circuit.keyon");
    let texts = request.get("libraries").and_then(Value::as_object);
    let texts: BTreeMap<String, String> = texts
        .into_iter()
        .flatten()
        .filter_map(|(path, text)| Some((path.clone(), text.as_str()?.to_owned())))
        .collect();
    let source = Source { key: name.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) };
    elaborate(&Texts::new(texts), &source)
}

/// The findings of the circuit's own file, with their lines and columns, from 1.
fn findings(elaboration: &Elaboration) -> Vec<Value> {
    let run = keyon_check::Run {
        settings: &[] as &[keyon_check::Settings],
        expectations: false,
        memo: None,
        done: None,
        threads: 1,
        cancel: &Never,
    };
    let Ok(report) = run.report(elaboration) else { return Vec::new() };
    let own = report.findings.iter().filter(|f| f.loc.file.index() == 0);
    let text = elaboration.files.first().map_or("", |f| &f.text);
    let lines = keyon_present::place::Lines::new(text);
    let each = own.map(|finding| {
        let span = elaboration.span(finding.loc);
        let (line, column) = lines.place(text, span.start as usize);
        json!({
            "rule": finding.rule, "level": finding.level.words(), "message": finding.message, "help": finding.help,
            "line": line, "column": column, "from": utf16(text, span.start), "to": utf16(text, span.end),
        })
    });
    each.collect()
}

/// What an editor asks at a place: what stands there, or what could.
fn edit(elaboration: &Elaboration, request: &Value, hover: bool) -> Value {
    let text = elaboration.files.first().map_or("", |f| &f.text);
    let offset = byte(text, request.get("at").and_then(Value::as_u64).unwrap_or(0) as usize);
    let view = keyon_ide::View {
        elaboration,
        held: request.get("in").and_then(Value::as_str),
        cancel: &Never,
        memory: None,
    };
    if hover {
        return match keyon_ide::hover(&view, offset) {
            Ok(Some(found)) => json!({
                "text": found.markdown, "from": utf16(text, found.span.start), "to": utf16(text, found.span.end),
            }),
            _ => json!({}),
        };
    }
    let found = keyon_ide::complete(&view, offset);
    let from = found.first().map_or(0, |item| utf16(text, item.replace.start));
    let items = found.iter().take(200).map(|item| {
        use keyon_ide::CompletionKind::{Keyword, Rule, Word};
        // What has to be computed would be computed for the whole list here.
        let about = matches!(item.kind, Keyword | Rule | Word)
            .then(|| keyon_ide::preview(&view, item.kind, &item.name).ok().flatten());
        json!({ "label": item.label, "detail": item.detail, "about": about.flatten(), "insert": item.insert })
    });
    json!({ "from": from, "items": items.collect::<Vec<_>>() })
}

/// The byte of an offset in the units that JavaScript counts.
fn byte(text: &str, utf16: usize) -> u32 {
    let mut units = 0;
    for (at, c) in text.char_indices() {
        if units >= utf16 {
            return at as u32;
        }
        units += c.len_utf16();
    }
    text.len() as u32
}

/// A byte offset in the units that JavaScript counts.
fn utf16(text: &str, byte: u32) -> usize {
    text.get(..byte as usize).map_or(0, |t| t.encode_utf16().count())
}

fn describe(elaboration: &Elaboration) -> Map<String, Value> {
    let circuit = &elaboration.circuit;
    let shown = keyon_present::shown::shown_points(circuit, None);
    let controls = circuit.controls.iter().map(|c| {
        json!({ "name": c.name.as_str(), "qualified": c.qualified.as_str(), "title": c.title,
                "positions": c.positions.iter().map(|p| p.as_str()).collect::<Vec<_>>() })
    });
    let scenarios = circuit
        .scenarios
        .iter()
        .map(|s| json!({ "name": s.name.as_str(), "title": s.title, "do": s.actions }));
    let stimuli = circuit.stimuli.iter().map(|s| {
        // The unit that people see, where the author has chosen one.
        let own = s.unit.filter(|unit| unit.offset() == 0.0);
        json!({ "name": s.name.as_str(), "nominal": s.nominal, "low": s.span.0, "high": s.span.1,
                "unit": keyon_present::figure::stimulus_unit(s.kind),
                "shown": own.map(|unit| json!({ "unit": unit.spelling(), "factor": unit.factor() })) })
    });
    let view = circuit.view.and_then(|v| circuit.scenarios.get(v.index())).map(|s| s.name.as_str());
    let described = json!({
        "name": circuit.name.as_str(),
        "title": circuit.title,
        "library": elaboration.library,
        "controls": controls.collect::<Vec<_>>(),
        "scenarios": scenarios.collect::<Vec<_>>(),
        "view": view,
        "stimuli": stimuli.collect::<Vec<_>>(),
        "fuses": circuit.fuses.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(),
        "devices": circuit.devices.iter().map(|d| json!({ "name": d.name.as_str(), "title": d.title })).collect::<Vec<_>>(),
        "connectors": connectors(circuit),
        "points": shown.iter().map(|p| p.name.as_str()).collect::<Vec<_>>(),
    });
    match described {
        Value::Object(described) => described,
        _ => Map::new(),
    }
}

/// The connectors that can be unplugged: those of modules that have a name, and in-line ones.
pub(crate) fn connectors(circuit: &Circuit) -> Vec<String> {
    let of_modules = circuit.modules.iter().flat_map(|m| {
        let named = m.connectors.iter().filter(|c| !c.name.is_empty());
        named.map(move |c| format!("{}.{}", m.name, c.name))
    });
    of_modules.chain(circuit.inlines.iter().map(|i| i.name.to_string())).collect()
}

/// The state that a request asks for: a scenario, then single settings, set-ups and faults, as the command line has them.
fn state(elaboration: &Elaboration, request: &Value) -> Result<(State, Asked), String> {
    let circuit = &elaboration.circuit;
    let scenario = request.get("in").and_then(Value::as_str).filter(|name| !name.is_empty());
    let scenario = match scenario {
        Some(name) => {
            let found = circuit.scenarios.iter().position(|s| s.name == name).map(ScenarioId::from);
            Some(found.ok_or_else(|| format!("there is no scenario `{name}`"))?)
        }
        None => None,
    };
    let mut state = scenario.map_or_else(|| State::rest(circuit), |s| State::scenario(circuit, s));
    let list = |name: &str| {
        let all = request.get(name).and_then(Value::as_array);
        all.into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect::<Vec<_>>()
    };
    let mut held = Vec::new();
    for text in list("set") {
        let settings = elaboration.parse_setting(&text)?;
        held.extend(settings.controls.iter().map(|c| c.0));
        state = state.with(&settings);
    }
    let mut said = Vec::new();
    for text in list("setups") {
        state.changes.extend(elaboration.parse_setup(&text)?);
        said.push(text);
    }
    for text in list("faults") {
        state.changes.extend(elaboration.parse_fault(&text)?);
        said.push(format!("fault {text}"));
    }
    Ok((state, Asked { scenario, said, held }))
}

fn point(circuit: &Circuit, name: &str) -> Result<PointId, String> {
    let found = circuit.lookup(name).into_iter().find_map(|entity| circuit.point_of(entity));
    let by_name = || circuit.points.iter().position(|p| p.name == name).map(PointId::from);
    found.or_else(by_name).ok_or_else(|| format!("there is no point `{name}`"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "circuit ä\nsupply b 12 V\nground G1\nlamp L \"\u{1f50c}\" 5 W 12 V\nwire 1 b -> L.1\nwire 2 L.2 -> G9\n";

    #[test]
    fn a_circuit_is_loaded_asked_and_edited() {
        let mut session = Session::default();
        let mut ask = |request: Value| -> Value {
            serde_json::from_str(&session.answer(&request.to_string())).unwrap_or_default()
        };
        assert!(ask(json!({ "do": "state" }))["error"].is_string(), "nothing is loaded yet");
        let loaded = ask(json!({ "do": "load", "text": TEXT }));
        let unknown =
            loaded["findings"].as_array().and_then(|f| f.iter().find(|f| f["rule"] == "unknown-name"));
        let at = unknown.and_then(|f| f["from"].as_u64()).unwrap_or(0) as usize;
        let units: Vec<u16> = TEXT.encode_utf16().collect();
        assert_eq!(String::from_utf16_lossy(&units[at..at + 2]), "G9");
        assert_eq!(ask(json!({ "do": "state" }))["points"]["L.1"]["node_state"], "fed");
        let here = units.len() - "L.2 -> G9\n".len();
        assert!(ask(json!({ "do": "hover", "at": here }))["text"].as_str().is_some_and(|t| t.contains('L')));
        assert!(
            ask(json!({ "do": "complete", "at": here }))["items"].as_array().is_some_and(|i| !i.is_empty())
        );
        assert_eq!(ask(json!({ "do": "meter", "red": "L.1", "black": "ground" }))["words"], "12.00 V");
        // An open point is no plain nought to a meter.
        let open = "circuit c\nsupply b 12 V\nground G1\nswitch x\nswitch y\nlamp L 5 W 12 V\nwire 1 b -> x.1\nwire 2 x.2 -> y.1\nwire 3 y.2 -> L.1\nwire 4 L.2 -> G1\n";
        ask(json!({ "do": "load", "text": open }));
        assert_eq!(ask(json!({ "do": "meter", "red": "x.2" }))["words"], "floats, about 0 V");
        assert_eq!(ask(json!({ "do": "meter", "red": "L.1" }))["words"], "0.00 V");
        ask(json!({ "do": "load", "text": TEXT }));
        // In the words of the terminal.
        let shown = ask(json!({ "do": "shown" }));
        assert_eq!(shown["points"]["L.1"], json!({ "volts": "12.00", "state": "fed" }));
        assert_eq!(shown["devices"]["L"], json!({ "amps": "0", "state": "rests" }));
        assert_eq!(shown["lines"]["supply"], "b 12.00 V");
        assert!(ask(json!({ "do": "meter", "red": "nobody" }))["error"].is_string());
        assert!(ask(json!({ "do": "draw" }))["svg"].as_str().is_some_and(|s| s.starts_with("<svg")));
        assert!(ask(json!(7))["error"].is_string());
    }

    #[test]
    fn offsets_are_those_of_javascript() {
        for at in 0..TEXT.encode_utf16().count() {
            let there = byte(TEXT, at);
            assert!(TEXT.is_char_boundary(there as usize));
            assert!(utf16(TEXT, there) >= at);
        }
    }
}
