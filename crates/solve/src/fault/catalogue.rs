//! Every single fault of a circuit (the list of `computation.md`).

use super::Fault;
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Circuit, ControlKind, ElementKind, Law, Owner, PointKind, When},
    value::Num,
};
use smol_str::{SmolStr, format_smolstr};
use std::collections::BTreeMap;

/// Added resistances, ohms.
const ADDED: [f64; 3] = [1.0, 10.0, 100.0];
/// Drifts of sensors.
const DRIFTS: [f64; 4] = [-0.3, -0.1, 0.1, 0.3];

/// All of them: opens, added resistances, shorts, stuck stages and contacts, sensors that drift; in the order of what
/// they are about.
pub fn single_faults(circuit: &Circuit) -> Vec<Fault> {
    let list = Catalogue { circuit, faults: Vec::new() };
    list.opens().within().shorts().stuck().drifts().faults
}

struct Catalogue<'c> {
    circuit: &'c Circuit,
    faults: Vec<Fault>,
}

impl Catalogue<'_> {
    fn add(&mut self, words: SmolStr, changes: Vec<Change>, elements: Vec<ElementId>) {
        self.faults.push(Fault { words, changes, elements, joins: None });
    }

    fn point(&self, p: PointId) -> SmolStr {
        self.circuit.points.get(p.index()).map(|p| p.name.clone()).unwrap_or_default()
    }

    /// What a person calls an element that can part: a wire, a contact of a connector, a fuse, a ground point.
    fn parts(&self, e: ElementId) -> Option<SmolStr> {
        let element = self.circuit.elements.get(e.index())?;
        match element.kind {
            // A printed label that is no name: by its ends.
            ElementKind::Wire if !is_plain(&element.name) => {
                Some(format_smolstr!("{} -> {}", self.point(element.from), self.point(element.to)))
            }
            ElementKind::Wire | ElementKind::Fuse(_) => Some(element.name.clone()),
            ElementKind::Ground => Some(self.point(element.from)),
            ElementKind::Terminal => {
                let wired = |p: PointId| match self.circuit.points.get(p.index())?.kind {
                    PointKind::Pin(d, i) => {
                        Some(!self.circuit.devices.get(d.index())?.pins.get(i)?.landings.is_empty())
                    }
                    PointKind::Cavity(m, c, k) => Some(!self.circuit.cavity(m, c, k)?.landings.is_empty()),
                    _ => None,
                };
                let outside = [element.from, element.to].into_iter().find(|&p| wired(p) == Some(true))?;
                Some(self.point(outside))
            }
            ElementKind::Inline => {
                let Owner::Inline(i) = element.owner else { return None };
                let inline = self.circuit.inlines.get(i.index())?;
                let cavity = inline.cavities.iter().find(|c| c.joint == e)?;
                Some(format_smolstr!("{}.{}", inline.name, cavity.name))
            }
            _ => None,
        }
    }

    /// Wires, contacts, fuses and grounds that part, or have gained resistance.
    fn opens(mut self) -> Self {
        for e in (0..self.circuit.elements.len()).map(ElementId::from) {
            let Some(name) = self.parts(e) else { continue };
            self.add(format_smolstr!("open {name}"), vec![Change::Open(e)], vec![e]);
            let added = |law: &Law, by: f64| match law {
                Law::Joint => Some(Law::Resistance(Num::exact(by))),
                Law::Resistance(n) => {
                    Some(Law::Resistance(Num { nominal: n.nominal + by, low: n.low + by, high: n.high + by }))
                }
                _ => None,
            };
            for by in ADDED {
                let Some(law) = self.circuit.elements.get(e.index()).and_then(|e| added(&e.law, by)) else {
                    continue;
                };
                self.add(
                    format_smolstr!("resistance {by} ohm in {name}"),
                    vec![Change::Replace(e, law)],
                    vec![e],
                );
            }
        }
        self
    }

    /// Loads and sensors that are open or shorted in themselves.
    fn within(mut self) -> Self {
        let circuit = self.circuit;
        for device in &circuit.devices {
            let loads: Vec<ElementId> = device
                .elements
                .iter()
                .copied()
                .filter(|e| {
                    circuit
                        .elements
                        .get(e.index())
                        .is_some_and(|e| e.kind.is_load() || e.kind == ElementKind::Diode)
                })
                .collect();
            for (i, &e) in loads.iter().enumerate() {
                let Some(element) = circuit.elements.get(e.index()) else { continue };
                // The two parts of a track are one thing: the end that parts is the lower one.
                if element.kind == ElementKind::Track(true) && loads.len() > i + 1 {
                    continue;
                }
                // The device's name would speak of its contacts too.
                let alone = device.elements.len() == 1;
                let name = if alone { device.name.clone() } else { element.name.clone() };
                self.add(format_smolstr!("open {name}"), vec![Change::Open(e)], vec![e]);
                self.add(format_smolstr!("short {name}"), vec![Change::Replace(e, Law::Joint)], vec![e]);
            }
        }
        self
    }

    /// Nets that touch ground, a supply, or the next cavity of a connector.
    fn shorts(mut self) -> Self {
        let circuit = self.circuit;
        let nets = Nets::new(circuit);
        let names = nets.names(circuit);
        let mut pairs: Vec<(PointId, PointId)> = Vec::new();
        for &net in names.keys() {
            if nets.of(COMMON) != net {
                pairs.push((net, COMMON));
            }
            pairs.extend(circuit.supplies.iter().map(|s| (net, s.point)).filter(|&(_, s)| nets.of(s) != net));
        }
        for connector in circuit.modules.iter().flat_map(|m| &m.connectors) {
            for pair in connector.cavities.windows(2) {
                if let [a, b] = pair {
                    pairs.push((nets.of(a.outside), nets.of(b.outside)));
                }
            }
        }
        for cavities in circuit.inlines.iter().map(|i| &i.cavities) {
            for pair in cavities.windows(2) {
                if let [a, b] = pair {
                    pairs.push((nets.of(a.a), nets.of(b.a)));
                }
            }
        }
        pairs.retain(|(a, b)| a != b);
        for pair in &mut pairs {
            // To ground and to a supply the other end is a name of its own.
            let fixed = |p: PointId| p == COMMON || circuit.supplies.iter().any(|s| s.point == p);
            if !fixed(pair.1) && pair.1 < pair.0 {
                *pair = (pair.1, pair.0);
            }
        }
        pairs.sort_unstable();
        pairs.dedup();
        for (a, b) in pairs {
            let Some((first, from)) = names.get(&a) else { continue };
            let (second, to) = match (b, names.get(&b)) {
                (COMMON, _) => (SmolStr::new_static("ground"), COMMON),
                (_, Some((name, point))) => (name.clone(), *point),
                _ => (self.point(b), b),
            };
            self.faults.push(Fault {
                words: format_smolstr!("short {first} to {second}"),
                changes: vec![Change::Add { from: *from, to, law: Law::Joint }],
                elements: Vec::new(),
                joins: Some((*from, to)),
            });
        }
        self
    }

    /// Stages, switches and relay contacts that stay as they are.
    fn stuck(mut self) -> Self {
        let circuit = self.circuit;
        for (c, control) in circuit.controls.iter().enumerate() {
            if !matches!(
                control.kind,
                ControlKind::Stage(..) | ControlKind::Return(..) | ControlKind::Device(_)
            ) {
                continue;
            }
            let moved: Vec<(ElementId, u64)> = circuit
                .elements
                .iter()
                .enumerate()
                .filter_map(|(e, element)| match element.when {
                    When::In { control, positions } if control.index() == c => Some((e.into(), positions)),
                    _ => None,
                })
                .collect();
            if moved.is_empty() {
                continue;
            }
            for (p, position) in control.positions.iter().enumerate() {
                let change = |&(e, positions): &(ElementId, u64)| Change::Stuck(e, positions >> p & 1 == 1);
                self.add(
                    format_smolstr!("stuck {} {position}", control.name),
                    moved.iter().map(change).collect(),
                    moved.iter().map(|m| m.0).collect(),
                );
            }
        }
        for (e, element) in circuit.elements.iter().enumerate() {
            if matches!(element.when, When::Energised { .. }) {
                for closed in [false, true] {
                    let how = if closed { "closed" } else { "open" };
                    self.add(
                        format_smolstr!("stuck {} {how}", element.name),
                        vec![Change::Stuck(e.into(), closed)],
                        vec![e.into()],
                    );
                }
            }
        }
        self
    }

    fn drifts(mut self) -> Self {
        let circuit = self.circuit;
        for (e, element) in circuit.elements.iter().enumerate() {
            if element.law.stimulus().is_none() || element.kind == ElementKind::Track(true) {
                continue;
            }
            let name = match element.owner {
                Owner::Device(d) => circuit.devices.get(d.index()).map(|d| d.name.clone()),
                _ => None,
            };
            let Some(name) = name else { continue };
            for by in DRIFTS {
                self.add(
                    format_smolstr!("drift {name} {:+.0} %", by * 100.0),
                    vec![Change::Drift(e.into(), 1.0 + by)],
                    vec![e.into()],
                );
            }
        }
        self
    }
}

/// Whether a fault can name it as it is.
fn is_plain(name: &str) -> bool {
    name.chars().all(|c| c.is_alphanumeric() || matches!(c, '_' | '.' | '°' | '²' | '³'))
}

/// Points that wiring joins, each set known by its lowest point.
struct Nets(Vec<u32>);

impl Nets {
    fn new(circuit: &Circuit) -> Self {
        let mut nets = crate::nets::Sets::new(circuit.points.len());
        for e in &circuit.elements {
            let joins = matches!(
                e.kind,
                ElementKind::Wire | ElementKind::Terminal | ElementKind::Inline | ElementKind::Tie
            ) || (e.kind == ElementKind::Ground && matches!(e.law, Law::Joint));
            if joins {
                nets.join(e.from.0 as usize, e.to.0 as usize);
            }
        }
        Self((0..circuit.points.len()).map(|p| nets.find(p) as u32).collect())
    }

    fn of(&self, p: PointId) -> PointId {
        PointId(self.0.get(p.index()).copied().unwrap_or(0))
    }

    /// Nets with a wire, by their splice, else by their lowest wire; with the point for which the name stands where a fault is
    /// written: of a wire its beginning.
    fn names(&self, circuit: &Circuit) -> BTreeMap<PointId, (SmolStr, PointId)> {
        let mut names: BTreeMap<PointId, (SmolStr, PointId)> = BTreeMap::new();
        for e in circuit.elements.iter().filter(|e| e.kind == ElementKind::Wire) {
            let point = || circuit.points.get(e.from.index()).map(|p| p.name.clone()).unwrap_or_default();
            let name = || if is_plain(&e.name) { e.name.clone() } else { point() };
            names.entry(self.of(e.from)).or_insert_with(|| (name(), e.from));
        }
        for splice in circuit.splices.iter().rev() {
            if let Some(name) = names.get_mut(&self.of(splice.point)) {
                *name = (splice.name.clone(), splice.point);
            }
        }
        names
    }
}
