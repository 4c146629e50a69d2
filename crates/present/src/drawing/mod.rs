//! The circuit as a drawing: plain to mark up, in the wires' colours, or in the states of its points.

mod around;
mod beside;
mod colours;
mod entries;
mod face;
mod legend;
mod standing;
mod states;
mod visible;

use crate::figure;
use keyon_circuit::{
    ids::{PointId, WireId},
    model::*,
};
use keyon_draw::{Layout, Link, Look, Pen, Said, Sheet, Tag, Thing, lay_out};
use keyon_solve::{NodeState, Solution};
use std::collections::BTreeMap;

/// How a drawing is looked at.
#[derive(Clone, Copy, Debug)]
pub enum View<'a> {
    /// Black on white.
    Plain,
    /// In the colours of the wires' insulation.
    Insulation,
    /// In what each point carries, with volts.
    State(&'a Solution),
    /// What differs from the first to the second is drawn heavy, with both volts.
    Difference(&'a Solution, &'a Solution),
}

/// What is asked of a drawing.
#[derive(Clone, Debug, Default)]
pub struct Drawn {
    /// Only these things and what joins them; empty: everything.
    pub only: Vec<Thing>,
    /// A letter for each wire, to mark up.
    pub letters: bool,
    /// Points with a numbered box to write a reading in.
    pub boxes: Vec<PointId>,
    /// Wires can be tapped, in a page: each says the name of its point.
    pub tappable: bool,
    /// No title above and no notice below: they stand on the page around it.
    pub bare: bool,
    /// What is said above, after the circuit's name: the state, the set-up.
    pub subject: String,
}

/// The drawing as SVG.
pub fn drawing_svg(circuit: &Circuit, view: View<'_>, drawn: &Drawn) -> String {
    let wanted = |thing: Thing| drawn.only.is_empty() || drawn.only.contains(&thing);
    let letters: Letters =
        if drawn.letters { letters(circuit, &drawn.only).into_iter().collect() } else { BTreeMap::new() };
    let label =
        |link: &Link, end: usize, lower: bool| label(circuit, view, drawn, &letters, link, end, lower);
    written(circuit, view, drawn, lay_out(circuit, &wanted, &label))
}

type Letters = BTreeMap<(WireId, usize), String>;

/// What stands beside an end of a link.
fn label(
    circuit: &Circuit,
    view: View<'_>,
    drawn: &Drawn,
    letters: &Letters,
    link: &Link,
    end: usize,
    lower: bool,
) -> Option<Said> {
    let (mut parts, mut tags) = (Vec::new(), Vec::new());
    if let Some((wire, stretch)) = link.wire.filter(|_| lower) {
        tags.extend(letters.get(&(wire, stretch)).map(|l| Tag { text: l.clone(), round: true }));
        let short = matches!(view, View::State(_) | View::Difference(..));
        // On a sheet to write on, what is large counts for more than the gauge.
        let said = if short {
            Words::Number
        } else if drawn.letters {
            Words::Colour
        } else {
            Words::All
        };
        parts.push(wire_words(circuit, wire, stretch, said));
    }
    let point = link.points.get(end).copied();
    if let Some(point) = point.filter(|_| link.wire.is_some()) {
        parts.extend(volts_words(view, link, point, lower));
    }
    let number = point.and_then(|p| drawn.boxes.iter().position(|b| *b == p));
    let first = number.is_some_and(|n| is_box_here(circuit, drawn.boxes[n], link));
    if let Some(n) = number.filter(|_| first) {
        tags.insert(0, Tag { text: (n + 1).to_string(), round: false });
    }
    let text = parts.join("  ");
    (!text.is_empty() || !tags.is_empty()).then_some(Said { text, tags })
}

/// A layout with its labels, as SVG.
fn written(circuit: &Circuit, view: View<'_>, drawn: &Drawn, mut layout: Layout) -> String {
    layout.say_supplies(&|index| supply_words(circuit, view, index));
    let layout = &layout;
    let mut look = look(circuit, view);
    if drawn.tappable {
        let name = |point: PointId| {
            circuit.points.get(point.index()).map_or_else(String::new, |p| p.name.to_string())
        };
        look.name = Some(Box::new(name));
    }
    let (more, foot) = legend::legend(circuit, view, drawn, layout);
    look.sample = Some(Box::new(move |index| entries::sample(index, matches!(view, View::Plain))));
    let title = if drawn.bare { String::new() } else { title(circuit, drawn) };
    let words = words(circuit, layout);
    keyon_draw::svg(layout, &look, &Sheet { title, words, more, foot })
}

/// The layout alone, with plain labels: for checks and measurements.
pub fn drawing_layout(circuit: &Circuit) -> Layout {
    let label = |link: &Link, _: usize, lower: bool| {
        let (wire, stretch) = link.wire.filter(|_| lower)?;
        Some(wire_words(circuit, wire, stretch, Words::All).into())
    };
    lay_out(circuit, &|_| true, &label)
}

/// The stretches of wire that a drawing of these things shows; of none: all.
pub(crate) fn drawn_wires(circuit: &Circuit, only: &[Thing]) -> Vec<(WireId, usize)> {
    let layout = lay_out(circuit, &|thing| only.is_empty() || only.contains(&thing), &|_, _, _| None);
    layout.links.iter().filter_map(|path| path.link.wire).collect()
}

/// Each stretch of wire that a drawing of these things shows, with its letter: a, b, … z, aa, ab, … in the file's order.
pub(crate) fn letters(circuit: &Circuit, only: &[Thing]) -> Vec<((WireId, usize), String)> {
    let mut drawn = drawn_wires(circuit, only);
    drawn.sort_unstable();
    drawn.dedup();
    drawn.into_iter().enumerate().map(|(n, stretch)| (stretch, letter(n))).collect()
}

fn letter(mut n: usize) -> String {
    let mut letters = Vec::new();
    loop {
        letters.insert(0, char::from(b'a' + (n % 26) as u8));
        if n < 26 {
            return letters.into_iter().collect();
        }
        n = n / 26 - 1;
    }
}

/// A box stands at one link of its point only: the first wire that lands there.
fn is_box_here(circuit: &Circuit, point: PointId, link: &Link) -> bool {
    let lands = |e: &keyon_circuit::ids::ElementId| {
        circuit.elements.get(e.index()).is_some_and(|e| e.from == point || e.to == point)
    };
    let first = circuit.wires.iter().enumerate().find_map(|(w, wire)| {
        let at = wire.stretches.iter().position(|s| lands(&s.element))?;
        Some((WireId::from(w), at))
    });
    first.is_some() && link.wire == first
}

/// What is said of a wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Words {
    /// Its number.
    Number,
    /// Its number and colour.
    Colour,
    /// Its number, colour and gauge.
    All,
}

/// Number, colour and gauge of a wire, or some of these.
fn wire_words(circuit: &Circuit, wire: WireId, stretch: usize, said: Words) -> String {
    let Some(wire) = circuit.wires.get(wire.index()) else { return String::new() };
    let Some(stretch) = wire.stretches.get(stretch) else { return String::new() };
    let mut parts = Vec::new();
    if wire.numbered {
        parts.push(wire.name.to_string());
    }
    if said >= Words::Colour {
        parts.extend(stretch.colour.as_ref().map(ToString::to_string));
    }
    if said == Words::All {
        parts.extend(stretch.gauge.as_ref().map(|g| g.trim_end_matches("mm2").trim_end().to_owned()));
    }
    parts.join(" ")
}

/// What stands in the place of volts at an open net.
const FLOATS: &str = "floats";

/// Volts at an end of a wire. The upper end says them where they differ from the lower by more than a meter's last digit.
fn volts_words(view: View<'_>, link: &Link, point: PointId, lower: bool) -> Option<String> {
    let at = |solution: &Solution, point: PointId| solution.volts.get(point.index()).copied().flatten();
    let differs = |solution: &Solution| match link.points.map(|p| at(solution, p)) {
        [Some(a), Some(b)] => (a - b).abs() >= 0.01,
        [a, b] => a.is_some() != b.is_some(),
    };
    let volts = |v: Option<f64>| v.map_or_else(|| "?".to_owned(), figure::volts);
    // What a meter shows on an open net is no reading.
    let open = |solution: &Solution| {
        let state = |p: PointId| solution.node_states.get(p.index()).copied();
        matches!(state(point), Some(NodeState::Open))
    };
    match view {
        View::State(solution) if open(solution) => {
            let other =
                link.points.iter().any(|&p| solution.node_states.get(p.index()) != Some(&NodeState::Open));
            (lower || other).then(|| FLOATS.to_owned())
        }
        View::State(solution) => (lower || differs(solution)).then(|| volts(at(solution, point))),
        View::Difference(before, after) => {
            let changed = |p: PointId| !states::reads_the_same(at(before, p), at(after, p));
            let (a, b) = (at(before, point), at(after, point));
            // Once a wire: at its lower end, unless only the upper one reads otherwise.
            let other = link.points.iter().any(|&p| p != point && changed(p));
            (changed(point) && (lower || !other)).then(|| format!("{} → {}", volts(a), volts(b)))
        }
        _ => None,
    }
}

/// A supply's name with the volts that it has in a state.
fn supply_words(circuit: &Circuit, view: View<'_>, index: usize) -> Option<String> {
    let supply = circuit.supplies.get(index)?;
    let of = |solution: &Solution| {
        let text = figure::fixed(*solution.state.supplies.get(index)?, 3);
        Some(text.trim_end_matches('0').trim_end_matches('.').to_owned())
    };
    let volts = match view {
        View::State(solution) => of(solution)?,
        View::Difference(before, after) => match (of(before)?, of(after)?) {
            (before, after) if before == after => after,
            (before, after) => format!("{before} → {after}"),
        },
        _ => return None,
    };
    Some(format!("{}  {volts} V", supply.name))
}

fn look<'a>(circuit: &'a Circuit, view: View<'a>) -> Look<'a> {
    let after = match view {
        View::Plain => return Look::plain(),
        View::Insulation => {
            return Look { link: Box::new(|link| colours::pens(circuit, &link)), ..Look::plain() };
        }
        View::State(solution) | View::Difference(_, solution) => solution,
    };
    let sample = |index: usize| entries::sample(index, false);
    let pen = move |point: PointId| entries::of_point(view, point).map_or_else(thin, |index| sample(index).0);
    Look {
        link: Box::new(move |link| vec![pen(link.points[0])]),
        lead: Box::new(pen),
        closed: Some(Box::new(|contact| after.conducts.get(contact.index()).copied().unwrap_or(false))),
        broken: Some(Box::new(move |link| is_broken(circuit, after, &link))),
        moved: Some(Box::new(move |contact| {
            let moved = entries::has_moved(view, contact);
            moved.then(|| [entries::STANDS, entries::STOOD].map(|index| sample(index).0))
        })),
        works: Some(Box::new(move |load| entries::of_load(circuit, view, load).map(sample))),
        ..Look::plain()
    }
}

/// Whether the wire of a link is interrupted in a state.
fn is_broken(circuit: &Circuit, solution: &Solution, link: &Link) -> bool {
    let stretch = link.wire.and_then(|(wire, at)| circuit.wires.get(wire.index())?.stretches.get(at));
    stretch.is_some_and(|s| solution.conducts.get(s.element.index()) == Some(&false))
}

fn title(circuit: &Circuit, drawn: &Drawn) -> String {
    let name = circuit.title.clone().unwrap_or_else(|| circuit.name.to_string());
    if drawn.subject.is_empty() { name } else { format!("{name}: {}", drawn.subject) }
}

/// What a screen reader says: how much of what is drawn.
fn words(circuit: &Circuit, layout: &Layout) -> String {
    let count = |f: fn(&Thing) -> bool| layout.things.iter().filter(|(t, _)| f(t)).count();
    let devices = count(|t| matches!(t, Thing::Device(_)));
    let modules = count(|t| matches!(t, Thing::Module(_)));
    let fuses = count(|t| matches!(t, Thing::Fuse(_)));
    format!(
        "Circuit diagram of {}: {devices} devices, {modules} modules, {fuses} fuses, {} wires.",
        circuit.title.as_deref().unwrap_or(&circuit.name),
        circuit.wires.len()
    )
}

pub use around::things_about;
pub use beside::beside_svg;
pub use colours::base_and_tracer as wire_colour;
pub use face::face_svg;
pub(crate) use legend::is_marked;
pub use standing::Standing;

/// A pen that both views use where they say nothing.
fn thin() -> Pen {
    Pen::new("#111111", 1.3, "")
}
