//! Ids that do not hang on the order of the text.

use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind, Owner, PointKind},
};
use std::collections::BTreeMap;

/// The ids of one circuit, by index.
pub(crate) struct Ids {
    pub(crate) elements: Vec<String>,
    pub(crate) wires: Vec<String>,
    pub(crate) points: Vec<String>,
    /// The net of each point: what wires, splices and plugged connectors join, whatever their resistance and whatever
    /// the switches do.
    pub(crate) nets: Vec<String>,
}

impl Ids {
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let wires = wires(circuit);
        let mut elements: Vec<String> =
            circuit.elements.iter().map(|e| format!("element:{}", e.name)).collect();
        // Wires of one number or one pair of ends are named in the order of the text: their ids go by the wire's.
        for (wire, id) in circuit.wires.iter().zip(&wires) {
            let name = id.strip_prefix("wire:").unwrap_or(id);
            for (index, stretch) in wire.stretches.iter().enumerate() {
                let own = if wire.stretches.len() > 1 {
                    format!("element:{name}.{}", index + 1)
                } else {
                    format!("element:{name}")
                };
                if let Some(slot) = elements.get_mut(stretch.element.index()) {
                    *slot = own;
                }
            }
        }
        let points = circuit.points.iter().map(|p| format!("point:{}", p.name)).collect();
        Self { elements, wires, points, nets: nets(circuit) }
    }
}

/// Wires by name; of several that are called alike, the order is that of their ends and of what they are made of.
fn wires(circuit: &Circuit) -> Vec<String> {
    let point = |p: PointId| circuit.points.get(p.index()).map_or("", |p| p.name.as_str());
    let mut alike: BTreeMap<&str, Vec<(String, usize)>> = BTreeMap::new();
    for (index, wire) in circuit.wires.iter().enumerate() {
        let mut key = String::new();
        for stretch in &wire.stretches {
            if let Some(element) = circuit.elements.get(stretch.element.index()) {
                key.push_str(&format!("{}\0{}\0", point(element.from), point(element.to)));
            }
            let length = stretch.length.map_or(0.0, |length| length.nominal);
            key.push_str(&format!("{:?}\0{:?}\0{length}\0", stretch.gauge, stretch.colour));
        }
        key.push_str(wire.title.as_deref().unwrap_or_default());
        alike.entry(&wire.name).or_default().push((key, index));
    }
    let mut ids = vec![String::new(); circuit.wires.len()];
    for (name, mut wires) in alike {
        wires.sort();
        for (number, (_, index)) in wires.iter().enumerate() {
            if let Some(id) = ids.get_mut(*index) {
                *id =
                    if number == 0 { format!("wire:{name}") } else { format!("wire:{name}#{}", number + 1) };
            }
        }
    }
    ids
}

fn nets(circuit: &Circuit) -> Vec<String> {
    let mut parent: Vec<usize> = (0..circuit.points.len()).collect();
    fn root(parent: &mut [usize], mut at: usize) -> usize {
        while let Some(&up) = parent.get(at).filter(|up| **up != at) {
            // Halving the way keeps later walks short.
            let above = parent.get(up).copied().unwrap_or(up);
            if let Some(slot) = parent.get_mut(at) {
                *slot = above;
            }
            at = above;
        }
        at
    }
    for element in &circuit.elements {
        let joins = match element.kind {
            ElementKind::Wire | ElementKind::Inline | ElementKind::Tie => true,
            ElementKind::Terminal => !matches!(element.owner, Owner::Fuse),
            _ => false,
        };
        if joins {
            let (a, b) = (root(&mut parent, element.from.index()), root(&mut parent, element.to.index()));
            if let Some(slot) = parent.get_mut(a.max(b)) {
                *slot = a.min(b);
            }
        }
    }
    // Named by what a person would call it; of several the first by the alphabet, so that order does not matter.
    let mut best: BTreeMap<usize, (u8, &str)> = BTreeMap::new();
    let roots: Vec<usize> = (0..circuit.points.len()).map(|at| root(&mut parent, at)).collect();
    for (point, &net) in circuit.points.iter().zip(&roots) {
        let rank = match point.kind {
            PointKind::Common => 0,
            PointKind::Supply(_) => 1,
            PointKind::Ground(_) => 2,
            PointKind::Splice(_) => 3,
            PointKind::Pin(..) | PointKind::Cavity(..) | PointKind::InlineSide(..) => 4,
            PointKind::PinInside(..) | PointKind::CavityInside(..) => 5,
            PointKind::Internal => 6,
        };
        let this = (rank, point.name.as_str());
        let known = best.entry(net).or_insert(this);
        *known = this.min(*known);
    }
    roots
        .iter()
        .map(|net| best.get(net).map_or_else(String::new, |(_, name)| format!("net:{name}")))
        .collect()
}
