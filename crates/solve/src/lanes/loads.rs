//! What loads do where potentials alone decide it: with a potential at both ends a current is known as well as the drops
//! in the wiring are (`bounds`), and where only one potential reaches, none flows.

use super::{
    bounds::Bounds,
    cone::Around,
    dag::{Bit, Dag, NO},
    graph::{Edge, Graph},
    reach::{Potential, Reach, same},
    states::States,
};
use crate::{
    plan::{Act, Plan},
    rating,
};
use keyon_circuit::model::{Law, Rated};
use std::collections::BTreeSet;

/// What one load does, in expressions that exclude one another; where none of them holds it rests.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Does {
    pub(crate) forward: Bit,
    pub(crate) reverse: Bit,
    pub(crate) weak: Bit,
    /// Not decided here.
    pub(crate) doubt: Bit,
    /// Decided with what else draws current as it is in the base state (decision 29).
    pub(crate) separated: bool,
}

/// What a relay's coil comes to, from where it is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Next {
    /// Energised next, when it is now.
    pub(crate) stays: Bit,
    /// Energised next, when it is not now.
    pub(crate) pulls: Bit,
    pub(crate) doubt_stays: Bit,
    pub(crate) doubt_pulls: Bit,
    /// As of [`Does`].
    pub(crate) separated: bool,
}

/// Amps between two figures, and which way they flow.
struct Amps {
    least: f64,
    most: f64,
    /// The same, with what else draws current as it is in the base state.
    beside: (f64, f64),
    forward: bool,
    when: Bit,
}

/// Amps from which a load operates and is weak, as low and as high as they may be.
#[derive(Clone, Copy, Debug)]
struct Thresholds {
    operates: (f64, f64),
    weak: (f64, f64),
}

/// What a load does, whichever way its current flows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Word {
    Rests,
    Weak,
    Operates,
}

impl Thresholds {
    /// What a load does with no less and no more amps than these; `None` where that is not certain.
    fn word(self, least: f64, most: f64) -> Option<Word> {
        if least >= self.operates.1 {
            Some(Word::Operates)
        } else if most < self.weak.0 {
            Some(Word::Rests)
        } else if least >= self.weak.1 && most < self.operates.0 {
            Some(Word::Weak)
        } else {
            None
        }
    }
}

/// Judges loads of one circuit.
pub(crate) struct Judge<'a> {
    pub(crate) plan: &'a Plan<'a>,
    pub(crate) graph: &'a Graph,
    pub(crate) reach: &'a Reach,
    pub(crate) states: &'a States,
    pub(crate) bounds: &'a Bounds,
    pub(crate) around: &'a Around,
    /// Whether what else draws current may be taken as it is in the base state.
    pub(crate) separate: bool,
}

impl Judge<'_> {
    /// What a load does. `None` where it cannot operate.
    pub(crate) fn does(&self, edge: &Edge, dag: &mut Dag) -> Option<Does> {
        let limits = self.thresholds(edge.part)?;
        let mut does = Does { forward: NO, reverse: NO, weak: NO, doubt: NO, separated: false };
        let (list, doubt) = self.amps(edge, limits.weak.0, dag);
        does.doubt = doubt;
        for amps in list {
            let mut word = limits.word(amps.least, amps.most);
            if word.is_none() && self.separate {
                word = limits.word(amps.beside.0, amps.beside.1);
                does.separated |= word.is_some();
            }
            let slot = match word {
                Some(Word::Operates) if amps.forward => &mut does.forward,
                Some(Word::Operates) => &mut does.reverse,
                Some(Word::Weak) => &mut does.weak,
                Some(Word::Rests) => continue,
                None => &mut does.doubt,
            };
            *slot = dag.or(*slot, amps.when);
        }
        for slot in [&mut does.forward, &mut does.reverse, &mut does.weak] {
            *slot = dag.without(*slot, does.doubt);
        }
        Some(does)
    }

    /// What a relay's coil comes to.
    pub(crate) fn next(&self, edge: &Edge, dag: &mut Dag) -> Next {
        let none = NO;
        let mut next =
            Next { stays: none, pulls: none, doubt_stays: none, doubt_pulls: none, separated: false };
        let Some(limits) = self.thresholds(edge.part) else { return next };
        let drops = crate::settle::drops_out(self.plan, edge.part);
        let drops = drops.map_or(limits.weak, |amps| (amps, amps));
        let (list, doubt) = self.amps(edge, drops.0.min(limits.operates.0), dag);
        (next.doubt_stays, next.doubt_pulls) = (doubt, doubt);
        for amps in list {
            for (low, high, sure, doubt) in [
                (drops.0, drops.1, &mut next.stays, &mut next.doubt_stays),
                (limits.operates.0, limits.operates.1, &mut next.pulls, &mut next.doubt_pulls),
            ] {
                let (mut least, mut most) = (amps.least, amps.most);
                if self.separate && least <= high && most >= low {
                    (least, most) = amps.beside;
                    next.separated |= least > high || most < low;
                }
                if least > high {
                    *sure = dag.or(*sure, amps.when);
                } else if most >= low {
                    *doubt = dag.or(*doubt, amps.when);
                }
            }
        }
        next
    }

    /// Amps of a load where both of its ends hold a potential, and where it is not known whether they reach `least`.
    fn amps(&self, edge: &Edge, least: f64, dag: &mut Dag) -> (Vec<Amps>, Bit) {
        let part = &self.plan.parts[edge.part];
        let (low_ohms, high_ohms) = self.ohms(edge.part);
        let (a, b) = (edge.a as usize, edge.b as usize);
        let held = self.held();
        let starts = BTreeSet::from([edge.a, edge.b]);
        let local = self.around.local(self.plan, self.graph, self.reach, &self.bounds.takes, &starts);
        let mut list = Vec::new();
        let mut sure = NO;
        let mut doubt = NO;
        for (pa, at_a) in &held {
            for (pb, at_b) in &held {
                let both = dag.and(at_a[a], at_b[b]);
                let both = dag.and(both, edge.when);
                let both = dag.without(both, self.reach.clash[a]);
                let both = dag.without(both, self.reach.clash[b]);
                if both == NO {
                    continue;
                }
                if pa.against.is_some() || pb.against.is_some() {
                    doubt = dag.or(doubt, both);
                    continue;
                }
                let mut off = self.bounds.sag(*pa, Some(part.from)) + self.bounds.sag(*pb, Some(part.to));
                if same(*pa, *pb) {
                    off = off.min(self.bounds.apart(*pa, &[part.from, part.to]));
                }
                let beside = self.bounds.beside(*pa, part.from, local.own)
                    + self.bounds.beside(*pb, part.to, local.own);
                let across = pa.volts - pb.volts;
                let range = |off: f64| {
                    let least = (across.abs() - off).max(0.0) / high_ohms * (1.0 - 1e-9);
                    (least, (across.abs() + off) / low_ohms * (1.0 + 1e-9))
                };
                let (least, most) = range(off);
                list.push(Amps {
                    least,
                    most,
                    beside: range(off.min(beside)),
                    forward: across > 0.0,
                    when: both,
                });
                sure = dag.or(sure, both);
            }
        }
        // Elsewhere no more flows than the highest and the lowest potential that reach it drive.
        let reached = self.reached(a, b, dag);
        let rest = dag.without(edge.when, sure);
        for (at, (p, when_p)) in reached.iter().enumerate() {
            for (q, when_q) in &reached[..=at] {
                let floating = p.against.is_some() || q.against.is_some();
                let mut off = self.bounds.sag(*p, None) + self.bounds.sag(*q, None);
                if same(*p, *q)
                    && let Some(held) = self.reach.held.iter().find(|h| same(h.potential, *p))
                {
                    off = off.min(self.bounds.apart(*p, &local.points(self.graph, &held.any)));
                }
                let most = ((p.volts - q.volts).abs() + off) / low_ohms;
                if floating || most >= least {
                    let both = dag.and(*when_p, *when_q);
                    let both = dag.and(both, rest);
                    doubt = dag.or(doubt, both);
                }
            }
        }
        for node in [a, b] {
            let odd = self.odd(node, dag);
            let states = self.states;
            let clash = [states.clash_via[node], self.reach.clash[node]];
            let unknown = [states.unknown_via[node], states.loose[node], clash[0], clash[1], odd];
            let unknown = dag.any(unknown);
            let unknown = dag.and(unknown, rest);
            doubt = dag.or(doubt, unknown);
        }
        (list, doubt)
    }

    /// Held nodes whose potential is not known.
    fn odd(&self, node: usize, dag: &mut Dag) -> Bit {
        let known: Vec<Bit> = self.held().iter().map(|(_, at)| at[node]).collect();
        let known = dag.any(known);
        dag.without(self.states.held[node], known)
    }

    fn held(&self) -> Vec<(Potential, &[Bit])> {
        let direct = self.reach.held.iter().map(|h| (h.potential, h.any.as_slice()));
        direct.chain(self.reach.behind.iter().map(|(p, at)| (*p, at.as_slice()))).collect()
    }

    /// The potentials that reach either end, in any way.
    fn reached(&self, a: usize, b: usize, dag: &mut Dag) -> Vec<(Potential, Bit)> {
        let ground = self.reach.held[0].potential;
        let lists = self.held().into_iter().map(|(p, at)| (p, at.to_vec()));
        let via = self.states.via.iter().map(|(p, at)| (*p, at.clone()));
        let all = lists.chain(via).chain([(ground, self.states.ground_via.clone())]);
        all.map(|(p, at)| (p, dag.or(at[a], at[b]))).filter(|(_, when)| *when != NO).collect()
    }

    /// Least and most ohms, turning or not: what decides is the resistance before it turns.
    fn ohms(&self, part: usize) -> (f64, f64) {
        match self.plan.parts[part].act {
            Act::Ohms(ohms) => (ohms, ohms),
            _ => (0.0, f64::INFINITY),
        }
    }

    /// Thresholds over all supplies that may feed it.
    fn thresholds(&self, part: usize) -> Option<Thresholds> {
        let plan = self.plan;
        let stated = || {
            let lifts = self.graph.lifts.iter();
            let volts = lifts.map(|l| match plan.circuit.elements.get(l.edge.part).map(|e| &e.law) {
                Some(Law::Source { volts, .. }) => volts.nominal.abs(),
                _ => l.volts.abs(),
            });
            volts.fold((f64::INFINITY, 0.0f64), |(low, high), v| (low.min(v), high.max(v)))
        };
        let rated = |rated: Option<Rated>, ohms: f64| match rated {
            Some(Rated::Amps(amps)) => (amps.nominal, amps.nominal),
            Some(Rated::Volts(volts)) => (volts.nominal / ohms, volts.nominal / ohms),
            None => {
                let (low, high) = stated();
                (low / ohms, high / ohms)
            }
        };
        let own = |own: f64| Thresholds { operates: (own, own), weak: (0.2 * own, 0.2 * own) };
        let share =
            |r: (f64, f64)| Thresholds { operates: (0.7 * r.0, 0.7 * r.1), weak: (0.2 * r.0, 0.2 * r.1) };
        let limits = match plan.law(part)? {
            Law::Rated { watts, volts, .. } => {
                let amps = watts.nominal / volts.nominal;
                share((amps, amps))
            }
            Law::Coil { pulls_in: Some(amps), .. } => own(amps.nominal),
            Law::Winding { turns_at: Some(amps), .. } => own(amps.nominal),
            Law::Coil { ohms, rated: by, .. } | Law::Winding { ohms, rated: by, .. } => {
                share(rated(*by, ohms.nominal))
            }
            _ => return None,
        };
        let element = plan.circuit.elements.get(part)?;
        rating::can_operate(element.kind).then_some(limits)
    }
}
