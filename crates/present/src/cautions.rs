//! What to take care of when probing there. Common practice of the trade, no source; the page of cautions in the project's
//! documents says the same.

use keyon_circuit::{
    ids::PointId,
    model::{Circuit, ElementKind, Law, Owner, PointKind, Role},
};
use keyon_solve::{Cancelled, Solution};
use petgraph::unionfind::UnionFind;

/// Above this a supply is no business of a tool that teaches: volts DC.
const DANGEROUS: f64 = 60.0;
/// From this a lamp or heater burns: watts.
const HOT: f64 = 20.0;
/// The current of a test lamp, of about 40 ohm: amps at 12 V.
const TEST_LAMP: f64 = 0.3;

/// The cautions for probing a point in a state, the gravest first.
pub fn at_point(circuit: &Circuit, solution: &Solution, point: PointId) -> Vec<String> {
    let mut cautions = Vec::new();
    let dangerous = is_dangerous(circuit);
    let owned = circuit.attributes_at(point);
    if dangerous || circuit.is_restricted_at(point) {
        cautions.push("Not from this tool: restraint systems and supplies above 60 V DC are work for trained, licensed people.".into());
        return cautions;
    }
    if owned.iter().any(|(_, attributes)| attributes.sealed) {
        cautions.push("Sealed: use a break-out lead, do not pierce the insulation.".into());
    } else if matches!(
        circuit.points.get(point.index()).map(|p| p.kind),
        Some(PointKind::Pin(..) | PointKind::Cavity(..) | PointKind::InlineSide(..))
    ) {
        cautions
            .push("Back-probe from the wire side; do not pierce insulation or spread the terminal.".into());
    }
    if let Some(why) = meter_only(circuit, solution, point) {
        cautions.push(format!("Meter only, no test lamp: {why}."));
    }
    for (device, state) in circuit.devices.iter().zip(&solution.devices) {
        if state.state == keyon_solve::ElementState::Rests {
            continue;
        }
        if device.attributes.moves {
            cautions.push(format!("{} may move in this state: chock it, keep clear.", device.name));
        }
        let hot = device.elements.iter().any(|id| {
            circuit.elements.get(id.index()).is_some_and(|element| match &element.law {
                Law::Rated { watts, .. } => watts.nominal > HOT,
                _ => false,
            })
        });
        if hot && touches(solution, device, point) {
            cautions.push(format!("{} gets hot.", device.name));
        }
    }
    for hazard in owned.iter().flat_map(|(_, attributes)| &attributes.hazards) {
        let mut chars = hazard.chars();
        let first: String = chars.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
        cautions.push(format!("{first}{}.", chars.as_str()));
    }
    cautions
}

/// Which points wires, plugs and fuses join, in a state.
fn wiring(circuit: &Circuit, solution: &Solution) -> UnionFind<u32> {
    let mut joined = UnionFind::new(circuit.points.len());
    for (element, &conducts) in circuit.elements.iter().zip(&solution.conducts) {
        use ElementKind::{Fuse, Inline, Terminal, Tie, Wire};
        if conducts && matches!(element.kind, Wire | Terminal | Inline | Tie | Fuse(_)) {
            // A point that is not there joins nothing.
            let _ = joined.try_union(element.from.0, element.to.0);
        }
    }
    joined
}

/// What stands over a page, whatever state it shows: what this circuit moves.
pub fn of_all(circuit: &Circuit) -> String {
    let moving = circuit.devices.iter().filter(|device| device.attributes.moves);
    let names: Vec<&str> = moving.map(|device| device.name.as_str()).collect();
    match names.as_slice() {
        [] => "What it drives may move or get hot: keep clear.".to_owned(),
        [one] => format!("Here {one} moves: chock it, keep clear."),
        [all @ .., last] => format!("Here {} and {last} move: chock them, keep clear.", all.join(", ")),
    }
}

/// Why a test lamp must stay away from a point.
fn meter_only(circuit: &Circuit, solution: &Solution, point: PointId) -> Option<String> {
    let wired = wiring(circuit, solution);
    let reached = |other: PointId| wired.try_equiv(point.0, other.0) == Ok(true);
    let cavities = || circuit.modules.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities);
    let grounded = cavities().any(|cavity| cavity.role == Role::Ground && reached(cavity.outside));
    // A lamp takes nothing from what a supply holds, whoever else looks at it.
    let supplied = circuit.supplies.iter().any(|supply| reached(supply.point));
    for module in &circuit.modules {
        for cavity in module.connectors.iter().flat_map(|connector| &connector.cavities) {
            if !reached(cavity.outside) {
                continue;
            }
            let name = format!("{}.{}", module.name, cavity.name);
            match &cavity.role {
                Role::Senses { .. } if !supplied => {
                    return Some(format!("the net leads to the input {name}"));
                }
                Role::Reference { .. } => return Some(format!("the net is the reference {name}")),
                // Where the module's own ground is, a lamp does no harm.
                Role::Return { .. } if !grounded => {
                    return Some(format!("the net is the sensor return {name}"));
                }
                Role::Drives(_) | Role::Switches
                    if cavity.limit.is_some_and(|limit| limit.nominal < TEST_LAMP) =>
                {
                    return Some(format!("a lamp draws more than the driver {name} can give"));
                }
                _ => {}
            }
        }
    }
    None
}

/// Whether a device has a pin on the point's net.
fn touches(solution: &Solution, device: &keyon_circuit::model::Device, point: PointId) -> bool {
    let net = solution.nets.get(point.index());
    device.pins.iter().any(|pin| solution.nets.get(pin.outside.index()) == net)
}

/// Why there is no plan, no sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// Restraint systems, and supplies above 60 V.
    Restricted,
    /// It was cancelled.
    Cancelled,
}

impl From<Cancelled> for Refused {
    fn from(Cancelled: Cancelled) -> Self {
        Self::Cancelled
    }
}

/// Whether this is no business of a tool that teaches: restraint systems, supplies above 60 V.
pub fn is_restricted(circuit: &Circuit, points: &[PointId]) -> bool {
    is_dangerous(circuit) || points.iter().any(|&point| circuit.is_restricted_at(point))
}

fn is_dangerous(circuit: &Circuit) -> bool {
    circuit.supplies.iter().any(|supply| {
        supply.volts.high.abs().max(supply.range.map_or(0.0, |(_, high)| high.abs())) > DANGEROUS
    })
}

/// The colour, number and other end of the wires that land on a point: `OG/BK 441 -> SCU.A.4`.
pub fn landings(circuit: &Circuit, point: PointId) -> Vec<String> {
    let mut wires = Vec::new();
    for wire in &circuit.wires {
        for stretch in &wire.stretches {
            let Some(element) = circuit.elements.get(stretch.element.index()) else { continue };
            let other = if element.from == point {
                element.to
            } else if element.to == point {
                element.from
            } else {
                continue;
            };
            let other = circuit.points.get(other.index()).map(|p| p.name.as_str()).unwrap_or_default();
            let mut words = Vec::new();
            words.extend(stretch.colour.as_ref().map(ToString::to_string));
            if wire.numbered {
                words.push(wire.name.to_string());
            }
            words.push(format!("to {other}"));
            wires.push(words.join(" "));
        }
    }
    for element in &circuit.elements {
        let tie = matches!(
            (element.kind, element.owner),
            (ElementKind::Tie, _) | (ElementKind::Fuse(_), Owner::Fuse)
        );
        if tie && (element.from == point || element.to == point) {
            wires.push(format!("directly to {}", element.name));
        }
    }
    wires
}
