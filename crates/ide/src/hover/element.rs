//! Hover on wires, fuses and the elements of devices: the current in them.

use super::{Page, capital, now};
use crate::{
    View, carries,
    display::{amps, drop, trimmed},
    shown,
};
use keyon_circuit::{
    ids::{ElementId, WireId},
    model::{Circuit, Element, Law, Stretch},
};
use keyon_present::figure;
use keyon_solve::{Amps, Cancelled, Solution, State};

pub(super) fn wire(view: &View<'_>, page: &mut Page, wire: WireId) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let Some(wire) = circuit.wires.get(wire.index()) else { return Ok(()) };
    match wire.stretches.as_slice() {
        [only] => self::page(view, page, only.element)?,
        stretches => {
            let (solution, name) = now(view);
            let lines = stretches.iter().filter_map(|stretch| {
                let element = circuit.elements.get(stretch.element.index())?;
                Some(format!(
                    "{}: {}; {name} **{}**",
                    element.name,
                    route(circuit, element, Some(stretch)),
                    carried(circuit, &solution, stretch.element)
                ))
            });
            page.list(lines);
        }
    }
    Ok(())
}

pub(super) fn page(view: &View<'_>, page: &mut Page, id: ElementId) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let Some(element) = circuit.elements.get(id.index()) else { return Ok(()) };
    let stretch = circuit.wires.iter().flat_map(|wire| &wire.stretches).find(|stretch| stretch.element == id);
    page.say(&route(circuit, element, stretch));
    let (solution, name) = now(view);
    page.say(&format!("{}: **{}**", capital(&name), carried(circuit, &solution, id)));
    let base = shown::base(view);
    let survey = view.survey(&base);
    let load = element.kind.is_load();
    // What hangs on a wire may be much: then the scenarios have to do.
    let cases = if load {
        survey.cases_of(&[], &[id], carries::limit(circuit), view.cancel)?
    } else {
        survey.cases_of_element(id, carries::limit(circuit), view.cancel)?
    };
    let words = |solution: &Solution| (blown(solution, id), state(solution, id));
    let figure = |solution: &Solution| solution.amps.get(id.index()).and_then(|amps| amps.known());
    let rows = carries::rows(circuit, &cases, words, figure, (0.03, 1e-3));
    if !load && (cases.cut.is_some() || rows.len() > MANY) {
        scenarios(view, page, id)?;
    } else if rows.len() > 1 || cases.cut.is_some() {
        page.say(&carries::markdown(circuit, &cases, &rows, &["carries"], |row| {
            let figures = row.figures.filter(|_| row.key.0.is_none()).map(|f| carries::range(f, amps));
            let words = row.key.0.clone().or_else(|| row.key.1.map(str::to_owned));
            vec![words.into_iter().chain(figures).collect::<Vec<_>>().join(", ")]
        }));
    }
    if rows.iter().any(|row| row.key.0.is_some()) {
        page.say("\u{26a0} It blows in some state. Replace it with the same rating only, and find the short first.");
    }
    Ok(())
}

/// Rows above which a table of currents says less than the scenarios do.
const MANY: usize = 6;

/// What it carries in each scenario.
fn scenarios(view: &View<'_>, page: &mut Page, id: ElementId) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let mut text = String::from("| in | carries |\n|---|---|\n");
    for (at, scenario) in circuit.scenarios.iter().enumerate() {
        if view.cancel.cancelled() {
            return Err(Cancelled);
        }
        let solution = keyon_solve::solve(circuit, &State::scenario(circuit, at.into()));
        text.push_str(&format!("| {} | {} |\n", scenario.name, carried(circuit, &solution, id)));
    }
    if !circuit.scenarios.is_empty() {
        page.say(&text);
    }
    page.say("It depends on many controls: `keyon table` shows them all.");
    Ok(())
}

/// How a fuse that has opened is said.
fn blown(solution: &Solution, id: ElementId) -> Option<String> {
    let (_, current) = solution.blown.iter().find(|(fuse, _)| *fuse == id)?;
    Some(current.map_or_else(|| "blown, by a short".into(), |current| format!("blown, at {}", amps(current))))
}

/// What a load does.
fn state(solution: &Solution, id: ElementId) -> Option<&'static str> {
    let mut states = solution.devices.iter().flat_map(|device| &device.elements);
    states.find(|(element, _)| *element == id).map(|(_, state)| state.words())
}

/// From where to where, and of what.
fn route(circuit: &Circuit, element: &Element, stretch: Option<&Stretch>) -> String {
    let point = |id: keyon_circuit::ids::PointId| {
        circuit.points.get(id.index()).map_or("", |point| point.name.as_str()).to_owned()
    };
    let mut parts = vec![format!("{} \u{2192} {}", point(element.from), point(element.to))];
    if let Some(stretch) = stretch {
        parts.extend(stretch.gauge.as_ref().map(ToString::to_string));
        parts.extend(stretch.colour.as_ref().map(ToString::to_string));
        parts.extend(stretch.length.map(|length| format!("{} m", trimmed(length.nominal, 3))));
    }
    match &element.law {
        Law::Resistance(ohms) => parts.push(figure::ohms(ohms.nominal)),
        Law::Rated { watts, volts, .. } => {
            parts.push(format!("{} W at {} V", trimmed(watts.nominal, 2), trimmed(volts.nominal, 2)));
        }
        Law::Coil { ohms, .. } | Law::Winding { ohms, .. } | Law::Track { ohms, .. } => {
            parts.push(figure::ohms(ohms.nominal));
        }
        Law::Diode { drop } => parts.push(format!("drops {} V", trimmed(drop.nominal, 3))),
        Law::Joint if stretch.is_some() => {
            parts.push("no gauge and length: counted without resistance".into());
        }
        _ => {}
    }
    parts.join(", ")
}

/// The current, the drop, and for a load what it does.
fn carried(circuit: &Circuit, solution: &Solution, id: ElementId) -> String {
    if let Some(blown) = blown(solution, id) {
        return blown;
    }
    let mut parts: Vec<String> = state(solution, id).map(str::to_owned).into_iter().collect();
    match solution.amps.get(id.index()) {
        Some(Amps::Known(current)) => {
            parts.push(amps(*current));
            let element = circuit.elements.get(id.index());
            let volts =
                |point: keyon_circuit::ids::PointId| solution.unloaded.get(point.index()).copied().flatten();
            let lost = element.and_then(|element| Some(volts(element.from)? - volts(element.to)?));
            if let Some(lost) = lost.filter(|lost| lost.abs() >= 0.5e-3 && current.abs() > 1e-6) {
                parts.push(format!("{} across it", drop(lost.abs())));
            }
        }
        Some(Amps::Unlimited) => parts.push("unlimited current: a short".into()),
        None => {}
    }
    parts.join(", ")
}
