//! `keyon draw`.

use crate::{
    args::{DrawArgs, DrawView},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    pdf, png, subjects,
};
use keyon_present::{Drawn, View};
use keyon_solve::{Solution, State};

pub(crate) fn run(args: &DrawArgs) -> Result<Outcome, Failure> {
    let format = ending(args)?;
    if !(0.1..=8.0).contains(&args.scale) {
        return Err(Failure::Message("--scale: from 0.1 to 8".to_owned()));
    }
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    if let Some(name) = &args.face {
        let subject = subjects::connected(&loaded.elaboration, name)?;
        let solution = asks_for_a_state(args).then(|| keyon_solve::solve(circuit, &loaded.state));
        let words = said(args, &loaded);
        let state = solution.as_ref().map(|solution| (solution, words.as_str()));
        let svg = keyon_present::face_svg(circuit, subject, state).ok_or_else(|| {
            format!("`{name}` has no face: say `face ROWS x COLUMNS` at its connector, like `face 2 x 6`")
        })?;
        return write(args, &svg, format, loaded.doubtful);
    }
    let solution = keyon_solve::solve(circuit, &loaded.state);
    let other =
        args.against.as_deref().map(|name| load::scenario_named(&loaded.elaboration, name)).transpose()?;
    let after = other.map(|scenario| keyon_solve::solve(circuit, &State::scenario(circuit, scenario)));
    let view = match (&after, args.view, asks_for_a_state(args)) {
        (Some(after), None | Some(DrawView::State), _) => View::Difference(&solution, after),
        (Some(_), Some(_), _) => {
            return Err(Failure::Message("--against draws states: leave out --view".to_owned()));
        }
        (None, Some(DrawView::Plain), _) | (None, None, false) => View::Plain,
        (None, Some(DrawView::Colours), _) => View::Insulation,
        (None, Some(DrawView::State), _) | (None, None, true) => View::State(&solution),
    };
    let only = if args.of.is_empty() { Vec::new() } else { subjects::things(&loaded.elaboration, &args.of)? };
    let boxes = args.boxes.iter().map(|name| subjects::point(&loaded.elaboration, name));
    let boxes = boxes.collect::<Result<Vec<_>, _>>()?;
    let mut subject = match view {
        View::State(_) | View::Difference(..) if args.of.is_empty() => said(args, &loaded),
        View::State(_) | View::Difference(..) => format!("{}: {}", args.of.join(", "), said(args, &loaded)),
        _ => args.of.join(", "),
    };
    if let Some(scenario) = other.and_then(|s| circuit.scenarios.get(s.index())) {
        subject = format!("{subject} → {}", scenario.title.as_deref().unwrap_or(&scenario.name));
    }
    let drawn = Drawn { only, letters: args.letters, boxes, subject, ..Drawn::default() };
    let svg = if args.beside.is_empty() {
        keyon_present::drawing_svg(circuit, view, &drawn)
    } else {
        beside(args, &loaded, &drawn, &solution)?
    };
    write(args, &svg, format, loaded.doubtful)
}

/// The state that is asked for and the scenarios beside it.
fn beside(args: &DrawArgs, loaded: &Loaded, drawn: &Drawn, first: &Solution) -> Result<String, Failure> {
    let circuit = &loaded.elaboration.circuit;
    let named = |name: &String| {
        let scenario = load::scenario_named(&loaded.elaboration, name)?;
        let title = circuit.scenarios.get(scenario.index()).and_then(|s| s.title.clone());
        let solution = keyon_solve::solve(circuit, &State::scenario(circuit, scenario));
        Ok((title.unwrap_or_else(|| name.clone()), solution))
    };
    let others = args.beside.iter().map(named).collect::<Result<Vec<_>, Failure>>()?;
    let mut states = vec![(said(args, loaded), first)];
    states.extend(others.iter().map(|(title, solution)| (title.clone(), solution)));
    if !args.of.is_empty() {
        states.iter_mut().for_each(|(words, _)| *words = format!("{}: {words}", args.of.join(", ")));
    }
    Ok(keyon_present::beside_svg(circuit, &states, drawn))
}

fn write(args: &DrawArgs, svg: &str, format: Format, doubtful: bool) -> Result<Outcome, Failure> {
    let to = args.output.as_deref();
    match (format, to) {
        (Format::Png, _) => output::deliver(to, &png::png(svg, args.scale)?)?,
        (Format::Pdf, Some(path)) => pdf::print(&pdf::page_of(svg), path)?,
        _ => output::deliver(to, svg.as_bytes())?,
    }
    Ok(if doubtful { Outcome::Findings } else { Outcome::Sound })
}

/// What a drawing is written as.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Format {
    Svg,
    Png,
    Pdf,
}

fn ending(args: &DrawArgs) -> Result<Format, Failure> {
    let Some(path) = &args.output else { return Ok(Format::Svg) };
    match path.extension().and_then(|e| e.to_str()) {
        Some("svg") => Ok(Format::Svg),
        Some("png") => Ok(Format::Png),
        Some("pdf") => Ok(Format::Pdf),
        _ => Err(Failure::Message(format!(
            "-o {}: a drawing is written as `.svg`, `.png` or `.pdf`",
            path.display()
        ))),
    }
}

fn asks_for_a_state(args: &DrawArgs) -> bool {
    let s = &args.situation;
    s.scenario.is_some()
        || [&s.set, &s.unplug, &s.pull, &s.jumper, &s.load, &s.fault]
            .into_iter()
            .any(|those| !those.is_empty())
}

/// The state in a few words, as the drawing's title says it: the scenario, or what is set; then what was done.
fn said(args: &DrawArgs, loaded: &Loaded) -> String {
    let circuit = &loaded.elaboration.circuit;
    let scenario = loaded.asked.scenario.and_then(|s| circuit.scenarios.get(s.index()));
    let mut parts: Vec<String> = match scenario {
        Some(scenario) => {
            let name = scenario.title.as_deref().unwrap_or(&scenario.name).to_owned();
            std::iter::once(name).chain(args.situation.set.iter().map(|set| set.replace('=', " "))).collect()
        }
        None => {
            let lines = keyon_present::about::state_lines(circuit, &loaded.state, &loaded.asked);
            lines.into_iter().take(1).map(|(_, text)| text).collect()
        }
    };
    parts.extend(loaded.asked.said.iter().cloned());
    let line = parts.join(", ");
    if line.chars().count() > 90 { line.chars().take(89).chain(['…']).collect() } else { line }
}
