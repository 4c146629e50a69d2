//! The probe plan as people read it: one screen a step, with what the reading means and what to take care of.

use crate::{
    about,
    cautions::{self, Refused},
    figure,
    grid::{Column, Grid},
    pinout::leads_to,
};
use keyon_circuit::{Entity, ids::*, model::*};
use keyon_solve::{
    Bands, Cancel, ElementState, NodeState, Reading, State,
    fault::{self, Complaint, Outcome, Plan},
    windows,
};

/// A step on its screen.
#[derive(Clone, Debug)]
pub struct StepPage {
    #[allow(missing_docs)]
    pub heading: String,
    /// What to do: a label and what it says.
    pub lines: Vec<(&'static str, String)>,
    /// What each reading means.
    pub outcomes: Grid,
    #[allow(missing_docs)]
    pub cautions: Vec<String>,
}

/// The whole plan.
#[derive(Clone, Debug)]
pub struct PlanPage {
    #[allow(missing_docs)]
    pub title: String,
    #[allow(missing_docs)]
    pub intro: Vec<(&'static str, String)>,
    #[allow(missing_docs)]
    pub steps: Vec<StepPage>,
    /// Supply side, load, ground side: where the volts stay.
    pub drops: Option<Grid>,
    #[allow(missing_docs)]
    pub notes: Vec<String>,
}

/// Causes that are named in a cell.
const NAMED: usize = 5;

/// Makes the plan for a complaint in a state. `scenario` is the one that the state began with.
///
/// # Errors
/// Where the circuit is no business of this tool, and when `cancel` asks for it.
pub fn probe_plan(
    circuit: &Circuit,
    state: &State,
    scenario: Option<ScenarioId>,
    complaint: Complaint,
    cancel: &dyn Cancel,
) -> Result<PlanPage, Refused> {
    let own = match complaint {
        Complaint::Point(point) => vec![point],
        Complaint::Device(device) => fault::test_points_of(circuit, Entity::Device(device)),
    };
    if cautions::is_restricted(circuit, &own) {
        return Err(Refused::Restricted);
    }
    let plan = fault::plan(circuit, state, complaint, cancel)?;
    let points: Vec<Reading> = plan.steps.iter().map(|s| Reading::Volts(s.point)).collect();
    let bands = Bands { tolerances: true, ranges: true };
    let bounds = windows(circuit, state, &points, bands, cancel)?;
    let hold = hold(circuit, state, scenario);
    let total = plan.steps.len() + 1;
    let mut steps = vec![look_first(circuit, &plan, complaint, &hold, total)];
    for (i, (step, window)) in plan.steps.iter().zip(&bounds).enumerate() {
        let floats = plan.sound.node_states.get(step.point.index()) == Some(&NodeState::Open);
        let expected = match step.expected {
            Some(volts) if floats => format!("floats, about {} V", figure::volts(volts)),
            Some(volts) => match window {
                Some(w) => format!(
                    "{} V ({} .. {} V over tolerances and the supply's range)",
                    figure::volts(volts),
                    figure::volts(w.low),
                    figure::volts(w.high)
                ),
                None => format!("{} V", figure::volts(volts)),
            },
            None => "no settled reading".to_owned(),
        };
        let mut lines = vec![("hold", hold.clone())];
        lines.extend(whereabouts(circuit, step.point));
        lines.push((
            "meter",
            format!("volts DC; red on {}, black on battery negative", name(circuit, step.point)),
        ));
        lines.push(("expect", expected));
        // The expected way needs no word of where it comes from.
        let from = step.after.and_then(|(at, outcome)| {
            let outcome = plan.steps.get(at)?.outcomes.get(outcome)?;
            let straight = at + 1 == i && outcome.expected;
            (!straight).then(|| format!(" (from step {}: {})", at + 2, reads(outcome)))
        });
        steps.push(StepPage {
            heading: format!(
                "Step {} of {total}{}: {}",
                i + 2,
                from.unwrap_or_default(),
                place(circuit, step.point)
            ),
            lines,
            outcomes: outcomes(circuit, &plan, &step.outcomes),
            cautions: cautions::at_point(circuit, &plan.sound, step.point),
        });
    }
    let drops = match complaint {
        Complaint::Device(device) => drops(circuit, &plan, device),
        Complaint::Point(_) => None,
    };
    let mut notes = vec![
        "One fault is assumed, of those that are modelled: opens, bad joints, shorts to ground and to supply, stuck \
         drivers and contacts, drifting sensors. Crossed wires are not among them."
            .to_owned(),
        "Ohms only with the power off and the part unplugged. Amps in series or by clamp, never across a supply. Never \
         replace a fuse with a bigger one; find the short first."
            .to_owned(),
        "Computed for teaching and planning; the maker's data and local rules win.".to_owned(),
    ];
    if plan.steps.is_empty() {
        notes.insert(
            0,
            "No modelled single fault shows this in this state: hold another state with --in.".to_owned(),
        );
    }
    let subject = match complaint {
        Complaint::Device(d) => circuit.devices.get(d.index()).map_or_else(String::new, |d| {
            d.title.clone().map_or_else(|| d.name.to_string(), |t| format!("{t} ({})", d.name))
        }),
        Complaint::Point(p) => name(circuit, p),
    };
    let mut intro = vec![("causes", format!("{} single faults would show it", plan.causes.len()))];
    intro.extend(supplies(circuit, &plan));
    Ok(PlanPage {
        title: format!("Probe plan: {subject}, {}", about::title(circuit)),
        intro,
        steps,
        drops,
        notes,
    })
}

/// What the readings of the plan go with: the volts of the supplies, to be measured first.
fn supplies(circuit: &Circuit, plan: &Plan) -> Option<(&'static str, String)> {
    let volts = |p: PointId| plan.sound.volts.get(p.index()).copied().flatten();
    let read = circuit
        .supplies
        .iter()
        .filter(|supply| supply.negative == COMMON)
        .filter_map(|supply| Some(format!("{} {} V", supply.name, figure::volts(volts(supply.point)?))));
    let read: Vec<String> = read.collect();
    let words = "measure first, in this state; what hangs on it reads more or less in proportion";
    (!read.is_empty()).then(|| ("supply", format!("{}: {words}", read.join(", "))))
}

/// The state in words, with what a person does for it.
fn hold(circuit: &Circuit, state: &State, scenario: Option<ScenarioId>) -> String {
    let asked = about::Asked { scenario, ..about::Asked::default() };
    let lines = about::state_lines(circuit, state, &asked);
    let mut words = lines.first().map_or_else(String::new, |(_, text)| text.clone());
    if let Some((_, senses)) = lines.iter().find(|(label, _)| *label == "senses") {
        words.push_str(&format!("; {senses}"));
    }
    let scenario = scenario.and_then(|s| circuit.scenarios.get(s.index()));
    for action in scenario.map_or(&[][..], |s| s.actions.as_slice()) {
        words.push_str(&format!(" ({action})"));
    }
    words
}

/// The first step costs nothing: look what works.
fn look_first(circuit: &Circuit, plan: &Plan, complaint: Complaint, hold: &str, total: usize) -> StepPage {
    let mut lines = vec![("hold", hold.to_owned())];
    let mut cautions = Vec::new();
    if let Complaint::Device(device) = complaint {
        let works: Vec<&str> = circuit
            .devices
            .iter()
            .zip(&plan.sound.devices)
            .enumerate()
            .filter(|(i, (_, state))| *i != device.index() && !matches!(state.state, ElementState::Rests))
            .map(|(_, (device, _))| device.name.as_str())
            .collect();
        if let (Some(own), Some(state)) =
            (circuit.devices.get(device.index()), plan.sound.devices.get(device.index()))
        {
            lines.push(("look", format!("{} should show: {}", own.name, crate::state::device_cell(state))));
            let moving = circuit.devices.iter().zip(&plan.sound.devices);
            for (device, _) in moving.filter(|(d, s)| d.attributes.moves && s.state != ElementState::Rests) {
                cautions.push(format!("{} may move in this state: chock it, keep clear.", device.name));
            }
        }
        if !works.is_empty() {
            lines.push((
                "also",
                format!("what shares its way tells where to look: {} should work now", works.join(", ")),
            ));
        }
    }
    if lines.len() == 1 {
        lines.push(("look", "what works now and what does not".to_owned()));
    }
    let lines_grid = Grid { columns: Vec::new(), rows: Vec::new() };
    StepPage {
        heading: format!("Step 1 of {total}: look, before any meter"),
        lines,
        outcomes: lines_grid,
        cautions,
    }
}

fn name(circuit: &Circuit, point: PointId) -> String {
    circuit.points.get(point.index()).map_or_else(String::new, |p| p.name.to_string())
}

/// The place as a person looks for it: `Left boom valve, pin 1, wire side`.
fn place(circuit: &Circuit, point: PointId) -> String {
    let titled = |name: &str, title: Option<&str>| title.unwrap_or(name).to_owned();
    match circuit.points.get(point.index()).map(|p| p.kind) {
        Some(PointKind::Pin(d, pin)) => match circuit.devices.get(d.index()) {
            Some(device) => format!(
                "{}, pin {}, wire side",
                titled(&device.name, device.title.as_deref()),
                device.pins.get(pin).map_or("", |p| p.name.as_str())
            ),
            None => name(circuit, point),
        },
        Some(PointKind::Cavity(m, c, k)) => match (circuit.modules.get(m.index()), circuit.cavity(m, c, k)) {
            (Some(module), Some(cavity)) => {
                let connector = module.connectors.get(c);
                let title = connector
                    .and_then(|c| c.title.as_deref())
                    .map_or_else(String::new, |t| format!(" ({t})"));
                format!(
                    "{}, connector {}{title}, cavity {}, wire side",
                    titled(&module.name, module.title.as_deref()),
                    connector.map_or("", |c| c.name.as_str()),
                    cavity.number
                )
            }
            _ => name(circuit, point),
        },
        Some(PointKind::InlineSide(i, k, _)) => match circuit.inlines.get(i.index()) {
            Some(inline) => format!(
                "in-line connector {}, cavity {}",
                titled(&inline.name, inline.title.as_deref()),
                inline.cavities.get(k).map_or("", |c| c.name.as_str())
            ),
            None => name(circuit, point),
        },
        Some(PointKind::Supply(i)) => {
            format!("{} positive", circuit.supplies.get(i).map_or("", |s| s.name.as_str()))
        }
        Some(PointKind::Ground(i)) => {
            let title = circuit.grounds.get(i).and_then(|g| g.title.as_ref());
            let title = title.map_or_else(String::new, |title| format!(", {title}"));
            format!("ground point {}{title}", name(circuit, point))
        }
        Some(PointKind::Splice(_)) => format!("splice {}", name(circuit, point)),
        _ => name(circuit, point),
    }
}

/// Where it is, how to reach it, which wire.
fn whereabouts(circuit: &Circuit, point: PointId) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    let wires = cautions::landings(circuit, point);
    if !wires.is_empty() {
        let far = leads_to(circuit, point);
        lines.push(("wire", format!("{} (leads to {far})", wires.join("; "))));
    }
    let owned = circuit.attributes_at(point);
    // The nearest thing speaks first: the connector, then its module.
    let near = || owned.iter().rev().map(|(_, attributes)| *attributes);
    let mut words: Vec<String> = near().find_map(|a| a.place.clone()).into_iter().collect();
    words.extend(near().find_map(|a| a.access.as_deref()).map(|access| match access {
        "easy" => "easy to reach".to_owned(),
        "cover" => "behind a cover".to_owned(),
        "buried" => "hard to reach".to_owned(),
        other => other.to_owned(),
    }));
    words.extend(near().any(|a| a.sealed).then(|| "sealed".to_owned()));
    if !words.is_empty() {
        lines.push(("where", words.join(", ")));
    }
    lines
}

/// A reading in words.
fn reads(outcome: &Outcome) -> String {
    match outcome.volts {
        None => "no steady value".to_owned(),
        Some((low, high)) if high - low < 0.02 => format!("about {} V", figure::volts(low)),
        Some((low, high)) => format!("{} .. {} V", figure::volts(low), figure::volts(high)),
    }
}

/// A bad joint: the ohms and where.
fn joint(cause: &str) -> Option<(&str, &str)> {
    cause.strip_prefix("resistance ")?.split_once(" in ")
}

/// Causes as they are looked for: what is open, shorted or stuck first; bad joints last, each once with all its ohms.
fn in_words(causes: &[smol_str::SmolStr]) -> Vec<String> {
    let mut words: Vec<String> =
        causes.iter().filter(|c| joint(c).is_none()).map(ToString::to_string).collect();
    let mut joints: Vec<(&str, Vec<&str>)> = Vec::new();
    for (ohms, place) in causes.iter().filter_map(|c| joint(c)) {
        match joints.iter_mut().find(|(known, _)| *known == place) {
            Some((_, list)) => list.push(ohms),
            None => joints.push((place, vec![ohms])),
        }
    }
    words.extend(joints.into_iter().map(|(place, ohms)| {
        let ohms: Vec<&str> = ohms.iter().map(|o| o.trim_end_matches(" ohm")).collect();
        format!("bad joint in {place} ({} ohm)", ohms.join(", "))
    }));
    words
}

/// What each reading means.
fn outcomes(circuit: &Circuit, plan: &Plan, outcomes: &[Outcome]) -> Grid {
    let columns = vec![Column::key("reads"), Column::words("then"), Column::words("next")];
    let mut grid = Grid { columns, rows: Vec::new() };
    for outcome in outcomes {
        let reads = reads(outcome);
        let reads = if outcome.expected { format!("{reads}, as it should") } else { reads };
        let words = in_words(&outcome.causes);
        let named = words.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
        let more = words.len().saturating_sub(NAMED);
        let causes = match (words.len(), more) {
            (0, _) => "none of the causes: look again at step 1".to_owned(),
            (_, 0) => named,
            _ => format!("{named}; and {more} more"),
        };
        let next = match outcome.next.and_then(|at| Some((at, plan.steps.get(at)?))) {
            _ if outcome.causes.is_empty() => String::new(),
            Some((at, step)) => format!("step {}, {}", at + 2, name(circuit, step.point)),
            None if words.len() == 1 => "found".to_owned(),
            None if outcome.causes.iter().all(|c| joint(c).is_some()) => {
                "follow the volts: the bad joint is where they drop".to_owned()
            }
            None => last_look(circuit, &outcome.causes),
        };
        grid.rows.push(vec![reads, causes, next]);
    }
    grid
}

/// What is done where no reading tells more: a fuse is looked at, a short is sought with ohms.
fn last_look(circuit: &Circuit, causes: &[smol_str::SmolStr]) -> String {
    let shorted = causes.iter().any(|cause| cause.starts_with("short "));
    let fuse = circuit
        .fuses
        .iter()
        .find(|fuse| causes.iter().any(|cause| cause.strip_prefix("open ") == Some(fuse.name.as_str())));
    match (fuse, shorted) {
        (Some(fuse), true) => format!(
            "look at {0}: blown, seek the short behind it with ohms, power off; whole, seek the open joint",
            fuse.name
        ),
        (_, true) => "a short: seek it with ohms, power off, joint by joint".to_owned(),
        (_, false) => "no voltage parts these: open the joints one by one, power off".to_owned(),
    }
}

/// Where the volts stay with current flowing: the sum is the source's.
fn drops(circuit: &Circuit, plan: &Plan, device: DeviceId) -> Option<Grid> {
    let it = circuit.devices.get(device.index())?;
    let solution = &plan.sound;
    let at = |p: PointId| solution.volts.get(p.index()).copied().flatten();
    let load =
        it.elements.iter().filter_map(|e| circuit.elements.get(e.index())).find(|e| e.kind.is_load())?;
    let outside = |inside: PointId| it.pins.iter().find(|p| p.inside == inside).map(|p| p.outside);
    let (a, b) = (outside(load.from)?, outside(load.to)?);
    let (high, low) = if at(a)? >= at(b)? { (a, b) } else { (b, a) };
    let path = solution.path_to_source(circuit, high)?;
    let source = path.points.last().copied()?;
    let top = at(source)?;
    if solution.node_states.get(source.index()) != Some(&NodeState::Fed) || (at(high)? - at(low)?).abs() < 0.5
    {
        return None;
    }
    let columns =
        ["", "red lead", "black lead"].map(Column::words).into_iter().chain([Column::figures("reads V")]);
    let mut grid = Grid { columns: columns.collect(), rows: Vec::new() };
    let mut row = |side: &str, red: String, black: String, volts: f64| {
        grid.rows.push(vec![side.to_owned(), red, black, figure::volts(volts)]);
    };
    let negative = "battery negative".to_owned();
    row("supply side", name(circuit, source), name(circuit, high), top - at(high)?);
    row("load", name(circuit, high), name(circuit, low), at(high)? - at(low)?);
    row("ground side", name(circuit, low), negative.clone(), at(low)?);
    row("sum", name(circuit, source), negative, top);
    Some(grid)
}
