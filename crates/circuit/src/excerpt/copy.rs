//! Each thing of a circuit as the excerpt has it.

use super::Kept;
use crate::{ids::*, model::*};

impl Kept<'_> {
    pub(super) fn point_of(&self, point: &Point) -> Option<Point> {
        use PointKind::*;
        let kind = match point.kind {
            Common => Common,
            Supply(i) => Supply(*self.supplies.get(&i)?),
            Ground(i) => Ground(*self.grounds.get(&i)?),
            Splice(i) => Splice(*self.splices.get(&i)?),
            Pin(d, i) => Pin(*self.devices.get(&d)?, i),
            PinInside(d, i) => PinInside(*self.devices.get(&d)?, i),
            Cavity(m, c, k) => Cavity(*self.modules.get(&m)?, c, k),
            CavityInside(m, c, k) => CavityInside(*self.modules.get(&m)?, c, k),
            InlineSide(i, cavity, side) => {
                let (inline, cavities) = self.inlines.get(&i)?;
                InlineSide(*inline, *cavities.get(&cavity)?, side)
            }
            Internal => Internal,
        };
        Some(Point { kind, ..point.clone() })
    }

    pub(super) fn copy(&self, e: &Element) -> Element {
        let when = match e.when {
            When::In { control, positions } => {
                self.control(Some(control)).map_or(When::Never, |control| When::In { control, positions })
            }
            When::Energised { coil, open } => {
                self.elements.get(&coil).map_or(When::Never, |&coil| When::Energised { coil, open })
            }
            when => when,
        };
        let index =
            |map: &crate::hash::Map<usize, usize>, i: usize| map.get(&i).copied().unwrap_or(usize::MAX);
        let owner = match e.owner {
            Owner::Wire(w) => Owner::Wire(self.wires.get(&w).copied().unwrap_or(WireId(u32::MAX))),
            Owner::Inline(i) => Owner::Inline(self.inlines.get(&i).map_or(InlineId(u32::MAX), |i| i.0)),
            Owner::Supply(i) => Owner::Supply(index(&self.supplies, i)),
            Owner::Ground(i) => Owner::Ground(index(&self.grounds, i)),
            Owner::Device(d) => Owner::Device(self.devices.get(&d).copied().unwrap_or(DeviceId(u32::MAX))),
            Owner::Module(m, c, k) => {
                Owner::Module(self.modules.get(&m).copied().unwrap_or(ModuleId(u32::MAX)), c, k)
            }
            Owner::Fuse => Owner::Fuse,
            Owner::Elsewhere => Owner::Elsewhere,
        };
        Element {
            name: e.name.clone(),
            from: self.point(e.from),
            to: self.point(e.to),
            kind: e.kind,
            law: self.law(&e.law),
            when,
            alive: e.alive.and_then(|m| self.modules.get(&m).copied()),
            rating: e.rating,
            owner,
            loc: e.loc,
        }
    }

    fn law(&self, law: &Law) -> Law {
        let mut law = law.clone();
        match &mut law {
            Law::Thermistor { stimulus, .. }
            | Law::Track { stimulus, .. }
            | Law::Variable { stimulus, .. } => {
                *stimulus = self.stimulus_id(*stimulus);
            }
            Law::Transducer { feed, stimulus, .. } => {
                *feed = self.point(*feed);
                *stimulus = self.stimulus_id(*stimulus);
            }
            _ => {}
        }
        law
    }

    fn stimulus_id(&self, stimulus: StimulusId) -> StimulusId {
        self.stimuli.get(&stimulus).copied().unwrap_or(StimulusId(u32::MAX))
    }

    pub(super) fn supply(&self, i: usize) -> Option<Supply> {
        let supply = self.whole.supplies.get(i)?;
        Some(Supply {
            point: self.point(supply.point),
            element: self.element(supply.element),
            negative: self.point(supply.negative),
            ..supply.clone()
        })
    }

    pub(super) fn ground(&self, i: usize) -> Option<GroundPoint> {
        let ground = self.whole.grounds.get(i)?;
        Some(GroundPoint {
            point: self.point(ground.point),
            element: self.element(ground.element),
            ..ground.clone()
        })
    }

    pub(super) fn splice(&self, i: usize) -> Option<Splice> {
        let splice = self.whole.splices.get(i)?;
        Some(Splice {
            point: self.point(splice.point),
            legs: self.elements_of(&splice.legs),
            shared_by: splice.shared_by.as_deref().map(|all| self.sharers(all)),
            ..splice.clone()
        })
    }

    pub(super) fn wire(&self, id: WireId) -> Option<Wire> {
        let wire = self.whole.wires.get(id.index())?;
        let stretches = wire.stretches.iter().filter_map(|stretch| {
            Some(Stretch { element: *self.elements.get(&stretch.element)?, ..stretch.clone() })
        });
        Some(Wire { stretches: stretches.collect(), ..wire.clone() })
    }

    pub(super) fn inlines(&self) -> Vec<Inline> {
        let mut kept: Vec<_> =
            self.inlines.iter().map(|(old, (new, cavities))| (*new, *old, cavities)).collect();
        kept.sort_unstable_by_key(|(new, ..)| *new);
        let one = |(_, old, cavities): &(InlineId, InlineId, &crate::hash::Map<usize, usize>)| {
            let inline = self.whole.inlines.get(old.index())?;
            let there = inline.cavities.iter().enumerate().filter(|(i, _)| cavities.contains_key(i));
            let cavities = there.map(|(_, cavity)| InlineCavity {
                a: self.point(cavity.a),
                b: self.point(cavity.b),
                joint: self.element(cavity.joint),
                landings: self.elements_of(&cavity.landings),
                ..cavity.clone()
            });
            Some(Inline { cavities: cavities.collect(), ..inline.clone() })
        };
        kept.iter().filter_map(one).collect()
    }

    pub(super) fn device(&self, id: DeviceId) -> Option<Device> {
        let device = self.whole.devices.get(id.index())?;
        let pins = device.pins.iter().map(|pin| Pin {
            outside: self.point(pin.outside),
            inside: self.point(pin.inside),
            terminal: self.element(pin.terminal),
            landings: self.elements_of(&pin.landings),
            ..pin.clone()
        });
        Some(Device {
            pins: pins.collect(),
            elements: self.elements_of(&device.elements),
            control: self.control(device.control),
            grades: device.grades.iter().map(|(name, all)| (name.clone(), self.elements_of(all))).collect(),
            ..device.clone()
        })
    }

    pub(super) fn module(&self, id: ModuleId) -> Option<Module> {
        let module = self.whole.modules.get(id.index())?;
        let cavity = |cavity: &Cavity| Cavity {
            outside: self.point(cavity.outside),
            inside: self.point(cavity.inside),
            terminal: self.element(cavity.terminal),
            elements: self.elements_of(&cavity.elements),
            control: self.control(cavity.control),
            shared_by: cavity.shared_by.as_ref().map(|(all, loc)| (self.sharers(all), *loc)),
            landings: self.elements_of(&cavity.landings),
            ..cavity.clone()
        };
        let connector =
            |c: &Connector| Connector { cavities: c.cavities.iter().map(cavity).collect(), ..c.clone() };
        let gangs = module
            .gangs
            .iter()
            .filter_map(|gang| Some(Gang { control: self.control(Some(gang.control))?, ..gang.clone() }));
        Some(Module {
            connectors: module.connectors.iter().map(connector).collect(),
            gangs: gangs.collect(),
            ..module.clone()
        })
    }

    pub(super) fn control_of(&self, id: ControlId) -> Option<Control> {
        let control = self.whole.controls.get(id.index())?;
        use ControlKind::*;
        // A thing that is left out leaves its control behind as one that anybody may move.
        let kind = match control.kind {
            Device(d) => self.devices.get(&d).map(|&d| Device(d)),
            Stage(m, c, k) => self.modules.get(&m).map(|&m| Stage(m, c, k)),
            Gang(m, g) => self.modules.get(&m).map(|&m| Gang(m, g)),
            Return(m, c, k) => self.modules.get(&m).map(|&m| Return(m, c, k)),
            Free => Some(Free),
        };
        Some(Control { kind: kind.unwrap_or(Free), ..control.clone() })
    }

    pub(super) fn stimulus(&self, id: StimulusId) -> Option<Stimulus> {
        let stimulus = self.whole.stimuli.get(id.index())?;
        Some(Stimulus { element: self.element(stimulus.element), ..stimulus.clone() })
    }
}
