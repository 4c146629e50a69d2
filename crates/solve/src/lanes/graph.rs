//! The circuit as tracing over many states sees it: nodes that lasting wiring joins, and what may conduct between them,
//! each with the expression of when it does.

use super::dag::{Bit, Dag, NO, YES};
use crate::{
    nets::Sets,
    plan::{Act, Gate, Plan, SourceKind},
    stiff::is_conductor,
};
use keyon_circuit::hash::Map;
use keyon_circuit::ids::*;

/// What an expression may ask of a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Input {
    /// A control stands in one of these positions.
    At { control: ControlId, positions: u64 },
    /// A module, or behind the modules a transducer, has its feed and its ground.
    Alive(u32),
    /// A coil (as `Plan::coils`) is energised.
    Energised(u32),
    /// A diode (as `Plan::diodes`) surely conducts.
    Diode(u32),
}

/// Expressions with the inputs that they ask for.
#[derive(Debug)]
pub(crate) struct Logic {
    pub(crate) dag: Dag,
    pub(crate) inputs: Vec<Input>,
    index: Map<Input, u32>,
}

impl Logic {
    fn new() -> Self {
        Self { dag: Dag::new(), inputs: Vec::new(), index: Map::default() }
    }

    /// The number of an input.
    pub(crate) fn number(&mut self, input: Input) -> u32 {
        let next = self.inputs.len() as u32;
        let number = *self.index.entry(input).or_insert(next);
        if number == next {
            self.inputs.push(input);
        }
        number
    }

    pub(crate) fn input(&mut self, input: Input) -> Bit {
        let number = self.number(input);
        self.dag.input(number)
    }
}

/// Something between two nodes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Edge {
    /// Index into `Plan::parts`.
    pub(crate) part: usize,
    pub(crate) a: u32,
    pub(crate) b: u32,
    pub(crate) when: Bit,
}

/// A source: `to` stands over `from`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lift {
    pub(crate) edge: Edge,
    pub(crate) volts: f64,
    pub(crate) kind: SourceKind,
    /// It gives way at a limit.
    pub(crate) soft: bool,
}

/// See the module's page.
#[derive(Debug)]
pub(crate) struct Graph {
    /// The node of each point.
    pub(crate) node_of: Vec<u32>,
    pub(crate) nodes: usize,
    /// Nodes of the common ground and of ground points joined to it: never walked through.
    pub(crate) anchored: Vec<bool>,
    /// Wiring that may be open: both ends are no anchors.
    pub(crate) wiring: Vec<Edge>,
    /// When wiring joins a node to an anchor.
    pub(crate) earthed: Vec<Bit>,
    /// All wiring of the circuit with its ohms, also what lasts: for bounds.
    pub(crate) conductors: Vec<Edge>,
    pub(crate) loads: Vec<Edge>,
    /// The output of a transducer hangs on its feed (`a`) as well as on its return.
    pub(crate) outputs: Vec<(Edge, u32)>,
    pub(crate) diodes: Vec<Edge>,
    pub(crate) lifts: Vec<Lift>,
    /// Nodes that wiring may join to each.
    pub(crate) wired: Vec<Vec<u32>>,
}

/// Makes the graph of a plan whose controls may stand in these positions.
pub(crate) fn graph(plan: &Plan<'_>, masks: &[u64]) -> (Graph, Logic) {
    let mut logic = Logic::new();
    let when: Vec<Bit> = (0..plan.parts.len()).map(|part| condition(plan, masks, part, &mut logic)).collect();
    let anchored = |point: usize| plan.anchored[point];
    let mut sets = Sets::new(plan.points);
    for (index, part) in plan.parts.iter().enumerate() {
        let inside = !anchored(part.from) && !anchored(part.to);
        if when[index] == YES && inside && is_conductor(plan, index) {
            sets.join(part.from, part.to);
        }
    }
    let mut node_of = vec![0u32; plan.points];
    let mut nodes = 0;
    for point in 0..plan.points {
        let lowest = sets.find(point);
        node_of[point] = if lowest == point {
            nodes += 1;
            nodes - 1
        } else {
            node_of[lowest]
        };
    }
    let mut graph = Graph {
        nodes: nodes as usize,
        anchored: vec![false; nodes as usize],
        wiring: Vec::new(),
        earthed: vec![NO; nodes as usize],
        conductors: Vec::new(),
        loads: Vec::new(),
        outputs: Vec::new(),
        diodes: Vec::new(),
        lifts: Vec::new(),
        wired: vec![Vec::new(); nodes as usize],
        node_of,
    };
    for point in (0..plan.points).filter(|&p| anchored(p)) {
        graph.anchored[graph.node_of[point] as usize] = true;
    }
    for (index, part) in plan.parts.iter().enumerate().filter(|&(i, _)| when[i] != NO) {
        let edge =
            Edge { part: index, a: graph.node_of[part.from], b: graph.node_of[part.to], when: when[index] };
        match part.act {
            Act::Joint | Act::Ohms(_) if !part.load => graph.wire(edge, &mut logic.dag),
            Act::Ohms(_) => graph.loads.push(edge),
            Act::Output { feed, .. } => graph.outputs.push((edge, graph.node_of[feed])),
            Act::Diode(_) => graph.diodes.push(edge),
            Act::Source { limit, .. } => graph.lifts.push(Lift {
                edge,
                volts: part.level().unwrap_or(0.0),
                kind: part.source.unwrap_or(SourceKind::Supply),
                soft: limit.is_some(),
            }),
            Act::Nothing | Act::Joint => {}
        }
    }
    (graph, logic)
}

impl Graph {
    fn wire(&mut self, edge: Edge, dag: &mut Dag) {
        self.conductors.push(edge);
        let (a, b) = (edge.a as usize, edge.b as usize);
        match (self.anchored[a], self.anchored[b]) {
            (false, false) if a != b => {
                self.wiring.push(edge);
                self.wired[a].push(edge.b);
                self.wired[b].push(edge.a);
            }
            (false, true) => self.earthed[a] = dag.or(self.earthed[a], edge.when),
            (true, false) => self.earthed[b] = dag.or(self.earthed[b], edge.when),
            _ => {}
        }
    }
}

/// When a part conducts.
fn condition(plan: &Plan<'_>, masks: &[u64], index: usize, logic: &mut Logic) -> Bit {
    let part = &plan.parts[index];
    if part.act == Act::Nothing {
        return NO;
    }
    let gate = match part.gate {
        Gate::Always => YES,
        Gate::Never => NO,
        Gate::In { control, positions } => match masks.get(control) {
            None => NO,
            Some(&open) if open & positions == 0 => NO,
            Some(&open) if open & !positions == 0 => YES,
            Some(&open) => logic.input(Input::At { control: control.into(), positions: positions & open }),
        },
        Gate::Energised { coil, open } => {
            let energised = logic.input(Input::Energised(coil as u32));
            if open { logic.dag.not(energised) } else { energised }
        }
    };
    let module = match part.alive {
        Some(m) if !lives_always(plan, m) => logic.input(Input::Alive(m as u32)),
        _ => YES,
    };
    let mut when = logic.dag.and(gate, module);
    if let Ok(at) = plan.outputs.binary_search(&index) {
        let alive = logic.input(Input::Alive((plan.circuit.modules.len() + at) as u32));
        when = logic.dag.and(when, alive);
    }
    when
}

/// Whether nothing is said of a module's feed and ground.
pub(crate) fn lives_always(plan: &Plan<'_>, module: usize) -> bool {
    plan.circuit.modules.get(module).is_none_or(|m| m.feeds.is_empty() && m.grounds.is_empty())
}
