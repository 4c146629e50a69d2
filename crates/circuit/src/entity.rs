//! What a name means, and where it is declared.

use crate::{
    Elaboration,
    ids::*,
    model::{Circuit, ControlKind, Element, FuseKind, Loc, Owner, PointKind, Role},
};
use smol_str::SmolStr;

/// What a name means. A name has one entity: that of its declaration (the name of a cavity is a `Cavity` also where
/// it is set like a control); the functions of [`Circuit`] lead from there to its point, control, stimulus, element.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Entity {
    /// A device's pin, a side of an in-line cavity, the common ground.
    Point(PointId),
    /// Index into `supplies`.
    Supply(usize),
    /// Index into `grounds`.
    Ground(usize),
    /// Index into `splices`.
    Splice(usize),
    #[allow(missing_docs)]
    Device(DeviceId),
    /// An element of a device, a stretch of a wire.
    Element(ElementId),
    #[allow(missing_docs)]
    Module(ModuleId),
    #[allow(missing_docs)]
    Connector(ModuleId, usize),
    /// Connector and cavity, by number or by name.
    Cavity(ModuleId, usize, usize),
    #[allow(missing_docs)]
    Inline(InlineId),
    #[allow(missing_docs)]
    InlineCavity(InlineId, usize),
    #[allow(missing_docs)]
    Wire(WireId),
    /// A fuse, breaker or link.
    Fuse(ElementId),
    /// A gang, or a `control` item.
    Control(ControlId),
    #[allow(missing_docs)]
    Position(ControlId, usize),
    /// Never the meaning of a name (that is its device or element); for what lists stimuli.
    Stimulus(StimulusId),
    #[allow(missing_docs)]
    Scenario(ScenarioId),
    /// Index into `exercises`.
    Exercise(usize),
    /// Index into `readings`.
    Readings(usize),
    /// Index into [`Elaboration::parts`].
    Part(usize),
    /// A part's parameter.
    Param(usize, usize),
    /// A name declared inside a part's body (pin, position, element, cavity, gang), known by its place.
    Inside(usize, Loc),
    /// A library, by its path or its alias (the alias is its `definition` in [`Occurrence`], the file
    /// in [`Elaboration::definition`]).
    Library(FileId),
}

/// A name in a text and what it means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Occurrence {
    /// The name itself; of a path, one part between the dots.
    pub loc: Loc,
    #[allow(missing_docs)]
    pub entity: Entity,
    /// It is declared here.
    pub definition: bool,
}

/// A part of any file of the elaboration.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct PartInfo {
    pub name: SmolStr,
    pub title: Option<String>,
    /// Its name.
    pub loc: Loc,
    pub params: Vec<ParamInfo>,
    /// Pins of a device part.
    pub pins: Vec<SmolStr>,
    /// Connector and cavity of a module part.
    pub cavities: Vec<(SmolStr, SmolStr, Option<SmolStr>)>,
    /// A kind of module: its body has connectors.
    pub module: bool,
    /// From the library that comes with Keyon.
    pub built_in: bool,
    /// A device or module of the circuit is one.
    pub used: bool,
}

/// A part's parameter.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct ParamInfo {
    pub name: SmolStr,
    /// `None` where the word is no dimension.
    pub dimension: Option<keyon_syntax::unit::Dimension>,
    pub default: Option<crate::value::Num>,
    pub loc: Loc,
}

impl Circuit {
    /// The point that an entity stands for where a point is wanted: the wire side of a cavity, the first end of a wire.
    pub fn point_of(&self, entity: Entity) -> Option<PointId> {
        match entity {
            Entity::Point(point) => Some(point),
            Entity::Supply(i) => self.supplies.get(i).map(|s| s.point),
            Entity::Ground(i) => self.grounds.get(i).map(|g| g.point),
            Entity::Splice(i) => self.splices.get(i).map(|s| s.point),
            Entity::Cavity(m, c, k) => self.cavity(m, c, k).map(|cavity| cavity.outside),
            Entity::InlineCavity(i, c) => self.inlines.get(i.index())?.cavities.get(c).map(|c| c.a),
            Entity::Wire(w) => {
                let element = self.wires.get(w.index())?.stretches.first()?.element;
                self.elements.get(element.index()).map(|e| e.from)
            }
            Entity::Element(e) => {
                let element = self.elements.get(e.index())?;
                matches!(element.owner, Owner::Wire(_)).then_some(element.from)
            }
            _ => None,
        }
    }

    /// The control that an entity stands for: a device's positions, a stage's or the gang's that moves it.
    pub fn control_of(&self, entity: Entity) -> Option<ControlId> {
        match entity {
            Entity::Device(d) => self.devices.get(d.index())?.control,
            Entity::Cavity(m, c, k) => self.cavity(m, c, k)?.control,
            Entity::Control(control) | Entity::Position(control, _) => Some(control),
            _ => None,
        }
    }

    /// The stimulus that an entity stands for: a device's only one, or an element's.
    pub fn stimulus_of(&self, entity: Entity) -> Option<StimulusId> {
        match entity {
            Entity::Stimulus(stimulus) => Some(stimulus),
            Entity::Device(d) => self.index.stimulus_of_device(d),
            Entity::Element(e) => self.elements.get(e.index())?.law.stimulus(),
            _ => None,
        }
    }

    /// The element that an entity is: a fuse, a load, a wire of one stretch, a pin's contact, a supply.
    pub fn element_of(&self, entity: Entity) -> Option<ElementId> {
        match entity {
            Entity::Element(e) | Entity::Fuse(e) => Some(e),
            Entity::Wire(w) => match self.wires.get(w.index())?.stretches.as_slice() {
                [only] => Some(only.element),
                _ => None,
            },
            Entity::Supply(i) => self.supplies.get(i).map(|s| s.element),
            Entity::Ground(i) => self.grounds.get(i).map(|g| g.element),
            Entity::Cavity(m, c, k) => self.cavity(m, c, k).map(|cavity| cavity.terminal),
            Entity::InlineCavity(i, c) => self.inlines.get(i.index())?.cavities.get(c).map(|c| c.joint),
            Entity::Point(point) => match self.points.get(point.index())?.kind {
                PointKind::Pin(d, pin) => self.devices.get(d.index())?.pins.get(pin).map(|p| p.terminal),
                PointKind::InlineSide(i, c, _) => {
                    self.inlines.get(i.index())?.cavities.get(c).map(|c| c.joint)
                }
                _ => None,
            },
            Entity::Stimulus(s) => self.stimuli.get(s.index()).map(|s| s.element),
            Entity::Device(d) => match self.devices.get(d.index())?.elements.as_slice() {
                [only] => Some(*only),
                _ => None,
            },
            _ => None,
        }
    }

    /// The device that an entity is or belongs to.
    pub fn device_of(&self, entity: Entity) -> Option<DeviceId> {
        match entity {
            Entity::Device(d) => Some(d),
            Entity::Point(point) => match self.points.get(point.index())?.kind {
                PointKind::Pin(d, _) | PointKind::PinInside(d, _) => Some(d),
                _ => None,
            },
            Entity::Element(e) => match self.elements.get(e.index())?.owner {
                Owner::Device(d) => Some(d),
                _ => None,
            },
            Entity::Stimulus(s) => self.device_of(Entity::Element(self.stimuli.get(s.index())?.element)),
            Entity::Control(c) | Entity::Position(c, _) => match self.controls.get(c.index())?.kind {
                ControlKind::Device(d) => Some(d),
                _ => None,
            },
            _ => None,
        }
    }

    /// The entity of a point.
    pub fn entity_of_point(&self, point: PointId) -> Entity {
        match self.points.get(point.index()).map(|p| p.kind) {
            Some(PointKind::Supply(i)) => Entity::Supply(i),
            Some(PointKind::Ground(i)) => Entity::Ground(i),
            Some(PointKind::Splice(i)) => Entity::Splice(i),
            Some(PointKind::Cavity(m, c, k) | PointKind::CavityInside(m, c, k)) => Entity::Cavity(m, c, k),
            Some(PointKind::PinInside(d, pin)) => {
                let outside = self.devices.get(d.index()).and_then(|d| d.pins.get(pin)).map(|p| p.outside);
                Entity::Point(outside.unwrap_or(point))
            }
            _ => Entity::Point(point),
        }
    }

    /// A cavity of a module.
    pub fn cavity(&self, module: ModuleId, connector: usize, cavity: usize) -> Option<&crate::model::Cavity> {
        self.modules.get(module.index())?.connectors.get(connector)?.cavities.get(cavity)
    }

    /// The full name of an entity that belongs to the circuit, as it may be written in the file.
    pub fn name_of(&self, entity: Entity) -> SmolStr {
        let empty = SmolStr::default;
        match entity {
            Entity::Point(p) => self.points.get(p.index()).map_or_else(empty, |p| p.name.clone()),
            Entity::Supply(i) => self.supplies.get(i).map_or_else(empty, |s| s.name.clone()),
            Entity::Ground(i) => self.grounds.get(i).map_or_else(empty, |s| s.name.clone()),
            Entity::Splice(i) => self.splices.get(i).map_or_else(empty, |s| s.name.clone()),
            Entity::Device(d) => self.devices.get(d.index()).map_or_else(empty, |d| d.name.clone()),
            Entity::Element(e) | Entity::Fuse(e) => self.element_name(e),
            Entity::Module(m) => self.modules.get(m.index()).map_or_else(empty, |m| m.name.clone()),
            Entity::Connector(m, c) => self.modules.get(m.index()).map_or_else(empty, |module| {
                let connector = module.connectors.get(c).map_or("", |c| c.name.as_str());
                smol_str::format_smolstr!("{}.{connector}", module.name)
            }),
            Entity::Cavity(m, c, k) => {
                let cavity = self.cavity(m, c, k).and_then(|cavity| self.points.get(cavity.outside.index()));
                cavity.map_or_else(empty, |p| p.name.clone())
            }
            Entity::Inline(i) => self.inlines.get(i.index()).map_or_else(empty, |i| i.name.clone()),
            Entity::InlineCavity(i, c) => self.inlines.get(i.index()).map_or_else(empty, |inline| {
                let cavity = inline.cavities.get(c).map_or("", |c| c.name.as_str());
                smol_str::format_smolstr!("{}.{cavity}", inline.name)
            }),
            Entity::Wire(w) => self.wires.get(w.index()).map_or_else(empty, |w| w.name.clone()),
            Entity::Control(c) => self.controls.get(c.index()).map_or_else(empty, |c| c.name.clone()),
            Entity::Position(c, p) => {
                self.controls.get(c.index()).and_then(|c| c.positions.get(p)).map_or_else(empty, Clone::clone)
            }
            Entity::Stimulus(s) => self.stimuli.get(s.index()).map_or_else(empty, |s| s.name.clone()),
            Entity::Scenario(s) => self.scenarios.get(s.index()).map_or_else(empty, |s| s.name.clone()),
            Entity::Exercise(i) => self.exercises.get(i).map_or_else(empty, |e| e.name.clone()),
            Entity::Readings(i) => self.readings.get(i).and_then(|r| r.name.clone()).unwrap_or_default(),
            Entity::Part(_) | Entity::Param(..) | Entity::Inside(..) | Entity::Library(_) => empty(),
        }
    }

    fn element_name(&self, element: ElementId) -> SmolStr {
        self.elements.get(element.index()).map_or_else(SmolStr::default, |e: &Element| e.name.clone())
    }
}

impl Elaboration {
    /// Where an entity is declared: two entities with one place are one name (a pin of each device of a part).
    pub fn definition(&self, entity: Entity) -> Option<Loc> {
        match entity {
            Entity::Part(i) => self.parts.get(i).map(|p| p.loc),
            Entity::Param(i, p) => self.parts.get(i)?.params.get(p).map(|p| p.loc),
            _ => declared(&self.circuit, entity),
        }
    }

    /// What an entity is, in a few words: "device `left_valve`, Left boom valve (boom_valve)".
    pub fn describe(&self, entity: Entity) -> String {
        let circuit = &self.circuit;
        let (kind, title) = match entity {
            Entity::Point(p) => match circuit.points.get(p.index()).map(|p| p.kind) {
                Some(PointKind::Common) => ("the common ground", None),
                Some(PointKind::Pin(d, _)) => {
                    ("pin", circuit.devices.get(d.index()).and_then(|d| d.title.clone()))
                }
                Some(PointKind::InlineSide(i, ..)) => (
                    "side of an in-line connector",
                    circuit.inlines.get(i.index()).and_then(|i| i.title.clone()),
                ),
                _ => ("point", None),
            },
            Entity::Supply(i) => ("supply", circuit.supplies.get(i).and_then(|s| s.title.clone())),
            Entity::Ground(i) => ("ground point", circuit.grounds.get(i).and_then(|s| s.title.clone())),
            Entity::Splice(i) => ("splice", circuit.splices.get(i).and_then(|s| s.title.clone())),
            Entity::Device(d) => {
                let device = circuit.devices.get(d.index());
                let part = device.and_then(|d| d.part.as_ref()).map(|p| p.name.clone());
                let title = device.and_then(|d| d.title.clone());
                let text = match (title, part) {
                    (Some(title), Some(part)) => Some(format!("{title} ({part})")),
                    (None, Some(part)) => Some(format!("a {part}")),
                    (title, None) => title,
                };
                ("device", text)
            }
            Entity::Element(e) => match circuit.elements.get(e.index()).map(|e| e.owner) {
                Some(Owner::Wire(_)) => ("stretch of wire", None),
                _ => ("element", None),
            },
            Entity::Module(m) => ("module", circuit.modules.get(m.index()).and_then(|m| m.title.clone())),
            Entity::Connector(m, c) => {
                let connector = circuit.modules.get(m.index()).and_then(|m| m.connectors.get(c));
                ("connector", connector.and_then(|c| c.title.clone()))
            }
            Entity::Cavity(m, c, k) => {
                let cavity = circuit.cavity(m, c, k);
                ("cavity", cavity.map(|c| format!("{} ({})", c.name, role_words(&c.role))))
            }
            Entity::Inline(i) => {
                ("in-line connector", circuit.inlines.get(i.index()).and_then(|i| i.title.clone()))
            }
            Entity::InlineCavity(..) => ("cavity of an in-line connector", None),
            Entity::Wire(w) => ("wire", circuit.wires.get(w.index()).and_then(|w| w.title.clone())),
            Entity::Fuse(e) => {
                let fuse = circuit.fuses.iter().find(|f| f.element == e);
                let kind = match fuse.map(|f| f.kind) {
                    Some(FuseKind::Breaker) => "breaker",
                    Some(FuseKind::Link) => "fusible link",
                    _ => "fuse",
                };
                (kind, fuse.and_then(|f| f.title.clone()))
            }
            Entity::Control(c) => ("control", circuit.controls.get(c.index()).and_then(|c| c.title.clone())),
            Entity::Position(c, _) => {
                ("position", circuit.controls.get(c.index()).map(|c| format!("of {}", c.name)))
            }
            Entity::Stimulus(_) => ("stimulus", None),
            Entity::Scenario(s) => {
                ("scenario", circuit.scenarios.get(s.index()).and_then(|s| s.title.clone()))
            }
            Entity::Exercise(i) => ("exercise", circuit.exercises.get(i).and_then(|e| e.title.clone())),
            Entity::Readings(i) => ("readings", circuit.readings.get(i).and_then(|r| r.title.clone())),
            Entity::Part(i) => ("part", self.parts.get(i).and_then(|p| p.title.clone())),
            Entity::Param(i, _) => ("parameter", self.parts.get(i).map(|p| format!("of {}", p.name))),
            Entity::Inside(i, _) => ("name", self.parts.get(i).map(|p| format!("inside {}", p.name))),
            Entity::Library(_) => ("library", None),
        };
        let name = self.name_of(entity);
        let mut text = if name.is_empty() || kind.starts_with("the ") {
            kind.to_owned()
        } else {
            format!("{kind} `{name}`")
        };
        if let Some(title) = title {
            text.push_str(", ");
            text.push_str(&title);
        }
        text
    }

    /// The name of any entity, as written where it is declared (full for those of the circuit).
    pub fn name_of(&self, entity: Entity) -> SmolStr {
        match entity {
            Entity::Part(i) => self.parts.get(i).map(|p| p.name.clone()).unwrap_or_default(),
            Entity::Param(i, p) => self
                .parts
                .get(i)
                .and_then(|part| part.params.get(p))
                .map(|p| p.name.clone())
                .unwrap_or_default(),
            Entity::Inside(_, loc) => SmolStr::new(self.text(loc)),
            Entity::Library(file) => self.files.get(file.index()).map(|f| f.key.clone()).unwrap_or_default(),
            _ => self.circuit.name_of(entity),
        }
    }
}

/// A cavity's role, as a person says it.
pub fn role_words(role: &Role) -> &'static str {
    use keyon_syntax::tree::Way;
    match role {
        Role::Feed => "feed",
        Role::Ground => "ground",
        Role::Drives(Way::Low) => "low-side driver",
        Role::Drives(Way::High) => "high-side driver",
        Role::Drives(Way::Half) => "half-bridge driver",
        Role::Switches => "changeover",
        Role::Reference { .. } => "reference",
        Role::Return { switched: false } => "return",
        Role::Return { switched: true } => "switched return",
        Role::Senses { digital: false } => "analog input",
        Role::Senses { digital: true } => "digital input",
        Role::Bus { .. } => "bus",
        Role::Unused => "unused",
    }
}

/// Where an entity of a circuit is declared.
pub(crate) fn declared(circuit: &Circuit, entity: Entity) -> Option<Loc> {
    match entity {
        Entity::Point(p) => circuit.points.get(p.index())?.loc,
        Entity::Supply(i) => circuit.supplies.get(i).map(|s| s.loc),
        Entity::Ground(i) => circuit.grounds.get(i).map(|s| s.loc),
        Entity::Splice(i) => circuit.splices.get(i).map(|s| s.loc),
        Entity::Device(d) => circuit.devices.get(d.index()).map(|d| d.loc),
        Entity::Element(e) => {
            circuit.index.element_name_loc(e).or_else(|| circuit.elements.get(e.index()).map(|e| e.loc))
        }
        Entity::Fuse(e) => circuit.fuses.iter().find(|f| f.element == e).map(|f| f.loc),
        Entity::Module(m) => circuit.modules.get(m.index()).map(|m| m.loc),
        Entity::Connector(m, c) => circuit.modules.get(m.index())?.connectors.get(c).map(|c| c.loc),
        Entity::Cavity(m, c, k) => circuit.points.get(circuit.cavity(m, c, k)?.outside.index())?.loc,
        Entity::Inline(i) => circuit.inlines.get(i.index()).map(|i| i.loc),
        Entity::InlineCavity(i, c) => circuit.inlines.get(i.index())?.cavities.get(c).map(|c| c.loc),
        Entity::Wire(w) => circuit.wires.get(w.index()).map(|w| w.loc),
        Entity::Control(c) => circuit.controls.get(c.index()).map(|c| c.loc),
        Entity::Position(c, p) => circuit.index.position_loc(c, p),
        Entity::Stimulus(s) => circuit.stimuli.get(s.index()).map(|s| s.loc),
        Entity::Scenario(s) => circuit.scenarios.get(s.index()).map(|s| s.loc),
        Entity::Exercise(i) => circuit.exercises.get(i).map(|e| e.loc),
        Entity::Readings(i) => circuit.readings.get(i).map(|r| r.loc),
        Entity::Inside(_, loc) => Some(loc),
        Entity::Part(_) | Entity::Param(..) => None,
        Entity::Library(file) => Some(Loc { file, item: 0, span: keyon_syntax::Span::default() }),
    }
}
