//! Readings at test points, and when two of them are one to a meter.

use crate::Solution;
use keyon_circuit::{
    Entity,
    ids::*,
    model::{Circuit, Connector, ElementKind, PointKind},
};
use std::collections::BTreeSet;

/// How far a reading may be from the computed value (decision 41).
#[derive(Clone, Copy, Debug)]
pub struct Accuracy {
    /// Share of the reading.
    pub ratio: f64,
    /// Volts.
    pub volts: f64,
    /// Volts for joints that nobody modelled.
    pub joints: f64,
}

impl Default for Accuracy {
    /// ±(0.5 % + 10 mV), and 50 mV for joints.
    fn default() -> Self {
        Self { ratio: 0.005, volts: 0.01, joints: 0.05 }
    }
}

/// Whether a meter that reads `read` may stand where `computed` volts are.
pub fn fits(read: f64, computed: f64, accuracy: Accuracy) -> bool {
    (read - computed).abs() <= accuracy.ratio * read.abs() + accuracy.volts + accuracy.joints
}

/// Whether two solved states read the same at a point, volts against the common ground: a clash reads as a clash only.
pub fn same_readings(a: &Solution, b: &Solution, point: PointId) -> bool {
    let read = |s: &Solution| s.volts.get(point.index()).copied().flatten();
    match (read(a), read(b)) {
        (Some(a), Some(b)) => fits(a, b, Accuracy::default()),
        (a, b) => a.is_none() == b.is_none(),
    }
}

/// Where a meter can be put (decision 21): pins of devices and modules on the wire side, both sides of in-line connectors, the
/// ends of fuses, supplies, ground points, and splices whose `access` is given.
pub fn test_points(circuit: &Circuit) -> Vec<PointId> {
    let mut points: BTreeSet<PointId> = BTreeSet::new();
    for (p, point) in circuit.points.iter().enumerate() {
        let is_one = match point.kind {
            PointKind::Supply(_) | PointKind::Ground(_) | PointKind::InlineSide(..) => true,
            PointKind::Pin(d, i) => {
                let pin = circuit.devices.get(d.index()).and_then(|d| d.pins.get(i));
                pin.is_some_and(|pin| !pin.landings.is_empty())
            }
            PointKind::Cavity(m, c, k) => circuit.cavity(m, c, k).is_some_and(|c| !c.landings.is_empty()),
            PointKind::Splice(i) => {
                circuit.splices.get(i).is_some_and(|s| s.attributes.access.is_some() && !s.attributes.sealed)
            }
            _ => false,
        };
        if is_one {
            points.insert(p.into());
        }
    }
    for e in circuit.elements.iter().filter(|e| matches!(e.kind, ElementKind::Fuse(_))) {
        points.extend([e.from, e.to]);
    }
    points.into_iter().collect()
}

/// The points that a name of `probes` or `ask` stands for: the wired pins of a device, the wired cavities of a module or
/// connector, the ends of a fuse or a wire, a point itself.
pub fn test_points_of(circuit: &Circuit, entity: Entity) -> Vec<PointId> {
    let cavities = |c: &Connector| {
        c.cavities.iter().filter(|c| !c.landings.is_empty()).map(|c| c.outside).collect::<Vec<_>>()
    };
    match entity {
        Entity::Device(d) => circuit.devices.get(d.index()).map_or(Vec::new(), |d| {
            d.pins.iter().filter(|p| !p.landings.is_empty()).map(|p| p.outside).collect()
        }),
        Entity::Module(m) => circuit
            .modules
            .get(m.index())
            .map_or(Vec::new(), |m| m.connectors.iter().flat_map(cavities).collect()),
        Entity::Connector(m, c) => {
            circuit.modules.get(m.index()).and_then(|m| m.connectors.get(c)).map_or(Vec::new(), cavities)
        }
        Entity::Inline(i) => circuit
            .inlines
            .get(i.index())
            .map_or(Vec::new(), |i| i.cavities.iter().flat_map(|c| [c.a, c.b]).collect()),
        Entity::InlineCavity(i, c) => circuit
            .inlines
            .get(i.index())
            .and_then(|i| i.cavities.get(c))
            .map_or(Vec::new(), |c| vec![c.a, c.b]),
        Entity::Fuse(e) | Entity::Element(e) => {
            circuit.elements.get(e.index()).map_or(Vec::new(), |e| vec![e.from, e.to])
        }
        Entity::Wire(w) => {
            let stretches = circuit.wires.get(w.index()).map_or(&[][..], |w| &w.stretches);
            let ends = stretches.iter().filter_map(|s| circuit.elements.get(s.element.index()));
            ends.flat_map(|e| [e.from, e.to]).collect()
        }
        other => circuit.point_of(other).into_iter().collect(),
    }
}
