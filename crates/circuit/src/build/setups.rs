//! What a person does to the circuit: unplug, pull, jumper, load.

use super::{Builder, names::is_point, values::Want};
use crate::{Entity, ids::*, index::Entities, model::*, units, value::Num};
use keyon_syntax::{
    tree::{Name, Quantity, Setup, SetupKind},
    unit::Dimension,
};

const LOAD: Want = Want::load("a test load", "4 ohm", 1e9);
const WATTS: Want = Want::new(Dimension::Power, "a test load's power", "21 W").above(0.0);
const VOLTS: Want = Want::volts("a test load's voltage", "12 V");

impl Builder<'_> {
    pub(super) fn setups(&mut self, setups: &[Setup], into: &mut Vec<Change>) {
        for setup in setups {
            self.setup(setup, into);
        }
    }

    fn setup(&mut self, setup: &Setup, into: &mut Vec<Change>) {
        match &setup.kind {
            SetupKind::Unplug(name) => self.unplug(name, into),
            SetupKind::Pull(name) => {
                let found =
                    self.resolve(name, "a fuse", &|_, e| matches!(e, Entity::Fuse(_) | Entity::Device(_)));
                match found {
                    Some(Entity::Fuse(element)) => into.push(Change::Open(element)),
                    // A relay is pulled from its socket.
                    Some(entity) => into.extend(self.terminals(entity).into_iter().map(Change::Open)),
                    None => {}
                }
            }
            SetupKind::Jumper(from, to) => {
                let (from, to) = (self.net_named(from), self.net_named(to));
                if let (Some(from), Some(to)) = (from, to) {
                    into.push(Change::Add { from, to, law: Law::Joint });
                }
            }
            SetupKind::Load { from, to, values } => {
                let (from, to) = (self.net_named(from), self.net_named(to));
                let law = self.load(values, setup);
                if let (Some(from), Some(to), Some(law)) = (from, to, law) {
                    into.push(Change::Add { from, to, law });
                }
            }
        }
    }

    fn unplug(&mut self, name: &Name, into: &mut Vec<Change>) {
        let pluggable = |c: &Circuit, entity: Entity| match entity {
            Entity::Device(_) | Entity::Module(_) | Entity::Connector(..) | Entity::Inline(_) => true,
            Entity::Cavity(..) | Entity::InlineCavity(..) => true,
            Entity::Point(p) => matches!(c.points.get(p.index()).map(|p| p.kind), Some(PointKind::Pin(..))),
            _ => false,
        };
        let found = self.resolve(
            name,
            "something with a connector (a device, a module, `SCU.A`, `C201`)",
            &pluggable,
        );
        if let Some(entity) = found {
            into.extend(self.terminals(entity).into_iter().map(Change::Open));
        }
    }

    /// The contacts that part when a thing is unplugged.
    fn terminals(&self, entity: Entity) -> Vec<ElementId> {
        let c = &self.c;
        match entity {
            Entity::Device(d) => c
                .devices
                .get(d.index())
                .map(|d| d.pins.iter().map(|p| p.terminal).collect())
                .unwrap_or_default(),
            Entity::Module(m) => {
                let connectors = c.modules.get(m.index()).map_or(&[][..], |m| &m.connectors);
                connectors.iter().flat_map(|c| &c.cavities).map(|k| k.terminal).collect()
            }
            Entity::Connector(m, connector) => {
                let connector = c.modules.get(m.index()).and_then(|m| m.connectors.get(connector));
                connector.map(|c| c.cavities.iter().map(|k| k.terminal).collect()).unwrap_or_default()
            }
            Entity::Inline(i) => c
                .inlines
                .get(i.index())
                .map(|i| i.cavities.iter().map(|c| c.joint).collect())
                .unwrap_or_default(),
            other => c.element_of(other).into_iter().collect(),
        }
    }

    fn load(&mut self, values: &[Quantity], setup: &Setup) -> Option<Law> {
        let dimension = |q: &Quantity| units::si(q).map(|(_, d)| d);
        match values {
            [ohms] if dimension(ohms) != Some(Dimension::Power) => {
                self.quantity(ohms, LOAD).map(|ohms| Law::Resistance(Num::exact(ohms)))
            }
            [one, two] => {
                let (watts, volts) = match dimension(one) {
                    Some(Dimension::Voltage) => (two, one),
                    _ => (one, two),
                };
                let (watts, volts) = (self.quantity(watts, WATTS), self.quantity(volts, VOLTS));
                Some(Law::Rated { watts: Num::exact(watts?), volts: Num::exact(volts?), cold: None })
            }
            _ => {
                let loc = self.at(setup.span);
                if !self.has_syntax_error(loc) {
                    self.report(
                        "wrong-dimension",
                        loc,
                        "a test load needs its ohms, or its watts and volts".to_owned(),
                    )
                    .help("write it like `load A to B 21 W 12 V` or `load A to B 4 ohm`");
                }
                None
            }
        }
    }

    /// The point of a name that means a net: a point, or a wire (its first end).
    pub(super) fn net_named(&mut self, name: &Name) -> Option<PointId> {
        let fits = |c: &Circuit, entity: Entity| {
            is_point(c, entity) || matches!(entity, Entity::Wire(_)) || is_stretch(c, entity)
        };
        // Several wires of one number on one net are one net: take the first.
        let several = self
            .c
            .index
            .wires
            .get(&name.text)
            .map(Entities::as_slice)
            .filter(|w| w.len() > 1)
            .and_then(|w| w.first())
            .copied();
        if let Some(first) = several
            && !self.c.index.things.contains_key(&name.text)
        {
            self.occurs_path(name, first);
            return self.c.point_of(first);
        }
        let entity = self.resolve(name, "a point or a wire", &fits)?;
        self.c.point_of(entity)
    }
}

/// A stretch of a wire.
pub(super) fn is_stretch(circuit: &Circuit, entity: Entity) -> bool {
    match entity {
        Entity::Element(e) => circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Wire),
        _ => false,
    }
}
