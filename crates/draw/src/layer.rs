//! Which block stands above which: feeds at the top, modules at the bottom, grounds below them.

use crate::block::{Net, Thing};
use std::{cmp::Reverse, collections::BinaryHeap};

/// How often [`levels`] are made even: they only part what stands alike.
const SWEEPS: usize = 60;

/// The edge of a block that a link leaves from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Side {
    Top,
    Bottom,
}

impl Side {
    pub(crate) fn other(self) -> Self {
        match self {
            Self::Top => Self::Bottom,
            Self::Bottom => Self::Top,
        }
    }
}

/// Where each block and each end of a link stands.
#[derive(Clone, Debug, Default)]
pub(crate) struct Layers {
    /// The layer of each block, from the top.
    pub(crate) of: Vec<usize>,
    pub(crate) count: usize,
    /// The side of both ends of each link.
    pub(crate) sides: Vec<[Side; 2]>,
}

/// What cannot be reached.
const FAR: i64 = 10_000;

/// Where a block stands by its distances, and among those alike by the level that [`levels`] gives it: what is less is higher.
type Key = (i64, i64);

impl Layers {
    /// `relays` says which blocks are relays.
    pub(crate) fn of(net: &Net, relays: &dyn Fn(usize) -> bool) -> Self {
        let neighbours = neighbours(net);
        let key = keys(net, &neighbours, relays);
        let above = |a: usize, b: usize| (key.get(a), a) < (key.get(b), b);
        let mut of = longest(net, &key, &neighbours);
        tighten(net, &mut of, &neighbours, &above, &key);
        close_up(&mut of);
        let count = of.iter().max().map_or(0, |most| most + 1);
        let sides = sides(net, &key);
        Self { of, count, sides }
    }
}

/// The blocks that each block is linked to, with repeats.
fn neighbours(net: &Net) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new(); net.blocks.len()];
    for link in &net.links {
        let [(a, _), (b, _)] = link.ends;
        if a != b {
            all[a].push(b);
            all[b].push(a);
        }
    }
    all
}

/// How far each block is from some, over links; not on through what `wall` says. `delay`: what passing a block costs
/// beyond its link.
fn distances(
    net: &Net,
    neighbours: &[Vec<usize>],
    start: impl Fn(Thing) -> bool,
    wall: impl Fn(Thing) -> bool,
    delay: &[i64],
) -> Vec<i64> {
    let mut far = vec![FAR; net.blocks.len()];
    let mut queue = BinaryHeap::new();
    for (i, block) in net.blocks.iter().enumerate() {
        if start(block.thing) {
            far[i] = 0;
            queue.push(Reverse((0, i)));
        }
    }
    while let Some(Reverse((distance, at))) = queue.pop() {
        if distance > far[at] || distance > 0 && wall(net.blocks[at].thing) {
            continue;
        }
        let on = distance + 1 + delay.get(at).copied().unwrap_or(0);
        for &next in &neighbours[at] {
            if on < far[next] {
                far[next] = on;
                queue.push(Reverse((on, next)));
            }
        }
    }
    far
}

/// The order from top to bottom: near the supply above, near ground or a module below.
fn keys(net: &Net, neighbours: &[Vec<usize>], relays: &dyn Fn(usize) -> bool) -> Vec<Key> {
    let low = |thing| matches!(thing, Thing::Module(_) | Thing::Ground(_) | Thing::Common);
    let supply = |thing| matches!(thing, Thing::Supply(_));
    let plain = distances(net, neighbours, supply, low, &[]);
    let mut delay = vec![0; net.blocks.len()];
    for relay in (0..net.blocks.len()).filter(|&b| relays(b)) {
        delay[relay] = relay_delay(net, neighbours, relay, &plain);
    }
    let from_supply = distances(net, neighbours, supply, low, &delay);
    let to_ground = distances(net, neighbours, low, supply, &[]);
    let each = net.blocks.iter().enumerate().map(|(i, block)| match block.thing {
        Thing::Supply(_) => -2 * FAR,
        Thing::Module(_) => 4 * FAR,
        Thing::Ground(_) | Thing::Common => 5 * FAR,
        // What only a module feeds stands right above it, a splice between what it joins and the module.
        Thing::Splice(_) if from_supply[i] == FAR => FAR + 1 - 2 * to_ground[i].min(FAR / 4),
        _ if from_supply[i] == FAR => FAR - 2 * to_ground[i].min(FAR / 4),
        _ => 2 * (from_supply[i] + delay[i] - to_ground[i].min(FAR / 4)),
    });
    each.zip(levels(net, neighbours, &from_supply, &to_ground)).collect()
}

/// How low each block stands if current ran from the supplies to what is low, each link a resistor like the others: what lies
/// on a way from one to the other has a neighbour above and one below, so that no line turns back in it.
fn levels(net: &Net, neighbours: &[Vec<usize>], from_supply: &[i64], to_ground: &[i64]) -> Vec<i64> {
    let fixed = |thing: Thing| match thing {
        Thing::Supply(_) => Some(0.0),
        Thing::Module(_) | Thing::Ground(_) | Thing::Common => Some(1.0),
        _ => None,
    };
    let first = |(i, block): (usize, &crate::block::Block)| {
        let (above, below) = (from_supply[i] as f64, to_ground[i] as f64);
        fixed(block.thing).unwrap_or(above / (above + below).max(1.0))
    };
    let mut level: Vec<f64> = net.blocks.iter().enumerate().map(first).collect();
    for _ in 0..SWEEPS {
        for (i, block) in net.blocks.iter().enumerate() {
            if fixed(block.thing).is_none() && !neighbours[i].is_empty() {
                let sum: f64 = neighbours[i].iter().map(|&n| level[n]).sum();
                level[i] = sum / neighbours[i].len() as f64;
            }
        }
    }
    level.into_iter().map(|l| (l * 1e6).round() as i64).collect()
}

/// A relay stands below all that feeds its coil: how much further that is than what feeds its contacts.
fn relay_delay(net: &Net, neighbours: &[Vec<usize>], relay: usize, plain: &[i64]) -> i64 {
    let low = |thing| matches!(thing, Thing::Module(_) | Thing::Ground(_) | Thing::Common);
    let wall = FAR * i64::from(u8::MAX);
    let mut delay = vec![0; net.blocks.len()];
    delay[relay] = wall;
    let without = distances(net, neighbours, |t| matches!(t, Thing::Supply(_)), low, &delay);
    let reached = neighbours[relay].iter().map(|&n| without[n]).filter(|&d| d < FAR);
    reached.max().map_or(0, |far| (far + 1 - plain[relay]).max(0))
}

/// Each block below all that stand above it; the modules in one row.
fn longest(net: &Net, key: &[Key], neighbours: &[Vec<usize>]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..net.blocks.len()).collect();
    order.sort_by_key(|&i| (key[i], i));
    let mut of = vec![0_usize; net.blocks.len()];
    let is_module = |i: usize| matches!(net.blocks[i].thing, Thing::Module(_));
    let mut row = 0;
    for &at in &order {
        let below = |&&b: &&usize| (key[b], b) < (key[at], at) && !(is_module(at) && is_module(b));
        let own = neighbours[at].iter().filter(below).map(|&b| of[b] + 1).max().unwrap_or(0);
        of[at] = own;
        // Supplies alone stand in the first row.
        if key[at].0 >= -FAR {
            of[at] = own.max(1);
        }
        if !matches!(net.blocks[at].thing, Thing::Ground(_) | Thing::Common) {
            row = row.max(of[at]);
        }
    }
    for (i, layer) in of.iter_mut().enumerate() {
        if is_module(i) {
            *layer = row;
        }
    }
    // A ground that a module uses stands below it, another beside it.
    for &at in &order {
        if matches!(net.blocks[at].thing, Thing::Ground(_) | Thing::Common) {
            let users = &neighbours[at];
            let lowest = users.iter().map(|&u| of[u] + 1).max().unwrap_or(row);
            of[at] = lowest.max(row);
        }
    }
    of
}

/// Moves blocks along their free play towards where most of their links lead.
fn tighten(
    net: &Net,
    of: &mut [usize],
    neighbours: &[Vec<usize>],
    above: &dyn Fn(usize, usize) -> bool,
    key: &[Key],
) {
    for _ in 0..4 {
        let mut moved = false;
        for at in (0..of.len()).rev() {
            let fixed = matches!(
                net.blocks[at].thing,
                Thing::Supply(_) | Thing::Module(_) | Thing::Ground(_) | Thing::Common
            );
            if fixed || neighbours[at].is_empty() {
                continue;
            }
            let up: Vec<usize> = neighbours[at].iter().filter(|&&b| above(b, at)).map(|&b| of[b]).collect();
            let down: Vec<usize> = neighbours[at].iter().filter(|&&b| above(at, b)).map(|&b| of[b]).collect();
            let high = up.iter().max().map_or(1, |&l| l + 1);
            let low = down.iter().min().map_or(of[at], |&l| l.saturating_sub(1)).max(high);
            // What no supply feeds hangs on what is below it.
            let unfed = key[at].0 > FAR / 4;
            let wanted = if unfed || down.len() >= up.len() { low } else { high };
            if wanted != of[at] {
                of[at] = wanted;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
}

/// Takes out layers that nothing stands in.
fn close_up(of: &mut [usize]) {
    let mut used: Vec<usize> = of.to_vec();
    used.sort_unstable();
    used.dedup();
    for layer in of {
        *layer = used.binary_search(layer).unwrap_or(0);
    }
}

/// The side that each end of a link leaves from.
fn sides(net: &Net, key: &[Key]) -> Vec<[Side; 2]> {
    // What each pin of each block would like: links from above, links from below.
    let mut votes: Vec<Vec<[usize; 2]>> = net.blocks.iter().map(|b| vec![[0, 0]; b.pins.len()]).collect();
    for link in &net.links {
        let [(a, p), (b, q)] = link.ends;
        let a_above = (key[a], a) < (key[b], b);
        votes[a][p][usize::from(a_above)] += 1;
        votes[b][q][usize::from(!a_above)] += 1;
    }
    let pin_side: Vec<Vec<Side>> =
        net.blocks.iter().zip(&votes).map(|(block, votes)| pin_sides(block.thing, votes)).collect();
    let each = net.links.iter().map(|link| {
        let [(a, p), (b, q)] = link.ends;
        let a_above = (key[a], a) < (key[b], b);
        // Splices, supplies and grounds are bars: a link leaves on the side where it leads.
        let side = |block: usize, pin: usize, is_above: bool| match net.blocks[block].thing {
            Thing::Splice(_) if is_above => Side::Bottom,
            Thing::Splice(_) => Side::Top,
            _ => pin_side[block][pin],
        };
        [side(a, p, a_above), side(b, q, !a_above)]
    });
    each.collect()
}

fn pin_sides(thing: Thing, votes: &[[usize; 2]]) -> Vec<Side> {
    let by_vote = |[from_above, from_below]: &[usize; 2]| {
        if *from_above > 0 && from_above >= from_below || *from_below == 0 { Side::Top } else { Side::Bottom }
    };
    match thing {
        Thing::Supply(_) | Thing::Splice(_) => vec![Side::Bottom; votes.len()],
        Thing::Ground(_) | Thing::Common | Thing::Elsewhere(_) => vec![Side::Top; votes.len()],
        // In one end, out the other.
        Thing::Fuse(_) | Thing::Inline(..) => {
            let score = |i: usize| votes.get(i).map_or(0, |v| v[0] as i64 - v[1] as i64);
            if score(1) > score(0) { vec![Side::Bottom, Side::Top] } else { vec![Side::Top, Side::Bottom] }
        }
        // The feeds and signals above, what leads to ground below.
        Thing::Module(_) => votes
            .iter()
            .map(|[above, below]| if *below > 0 && *above == 0 { Side::Bottom } else { Side::Top })
            .collect(),
        Thing::Device(_) => votes.iter().map(by_vote).collect(),
    }
}
