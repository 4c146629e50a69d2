//! What devices do in all states, as functions of the controls that it depends on.

use super::{
    block::Words,
    compile::{Compiled, Wanted, Work},
    graph::{Graph, Input},
    settle::Settled,
    space::Space,
};
use crate::{
    Cancel, Cancelled, ElementState, assemble,
    diagram::{Diagram, Ref},
    rating,
};
use keyon_circuit::hash::Map;
use keyon_circuit::{
    ids::*,
    model::{Circuit, Device, ElementKind},
};
use smol_str::SmolStr;

/// States that are looked at one by one, block by block; more of them are worked out as a whole.
const FEW: u64 = 1 << 16;
/// … and so many where that does not succeed.
const MANY: u64 = 1 << 26;

/// A function of controls: level by level its diagram has these.
pub(crate) struct Function {
    pub(crate) controls: Vec<ControlId>,
    /// The open positions of each.
    pub(crate) positions: Vec<Vec<u8>>,
    pub(crate) diagram: Diagram,
    /// Codes: 0 is in doubt, the others stand for `words`, from 1.
    pub(crate) root: Ref,
    pub(crate) words: Vec<SmolStr>,
    /// What else draws current was taken as it is in the base state.
    pub(crate) separated: bool,
}

/// The code of what tracing does not decide.
pub(crate) const DOUBT: u32 = 0;

impl Function {
    /// Whether anything is not decided.
    pub(crate) fn doubtful(&self) -> bool {
        self.diagram.codes(self.root).contains(&DOUBT)
    }
}

/// What loads do in one state, numbered as met.
#[derive(Default)]
struct Codes {
    of: Map<Vec<ElementState>, u32>,
    all: Vec<Vec<ElementState>>,
    /// Codes of words of columns.
    packed: Map<u64, u32>,
}

impl Codes {
    fn code(&mut self, states: Vec<ElementState>) -> u32 {
        let next = self.all.len() as u32;
        if let Some(&known) = self.of.get(&states) {
            return known;
        }
        self.of.insert(states.clone(), next);
        self.all.push(states);
        next
    }
}

/// What a device does. `None` where there are too many states for what it is.
///
/// # Errors
/// When `cancel` asks for it.
pub(crate) fn device(
    work: &mut Work<'_>,
    circuit: &Circuit,
    masks: &[u64],
    device: &Device,
    cancel: &dyn Cancel,
) -> Result<Option<Function>, Cancelled> {
    let kind = |e: &ElementId| circuit.elements.get(e.index()).map(|e| e.kind);
    let loads: Vec<ElementId> =
        device.elements.iter().copied().filter(|e| kind(e).is_some_and(rating::can_operate)).collect();
    let windings: Vec<bool> = loads.iter().map(|e| kind(e) == Some(ElementKind::Winding)).collect();
    let compiled = work.programs(&Wanted { points: Vec::new(), loads: loads.clone() });
    let separated = work.separated;
    let mut controls = compiled.controls.clone();
    controls.sort_by_key(|c| (work.order.get(c.index()).copied().unwrap_or(u32::MAX), *c));
    let positions: Vec<Vec<u8>> = controls
        .iter()
        .map(|c| {
            let mask = masks.get(c.index()).copied().unwrap_or(1);
            (0..64).filter(|p| mask >> p & 1 == 1).collect()
        })
        .collect();
    let radices = positions.iter().map(Vec::len).collect::<Vec<_>>();
    let states = radices.iter().try_fold(1u64, |n, &r| n.checked_mul(r as u64));
    let mut codes = Codes::default();
    let mut diagram = Diagram::new(radices);
    let few = states.is_some_and(|n| n <= FEW);
    let mut root = None;
    if !few {
        root = whole(&compiled, &controls, &positions, &windings, &mut diagram, &mut codes, cancel)?;
    }
    if root.is_none() && states.is_some_and(|n| n <= MANY) {
        codes = Codes::default();
        diagram = Diagram::new(positions.iter().map(Vec::len).collect());
        root = blocks(&compiled, &controls, masks, &windings, &mut diagram, &mut codes, cancel)?;
    }
    let Some(root) = root else { return Ok(None) };
    // From the states of loads to the words of the device.
    let mut words: Vec<SmolStr> = Vec::new();
    let mut map = Map::from_iter([(DOUBT, DOUBT)]);
    for (code, states) in codes.all.iter().enumerate() {
        let elements: Vec<_> = loads.iter().copied().zip(states.iter().copied()).collect();
        let said = crate::table::device_words(&assemble::summary(device, elements));
        let at = words.iter().position(|w| *w == said).unwrap_or_else(|| {
            words.push(said);
            words.len() - 1
        });
        map.insert(code as u32 + 1, at as u32 + 1);
    }
    let root = diagram.relabel(root, &map);
    Ok(Some(Function { controls, positions, diagram, root, words, separated }))
}

/// All states as a whole. `None` where that grows too large.
fn whole(
    compiled: &Compiled,
    controls: &[ControlId],
    positions: &[Vec<u8>],
    windings: &[bool],
    diagram: &mut Diagram,
    codes: &mut Codes,
    cancel: &dyn Cancel,
) -> Result<Option<Ref>, Cancelled> {
    let mut settled = Settled::new(diagram, compiled);
    for (at, input) in compiled.inputs.iter().enumerate() {
        if let Input::At { control, positions: wanted } = input
            && let Some(level) = controls.iter().position(|c| c == control)
        {
            settled.given[at] = diagram.literal(level, |p| wanted >> positions[level][p] & 1 == 1);
        }
    }
    settled.settle(diagram, compiled, cancel)?;
    settled.answer(diagram, compiled);
    let mut root = Ref::leaf(codes.code(Vec::new()));
    for (columns, &winding) in compiled.columns.loads.iter().zip(windings) {
        let mut own = Ref::leaf(0);
        if let Some(columns) = columns {
            for (column, state) in columns.iter().zip(states(winding)) {
                own = diagram.pick(*settled.column(compiled, *column), state as u32, own);
            }
        }
        root = diagram.combine(root, own, &mut |all, own| {
            let (all, own) = (all.code()?, own.code()?);
            let mut states = codes.all.get(all as usize)?.clone();
            states.push(ALL[own as usize]);
            Some(Ref::leaf(codes.code(states)))
        });
    }
    // Leaves so far are codes of loads; room is made for doubt at zero.
    root = diagram.shift(root);
    root = diagram.pick(settled.doubt, DOUBT, root);
    Ok((!diagram.full).then_some(root))
}

const ALL: [ElementState; 5] = [
    ElementState::Rests,
    ElementState::Weak,
    ElementState::Operates,
    ElementState::OperatesForward,
    ElementState::OperatesReverse,
];

/// The states that a load's columns stand for.
fn states(winding: bool) -> [ElementState; 3] {
    if winding {
        [ElementState::OperatesForward, ElementState::OperatesReverse, ElementState::Weak]
    } else {
        [ElementState::Operates, ElementState::Operates, ElementState::Weak]
    }
}

/// State by state.
fn blocks(
    compiled: &Compiled,
    controls: &[ControlId],
    masks: &[u64],
    windings: &[bool],
    diagram: &mut Diagram,
    codes: &mut Codes,
    cancel: &dyn Cancel,
) -> Result<Option<Ref>, Cancelled> {
    // The last level counts fastest, so that a run of states is a function of the lowest levels.
    let open: Vec<(ControlId, u64)> =
        controls.iter().rev().map(|&c| (c, masks.get(c.index()).copied().unwrap_or(1))).collect();
    let Some(space) = Space::new(&open) else { return Ok(None) };
    let mut run = super::Blocks::new(compiled, &space);
    let mut made = Vec::with_capacity(space.blocks() as usize);
    let low = space.low();
    for block in 0..space.blocks() {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        cancel.progress(block, space.blocks());
        run.block(block, cancel)?;
        let mut lanes: Vec<Ref> = (0..space.lanes())
            .map(|lane| Ref::leaf(code(compiled, &run.settled, windings, codes, lane)))
            .collect();
        let top = diagram.levels();
        for level in (top - low..top).rev() {
            lanes = lanes
                .chunks(diagram.radix(level))
                .map(|c| c.to_vec())
                .map(|c| diagram.make(level, &c))
                .collect();
        }
        made.push(lanes.first().copied().unwrap_or(Ref::leaf(DOUBT)));
        if diagram.full {
            return Ok(None);
        }
    }
    for level in (0..diagram.levels() - low).rev() {
        made =
            made.chunks(diagram.radix(level)).map(|c| c.to_vec()).map(|c| diagram.make(level, &c)).collect();
    }
    Ok((!diagram.full).then(|| made.first().copied().unwrap_or(Ref::leaf(DOUBT))))
}

/// The code of one state of a block, with room for doubt at zero.
fn code(
    compiled: &Compiled,
    settled: &Settled<Words>,
    windings: &[bool],
    codes: &mut Codes,
    lane: usize,
) -> u32 {
    if settled.doubt.get(lane) {
        return DOUBT;
    }
    let columns = || compiled.columns.loads.iter().flatten().flatten();
    // Up to 64 columns are a word; what was met before is known by it.
    let packed = (columns().count() <= 64).then(|| {
        let has = |column: &u32| u64::from(settled.column(compiled, *column).get(lane));
        columns().fold(0, |word, column| word << 1 | has(column))
    });
    if let Some(&known) = packed.as_ref().and_then(|word| codes.packed.get(word)) {
        return known;
    }
    let does = |(columns, &winding): (&Option<[u32; 3]>, &bool)| {
        let Some(columns) = columns else { return ElementState::Rests };
        let has = |column: &u32| settled.column(compiled, *column).get(lane);
        columns.iter().position(has).map_or(ElementState::Rests, |at| states(winding)[at])
    };
    let code = codes.code(compiled.columns.loads.iter().zip(windings).map(does).collect()) + 1;
    if let Some(word) = packed {
        codes.packed.insert(word, code);
    }
    code
}

/// In which order controls are best decided: as their contacts are met on a walk from the sources.
pub(crate) fn order(graph: &Graph, inputs: &[Input], dag: &super::dag::Dag, controls: usize) -> Vec<u32> {
    let mut near: Vec<Vec<(u32, super::dag::Bit)>> = vec![Vec::new(); graph.nodes];
    let mut add = |a: u32, b: u32, when| {
        near[a as usize].push((b, when));
        near[b as usize].push((a, when));
    };
    for edge in graph.wiring.iter().chain(&graph.loads).chain(&graph.diodes) {
        add(edge.a, edge.b, edge.when);
    }
    let mut order = vec![u32::MAX; controls];
    let mut next = 0;
    let mut seen = vec![false; graph.nodes];
    let mut queue: std::collections::VecDeque<u32> = graph.lifts.iter().map(|l| l.edge.b).collect();
    let grounds = (0..graph.nodes as u32).filter(|&n| graph.earthed[n as usize] != super::dag::NO);
    let mut rest: Vec<u32> = grounds.chain(0..graph.nodes as u32).collect();
    rest.reverse();
    while let Some(node) = queue.pop_front().or_else(|| rest.pop()) {
        if std::mem::replace(&mut seen[node as usize], true) || graph.anchored[node as usize] {
            continue;
        }
        for (other, when) in near[node as usize].iter().copied().chain([(node, graph.earthed[node as usize])])
        {
            for bit in dag.below(&[when]) {
                if let super::dag::Node::Input(number) = dag.node(bit)
                    && let Some(Input::At { control, .. }) = inputs.get(number as usize)
                    && let Some(place) = order.get_mut(control.index()).filter(|p| **p == u32::MAX)
                {
                    *place = next;
                    next += 1;
                }
            }
            queue.push_back(other);
        }
    }
    order
}
