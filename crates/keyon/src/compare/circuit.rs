//! One circuit in two versions.

use super::side::Side;
use crate::{
    check::{Record, settings_name},
    output::Failure,
    world::{Asking, Content},
};
use keyon_check::{Report, Run, Settings, Verdict, compare::compare};
use keyon_circuit::Elaboration;
use keyon_present::{
    compare::{CircuitChange, ExpectationChange},
    reports::{ExpectationCase, Placed, ids},
};
use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
    sync::Arc,
};
use xxhash_rust::xxh3::xxh3_128;

/// What a circuit's answers come from.
#[derive(Clone, Debug)]
pub(super) struct Fingerprint {
    /// Relative to the side's root.
    pub(super) file: String,
    /// The circuit's name; `None` for a parts library.
    pub(super) circuit: Option<String>,
    /// Of its text, of all it uses, and of the settings.
    pub(super) hash: u128,
}

/// The fingerprint of every file of a side.
pub(super) fn fingerprints(side: &Side) -> Result<BTreeMap<String, Fingerprint>, Failure> {
    let mut prints = BTreeMap::new();
    for (file, key) in &side.list {
        let Some(content) = side.files.content(key) else {
            return Err(Failure::Message(format!("cannot read `{}` of {}", file, side.name)));
        };
        let world = Asking::new(&*side.files);
        let all = keyon_circuit::files_of(&world, content.source());
        let circuit = all.first().and_then(keyon_circuit::circuit_name).map(|name| name.to_string());
        let mut text = format!("{:032x}\n", content.hash);
        for (path, hash) in world.asked() {
            text.push_str(&format!("{} {hash:?}\n", side.shown(&path)));
        }
        for source in &all {
            let settings = settings(side, &content, &source.key);
            text.push_str(&format!("{:032x}\n", settings_name(&settings)));
        }
        let hash = xxh3_128(text.as_bytes());
        prints.insert(file.clone(), Fingerprint { file: file.clone(), circuit, hash });
    }
    Ok(prints)
}

/// The settings of one of the files of a circuit; built-in parts have none of their own.
fn settings(side: &Side, main: &Content, file: &str) -> Arc<Settings> {
    let file = Path::new(file);
    side.finder.settings(if file.is_absolute() { file } else { Path::new(&main.key) })
}

/// A version, checked.
pub(super) struct Version {
    pub(super) file: String,
    elaboration: Option<Elaboration>,
    findings: Vec<Placed>,
    expectations: Vec<ExpectationCase>,
}

impl Version {
    pub(super) fn new(side: &Side, print: &Fingerprint) -> Self {
        let mut version = Self {
            file: print.file.clone(),
            elaboration: None,
            findings: Vec::new(),
            expectations: Vec::new(),
        };
        let content = side.list.get(&print.file).and_then(|key| side.files.content(key));
        let Some(content) = content else { return version };
        let world = Asking::new(&*side.files);
        let elaboration = keyon_circuit::elaborate(&world, content.source());
        let all: Vec<Arc<Settings>> =
            elaboration.files.iter().map(|file| settings(side, &content, &file.key)).collect();
        let run = Run {
            settings: &all,
            expectations: true,
            memo: None,
            done: None,
            threads: 1,
            cancel: &keyon_solve::Never,
        };
        // Nothing asks to stop, so this always comes to an end of its own.
        let report: Report = run.report(&elaboration).unwrap_or_default();
        let record = Record::new(&elaboration, &report);
        version.findings = record.placed(&|key| side.shown(Path::new(key)));
        ids::number(&mut version.findings, &|file| {
            // The file itself may have another name in the other version.
            if file == print.file { String::new() } else { file.to_owned() }
        });
        version.expectations = record.cases();
        version.elaboration = Some(elaboration);
        version
    }
}

/// What changed from one to the other.
pub(super) fn change(old: &Version, new: &Version) -> Option<CircuitChange> {
    let (before, after) = (old.elaboration.as_ref()?, new.elaboration.as_ref()?);
    let known: BTreeSet<&str> = old.findings.iter().map(|f| f.id.as_str()).collect();
    let now: BTreeSet<&str> = new.findings.iter().map(|f| f.id.as_str()).collect();
    let differs = |findings: &[Placed], others: &BTreeSet<&str>| -> Vec<Placed> {
        findings.iter().filter(|f| !others.contains(f.id.as_str())).cloned().collect()
    };
    let difference = compare(&before.circuit, &after.circuit, &keyon_solve::Never).unwrap_or_default();
    Some(CircuitChange {
        file: new.file.clone(),
        moved: None,
        circuit: after.circuit.name.to_string(),
        new_findings: differs(&new.findings, &known),
        gone_findings: differs(&old.findings, &now),
        expectations: expectations(&old.expectations, &new.expectations),
        holding: holding(new),
        difference,
    })
}

/// Rows that hold in the new version, by scenario and what they measure.
fn holding(version: &Version) -> BTreeMap<(String, String), String> {
    let mut rows = BTreeMap::new();
    for case in &version.expectations {
        // What is said of a changed state is not about the scenario itself.
        if matches!(case.verdict, Verdict::Holds(_)) && !case.text.contains(" with ") {
            rows.entry((case.scenario.clone(), case.probe.clone())).or_insert_with(|| case.text.clone());
        }
    }
    rows
}

/// Rows of which the verdict changed, and those that only one version has. Equal rows are taken in order.
fn expectations(old: &[ExpectationCase], new: &[ExpectationCase]) -> Vec<ExpectationChange> {
    let mut known: BTreeMap<(&str, &str), Vec<&ExpectationCase>> = BTreeMap::new();
    for case in old.iter().rev() {
        known.entry((&case.scenario, &case.text)).or_default().push(case);
    }
    let mut out = Vec::new();
    for case in new {
        let before = known.get_mut(&(case.scenario.as_str(), case.text.as_str())).and_then(Vec::pop);
        let same = before.is_some_and(|before| {
            std::mem::discriminant(&before.verdict) == std::mem::discriminant(&case.verdict)
        });
        if !same {
            out.push(ExpectationChange {
                scenario: case.scenario.clone(),
                text: case.text.clone(),
                old: before.map(|before| before.verdict.clone()),
                new: Some(case.verdict.clone()),
            });
        }
    }
    // In the order of the old file.
    let left: BTreeSet<*const ExpectationCase> =
        known.into_values().flatten().map(|case| case as *const ExpectationCase).collect();
    for case in old.iter().filter(|case| left.contains(&(*case as *const ExpectationCase))) {
        out.push(ExpectationChange {
            scenario: case.scenario.clone(),
            text: case.text.clone(),
            old: Some(case.verdict.clone()),
            new: None,
        });
    }
    out
}
