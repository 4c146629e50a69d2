//! From a circuit to programs: what settles it (modules, diodes, relays), and what is asked of it.

use super::{
    bounds::{Bounds, bounds},
    cone::Around,
    dag::{Bit, NO, YES},
    diodes::{self, Decided, Found},
    graph::{Edge, Graph, Input, Logic, graph},
    loads::{Does, Judge, Next},
    program::Program,
    reach::{Reach, reach},
    states::{States, states},
    words,
};
use crate::{State, plan::Plan};
use keyon_circuit::hash::Map;
use keyon_circuit::{ids::*, model::Circuit};
use std::collections::BTreeSet;

/// A fuse opens above so many times its rating.
const BLOWS_AT: f64 = 1.35;

/// What is asked of each state.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wanted {
    /// Node states of these points.
    pub(crate) points: Vec<PointId>,
    /// What these loads do.
    pub(crate) loads: Vec<ElementId>,
}

/// The answer's columns.
#[derive(Clone, Debug)]
pub(crate) struct Answer {
    /// By point asked for: clash, grounded, fed, referenced, between, fed via load, grounded via load; else it is open.
    pub(crate) points: Vec<[u32; 7]>,
    /// By load asked for: operates forward, in reverse, weak; else it rests. `None` where it cannot operate.
    pub(crate) loads: Vec<Option<[u32; 3]>>,
    /// Something of it is not decided here.
    pub(crate) doubt: u32,
}

/// Programs of a circuit. Outputs of `settle` programs stand beside what they set.
#[derive(Debug)]
pub(crate) struct Compiled {
    pub(crate) inputs: Vec<Input>,
    /// What is alive: the inputs that are set by the program's outputs.
    pub(crate) alive: (Vec<u32>, Program),
    /// Diodes: the inputs; outputs are for each whether it conducts, then for each whether that is in doubt.
    pub(crate) diodes: (Vec<u32>, Program),
    /// Coils: the inputs; outputs are for each what it comes to, for each whether that is in doubt, and at last whether a
    /// fuse may open on the way.
    pub(crate) coils: (Vec<u32>, Program),
    pub(crate) answer: Program,
    pub(crate) columns: Answer,
    /// Controls that the programs ask for.
    pub(crate) controls: Vec<ControlId>,
}

/// Everything about a circuit that is worked out once; programs are made of it for one question after the other.
pub(crate) struct Work<'p> {
    plan: &'p Plan<'p>,
    graph: Graph,
    logic: Logic,
    reach: Reach,
    states: States,
    bounds: Bounds,
    diodes: Vec<Decided>,
    /// Where there is a pulse, so that currents are means over several phases.
    pulsed: Bit,
    /// The load, and the fuse or other conductor, that a part is.
    load_of: Map<usize, Edge>,
    conductor_of: Map<usize, Edge>,
    /// What each coil comes to, and whether that is in doubt.
    nexts: Map<u32, (Bit, Bit, bool)>,
    around: Around,
    /// In which order controls are best decided.
    pub(crate) order: Vec<u32>,
    /// Amps of each part in the base state, where what a question does not reach is to be taken as it is there.
    base: Option<Vec<f64>>,
    /// Whether anything of the last question was decided so.
    pub(crate) separated: bool,
}

/// Compiles what is wanted of a circuit whose controls may stand in these positions. `None` where it is too meshed.
pub(crate) fn compile(circuit: &Circuit, base: &State, masks: &[u64], wanted: &Wanted) -> Option<Compiled> {
    let plan = Plan::new(circuit, base);
    Some(Work::new(&plan, masks, None)?.programs(wanted))
}

/// Where a control is pulsed.
fn pulsed(base: &State, masks: &[u64], logic: &mut Logic) -> Bit {
    let mut any = NO;
    for (control, &mask) in masks.iter().enumerate() {
        if base.duty.get(control).is_none_or(|&duty| duty >= 1.0) || mask & !1 == 0 {
            continue;
        }
        let on = if mask & 1 == 0 {
            YES
        } else {
            logic.input(Input::At { control: control.into(), positions: mask & !1 })
        };
        any = logic.dag.or(any, on);
    }
    any
}

impl<'p> Work<'p> {
    /// Works out a plan whose controls may stand in these positions. With the amps of the `base` state a question is
    /// answered as decision 29 has it: beyond what always holds one potential all is as it is there. `None` where
    /// it is too meshed.
    pub(crate) fn new(plan: &'p Plan<'p>, masks: &[u64], base: Option<&[f64]>) -> Option<Self> {
        let (graph, mut logic) = graph(plan, masks);
        let reach = reach(plan, &graph, &mut logic)?;
        let states = states(plan, &graph, &reach, &mut logic)?;
        let mut bounds = bounds(plan, &graph, &reach);
        if let Some(amps) = base {
            bounds.set_base(amps);
        }
        let around = Around::new(plan, &graph, &reach);
        let found = Found { graph: &graph, reach: &reach, around: &around, states: &states, bounds: &bounds };
        let diodes =
            if graph.diodes.is_empty() { Vec::new() } else { diodes::diodes(plan, found, &mut logic)? };
        let pulsed = pulsed(plan.state, masks, &mut logic);
        let by_part = |edges: &[Edge]| edges.iter().map(|&e| (e.part, e)).collect();
        let (load_of, conductor_of) = (by_part(&graph.loads), by_part(&graph.conductors));
        let order = words::order(&graph, &logic.inputs, &logic.dag, plan.circuit.controls.len());
        Some(Self {
            plan,
            graph,
            logic,
            reach,
            states,
            bounds,
            diodes,
            pulsed,
            load_of,
            conductor_of,
            nexts: Map::default(),
            around,
            order,
            base: base.map(<[f64]>::to_vec),
            separated: false,
        })
    }

    /// The programs that answer a question.
    pub(crate) fn programs(&mut self, wanted: &Wanted) -> Compiled {
        self.separated = false;
        let mut starts: BTreeSet<u32> = BTreeSet::new();
        let mut roots: Vec<Bit> = Vec::new();
        let mut doubt = self.reach.doubt;
        let points: Vec<[Bit; 7]> = wanted
            .points
            .iter()
            .map(|point| {
                let node = self.graph.node_of.get(point.index()).copied().unwrap_or(0);
                starts.insert(node);
                doubt = self.logic.dag.or(doubt, self.states.doubt[node as usize]);
                self.states.bits(node as usize)
            })
            .collect();
        let mut loads = Vec::new();
        for load in &wanted.loads {
            let does = self.does(load.index());
            if let Some((does, ends)) = does {
                starts.extend(ends);
                doubt = self.logic.dag.or(doubt, does.doubt);
            }
            loads.push(does.map(|(d, _)| [d.forward, d.reverse, d.weak]));
        }
        roots.extend(points.iter().flatten());
        roots.extend(loads.iter().flatten().flatten());
        roots.push(doubt);
        let (alive, diodes, coils) = self.support(&roots, &mut starts);
        let blows = self.blows(&starts);
        let doubt = self.logic.dag.or(doubt, blows);

        let mut answer: Vec<Bit> = Vec::new();
        let mut place = |bit: Bit| {
            answer.push(bit);
            answer.len() as u32 - 1
        };
        let columns = Answer {
            points: points.iter().map(|bits| bits.map(&mut place)).collect(),
            loads: loads.iter().map(|bits| bits.map(|bits| bits.map(&mut place))).collect(),
            doubt: place(doubt),
        };
        let alive_bits: Vec<Bit> = alive.iter().map(|&a| self.lives(a)).collect();
        let alive_inputs = alive.iter().map(|&a| self.logic.number(Input::Alive(a))).collect();
        let of_diodes: Vec<Decided> =
            self.diodes.iter().filter(|d| diodes.contains(&d.diode)).copied().collect();
        let diode_inputs = of_diodes.iter().map(|d| self.logic.number(Input::Diode(d.diode))).collect();
        let diode_bits: Vec<Bit> =
            of_diodes.iter().map(|d| d.on).chain(of_diodes.iter().map(|d| d.doubt)).collect();
        let coil_inputs = coils.iter().map(|&c| self.logic.number(Input::Energised(c))).collect();
        let nexts: Vec<(Bit, Bit)> = coils.iter().map(|&c| self.coil(c)).collect();
        let coil_bits: Vec<Bit> =
            nexts.iter().map(|n| n.0).chain(nexts.iter().map(|n| n.1)).chain([blows]).collect();
        let dag = &self.logic.dag;
        let compiled = Compiled {
            alive: (alive_inputs, Program::new(dag, &alive_bits)),
            diodes: (diode_inputs, Program::new(dag, &diode_bits)),
            coils: (coil_inputs, Program::new(dag, &coil_bits)),
            answer: Program::new(dag, &answer),
            columns,
            controls: Vec::new(),
            inputs: self.logic.inputs.clone(),
        };
        compiled.compact()
    }

    /// What a load does, and the nodes of its ends.
    fn does(&mut self, part: usize) -> Option<(Does, [u32; 2])> {
        let edge = *self.load_of.get(&part)?;
        let judge = Judge {
            plan: self.plan,
            graph: &self.graph,
            reach: &self.reach,
            states: &self.states,
            bounds: &self.bounds,
            around: &self.around,
            separate: self.base.is_some(),
        };
        let mut does = judge.does(&edge, &mut self.logic.dag)?;
        self.separated |= does.separated;
        // A relay's coil operates where its contacts have moved, and is weak at the most elsewhere.
        if let Ok(coil) = self.plan.coils.binary_search(&part) {
            let energised = self.logic.input(Input::Energised(coil as u32));
            let dag = &mut self.logic.dag;
            let strong = dag.or(does.forward, does.reverse);
            let idle = dag.without(strong, energised);
            does.weak = dag.or(does.weak, idle);
            does.weak = dag.without(does.weak, energised);
            does.doubt = dag.without(does.doubt, energised);
            (does.forward, does.reverse) = (energised, NO);
        } else if !self.is_winding(part) {
            does.forward = self.logic.dag.or(does.forward, does.reverse);
            does.reverse = NO;
        }
        let pulsed = self.logic.dag.and(edge.when, self.pulsed);
        does.doubt = self.logic.dag.or(does.doubt, pulsed);
        Some((does, [edge.a, edge.b]))
    }

    fn is_winding(&self, part: usize) -> bool {
        let element = self.plan.circuit.elements.get(part);
        element.is_some_and(|e| e.kind == keyon_circuit::model::ElementKind::Winding)
    }

    /// What a coil comes to, and whether that is in doubt.
    fn coil(&mut self, coil: u32) -> (Bit, Bit) {
        let (next, doubt, separated) = match self.nexts.get(&coil) {
            Some(&known) => known,
            None => self.next(coil),
        };
        self.nexts.insert(coil, (next, doubt, separated));
        self.separated |= separated;
        (next, doubt)
    }

    fn next(&mut self, coil: u32) -> (Bit, Bit, bool) {
        let Some(&part) = self.plan.coils.get(coil as usize) else { return (NO, NO, false) };
        let Some(&edge) = self.load_of.get(&part) else { return (NO, NO, false) };
        let judge = Judge {
            plan: self.plan,
            graph: &self.graph,
            reach: &self.reach,
            states: &self.states,
            bounds: &self.bounds,
            around: &self.around,
            separate: self.base.is_some(),
        };
        let Next { stays, pulls, doubt_stays, doubt_pulls, separated } =
            judge.next(&edge, &mut self.logic.dag);
        let now = self.logic.input(Input::Energised(coil));
        let dag = &mut self.logic.dag;
        let mut choose = |if_on: Bit, if_off: Bit| {
            let (on, off) = (dag.and(now, if_on), dag.without(if_off, now));
            dag.or(on, off)
        };
        let (next, doubt) = (choose(stays, pulls), choose(doubt_stays, doubt_pulls));
        (next, dag.or(doubt, self.pulsed), separated)
    }

    /// Whether a module, or behind the modules a transducer, has its feed and its ground.
    fn lives(&mut self, alive: u32) -> Bit {
        let modules = self.plan.circuit.modules.len();
        let dag = &mut self.logic.dag;
        if let Some(at) = (alive as usize).checked_sub(modules) {
            let Some((edge, feed)) =
                self.graph.outputs.iter().find(|(e, _)| self.plan.outputs.get(at) == Some(&e.part))
            else {
                return NO;
            };
            return dag.and(self.reach.alive_feed[*feed as usize], self.reach.alive_ground[edge.a as usize]);
        }
        let Some(module) = self.plan.circuit.modules.get(alive as usize) else { return NO };
        let mut any = |pins: &[(usize, usize)], flags: &[Bit]| {
            if pins.is_empty() {
                return YES;
            }
            let nodes = pins.iter().filter_map(|&(c, k)| {
                let cavity = module.connectors.get(c)?.cavities.get(k)?;
                self.graph.node_of.get(cavity.inside.index())
            });
            dag.any(nodes.map(|&n| flags[n as usize]).collect::<Vec<_>>())
        };
        let feed = any(&module.feeds, &self.reach.alive_feed);
        let ground = any(&module.grounds, &self.reach.alive_ground);
        self.logic.dag.and(feed, ground)
    }

    /// Modules, diodes and coils on which these expressions hang, directly or by one another; their nodes are added.
    fn support(&mut self, roots: &[Bit], starts: &mut BTreeSet<u32>) -> (Vec<u32>, BTreeSet<u32>, Vec<u32>) {
        let (mut alive, mut diodes, mut coils) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
        let mut pending = roots.to_vec();
        loop {
            if pending.is_empty() {
                // A diode beside what was asked may be part of a clash, though no state hangs on it otherwise.
                let near = self.around.cone(starts);
                let inside = |n: u32| near.contains(&n) && !self.around.ends[n as usize];
                let both = |e: &&Edge| near.contains(&e.a) && near.contains(&e.b);
                for edge in self.graph.diodes.iter().filter(|e| inside(e.a) || inside(e.b) || both(e)) {
                    let diode = self.plan.diodes.binary_search(&edge.part).unwrap_or(usize::MAX) as u32;
                    if let Ok(at) = self.diodes.binary_search_by_key(&diode, |d| d.diode)
                        && let decided = self.diodes[at]
                        && diodes.insert(diode)
                    {
                        starts.extend([edge.a, edge.b]);
                        pending.extend([decided.on, decided.doubt]);
                    }
                }
            }
            if pending.is_empty() {
                break;
            }
            let below = self.logic.dag.below(&pending);
            pending.clear();
            let inputs: Vec<Input> = below
                .iter()
                .filter_map(|&bit| match self.logic.dag.node(bit) {
                    super::dag::Node::Input(number) => self.logic.inputs.get(number as usize).copied(),
                    _ => None,
                })
                .collect();
            for input in inputs {
                match input {
                    Input::Alive(a) if alive.insert(a) => pending.push(self.lives(a)),
                    Input::Energised(c) if coils.insert(c) => {
                        let (next, doubt) = self.coil(c);
                        pending.extend([next, doubt]);
                        let part = self.plan.coils.get(c as usize);
                        let edge = part.and_then(|part| self.load_of.get(part));
                        starts.extend(edge.iter().flat_map(|e| [e.a, e.b]));
                    }
                    Input::Diode(d) if diodes.insert(d) => {
                        if let Ok(at) = self.diodes.binary_search_by_key(&d, |x| x.diode) {
                            pending.extend([self.diodes[at].on, self.diodes[at].doubt]);
                        }
                    }
                    _ => {}
                }
            }
        }
        (alive.into_iter().collect(), diodes, coils.into_iter().collect())
    }

    /// Where a fuse that matters may open: in a clash, or by what flows through it.
    fn blows(&mut self, starts: &BTreeSet<u32>) -> Bit {
        if self.plan.state.options.keep_fuses {
            return NO;
        }
        let near = self.around.cone(starts);
        let own = self.around.local(self.plan, &self.graph, &self.reach, &self.bounds.takes, starts).own;
        let mut blows = NO;
        for (part, rating) in self.plan.parts.iter().enumerate().filter_map(|(i, p)| Some((i, p.fuse?))) {
            let Some(&edge) = self.conductor_of.get(&part) else { continue };
            for node in [edge.a, edge.b].into_iter().filter(|n| near.contains(n)) {
                blows = self.logic.dag.or(blows, self.reach.clash[node as usize]);
                // A fuse that others would blow counts as whole (decision 29).
                let most = match &self.base {
                    None => self.bounds.amps[part],
                    Some(base) => self.bounds.amps[part].min(base.get(part).map_or(0.0, |a| a.abs()) + own),
                };
                if most > BLOWS_AT * rating {
                    blows = self.logic.dag.or(blows, edge.when);
                }
            }
        }
        blows
    }
}

impl States {
    fn bits(&self, node: usize) -> [Bit; 7] {
        [
            self.clash[node],
            self.grounded[node],
            self.fed[node],
            self.referenced[node],
            self.between[node],
            self.fed_via[node],
            self.grounded_via[node],
        ]
    }
}

impl Compiled {
    /// Keeps only the inputs that are asked for or set, and notes the controls among them.
    fn compact(mut self) -> Self {
        let mut used = BTreeSet::new();
        for program in [&self.alive.1, &self.diodes.1, &self.coils.1, &self.answer] {
            used.extend(program.inputs.iter().copied());
        }
        for set in [&self.alive.0, &self.diodes.0, &self.coils.0] {
            used.extend(set.iter().copied());
        }
        let place: Map<u32, u32> = used.iter().enumerate().map(|(at, &old)| (old, at as u32)).collect();
        let renumber = |numbers: &mut Vec<u32>| {
            numbers.iter_mut().for_each(|number| *number = place.get(number).copied().unwrap_or(0));
        };
        for program in [&mut self.alive.1, &mut self.diodes.1, &mut self.coils.1, &mut self.answer] {
            renumber(&mut program.inputs);
        }
        for set in [&mut self.alive.0, &mut self.diodes.0, &mut self.coils.0] {
            renumber(set);
        }
        self.inputs = used.iter().filter_map(|&old| self.inputs.get(old as usize).copied()).collect();
        let controls = self.inputs.iter().filter_map(|input| match input {
            Input::At { control, .. } => Some(*control),
            _ => None,
        });
        self.controls = controls.collect::<BTreeSet<_>>().into_iter().collect();
        self
    }
}
