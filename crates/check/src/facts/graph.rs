//! The circuit as a graph to walk, over all states at once.

use keyon_circuit::{
    hash::Map,
    ids::*,
    model::{COMMON, Circuit, Element, ElementKind, When},
};

/// One way out of a point.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    #[allow(missing_docs)]
    pub element: ElementId,
    /// Where it leads.
    pub to: PointId,
    /// It is walked from its `from` to its `to`.
    pub forward: bool,
}

/// The steps out of every point, in source order.
#[derive(Debug)]
pub struct Graph<'a> {
    circuit: &'a Circuit,
    /// By point, all in one list.
    steps: Vec<Step>,
    /// Where each point's steps begin, and the end of the last.
    start: Vec<u32>,
}

/// What a walk has reached, and how.
#[derive(Clone, Debug, Default)]
pub struct Flood {
    /// In the order of their distance.
    pub order: Vec<PointId>,
    /// The step that first led to each point of `order`; `None` where it started.
    by: Vec<Option<(ElementId, PointId)>>,
    /// A bit for each point, shared by many: where it is not set, the point is not in it.
    seen: u64,
    /// Where each point stands in `order`, once it is too long to look through.
    places: Places,
}

/// Where points stand in a list, by point: about as large as the list, not as the circuit.
#[derive(Clone, Debug)]
enum Places {
    Some(Map<PointId, u32>),
    /// Of most points, or many: by index, [`NOWHERE`] for those that are not in the list.
    Many(Vec<u32>),
}

const NOWHERE: u32 = u32::MAX;

impl Default for Places {
    fn default() -> Self {
        Self::Some(Map::default())
    }
}

impl Places {
    fn get(&self, point: PointId) -> Option<usize> {
        let at = match self {
            Self::Some(places) => *places.get(&point)?,
            Self::Many(places) => *places.get(point.index())?,
        };
        (at != NOWHERE).then_some(at as usize)
    }

    /// Takes in a point of a circuit of so many.
    fn insert(&mut self, point: PointId, at: u32, points: usize) {
        match self {
            Self::Some(places) if places.len() < points / 8 => {
                places.insert(point, at);
            }
            Self::Some(places) => {
                let mut many = vec![NOWHERE; points];
                for (point, &at) in places.iter() {
                    if let Some(place) = many.get_mut(point.index()) {
                        *place = at;
                    }
                }
                *self = Self::Many(many);
                self.insert(point, at, points);
            }
            Self::Many(places) => {
                if let Some(place) = places.get_mut(point.index()) {
                    *place = at;
                }
            }
        }
    }
}

/// How many points are looked through one by one. Most walks are shorter, and for them that is quicker than any map.
const FEW: usize = 24;

/// The bit of a point in [`Flood::seen`].
fn bit(point: PointId) -> u64 {
    1 << (point.0 % 64)
}

impl Flood {
    #[allow(missing_docs)]
    pub fn has(&self, point: PointId) -> bool {
        self.place(point).is_some()
    }

    fn place(&self, point: PointId) -> Option<usize> {
        if self.seen & bit(point) == 0 {
            return None;
        }
        if self.order.len() <= FEW {
            return self.order.iter().position(|&p| p == point);
        }
        self.places.get(point)
    }

    /// The step that first led to a point.
    fn by(&self, point: PointId) -> Option<(ElementId, PointId)> {
        self.by.get(self.place(point)?).copied().flatten()
    }

    /// Adds a point of a circuit of so many, one that is not in it.
    fn add(&mut self, point: PointId, by: Option<(ElementId, PointId)>, points: usize) {
        self.order.push(point);
        self.by.push(by);
        self.seen |= bit(point);
        let first = match self.order.len() {
            count if count <= FEW => return,
            count if count == FEW + 1 => 0,
            count => count - 1,
        };
        for (at, &point) in self.order.iter().enumerate().skip(first) {
            self.places.insert(point, at as u32, points);
        }
    }

    /// The element by which a point was first reached; `None` where the walk started or never came.
    pub fn step_to(&self, point: PointId) -> Option<ElementId> {
        self.by(point).map(|(element, _)| element)
    }

    /// The elements from the start to a point.
    pub fn path(&self, point: PointId) -> Vec<ElementId> {
        let mut path = Vec::new();
        let mut at = point;
        while let Some((element, before)) = self.by(at) {
            path.push(element);
            at = before;
        }
        path.reverse();
        path
    }
}

/// Whether current can pass an element without being used up: wiring, contacts, stages, returns in any state, diodes.
pub fn is_continuity(element: &Element) -> bool {
    !element.kind.is_load() && !element.kind.is_source() && element.when != When::Never
}

/// What a person would call the wire's side of things: wires, cavities, joints, fuses.
pub fn is_wiring(kind: ElementKind) -> bool {
    use ElementKind::*;
    matches!(kind, Wire | Terminal | Inline | Tie | Fuse(_) | Ground)
}

impl<'a> Graph<'a> {
    #[allow(missing_docs)]
    pub fn new(circuit: &'a Circuit) -> Self {
        let points = circuit.points.len();
        let ends = |e: &Element| [(e.from, e.to, true), (e.to, e.from, false)];
        let mut start = vec![0u32; points + 1];
        for (from, ..) in circuit.elements.iter().flat_map(ends) {
            if from.index() < points {
                start[from.index() + 1] += 1;
            }
        }
        for i in 0..points {
            start[i + 1] += start[i];
        }
        let nowhere = Step { element: ElementId(0), to: COMMON, forward: true };
        let mut steps = vec![nowhere; start.last().copied().unwrap_or(0) as usize];
        let mut next = start.clone();
        for (i, element) in circuit.elements.iter().enumerate() {
            for (from, to, forward) in ends(element).into_iter().filter(|(from, ..)| from.index() < points) {
                let at = &mut next[from.index()];
                steps[*at as usize] = Step { element: i.into(), to, forward };
                *at += 1;
            }
        }
        Self { circuit, steps, start }
    }

    /// The ways out of a point.
    pub fn steps(&self, point: PointId) -> &[Step] {
        match self.start.get(point.index()..point.index() + 2) {
            Some(&[start, end]) => &self.steps[start as usize..end as usize],
            _ => &[],
        }
    }

    /// The elements between points that a walk has reached, in order.
    pub fn within(&self, reached: &Flood) -> Vec<ElementId> {
        let steps = reached.order.iter().flat_map(|&point| self.steps(point));
        let mut within: Vec<ElementId> =
            steps.filter(|step| reached.has(step.to)).map(|step| step.element).collect();
        within.sort_unstable();
        within.dedup();
        within
    }

    /// Walks from `starts`, breadth first, over the steps that `pass`; never out of the common ground unless it starts
    /// there.
    pub fn flood(&self, starts: &[PointId], mut pass: impl FnMut(&Element, Step) -> bool) -> Flood {
        let mut flood = Flood::default();
        let points = self.circuit.points.len();
        for &start in starts.iter().filter(|start| start.index() < points) {
            if !flood.has(start) {
                flood.add(start, None, points);
            }
        }
        // What is reached waits in the order in which it was reached.
        let mut next = 0;
        while let Some(&at) = flood.order.get(next) {
            next += 1;
            if at == COMMON && !starts.contains(&COMMON) {
                continue;
            }
            for &step in self.steps(at) {
                let Some(element) = self.circuit.elements.get(step.element.index()) else { continue };
                if flood.has(step.to) || !pass(element, step) {
                    continue;
                }
                flood.add(step.to, Some((step.element, at)), points);
            }
        }
        flood
    }

    /// Everything that a source can reach without a load, in any state: diodes forward only.
    pub fn downstream(&self, starts: &[PointId]) -> Flood {
        self.flood(starts, |element, step| {
            is_continuity(element) && (element.kind != ElementKind::Diode || step.forward)
        })
    }

    /// Everything that can flow to a point without a load, in any state.
    pub fn upstream(&self, starts: &[PointId]) -> Flood {
        self.flood(starts, |element, step| {
            is_continuity(element) && (element.kind != ElementKind::Diode || !step.forward)
        })
    }
}
