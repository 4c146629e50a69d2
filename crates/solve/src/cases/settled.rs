//! Whether a net's state is decided although some controls are not.

use super::{
    facts::{Facts, Tri},
    frame::{Class, Frame, Net},
};

/// True if every way to decide the open controls gives this net the same state. May say no where the answer is yes.
pub(crate) fn settled(frame: &Frame<'_>, facts: &Facts, net: Net) -> bool {
    if facts.barrier(net) {
        return true;
    }
    if facts.may[net as usize] != 0 {
        return false;
    }
    let (Some(may), Some(must)) = (reach(frame, facts, net, false), reach(frame, facts, net, true)) else {
        return false;
    };
    may == must
}

/// The potentials that are reached through loads. To the barriers: over all that may conduct, or over what surely conducts and surely stays without a
/// potential of its own. `None` where a transducer or a source in the way makes it a question of volts.
fn reach(frame: &Frame<'_>, facts: &Facts, net: Net, sure: bool) -> Option<u64> {
    let mut reach = 0;
    let mut seen = vec![false; frame.at.len()];
    let mut stack = vec![net];
    while let Some(net) = stack.pop() {
        if std::mem::replace(&mut seen[net as usize], true) {
            continue;
        }
        let set = facts.may[net as usize];
        if facts.barrier(net) || !sure {
            reach |= set;
        }
        if facts.barrier(net) || (sure && set != 0) {
            continue;
        }
        for &e in &frame.at[net as usize] {
            let edge = &frame.edges[e as usize];
            let conducts = facts.edges[e as usize];
            let special = matches!(edge.class, Class::Source { .. } | Class::Load { feed: Some(_) });
            if conducts != Tri::No && special {
                return None;
            }
            let diode = matches!(edge.class, Class::Diode { .. });
            if conducts == Tri::Yes || (!sure && conducts == Tri::Maybe) {
                if diode && sure {
                    continue;
                }
                stack.push(if edge.a == net { edge.b } else { edge.a });
            }
        }
    }
    Some(reach)
}
