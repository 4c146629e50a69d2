//! What the shown state gives, at the end of the lines that it is about.

use crate::{
    View,
    display::{amps, volts},
    reason::{floats, reason},
    shown, table,
};
use keyon_circuit::{
    ids::PointId,
    model::{Circuit, Loc, Stretch},
};
use keyon_solve::{Amps, Cancelled, Solution};
use keyon_syntax::Span;
use smol_str::SmolStr;

/// Pins of a device that are spoken of.
const MOST: usize = 8;

/// A remark at a place of the text.
#[derive(Clone, Debug, PartialEq)]
pub struct Hint {
    /// Behind this byte.
    pub offset: u32,
    #[allow(missing_docs)]
    pub label: String,
    /// In which state it holds.
    pub tooltip: String,
    /// The points that it speaks of, by their names: [`hint_reason`] says why they carry what they carry.
    pub points: Vec<SmolStr>,
}

/// What is said of hints: where, of which points, what.
type Add<'a> = dyn FnMut(Loc, &[PointId], String) + 'a;

/// The hints within a range of the view's file, in source order.
///
/// # Errors
/// When the view's `cancel` asks for it.
pub fn hints(view: &View<'_>, range: Span) -> Result<Vec<Hint>, Cancelled> {
    let circuit = &view.elaboration.circuit;
    let (state, name) = shown::state(view);
    if circuit.elements.is_empty() {
        return Ok(Vec::new());
    }
    if view.cancel.cancelled() {
        return Err(Cancelled);
    }
    let solution = view.solve(&state);
    let mut hints = Vec::new();
    let name_of = |p: &PointId| circuit.points.get(p.index()).map(|p| p.name.clone());
    let mut add = |loc: Loc, points: &[PointId], label: String| {
        let span = view.elaboration.span(loc);
        let within = span.start <= range.end && range.start <= span.end;
        if loc.file.index() == 0 && within && !label.is_empty() {
            let offset = line_end(view.text(), span.end);
            let points = points.iter().filter_map(name_of).collect();
            hints.push(Hint { offset, label, tooltip: format!("Keyon, {name}"), points });
        }
    };
    for wire in &circuit.wires {
        let labels = wire.stretches.iter().filter_map(|stretch| {
            let element = circuit.elements.get(stretch.element.index())?;
            let reads = reads(&solution, element.from)?;
            Some(match current(&solution, stretch.element) {
                Some(current) => format!("{reads}, {current}"),
                None => reads,
            })
        });
        let element = |s: &Stretch| circuit.elements.get(s.element.index());
        let ends = wire.stretches.iter().filter_map(element).flat_map(|e| [e.from, e.to]);
        let (first, last) = (ends.clone().next(), ends.last());
        let points: Vec<PointId> = first.into_iter().chain(last).collect();
        add(wire.loc, &points, labels.collect::<Vec<_>>().join(" | "));
    }
    for fuse in &circuit.fuses {
        let blown = solution.blown.iter().any(|(id, _)| *id == fuse.element);
        let ends = circuit.elements.get(fuse.element.index()).map(|e| [e.from, e.to]);
        add(
            fuse.loc,
            ends.as_ref().map_or(&[], |ends| ends.as_slice()),
            if blown { "blown".into() } else { current(&solution, fuse.element).unwrap_or_default() },
        );
    }
    for (device, state) in circuit.devices.iter().zip(&solution.devices) {
        let position = device.control.and_then(|id| {
            let at = solution.state.positions.get(id.index())?;
            circuit.controls.get(id.index())?.positions.get(usize::from(*at))
        });
        let mut label = position.map(ToString::to_string).unwrap_or_default();
        if table::has_loads(circuit, device) {
            let words = state.grade.as_ref().map_or(state.state.words(), |grade| grade.as_str());
            label = if label.is_empty() { words.to_owned() } else { format!("{label}, {words}") };
            if state.duty < 1.0 {
                label.push_str(&format!(" at {:.0} %", state.duty * 100.0));
            }
        }
        let pins: Vec<PointId> = device.pins.iter().map(|pin| pin.outside).take(MOST).collect();
        add(device.loc, &pins, label);
    }
    cavities(circuit, &solution, &mut add);
    hints.sort_by(|a, b| (a.offset, &a.label).cmp(&(b.offset, &b.label)));
    // Two devices of one line cannot be; a part's cavity rows may serve several modules, which would contradict.
    hints.dedup_by_key(|hint| hint.offset);
    Ok(hints)
}

/// Why these points carry what they carry in the shown state: a line each.
///
/// # Errors
/// When the view's `cancel` asks for it.
pub fn hint_reason(view: &View<'_>, points: &[String]) -> Result<String, Cancelled> {
    let circuit = &view.elaboration.circuit;
    let (state, name) = shown::state(view);
    if view.cancel.cancelled() {
        return Err(Cancelled);
    }
    let solution = view.solve(&state);
    let line = |name: &String| {
        let point = circuit.lookup(name).into_iter().find_map(|entity| circuit.point_of(entity))?;
        Some(format!("{name}: {}", reason(circuit, &solution, point)))
    };
    let mut lines = vec![format!("Keyon, {name}")];
    lines.extend(points.iter().filter_map(line));
    Ok(lines.join("\n"))
}

fn cavities(circuit: &Circuit, solution: &Solution, add: &mut Add<'_>) {
    for (id, module) in circuit.modules.iter().enumerate() {
        if module.part.is_some() {
            continue; // its rows are the part's, and serve others too
        }
        for (c, connector) in module.connectors.iter().enumerate() {
            for (k, cavity) in connector.cavities.iter().enumerate() {
                let input = matches!(cavity.role, keyon_circuit::model::Role::Senses { .. })
                    .then(|| solution.input_volts(circuit, id.into(), c, k))
                    .flatten();
                let label = match input {
                    Some(input) => format!("sees {}", volts(input)),
                    None if cavity.landings.is_empty() => continue,
                    None => reads(solution, cavity.outside).unwrap_or_default(),
                };
                add(cavity.loc, &[cavity.outside], label);
            }
        }
    }
}

fn reads(solution: &Solution, point: keyon_circuit::ids::PointId) -> Option<String> {
    if floats(solution, point) {
        return Some("floats".into());
    }
    Some(match solution.volts.get(point.index())? {
        Some(reading) => volts(*reading),
        None => "clash".into(),
    })
}

fn current(solution: &Solution, element: keyon_circuit::ids::ElementId) -> Option<String> {
    match solution.amps.get(element.index())? {
        Amps::Known(current) => (current.abs() >= 0.5e-6).then(|| amps(*current)),
        Amps::Unlimited => Some("unlimited".into()),
    }
}

/// The end of the statement's text on its line: before a comment and the blanks in front of it.
fn line_end(text: &str, from: u32) -> u32 {
    let rest = text.get(from as usize..).unwrap_or_default();
    let line = rest.split(['\n', '\r']).next().unwrap_or_default();
    let mut quoted = false;
    let mut end = line.len();
    for (at, c) in line.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '#' if !quoted => {
                end = at;
                break;
            }
            // A body stays behind its hint.
            '{' if !quoted => {
                end = at;
                break;
            }
            _ => {}
        }
    }
    from + line.get(..end).unwrap_or(line).trim_end().len() as u32
}
