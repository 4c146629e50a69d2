//! Whether loads may lift a diode's far end, so that it blocks although its near end stands highest of all.
//!
//! A winding from the battery beside a diode from the battery: with nothing to draw from their common end the winding holds
//! it at the battery's volts and the diode carries nothing; with a lamp there the diode conducts.

use super::{
    facts::{Facts, Origin, Potentials, Tri, bits},
    frame::{Class, Frame, Net},
};

impl Facts {
    /// A diode that nothing in the circuit can block: its near end stands at the highest potential there is, and nothing
    /// lifts its far end.
    pub(super) fn through_surely(
        &mut self,
        set: Potentials,
        drop: f64,
        forward: bool,
        edge: u32,
        frame: &Frame<'_>,
    ) -> Potentials {
        let mut given = 0;
        for i in bits(set).filter(|_| forward) {
            let Some(&(o, v)) = self.table.get(i) else { continue };
            if o != Origin::Ground && v >= frame.highest - 1e-9 && !self.lifts(frame, edge, v - drop) {
                given |= self.intern(o, v - drop);
            }
        }
        given
    }

    /// Whether anything but this diode may hold its far end above `volts`, over loads and whatever may conduct. May say yes
    /// where the answer is no. Walks to the barriers.
    fn lifts(&self, frame: &Frame<'_>, diode: u32, volts: f64) -> bool {
        let above = |set: Potentials, less: f64| self.highest_of(set).is_none_or(|v| v - less > volts + 1e-9);
        let mut seen = vec![false; frame.at.len()];
        let mut stack: Vec<Net> = frame.edges.get(diode as usize).map(|e| e.b).into_iter().collect();
        while let Some(net) = stack.pop() {
            if std::mem::replace(&mut seen[net as usize], true) || frame.anchored[net as usize] {
                continue;
            }
            let may = self.may[net as usize];
            // Next to a clash nothing is known for sure. This diode's own potential clashes with another only where that one
            // reaches its far end as well.
            if above(may, 0.0) || !self.one_value_but(may, volts) {
                return true;
            }
            if self.barrier(net) {
                continue;
            }
            for &e in frame.at[net as usize].iter().filter(|&&e| e != diode && self.open_to(frame, e)) {
                let edge = &frame.edges[e as usize];
                match edge.class {
                    Class::Source { .. } => return true,
                    // Away from here it lets nothing come back.
                    Class::Diode { .. } if edge.a == net => {}
                    Class::Diode { drop } if self.barrier(edge.a) => {
                        if above(self.may[edge.a as usize], drop) {
                            return true;
                        }
                    }
                    Class::Load { feed: Some(feed) } => stack.extend([edge.a, edge.b, feed]),
                    Class::Wiring | Class::Load { .. } | Class::Diode { .. } => {
                        stack.extend([edge.a, edge.b])
                    }
                }
            }
        }
        false
    }

    /// Whether an edge may conduct, its module being alive.
    fn open_to(&self, frame: &Frame<'_>, edge: u32) -> bool {
        let gate = self.gates[edge as usize];
        gate != Tri::No && frame.edges[edge as usize].a != frame.edges[edge as usize].b
    }

    /// Whether the potentials but those of `volts` are of one value.
    fn one_value_but(&self, set: Potentials, volts: f64) -> bool {
        let mut values = self.members(set).map(|(_, v)| v).filter(|v| (v - volts).abs() > 1e-9);
        let first = values.next();
        values.all(|v| Some(v) == first)
    }

    /// The highest potential of a set; `None` where more of them are in it than are told apart. Ground where it is empty.
    fn highest_of(&self, set: Potentials) -> Option<f64> {
        (!Self::is_crowded(set)).then(|| self.members(set).fold(0.0, |most: f64, (_, v)| most.max(v)))
    }
}
