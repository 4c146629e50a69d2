//! Continuity: which potentials each node reaches with no load between. What `stiff` finds for one state, as expressions.

use super::{
    closure::Closure,
    dag::{Bit, Dag, NO, YES},
    graph::{Graph, Input, Lift, Logic},
};
use crate::plan::{Act, Plan, SourceKind};

/// Volts that count as the same potential.
const SAME: f64 = 1e-9;

/// What potentials are measured against: ground, or the floating pole (a node) of a source.
pub(crate) type Against = Option<u32>;

/// A potential.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Potential {
    pub(crate) against: Against,
    pub(crate) volts: f64,
}

/// Nodes that hold one potential.
#[derive(Clone, Debug)]
pub(crate) struct Held {
    pub(crate) potential: Potential,
    /// By sources without a limit (and ground), or by any.
    pub(crate) hard: Vec<Bit>,
    pub(crate) any: Vec<Bit>,
}

/// See the module's page. Vectors are indexed by node.
#[derive(Clone, Debug)]
pub(crate) struct Reach {
    /// Potentials that wiring alone brings; the first is ground.
    pub(crate) held: Vec<Held>,
    /// Potentials behind conducting diodes.
    pub(crate) behind: Vec<(Potential, Vec<Bit>)>,
    /// Continuity to each kind, conducting diodes counted in their direction.
    pub(crate) fed: Vec<Bit>,
    pub(crate) referenced: Vec<Bit>,
    pub(crate) grounded: Vec<Bit>,
    /// Of those that are fed or referenced: where the current may come from the supply, the reference.
    pub(crate) gives: [Vec<Bit>; 2],
    /// A source reaches it forward; it reaches ground forward.
    pub(crate) alive_feed: Vec<Bit>,
    pub(crate) alive_ground: Vec<Bit>,
    /// Two potentials meet.
    pub(crate) clash: Vec<Bit>,
    /// … and surely both without a limit; or perhaps.
    pub(crate) strong: Vec<Bit>,
    pub(crate) perhaps_strong: Vec<Bit>,
    /// What hangs on the order of things: not decided here.
    pub(crate) doubt: Bit,
}

struct Maker<'a> {
    graph: &'a Graph,
    dag: &'a mut Dag,
    wiring: Closure,
    held: Vec<(Potential, SourceKind, bool, Vec<Bit>)>,
    doubt: Bit,
}

/// Which potentials each node reaches. `None` where the wiring is too meshed.
pub(crate) fn reach(plan: &Plan<'_>, graph: &Graph, logic: &mut Logic) -> Option<Reach> {
    let on: Vec<Bit> = graph
        .diodes
        .iter()
        .map(|edge| match plan.diodes.binary_search(&edge.part) {
            Ok(at) => {
                let conducts = logic.input(Input::Diode(at as u32));
                logic.dag.and(edge.when, conducts)
            }
            Err(_) => NO,
        })
        .collect();
    let dag = &mut logic.dag;
    let wiring = Closure::new(dag, graph.nodes, graph.wiring.iter().map(|e| (e.a, e.b, e.when, e.when)))?;
    let mut ground = graph.earthed.clone();
    wiring.spread(dag, &mut ground);
    (0..graph.nodes).filter(|&n| graph.anchored[n]).for_each(|n| ground[n] = YES);
    let mut maker = Maker { graph, dag, wiring, held: Vec::new(), doubt: NO };
    maker.sources(&ground);
    let held = maker.potentials(&ground);
    let (wiring, labels, doubt) = (maker.wiring, maker.held, maker.doubt);
    let mut reach = Reach {
        held,
        behind: Vec::new(),
        fed: vec![NO; graph.nodes],
        referenced: vec![NO; graph.nodes],
        grounded: ground,
        gives: [vec![NO; graph.nodes], vec![NO; graph.nodes]],
        alive_feed: Vec::new(),
        alive_ground: Vec::new(),
        clash: vec![NO; graph.nodes],
        strong: vec![NO; graph.nodes],
        perhaps_strong: vec![NO; graph.nodes],
        doubt,
    };
    for (_, kind, _, at) in &labels {
        let flags = if *kind == SourceKind::Supply { &mut reach.fed } else { &mut reach.referenced };
        flags.iter_mut().zip(at).for_each(|(flag, &at)| *flag = dag.or(*flag, at));
    }
    reach.clashes(graph, dag);
    reach.shorted_diodes(plan, graph, dag);
    let seeds = Seeds::new(&labels, graph.nodes, dag);
    reach.through_diodes(plan, graph, dag, &wiring, &on, seeds)?;
    Some(reach)
}

/// Where supplies and references are: by kind, those whose current goes forward over diodes, and those that draw it.
struct Seeds {
    of: [[Vec<Bit>; 2]; 2],
}

impl Seeds {
    fn new(labels: &[(Potential, SourceKind, bool, Vec<Bit>)], nodes: usize, dag: &mut Dag) -> Self {
        let none = || [vec![NO; nodes], vec![NO; nodes]];
        let mut of = [none(), none()];
        for (potential, kind, _, at) in labels {
            let [forward, backward] = &mut of[usize::from(*kind != SourceKind::Supply)];
            let floats = potential.against.is_some();
            for (ways, goes) in
                [(forward, floats || potential.volts >= 0.0), (backward, floats || potential.volts < 0.0)]
            {
                if goes {
                    ways.iter_mut().zip(at).for_each(|(way, &at)| *way = dag.or(*way, at));
                }
            }
        }
        Self { of }
    }
}

impl Maker<'_> {
    /// Labels of sources: first those that stand on ground, then what stands on those, then what floats.
    fn sources(&mut self, ground: &[Bit]) {
        let mut rest: Vec<(Lift, Bit)> = Vec::new();
        let mut first: Vec<(Potential, Lift, Bit)> = Vec::new();
        for &lift in &self.graph.lifts {
            let (from, to) = (lift.edge.a as usize, lift.edge.b as usize);
            if from == to {
                self.doubt = self.dag.or(self.doubt, lift.edge.when);
                continue;
            }
            let standing = self.dag.and(lift.edge.when, ground[from]);
            first.push((Potential { against: None, volts: lift.volts }, lift, standing));
            rest.push((lift, self.dag.without(lift.edge.when, ground[from])));
            // Its terminal grounded and its other pole not: which of the two is live then is another's matter.
            let turned = self.dag.and(lift.edge.when, ground[to]);
            let turned = self.dag.without(turned, ground[from]);
            self.doubt = self.dag.or(self.doubt, turned);
        }
        self.label(first);
        rest.retain(|(_, when)| *when != NO);
        if rest.is_empty() {
            return;
        }
        let mut second = Vec::new();
        let mut floating = Vec::new();
        for (lift, when) in rest {
            let from = lift.edge.a as usize;
            let below: Vec<(Potential, Bit)> = self.held.iter().map(|(p, _, _, at)| (*p, at[from])).collect();
            let mut any = NO;
            for &(potential, at) in &below {
                let others = below.iter().filter(|(p, _)| !same(*p, potential)).map(|(_, at)| *at);
                let others = self.dag.any(others.collect::<Vec<_>>());
                let alone = self.dag.without(at, others);
                let both = self.dag.and(at, others);
                let standing = self.dag.and(when, alone);
                let unclear = self.dag.and(when, both);
                self.doubt = self.dag.or(self.doubt, unclear);
                second.push((Potential { volts: potential.volts + lift.volts, ..potential }, lift, standing));
                any = self.dag.or(any, at);
            }
            floating.push((lift, self.dag.without(when, any)));
        }
        self.label(second);
        let mut third = Vec::new();
        for (lift, when) in floating.into_iter().filter(|f| f.1 != NO) {
            // Another potential at either of its poles ties a floating source down: not followed here.
            for at in [lift.edge.a, lift.edge.b] {
                let tied = self.held.iter().map(|(.., held)| held[at as usize]).collect::<Vec<_>>();
                let tied = self.dag.any(tied);
                let tied = self.dag.and(when, tied);
                self.doubt = self.dag.or(self.doubt, tied);
            }
            third.push((Potential { against: Some(lift.edge.a), volts: lift.volts }, lift, when));
        }
        let floats: Vec<(u32, Bit)> = third.iter().map(|(_, lift, when)| (lift.edge.a, *when)).collect();
        for (at, &(a, when)) in floats.iter().enumerate() {
            for &(_, other) in floats[..at].iter().filter(|(b, _)| *b != a) {
                let both = self.dag.and(when, other);
                self.doubt = self.dag.or(self.doubt, both);
            }
        }
        let shorted: Vec<(Lift, Bit)> = third.iter().map(|&(_, lift, when)| (lift, when)).collect();
        let first = self.held.len();
        self.label(third);
        // … and so does wiring from its one pole to the other, or to another floating source.
        for (lift, when) in shorted {
            let at = |node: u32| self.held[first..].iter().map(move |(.., held)| held[node as usize]);
            let tied: Vec<Bit> = at(lift.edge.a).collect();
            let tied = self.dag.any(tied);
            let tied = self.dag.and(when, tied);
            self.doubt = self.dag.or(self.doubt, tied);
        }
    }

    /// Spreads what sources bring to their terminals.
    fn label(&mut self, labels: Vec<(Potential, Lift, Bit)>) {
        let first = self.held.len();
        for (potential, lift, when) in labels.into_iter().filter(|l| l.2 != NO) {
            let fits = |h: &&mut (Potential, SourceKind, bool, Vec<Bit>)| {
                same(h.0, potential) && h.1 == lift.kind && h.2 == lift.soft
            };
            let to = lift.edge.b as usize;
            match self.held[first..].iter_mut().find(fits) {
                Some((.., at)) => at[to] = self.dag.or(at[to], when),
                None => {
                    let mut at = vec![NO; self.graph.nodes];
                    at[to] = when;
                    self.held.push((potential, lift.kind, lift.soft, at));
                }
            }
        }
        for (.., at) in &mut self.held[first..] {
            self.wiring.spread(self.dag, at);
        }
    }

    /// The labels by potential, ground first.
    fn potentials(&mut self, ground: &[Bit]) -> Vec<Held> {
        let zero = Potential { against: None, volts: 0.0 };
        let mut all = vec![Held { potential: zero, hard: ground.to_vec(), any: ground.to_vec() }];
        for (potential, _, soft, at) in &self.held {
            let entry = match all.iter_mut().position(|h| same(h.potential, *potential)) {
                Some(entry) => entry,
                None => {
                    let none = vec![NO; self.graph.nodes];
                    all.push(Held { potential: *potential, hard: none.clone(), any: none });
                    all.len() - 1
                }
            };
            let entry = &mut all[entry];
            for (node, &at) in at.iter().enumerate() {
                entry.any[node] = self.dag.or(entry.any[node], at);
                if !soft {
                    entry.hard[node] = self.dag.or(entry.hard[node], at);
                }
            }
        }
        all
    }
}

impl Reach {
    /// Where potentials meet. The common ground itself is never part of a clash.
    fn clashes(&mut self, graph: &Graph, dag: &mut Dag) {
        for node in (0..graph.nodes).filter(|&n| !graph.anchored[n]) {
            for (at, a) in self.held.iter().enumerate() {
                for b in &self.held[..at] {
                    let both = dag.and(a.any[node], b.any[node]);
                    self.clash[node] = dag.or(self.clash[node], both);
                    let hard = dag.and(a.hard[node], b.hard[node]);
                    self.strong[node] = dag.or(self.strong[node], hard);
                }
            }
            // A limited source against one without a limit, other than ground: which of them counts first hangs on
            // the order of things.
            let hard: Vec<Bit> = self.held[1..].iter().map(|h| h.hard[node]).collect();
            let hard = dag.any(hard);
            let unclear = dag.and(self.clash[node], hard);
            self.perhaps_strong[node] = dag.or(self.strong[node], unclear);
        }
    }

    /// A diode between two potentials that wiring holds, the higher at its anode, joins them: what comes of that is not followed
    /// here.
    fn shorted_diodes(&mut self, plan: &Plan<'_>, graph: &Graph, dag: &mut Dag) {
        for edge in &graph.diodes {
            let Act::Diode(drop) = plan.parts[edge.part].act else { continue };
            for above in &self.held {
                for below in &self.held {
                    let (p, q) = (above.potential, below.potential);
                    if p.against != q.against || p.volts - drop <= q.volts + SAME * (1.0 + q.volts.abs()) {
                        continue;
                    }
                    let both = dag.and(above.any[edge.a as usize], below.any[edge.b as usize]);
                    let both = dag.and(edge.when, both);
                    self.doubt = dag.or(self.doubt, both);
                }
            }
        }
    }

    /// Carries the flags over conducting diodes, and the potentials on to what is behind them.
    fn through_diodes(
        &mut self,
        plan: &Plan<'_>,
        graph: &Graph,
        dag: &mut Dag,
        wiring: &Closure,
        on: &[Bit],
        seeds: Seeds,
    ) -> Option<()> {
        let mut source = Vec::with_capacity(graph.nodes);
        for (&fed, &referenced) in self.fed.iter().zip(&self.referenced) {
            source.push(dag.or(fed, referenced));
        }
        if on.iter().all(|&on| on == NO) {
            (self.alive_feed, self.alive_ground) = (source, self.grounded.clone());
            self.gives = [self.fed.clone(), self.referenced.clone()];
            return Some(());
        }
        let wires = graph.wiring.iter().map(|e| (e.a, e.b, e.when, e.when));
        // What is joined to the common ground stays apart there: no diode's current is walked through an anchor.
        let free = |n: u32| !graph.anchored[n as usize];
        let arrows = graph.diodes.iter().zip(on).filter(|(e, _)| free(e.a) && free(e.b));
        let edges: Vec<_> = wires.chain(arrows.map(|(e, &on)| (e.a, e.b, on, NO))).collect();
        let closure = Closure::new(dag, graph.nodes, edges)?;
        // Beside an anchor a diode leads to and from ground.
        let (mut from_ground, mut to_ground) = (self.grounded.clone(), self.grounded.clone());
        for (edge, &on) in graph.diodes.iter().zip(on) {
            let (a, b) = (edge.a as usize, edge.b as usize);
            if graph.anchored[a] && !graph.anchored[b] {
                from_ground[b] = dag.or(from_ground[b], on);
            }
            if graph.anchored[b] && !graph.anchored[a] {
                to_ground[a] = dag.or(to_ground[a], on);
            }
        }
        closure.spread(dag, &mut from_ground);
        closure.gather(dag, &mut to_ground);
        closure.spread(dag, &mut source);
        for (gives, [mut forward, mut backward]) in self.gives.iter_mut().zip(seeds.of) {
            closure.spread(dag, &mut forward);
            closure.gather(dag, &mut backward);
            *gives = forward.iter().zip(backward).map(|(&a, b)| dag.or(a, b)).collect();
        }
        (self.alive_feed, self.alive_ground) = (source, to_ground.clone());
        for flags in [&mut self.fed, &mut self.referenced] {
            let mut back = flags.clone();
            closure.spread(dag, flags);
            closure.gather(dag, &mut back);
            flags.iter_mut().zip(back).for_each(|(flag, back)| *flag = dag.or(*flag, back));
        }
        for (flag, (a, b)) in self.grounded.iter_mut().zip(from_ground.into_iter().zip(to_ground)) {
            *flag = dag.or(a, b);
        }
        self.behind_diodes(plan, graph, dag, wiring, on);
        Some(())
    }

    /// What a node stands at that only a supply's current through diodes reaches, three diodes deep at the most.
    fn behind_diodes(&mut self, plan: &Plan<'_>, graph: &Graph, dag: &mut Dag, wiring: &Closure, on: &[Bit]) {
        let mut direct = vec![NO; graph.nodes];
        for held in &self.held {
            direct.iter_mut().zip(&held.any).for_each(|(d, &at)| *d = dag.or(*d, at));
        }
        let mut above: Vec<(Potential, Vec<Bit>)> =
            self.held[1..].iter().map(|h| (h.potential, h.any.clone())).collect();
        for _ in 0..3 {
            let mut next: Vec<(Potential, Vec<Bit>)> = Vec::new();
            for (edge, &on) in graph.diodes.iter().zip(on) {
                let Act::Diode(drop) = plan.parts[edge.part].act else { continue };
                let (a, k) = (edge.a as usize, edge.b as usize);
                let open = dag.without(on, direct[k]);
                let open = dag.and(open, self.fed[k]);
                for (potential, at) in &above {
                    let given = dag.and(open, at[a]);
                    let given = dag.without(given, self.clash[a]);
                    let behind = Potential { volts: potential.volts - drop, ..*potential };
                    if given != NO {
                        let at = entry(&mut next, behind, graph.nodes);
                        at[k] = dag.or(at[k], given);
                    }
                }
            }
            if next.is_empty() {
                break;
            }
            for (potential, at) in &mut next {
                wiring.spread(dag, at);
                let known = self.behind.iter_mut().find(|(p, _)| same(*p, *potential));
                match known {
                    Some((_, all)) => {
                        all.iter_mut().zip(at.iter()).for_each(|(all, &at)| *all = dag.or(*all, at))
                    }
                    None => self.behind.push((*potential, at.clone())),
                }
            }
            above = next;
        }
    }
}

/// The nodes at a potential, of a list that grows.
fn entry(list: &mut Vec<(Potential, Vec<Bit>)>, potential: Potential, nodes: usize) -> &mut Vec<Bit> {
    let at = list.iter().position(|(p, _)| same(*p, potential)).unwrap_or_else(|| {
        list.push((potential, vec![NO; nodes]));
        list.len() - 1
    });
    &mut list[at].1
}

/// Whether two potentials are one.
pub(crate) fn same(a: Potential, b: Potential) -> bool {
    a.against == b.against && (a.volts - b.volts).abs() <= SAME * (1.0 + a.volts.abs())
}
