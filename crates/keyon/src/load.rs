//! A circuit and the state that the command line asks for.

use crate::{
    args::Situation,
    output::{self, Failure},
    world::Disk,
};
use keyon_circuit::{Elaboration, Entity, ids::*};
use keyon_present::about::Asked;
use keyon_solve::State;
use std::collections::BTreeSet;

/// What `state`, `table` and `trace` work on.
pub(crate) struct Loaded {
    pub(crate) elaboration: Elaboration,
    pub(crate) state: State,
    pub(crate) asked: Asked,
    /// What is wrong in the text makes the answer doubtful; that was said already.
    pub(crate) doubtful: bool,
}

/// Reads the file, elaborates it, and sets the state.
pub(crate) fn load(situation: &Situation) -> Result<Loaded, Failure> {
    let world = Disk::default();
    let opened = world.open(&situation.file, situation.stdin_name.as_deref())?;
    let name = &opened.name;
    let elaboration = keyon_circuit::elaborate(&world, opened.source()?);
    if elaboration.library {
        return Err(Failure::Message(format!(
            "`{}` is a parts library: it has no circuit to compute; name a file that uses it",
            name.display()
        )));
    }
    let doubtful = complain_of_errors(&world, &elaboration, &name.display().to_string());
    let circuit = &elaboration.circuit;
    let scenario =
        situation.scenario.as_deref().map(|name| scenario_named(&elaboration, name)).transpose()?;
    let mut state = scenario.map_or_else(|| State::rest(circuit), |s| State::scenario(circuit, s));
    let mut held = BTreeSet::new();
    if let Some(scenario) = scenario.and_then(|s| circuit.scenarios.get(s.index())) {
        held.extend(scenario.settings.controls.iter().map(|c| c.0));
    }
    for text in &situation.set {
        let settings =
            elaboration.parse_setting(text).map_err(|message| format!("--set '{text}': {message}"))?;
        held.extend(settings.controls.iter().map(|c| c.0));
        state = state.with(&settings);
    }
    let setups = [
        ("unplug", &situation.unplug),
        ("pull", &situation.pull),
        ("jumper", &situation.jumper),
        ("load", &situation.load),
    ];
    let mut said = Vec::new();
    for (word, texts) in setups {
        for text in texts {
            said.push(format!("{word} {text}"));
            let changes = elaboration.parse_setup(&format!("{word} {text}"));
            state.changes.extend(changes.map_err(|message| format!("--{word} '{text}': {message}"))?);
        }
    }
    for text in &situation.fault {
        said.push(format!("fault {text}"));
        let changes = elaboration.parse_fault(text);
        state.changes.extend(changes.map_err(|message| format!("--fault '{text}': {message}"))?);
    }
    state.options.keep_fuses = situation.keep_fuses;
    let asked = Asked { scenario, said, held: held.into_iter().collect() };
    Ok(Loaded { elaboration, state, asked, doubtful })
}

/// Reads and elaborates a file; every control rests.
pub(crate) fn plain(file: &std::path::Path, stdin_name: Option<&std::path::Path>) -> Result<Loaded, Failure> {
    load(&Situation {
        file: file.to_owned(),
        scenario: None,
        set: Vec::new(),
        unplug: Vec::new(),
        pull: Vec::new(),
        jumper: Vec::new(),
        load: Vec::new(),
        fault: Vec::new(),
        keep_fuses: false,
        stdin_name: stdin_name.map(ToOwned::to_owned),
    })
}

/// Says on standard error what could not be read or resolved: the answer is computed without it.
pub(crate) fn complain_of_errors(world: &Disk, elaboration: &Elaboration, name: &str) -> bool {
    let syntax: usize = elaboration.files.iter().map(|file| file.parse.errors.len()).sum();
    let is_error = |rule: &str| {
        keyon_check::rules::find(rule).is_none_or(|rule| rule.level() == keyon_check::Level::Error)
    };
    let problems: Vec<_> = elaboration.problems.iter().filter(|p| !p.mild && is_error(p.rule)).collect();
    let count = syntax + problems.len();
    if count == 0 {
        return false;
    }
    let mut places = crate::check::Places::new(elaboration);
    if let Some(problem) = problems.first().filter(|_| syntax == 0) {
        let (file, line, column, ..) = places.of(problem.loc);
        let file = elaboration.files.get(file as usize).map_or_else(String::new, |f| world.shown(&f.key));
        output::complain(&format!("{file}:{line}:{column}: {}", problem.message));
    }
    let errors = if count == 1 { "1 error".to_owned() } else { format!("{count} errors") };
    output::complain(&format!(
        "{errors} in `{name}`: what follows is computed from what could be read; see `keyon check {name}`"
    ));
    true
}

pub(crate) fn scenario_named(elaboration: &Elaboration, name: &str) -> Result<ScenarioId, Failure> {
    let circuit = &elaboration.circuit;
    let found = circuit.lookup(name).into_iter().find_map(|entity| match entity {
        Entity::Scenario(id) => Some(id),
        _ => None,
    });
    if let Some(found) = found {
        return Ok(found);
    }
    let names: Vec<&str> = circuit.scenarios.iter().map(|s| s.name.as_str()).collect();
    let nearest = keyon_syntax::nearest(name, names.iter().copied());
    Err(Failure::Message(match (nearest, names.is_empty()) {
        (_, true) => format!("no scenario `{name}`: the file has none; use --set instead"),
        (Some(nearest), _) => format!("no scenario `{name}`: did you mean `{nearest}`?"),
        (None, _) => format!("no scenario `{name}`: the file has {}", names.join(", ")),
    }))
}
