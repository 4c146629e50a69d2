//! The way from the supply to a point and on to ground, with the drop across each element.

use crate::{about, figure, path::element_word, state::drop_volts};
use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, ElementKind, FuseKind, Law, Owner, PointKind, Role},
};
use keyon_solve::{Amps, NodeState, Path, Solution, Ways};

/// The way of the current past a point.
#[derive(Clone, Debug)]
pub struct Trace {
    #[allow(missing_docs)]
    pub point: PointId,
    #[allow(missing_docs)]
    pub state: NodeState,
    /// As a meter reads it.
    pub volts: Option<f64>,
    /// What drives the current; `None` where nothing reaches the point.
    pub source: Option<Source>,
    /// From the source to the point; empty where it is the source's own terminal.
    pub feed: Option<Vec<Step>>,
    /// From the point to ground.
    pub ground: Option<Vec<Step>>,
}

/// The source at the start of a trace.
#[derive(Clone, Debug)]
pub struct Source {
    #[allow(missing_docs)]
    pub element: ElementId,
    /// `battery`, `SCU.vref`.
    pub name: String,
    /// Volts before its inner resistance.
    pub volts: f64,
    /// Volts of the point it stands on: 0 for a supply on the common ground, a module's own ground for a reference.
    pub base: Option<f64>,
    /// Amps it gives.
    pub amps: Amps,
    /// What is lost in its inner resistance (or held back by its limit).
    pub drop: Option<f64>,
    /// Volts at its terminal.
    pub behind: Option<f64>,
}

/// One element on the way, in the direction from the source to ground.
#[derive(Clone, Debug)]
pub struct Step {
    #[allow(missing_docs)]
    pub element: ElementId,
    /// As a path names it: `F7`, `key`, `441`, `left_cmd`.
    pub name: String,
    /// What it is: `fuse 10 A`.
    pub words: String,
    #[allow(missing_docs)]
    pub from: PointId,
    #[allow(missing_docs)]
    pub to: PointId,
    /// Positive in the direction of the walk.
    pub amps: Amps,
    /// Volts lost on it; `None` where one of its ends floats.
    pub drop: Option<f64>,
    /// Volts behind it.
    pub behind: Option<f64>,
    /// A terminal or a joint without a loss: left out for people, kept for sums.
    pub joint: bool,
}

/// Follows the way past a point.
pub fn trace(circuit: &Circuit, solution: &Solution, point: PointId) -> Trace {
    let ways = Ways::new(circuit, solution);
    let (to_source, to_ground) = (ways.to_source(point), ways.to_ground(point));
    let feed = to_source.as_ref().map(|path| {
        let mut steps: Vec<Step> =
            steps(circuit, solution, path).into_iter().map(|step| step.turned(solution)).collect();
        steps.reverse();
        // The source itself stands apart.
        steps.retain(|s| !circuit.elements.get(s.element.index()).is_some_and(|e| e.kind.is_source()));
        steps
    });
    Trace {
        point,
        state: solution.node_states.get(point.index()).copied().unwrap_or(NodeState::Open),
        volts: solution.volts.get(point.index()).copied().flatten(),
        source: to_source.and_then(|path| source(circuit, solution, &path)),
        feed,
        ground: to_ground.map(|path| steps(circuit, solution, &path)),
    }
}

/// The steps of a path in the direction in which it was walked.
fn steps(circuit: &Circuit, solution: &Solution, path: &Path) -> Vec<Step> {
    let at = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let mut out = Vec::new();
    for (index, &(id, forward)) in path.steps.iter().enumerate() {
        let (Some(&from), Some(&to)) = (path.points.get(index), path.points.get(index + 1)) else { continue };
        let amps = match solution.amps.get(id.index()) {
            Some(Amps::Known(amps)) => Amps::Known(if forward { *amps } else { -amps }),
            Some(Amps::Unlimited) => Amps::Unlimited,
            None => Amps::Known(0.0),
        };
        let drop = drop_volts(solution, from, to);
        let (name, words, is_joint) = match circuit.elements.get(id.index()) {
            Some(element) => {
                let word = element_word(circuit, id);
                let name = if word.is_empty() { element.name.to_string() } else { word };
                (name, element_words(circuit, id), is_joint(element.kind))
            }
            None => added_words(circuit, solution, id),
        };
        let joint = is_joint && drop.is_none_or(|d| d.abs() < 1e-9);
        out.push(Step { element: id, name, words, from, to, amps, drop, behind: at(to), joint });
    }
    out
}

/// What is a step of its own only where something is lost in it.
fn is_joint(kind: ElementKind) -> bool {
    matches!(
        kind,
        ElementKind::Terminal
            | ElementKind::Tie
            | ElementKind::Ground
            | ElementKind::Return
            | ElementKind::Inline
    )
}

/// Name and words of what a set-up or a fault added.
fn added_words(circuit: &Circuit, solution: &Solution, id: ElementId) -> (String, String, bool) {
    let name = |p: PointId| circuit.points.get(p.index()).map_or("", |p| p.name.as_str());
    match solution.added(circuit, id) {
        Some(Change::Add { from, to, law: Law::Joint }) => {
            ("joined".to_owned(), format!("{} to {}, not in the drawing", name(from), name(to)), false)
        }
        Some(Change::Add { from, to, law }) => {
            let words =
                format!("{} from {} to {}, not in the drawing", about::law_words(&law), name(from), name(to));
            ("added".to_owned(), words, false)
        }
        _ => ("added".to_owned(), String::new(), false),
    }
}

impl Step {
    /// The same walked the other way.
    fn turned(self, solution: &Solution) -> Self {
        let behind = solution.unloaded.get(self.from.index()).copied().flatten();
        let amps = match self.amps {
            Amps::Known(amps) => Amps::Known(-amps),
            Amps::Unlimited => Amps::Unlimited,
        };
        Self { from: self.to, to: self.from, amps, drop: self.drop.map(|d| -d), behind, ..self }
    }
}

/// The source at the far end of a path to one.
fn source(circuit: &Circuit, solution: &Solution, path: &Path) -> Option<Source> {
    let element_at = |e: ElementId| circuit.elements.get(e.index());
    let last = path.steps.last().map(|s| s.0).filter(|&e| element_at(e).is_some_and(|e| e.kind.is_source()));
    let end = *path.points.last()?;
    let id = last.or_else(|| {
        (0..circuit.elements.len()).map(ElementId::from).find(|&e| {
            element_at(e).is_some_and(|e| e.kind.is_source() && e.to == end)
                && solution.conducts.get(e.index()).copied().unwrap_or(true)
        })
    })?;
    let element = element_at(id)?;
    let volts = match (element.owner, &element.law) {
        (Owner::Supply(index), _) => solution.state.supplies.get(index).copied()?,
        (_, Law::Source { volts, .. }) => volts.nominal,
        _ => return None,
    };
    let at = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let (base, behind) = (at(element.from), at(element.to));
    let drop = base.zip(behind).map(|(base, behind)| base + volts - behind);
    let name = match element.owner {
        Owner::Supply(index) => circuit.supplies.get(index).map(|s| s.name.to_string()),
        Owner::Module(m, c, k) => crate::shown::cavity_alias(circuit, m, c, k).map(|a| a.to_string()),
        _ => None,
    }
    .unwrap_or_else(|| element.name.to_string());
    let amps = solution.amps.get(id.index()).copied().unwrap_or(Amps::Known(0.0));
    Some(Source { element: id, name, volts, base, amps, drop, behind })
}

impl Trace {
    /// All drops from the source to ground; `None` where the way is not whole or a part of it floats.
    pub fn sum(&self) -> Option<f64> {
        let (source, feed, ground) = (self.source.as_ref()?, self.feed.as_ref()?, self.ground.as_ref()?);
        let mut sum = source.drop?;
        for step in feed.iter().chain(ground) {
            sum += step.drop?;
        }
        Some(sum)
    }
}

/// What an element is, in a few words: `wire 0.75 mm2 OG/BK 3.1 m`, `fuse 10 A`, `coil 24 ohm`.
pub fn element_words(circuit: &Circuit, id: ElementId) -> String {
    let Some(element) = circuit.elements.get(id.index()) else { return String::new() };
    let law = about::law_words(&element.law);
    let title = match element.owner {
        Owner::Device(d) => circuit.devices.get(d.index()).and_then(|d| d.title.clone()),
        _ => None,
    };
    let of = |what: &str| {
        if matches!(element.law, Law::Joint) { what.to_owned() } else { format!("{what} {law}") }
    };
    let words = match element.kind {
        ElementKind::Wire => wire_words(circuit, id),
        ElementKind::Terminal => of("terminal"),
        ElementKind::Inline => of("in-line connector"),
        ElementKind::Tie => of("joint"),
        ElementKind::Fuse(kind) => {
            let kind = match kind {
                FuseKind::Fuse => "fuse",
                FuseKind::Breaker => "breaker",
                FuseKind::Link => "link",
            };
            element.rating.map_or_else(|| kind.to_owned(), |r| format!("{kind} {} A", rating(r.nominal)))
        }
        ElementKind::Ground => of("ground point"),
        ElementKind::Supply => format!("supply {law}"),
        ElementKind::Contact => of("contact"),
        ElementKind::Stage => stage_words(circuit, id),
        ElementKind::Reference => format!("reference {law}"),
        ElementKind::Rail => format!("pull-up voltage {law}"),
        ElementKind::Return => of("return"),
        ElementKind::PullUp => format!("pull-up {law}"),
        ElementKind::PullDown => format!("pull-down {law}"),
        ElementKind::Draw => "the module's own consumption".to_owned(),
        ElementKind::Resistor => format!("resistor {law}"),
        ElementKind::Lamp => format!("lamp {law}"),
        ElementKind::Heater => format!("heater {law}"),
        ElementKind::Coil => format!("coil {law}"),
        ElementKind::Winding => format!("winding {law}"),
        ElementKind::Thermistor => "thermistor".to_owned(),
        ElementKind::Track(_) => law,
        ElementKind::Variable => format!("variable {law}"),
        ElementKind::Transducer => law,
        ElementKind::Diode => format!("diode {law}"),
        ElementKind::Elsewhere => format!("load off the page {law}"),
    };
    match title {
        Some(title) if element.kind.is_load() || element.kind == ElementKind::Contact => {
            format!("{title}, {words}")
        }
        _ => words,
    }
}

fn rating(amps: f64) -> String {
    let text = figure::fixed(amps, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn stage_words(circuit: &Circuit, id: ElementId) -> String {
    let Some(element) = circuit.elements.get(id.index()) else { return String::new() };
    let role = match element.owner {
        Owner::Module(m, c, k) => circuit.cavity(m, c, k).map(|cavity| &cavity.role),
        _ => None,
    };
    let role = role.map_or("driver stage", |role: &Role| keyon_circuit::entity::role_words(role));
    match &element.law {
        Law::Resistance(ohms) => format!("{role} {}", figure::ohms(ohms.nominal)),
        _ => role.to_owned(),
    }
}

/// `wire 0.75 mm2 OG/BK 3.1 m`.
fn wire_words(circuit: &Circuit, id: ElementId) -> String {
    let mut words = "wire".to_owned();
    let Some(Owner::Wire(wire)) = circuit.elements.get(id.index()).map(|e| e.owner) else { return words };
    let stretch = circuit.wires.get(wire.index()).and_then(|w| w.stretches.iter().find(|s| s.element == id));
    let Some(stretch) = stretch else { return words };
    if let Some(gauge) = &stretch.gauge {
        words.push_str(&format!(" {gauge}"));
    }
    if let Some(colour) = &stretch.colour {
        words.push_str(&format!(" {colour}"));
    }
    if let Some(length) = &stretch.length {
        words.push_str(&format!(" {} m", rating(length.nominal)));
    }
    words
}

/// What a point is, for a heading: `left_valve.2  Left boom valve, pin 2`.
pub fn point_words(circuit: &Circuit, point: PointId) -> String {
    let Some(item) = circuit.points.get(point.index()) else { return String::new() };
    let titled = |title: &Option<String>, rest: String| match title {
        Some(title) => format!("{title}, {rest}"),
        None => rest,
    };
    match item.kind {
        PointKind::Common => "the common ground".to_owned(),
        PointKind::Supply(i) => circuit
            .supplies
            .get(i)
            .map_or_else(String::new, |s| titled(&s.title, "supply terminal".to_owned())),
        PointKind::Ground(i) => {
            circuit.grounds.get(i).map_or_else(String::new, |g| titled(&g.title, "ground point".to_owned()))
        }
        PointKind::Splice(i) => {
            circuit.splices.get(i).map_or_else(String::new, |s| titled(&s.title, "splice".to_owned()))
        }
        PointKind::Pin(d, pin) | PointKind::PinInside(d, pin) => {
            circuit.devices.get(d.index()).map_or_else(String::new, |device| {
                let pin = device.pins.get(pin).map_or("", |p| p.name.as_str());
                titled(&device.title, format!("pin {pin}"))
            })
        }
        PointKind::Cavity(m, c, k) | PointKind::CavityInside(m, c, k) => {
            circuit.modules.get(m.index()).map_or_else(String::new, |module| {
                let words = circuit.cavity(m, c, k).map_or_else(String::new, |cavity| {
                    format!("{}, {}", cavity.name, keyon_circuit::entity::role_words(&cavity.role))
                });
                titled(&module.title, words)
            })
        }
        PointKind::InlineSide(i, _, b) => circuit.inlines.get(i.index()).map_or_else(String::new, |inline| {
            titled(&inline.title, format!("side {}", if b { "b" } else { "a" }))
        }),
        PointKind::Internal => String::new(),
    }
}
