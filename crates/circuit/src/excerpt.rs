//! A circuit cut down to some of its elements.
//!
//! Everything keeps its name, its place in the text and its order; only what is left out is not there. Ids are the
//! excerpt's own.

mod copy;

use crate::{hash::Map, ids::*, index::Index, model::*};
use smol_str::SmolStr;

/// The part of a circuit that was kept, with the way back.
#[derive(Clone, Debug)]
pub struct Excerpt {
    #[allow(missing_docs)]
    pub circuit: Circuit,
    /// Which point of the whole each of its points is.
    pub points: Vec<PointId>,
    /// Which element of the whole each of its elements is.
    pub elements: Vec<ElementId>,
}

/// New ids by old ones.
struct Kept<'c> {
    whole: &'c Circuit,
    points: Map<PointId, PointId>,
    elements: Map<ElementId, ElementId>,
    devices: Map<DeviceId, DeviceId>,
    modules: Map<ModuleId, ModuleId>,
    wires: Map<WireId, WireId>,
    controls: Map<ControlId, ControlId>,
    stimuli: Map<StimulusId, StimulusId>,
    inlines: Map<InlineId, (InlineId, Map<usize, usize>)>,
    supplies: Map<usize, usize>,
    grounds: Map<usize, usize>,
    splices: Map<usize, usize>,
}

/// Numbers what is kept, in the order of the whole.
fn number<T: From<usize> + Copy + Eq + std::hash::Hash>(kept: &[T]) -> Map<T, T> {
    kept.iter().enumerate().map(|(new, &old)| (old, T::from(new))).collect()
}

fn sorted<T: Ord>(items: impl IntoIterator<Item = T>) -> Vec<T> {
    let mut items: Vec<T> = items.into_iter().collect();
    items.sort_unstable();
    items.dedup();
    items
}

impl Circuit {
    /// The circuit with these elements, what they belong to and touch, and these points. Devices and modules come whole.
    /// What is said about the circuit (scenarios, expectations, exercises, readings) and the names that can be looked up
    /// are left out.
    pub fn excerpt(&self, elements: &[ElementId], points: &[PointId]) -> Excerpt {
        let kept = Kept::new(self, elements, points);
        let old_points = in_order(&kept.points);
        let old_elements = in_order(&kept.elements);
        let circuit = kept.circuit(&old_points, &old_elements);
        Excerpt { circuit, points: old_points, elements: old_elements }
    }
}

/// The old ids by their new ones.
fn in_order<T: Copy + Ord>(map: &Map<T, T>) -> Vec<T> {
    let mut pairs: Vec<(T, T)> = map.iter().map(|(&old, &new)| (new, old)).collect();
    pairs.sort_unstable();
    pairs.into_iter().map(|(_, old)| old).collect()
}

impl<'c> Kept<'c> {
    fn new(whole: &'c Circuit, elements: &[ElementId], points: &[PointId]) -> Self {
        let owner = |e: &ElementId| whole.elements.get(e.index()).map(|e| e.owner);
        let devices = sorted(elements.iter().filter_map(|e| match owner(e)? {
            Owner::Device(d) => Some(d),
            _ => None,
        }));
        let of_point = |p: &PointId| match whole.points.get(p.index())?.kind {
            PointKind::Cavity(m, ..) | PointKind::CavityInside(m, ..) => Some(m),
            _ => None,
        };
        let modules = sorted(
            elements
                .iter()
                .filter_map(|e| match owner(e)? {
                    Owner::Module(m, ..) => Some(m),
                    _ => whole.elements.get(e.index())?.alive,
                })
                .chain(points.iter().filter_map(of_point)),
        );
        let of_pin = |p: &PointId| match whole.points.get(p.index())?.kind {
            PointKind::Pin(d, _) | PointKind::PinInside(d, _) => Some(d),
            _ => None,
        };
        let devices = sorted(devices.into_iter().chain(points.iter().filter_map(of_pin)));
        let device = |d: &DeviceId| whole.devices.get(d.index());
        let module = |m: &ModuleId| whole.modules.get(m.index());
        let pins = || devices.iter().filter_map(device).flat_map(|d| &d.pins);
        let cavities =
            || modules.iter().filter_map(module).flat_map(|m| &m.connectors).flat_map(|c| &c.cavities);
        // Devices and modules come whole.
        let mut all = elements.to_vec();
        all.extend(devices.iter().filter_map(device).flat_map(|d| &d.elements).copied());
        all.extend(pins().map(|p| p.terminal));
        all.extend(cavities().flat_map(|c| std::iter::once(&c.terminal).chain(&c.elements)).copied());
        let all = sorted(all);
        let element = |e: &ElementId| whole.elements.get(e.index());
        let ends = all.iter().filter_map(element).flat_map(|e| {
            let feed = match e.law {
                Law::Transducer { feed, .. } => Some(feed),
                _ => None,
            };
            [Some(e.from), Some(e.to), feed].into_iter().flatten()
        });
        let all_points = sorted(
            std::iter::once(COMMON)
                .chain(points.iter().copied())
                .chain(ends)
                .chain(pins().flat_map(|p| [p.outside, p.inside]))
                .chain(cavities().flat_map(|c| [c.outside, c.inside])),
        );
        let wires = sorted(all.iter().filter_map(|e| match owner(e)? {
            Owner::Wire(w) => Some(w),
            _ => None,
        }));
        let mut controls: Vec<ControlId> = all
            .iter()
            .filter_map(|e| match element(e)?.when {
                When::In { control, .. } => Some(control),
                _ => None,
            })
            .collect();
        controls.extend(devices.iter().filter_map(|d| device(d)?.control));
        controls.extend(cavities().filter_map(|c| c.control));
        controls.extend(modules.iter().filter_map(module).flat_map(|m| &m.gangs).map(|g| g.control));
        let stimuli = sorted(all.iter().filter_map(|e| element(e)?.law.stimulus()));
        let mut kept = Self {
            whole,
            elements: number(&all),
            devices: number(&devices),
            modules: number(&modules),
            wires: number(&wires),
            controls: number(&sorted(controls)),
            stimuli: number(&stimuli),
            inlines: Map::default(),
            supplies: Map::default(),
            grounds: Map::default(),
            splices: Map::default(),
            points: number(&all_points),
        };
        kept.things(&all_points);
        kept
    }

    /// Supplies, grounds, splices and in-line cavities that are there by their points.
    fn things(&mut self, points: &[PointId]) {
        let (mut supplies, mut grounds, mut splices, mut inlines) = (vec![], vec![], vec![], vec![]);
        for point in points.iter().filter_map(|p| self.whole.points.get(p.index())) {
            match point.kind {
                PointKind::Supply(i) => supplies.push(i),
                PointKind::Ground(i) => grounds.push(i),
                PointKind::Splice(i) => splices.push(i),
                PointKind::InlineSide(i, cavity, _) => inlines.push((i, cavity)),
                _ => {}
            }
        }
        self.supplies = number(&sorted(supplies));
        self.grounds = number(&sorted(grounds));
        self.splices = number(&sorted(splices));
        for (inline, cavity) in sorted(inlines) {
            let next = InlineId::from(self.inlines.len());
            let cavities = &mut self.inlines.entry(inline).or_insert((next, Map::default())).1;
            cavities.insert(cavity, cavities.len());
        }
    }

    fn point(&self, p: PointId) -> PointId {
        self.points.get(&p).copied().unwrap_or(COMMON)
    }

    fn elements_of(&self, all: &[ElementId]) -> Vec<ElementId> {
        all.iter().filter_map(|e| self.elements.get(e).copied()).collect()
    }

    /// The id of an element that has to be there.
    fn element(&self, e: ElementId) -> ElementId {
        self.elements.get(&e).copied().unwrap_or(ElementId(u32::MAX))
    }

    fn control(&self, control: Option<ControlId>) -> Option<ControlId> {
        self.controls.get(&control?).copied()
    }

    fn sharers(&self, all: &[DeviceOrModule]) -> Vec<DeviceOrModule> {
        all.iter()
            .filter_map(|s| match s {
                DeviceOrModule::Device(d) => self.devices.get(d).copied().map(DeviceOrModule::Device),
                DeviceOrModule::Module(m) => self.modules.get(m).copied().map(DeviceOrModule::Module),
            })
            .collect()
    }

    fn circuit(&self, points: &[PointId], elements: &[ElementId]) -> Circuit {
        let whole = self.whole;
        let controls = in_order(&self.controls);
        let devices = in_order(&self.devices);
        let tainted = whole.tainted.iter().filter_map(|p| self.points.get(p).copied()).collect();
        let has = |e: ElementId| self.elements.contains_key(&e);
        Circuit {
            name: whole.name.clone(),
            title: whole.title.clone(),
            loc: whole.loc,
            points: points.iter().filter_map(|p| self.point_of(whole.points.get(p.index())?)).collect(),
            elements: elements
                .iter()
                .filter_map(|e| Some(self.copy(whole.elements.get(e.index())?)))
                .collect(),
            supplies: in_order(&self.supplies).into_iter().filter_map(|i| self.supply(i)).collect(),
            grounds: in_order(&self.grounds).into_iter().filter_map(|i| self.ground(i)).collect(),
            splices: in_order(&self.splices).into_iter().filter_map(|i| self.splice(i)).collect(),
            wires: in_order(&self.wires).into_iter().filter_map(|w| self.wire(w)).collect(),
            inlines: self.inlines(),
            devices: devices.iter().filter_map(|&d| self.device(d)).collect(),
            modules: in_order(&self.modules).into_iter().filter_map(|m| self.module(m)).collect(),
            controls: controls.iter().filter_map(|&c| self.control_of(c)).collect(),
            stimuli: in_order(&self.stimuli).into_iter().filter_map(|s| self.stimulus(s)).collect(),
            fuses: whole
                .fuses_of(has)
                .map(|f| Fuse { element: self.element(f.element), ..f.clone() })
                .collect(),
            elsewhere: self.elements_of(&whole.elsewhere),
            branches: whole
                .branches
                .iter()
                .filter_map(|b| {
                    let element = b.element.map(|e| self.elements.get(&e).copied());
                    // Its own point may be there without its load: then the branch is another piece's.
                    (element != Some(None)).then_some(())?;
                    Some(Branch {
                        point: *self.points.get(&b.point)?,
                        element: element.flatten(),
                        ..b.clone()
                    })
                })
                .collect(),
            tainted,
            index: self.index(&devices, &controls, elements),
            ..Circuit::default()
        }
    }

    fn index(&self, devices: &[DeviceId], controls: &[ControlId], elements: &[ElementId]) -> Index {
        let whole = &self.whole.index;
        let stimulus = |d: &DeviceId| self.stimuli.get(&whole.stimulus_of_device(*d)?).copied();
        let names = elements.iter().filter_map(|e| Some((self.element(*e), whole.element_name_loc(*e)?)));
        Index {
            device_stimulus: devices.iter().map(stimulus).collect(),
            positions: controls
                .iter()
                .map(|c| whole.positions.get(c.index()).cloned().unwrap_or_default())
                .collect(),
            element_names: names.collect(),
            ..Index::default()
        }
    }
}

impl Circuit {
    /// Adds a load that stands for something which is left out: from a point to another, in the second position of its own
    /// control, or always.
    pub fn stand_in(
        &mut self,
        name: SmolStr,
        ends: [PointId; 2],
        ohms: f64,
        control: Option<Control>,
        loc: Loc,
    ) {
        let [from, to] = ends;
        let when = control.map_or(When::Always, |control| {
            self.controls.push(control);
            self.index.positions.push(Vec::new());
            When::In { control: ControlId::from(self.controls.len() - 1), positions: 0b10 }
        });
        let element = ElementId::from(self.elements.len());
        self.elements.push(Element {
            name,
            from,
            to,
            kind: ElementKind::Elsewhere,
            law: Law::Resistance(crate::value::Num::exact(ohms)),
            when,
            alive: None,
            rating: None,
            owner: Owner::Elsewhere,
            loc,
        });
        self.elsewhere.push(element);
        self.branches.push(Branch { title: None, point: from, element: Some(element), loc });
    }

    /// The fuses whose element is there.
    fn fuses_of(&self, has: impl Fn(ElementId) -> bool) -> impl Iterator<Item = &Fuse> {
        self.fuses.iter().filter(move |f| has(f.element))
    }
}
