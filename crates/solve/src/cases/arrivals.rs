//! How potentials come to nets while some controls are undecided: each way with the condition on which it is closed.

use super::facts::Potentials;
use keyon_circuit::ids::*;

/// What an open edge asks of the circuit. A way that asks for two things which exclude one another (both throws of a
/// changeover) is closed in no state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Hold {
    /// A control stands in one of these positions.
    At { control: ControlId, positions: u64 },
    /// A coil is energised, or is not.
    Coil { coil: ElementId, open: bool },
}

impl Hold {
    /// Both, as far as one of them is remembered: the later one, and less of it if they speak of the same thing.
    /// `None` where they exclude one another.
    pub(super) fn and(self, earlier: Option<Self>) -> Option<Self> {
        match (self, earlier) {
            (Self::At { control, positions }, Some(Self::At { control: other, positions: before }))
                if control == other =>
            {
                (positions & before != 0).then_some(Self::At { control, positions: positions & before })
            }
            (Self::Coil { coil, open }, Some(Self::Coil { coil: other, open: before })) if coil == other => {
                (open == before).then_some(self)
            }
            _ => Some(self),
        }
    }
}

/// How a set of potentials came to a net: under which condition; and the one that came there before it.
pub(super) struct Arrival {
    pub(super) hold: Option<Hold>,
    pub(super) set: Potentials,
    before: u32,
}

/// All arrivals, in one list; each net knows its last.
#[derive(Default)]
pub(super) struct Arrivals {
    pub(super) all: Vec<Arrival>,
    last: Vec<u32>,
}

impl Arrivals {
    pub(super) fn clear(&mut self, nets: usize) {
        self.all.clear();
        self.last.clear();
        self.last.resize(nets, NONE);
    }

    /// The arrivals at a net by their places, the latest first.
    pub(super) fn at(&self, net: usize) -> impl Iterator<Item = (usize, &Arrival)> {
        let place = |at: u32| self.all.get(at as usize).map(|arrival| (at as usize, arrival));
        std::iter::successors(place(self.last[net]), move |(_, arrival)| place(arrival.before))
    }

    pub(super) fn push(&mut self, net: usize, hold: Option<Hold>, set: Potentials) -> usize {
        let before = std::mem::replace(&mut self.last[net], self.all.len() as u32);
        self.all.push(Arrival { hold, set, before });
        self.all.len() - 1
    }

    /// Adds potentials that arrive under a condition; the place to go on from, if they are news.
    pub(super) fn arrive(&mut self, net: usize, hold: Option<Hold>, set: Potentials) -> Option<usize> {
        // What is there without a condition is there under any.
        let free = self.at(net).find(|(_, a)| a.hold.is_none()).map_or(0, |(_, a)| a.set);
        let set = set & !free;
        if set == 0 {
            return None;
        }
        let hold =
            hold.filter(|_| self.at(net).count() < ARRIVALS || self.at(net).any(|(_, a)| a.hold == hold));
        let known = self.at(net).find(|(_, a)| a.hold == hold).map(|(place, a)| (place, a.set));
        match known {
            Some((_, known)) if known | set == known => None,
            Some((place, known)) => {
                self.all[place].set = known | set;
                Some(place)
            }
            None => Some(self.push(net, hold, set)),
        }
    }
}

/// No arrival.
const NONE: u32 = u32::MAX;

/// Conditions that are kept apart at one net; more of them count as none, which only asks for more to be decided.
const ARRIVALS: usize = 12;
