//! The whole model of a circuit as JSON, for other programs: what was written, with every name resolved and every part
//! unfolded; nothing is computed.
//!
//! Things have ids, `KIND:NAME`. They stay when the text is formatted and when its statements change places; only the
//! sides of in-line connectors and elements without a name within one body go by order, as they do in the language.

mod ids;
mod law;
mod modules;
mod things;

use ids::Ids;
use keyon_circuit::{
    Elaboration,
    model::{Circuit, Loc, StimulusKind},
};
use serde_json::{Map, Value, json};

/// Which shape it has; see `schemas/export.schema.json`.
const VERSION: u32 = 1;

/// Makes the values of one circuit.
pub(crate) struct Exporter<'a> {
    pub(crate) elaboration: &'a Elaboration,
    pub(crate) circuit: &'a Circuit,
    pub(crate) ids: Ids,
    lines: Vec<crate::place::Lines>,
}

/// The model; `shown` says how a file is called.
pub fn export_json(elaboration: &Elaboration, shown: &dyn Fn(&str) -> String) -> Value {
    let circuit = &elaboration.circuit;
    let lines = elaboration.files.iter().map(|file| crate::place::Lines::new(&file.text)).collect();
    let exporter = Exporter { elaboration, circuit, ids: Ids::new(circuit), lines };
    let files: Vec<String> = elaboration.files.iter().map(|file| shown(&file.key)).collect();
    let mut out = Map::new();
    out.insert("version".into(), json!(VERSION));
    out.insert("circuit".into(), json!(circuit.name.as_str()));
    out.insert("title".into(), json!(circuit.title));
    out.insert("library".into(), json!(elaboration.library));
    out.insert("complete".into(), json!(!circuit.lost_end && elaboration.problems.is_empty()));
    out.insert("files".into(), json!(files));
    out.insert("about".into(), exporter.about());
    out.insert("parts".into(), exporter.parts());
    out.insert("supplies".into(), exporter.supplies());
    out.insert("grounds".into(), exporter.grounds());
    out.insert("splices".into(), exporter.splices());
    out.insert("nets".into(), exporter.nets());
    out.insert("points".into(), exporter.points());
    out.insert("elements".into(), exporter.elements());
    out.insert("wires".into(), exporter.wires());
    out.insert("inlines".into(), exporter.inlines());
    out.insert("devices".into(), exporter.devices());
    out.insert("modules".into(), exporter.modules());
    out.insert("fuses".into(), exporter.fuses());
    out.insert("branches".into(), exporter.branches());
    out.insert("controls".into(), exporter.controls());
    out.insert("stimuli".into(), exporter.stimuli());
    out.insert("scenarios".into(), exporter.scenarios());
    out.insert("expectations".into(), exporter.expectations());
    out.insert("exercises".into(), exporter.exercises());
    Value::Object(out)
}

impl Exporter<'_> {
    /// A place: an index into `files`, lines and columns from 1, the end exclusive, and bytes.
    pub(crate) fn at(&self, loc: Loc) -> Value {
        let (Some(file), Some(lines)) =
            (self.elaboration.files.get(loc.file.index()), self.lines.get(loc.file.index()))
        else {
            return Value::Null;
        };
        let span = self.elaboration.span(loc).range();
        let (line, column) = lines.place(&file.text, span.start);
        let (end_line, end_column) = lines.place(&file.text, span.end);
        json!({
            "file": loc.file.index(),
            "line": line,
            "column": column,
            "end_line": end_line,
            "end_column": end_column,
            "start": span.start,
            "end": span.end,
        })
    }

    fn about(&self) -> Value {
        let about = self.circuit.about.iter().map(|(key, values)| (key.to_string(), json!(values)));
        Value::Object(about.collect())
    }

    /// The parts that are used, and where they are declared.
    fn parts(&self) -> Value {
        let used = self.elaboration.parts.iter().filter(|part| part.used);
        let parts = used.map(|part| {
            json!({
                "id": format!("part:{}", part.name),
                "name": part.name.as_str(),
                "title": part.title,
                "module": part.module,
                "built_in": part.built_in,
                "at": self.at(part.loc),
            })
        });
        parts.collect()
    }

    fn controls(&self) -> Value {
        let controls = self.circuit.controls.iter().map(|control| {
            json!({
                "id": format!("control:{}", control.qualified),
                "name": control.name.as_str(),
                "qualified": control.qualified.as_str(),
                "title": control.title,
                "moved_by": things::mover(control.kind),
                "positions": control.positions.iter().map(|p| p.as_str()).collect::<Vec<_>>(),
                "pwm": control.pwm,
                "at": self.at(control.loc),
            })
        });
        controls.collect()
    }

    fn stimuli(&self) -> Value {
        let stimuli = self.circuit.stimuli.iter().map(|stimulus| {
            let kind = match stimulus.kind {
                StimulusKind::Temperature => "temperature",
                StimulusKind::Travel => "travel",
                StimulusKind::Over(_) => "quantity",
                StimulusKind::Resistance => "resistance",
            };
            json!({
                "id": format!("stimulus:{}", stimulus.name),
                "name": stimulus.name.as_str(),
                "kind": kind,
                "unit": crate::figure::stimulus_unit(stimulus.kind),
                "nominal": stimulus.nominal,
                "low": stimulus.span.0,
                "high": stimulus.span.1,
                "element": self.element_id(stimulus.element),
                "at": self.at(stimulus.loc),
            })
        });
        stimuli.collect()
    }

    fn scenarios(&self) -> Value {
        let scenarios = self.circuit.scenarios.iter().map(|scenario| {
            let mut value = self.settings(&scenario.settings);
            value.insert("id".into(), json!(format!("scenario:{}", scenario.name)));
            value.insert("name".into(), json!(scenario.name.as_str()));
            value.insert("title".into(), json!(scenario.title));
            value.insert("actions".into(), json!(scenario.actions));
            value.insert("at".into(), self.at(scenario.loc));
            Value::Object(value)
        });
        scenarios.collect()
    }

    fn expectations(&self) -> Value {
        let mut rows = Vec::new();
        for expect in &self.circuit.expects {
            let scenario = expect.scenario.and_then(|s| self.circuit.scenarios.get(s.index()));
            for row in &expect.rows {
                rows.push(json!({
                    "scenario": scenario.map(|s| s.name.as_str()),
                    "probe": keyon_check::probe_name(self.circuit, row.probe),
                    "text": self.words(row.loc),
                    "changes": crate::about::change_words(self.circuit, &expect.changes),
                    "at": self.at(row.loc),
                }));
            }
        }
        Value::Array(rows)
    }

    fn exercises(&self) -> Value {
        let exercises = self.circuit.exercises.iter().map(|exercise| {
            let scenario = exercise.scenario.and_then(|s| self.circuit.scenarios.get(s.index()));
            json!({
                "id": format!("exercise:{}", exercise.name),
                "name": exercise.name.as_str(),
                "title": exercise.title,
                "scenario": scenario.map(|s| s.name.as_str()),
                "faults": exercise.faults.iter().map(|(_, words, _)| words.as_str()).collect::<Vec<_>>(),
                "probes": exercise.probes.iter().map(|p| p.as_str()).collect::<Vec<_>>(),
                "symptoms": exercise.symptoms.iter().map(|row| self.words(row.loc)).collect::<Vec<_>>(),
                "at": self.at(exercise.loc),
            })
        });
        exercises.collect()
    }

    /// A text as written, blanks joined.
    fn words(&self, loc: Loc) -> String {
        self.elaboration.text(loc).split_whitespace().collect::<Vec<_>>().join(" ")
    }
}
