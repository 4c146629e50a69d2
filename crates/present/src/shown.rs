//! Which points and elements are shown, under which names, and in which order.

use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind, Law, PointKind},
};
use keyon_solve::Solution;
use smol_str::{SmolStr, format_smolstr};
use std::collections::BTreeMap;

/// A point to show.
#[derive(Clone, Debug, PartialEq)]
pub struct ShownPoint {
    #[allow(missing_docs)]
    pub point: PointId,
    /// Its full name, `SCU.A.4`.
    pub name: SmolStr,
    /// Its other name, `SCU.left_cmd`.
    pub alias: Option<SmolStr>,
    /// For headings: what it belongs to.
    pub part_of: PartOf,
}

/// What a point belongs to, in the order in which points are listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum PartOf {
    Supplies,
    Grounds,
    Splices,
    Inline(InlineId),
    Device(DeviceId),
    Module(ModuleId),
}

/// The points that a person can name: supplies, grounds, splices, sides of in-line cavities, device pins, module
/// cavities. With a solution also the inner sides of pins whose net is another than the wire side's.
pub fn shown_points(circuit: &Circuit, solution: Option<&Solution>) -> Vec<ShownPoint> {
    let mut shown = Vec::new();
    for (index, point) in circuit.points.iter().enumerate() {
        let id = PointId::from(index);
        let mut alias = None;
        let part_of = match point.kind {
            PointKind::Common | PointKind::Internal => continue,
            PointKind::Supply(_) => PartOf::Supplies,
            PointKind::Ground(_) => PartOf::Grounds,
            PointKind::Splice(_) => PartOf::Splices,
            PointKind::InlineSide(inline, ..) => PartOf::Inline(inline),
            PointKind::Pin(device, _) => PartOf::Device(device),
            PointKind::Cavity(module, connector, cavity) => {
                alias = cavity_alias(circuit, module, connector, cavity);
                PartOf::Module(module)
            }
            PointKind::PinInside(device, pin) => {
                let outside =
                    circuit.devices.get(device.index()).and_then(|d| d.pins.get(pin)).map(|p| p.outside);
                if same_net(solution, id, outside) {
                    continue;
                }
                PartOf::Device(device)
            }
            PointKind::CavityInside(module, connector, cavity) => {
                let outside = circuit.cavity(module, connector, cavity).map(|c| c.outside);
                if same_net(solution, id, outside) {
                    continue;
                }
                PartOf::Module(module)
            }
        };
        shown.push(ShownPoint { point: id, name: point.name.clone(), alias, part_of });
    }
    // Stable: source order within what they belong to.
    shown.sort_by_key(|point| point.part_of);
    shown
}

/// Without a solution every inner side counts as the same net.
fn same_net(solution: Option<&Solution>, inside: PointId, outside: Option<PointId>) -> bool {
    let (Some(solution), Some(outside)) = (solution, outside) else { return true };
    solution.nets.get(inside.index()) == solution.nets.get(outside.index())
}

/// `SCU.left_cmd` of a cavity that has a name.
pub fn cavity_alias(circuit: &Circuit, module: ModuleId, connector: usize, cavity: usize) -> Option<SmolStr> {
    let name = &circuit.cavity(module, connector, cavity)?.name;
    let module = &circuit.modules.get(module.index())?.name;
    (!name.is_empty()).then(|| format_smolstr!("{module}.{name}"))
}

/// Whether an element is listed: all but terminals and other ideal joints that nobody named.
pub fn element_is_shown(circuit: &Circuit, element: ElementId) -> bool {
    let Some(element) = circuit.elements.get(element.index()) else { return false };
    match element.kind {
        ElementKind::Terminal | ElementKind::Tie => !matches!(element.law, Law::Joint),
        _ => true,
    }
}

/// The elements that are listed, in source order.
pub fn shown_elements(circuit: &Circuit) -> Vec<ElementId> {
    (0..circuit.elements.len()).map(ElementId::from).filter(|&e| element_is_shown(circuit, e)).collect()
}

/// A name for each net of a solution: its supply, ground point or splice, else the first point that a person can
/// name. Keys are the solution's net numbers.
pub fn net_names(circuit: &Circuit, solution: &Solution) -> BTreeMap<u32, SmolStr> {
    let mut best: BTreeMap<u32, (u8, SmolStr)> = BTreeMap::new();
    for (point, &net) in circuit.points.iter().zip(&solution.nets) {
        let rank = match point.kind {
            PointKind::Common => 0,
            PointKind::Supply(_) => 1,
            PointKind::Ground(_) => 2,
            PointKind::Splice(_) => 3,
            PointKind::Pin(..) | PointKind::Cavity(..) | PointKind::InlineSide(..) => 4,
            PointKind::PinInside(..) | PointKind::CavityInside(..) => 5,
            PointKind::Internal => 6,
        };
        match best.get(&net) {
            Some((known, _)) if *known <= rank => {}
            _ => {
                best.insert(net, (rank, point.name.clone()));
            }
        }
    }
    best.into_iter().map(|(net, (_, name))| (net, name)).collect()
}
