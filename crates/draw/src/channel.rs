//! Wires between two layers: each piece runs down, across on a track of its own, and down again.
//!
//! Tracks are ordered so that two wires never share a line where one comes from above and the other leaves below, and
//! then for few crossings, by moving one piece at a time to its best place (sifting).

/// A piece to route: where it starts and ends, in steps; whether each end is at the upper edge.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Run {
    pub(crate) ends: [(i32, bool); 2],
}

/// Where it runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Route {
    /// Track, from the top; `None`: straight down.
    pub(crate) track: Option<usize>,
    /// Its upper end first steps aside by half a step, for what leaves below it.
    pub(crate) aside: bool,
}

/// Pieces above which the order is not improved any more, for time.
const MANY: usize = 250;

impl Run {
    fn low(&self) -> i32 {
        self.ends[0].0.min(self.ends[1].0)
    }
    fn high(&self) -> i32 {
        self.ends[0].0.max(self.ends[1].0)
    }
    fn is_straight(&self) -> bool {
        self.ends[0].0 == self.ends[1].0 && self.ends[0].1 != self.ends[1].1
    }
    fn within(&self, x: i32) -> bool {
        self.low() < x && x < self.high()
    }
    /// What it costs when it runs above the other.
    fn above(&self, other: &Self) -> u32 {
        let mut cost = 0;
        for (x, upper) in other.ends {
            cost += u32::from(upper && self.within(x));
        }
        for (x, upper) in self.ends {
            cost += u32::from(!upper && other.within(x));
        }
        // The same line, from above and from below: the upper one must run above.
        for (x, upper) in other.ends {
            for (y, mine) in self.ends {
                if x == y && upper && !mine {
                    cost += 1000;
                }
            }
        }
        cost
    }
}

/// Routes the pieces of one channel: a route for each, and how many tracks there are.
pub(crate) fn route(runs: &[Run]) -> (Vec<Route>, usize) {
    let bent: Vec<usize> = (0..runs.len()).filter(|&i| !runs[i].is_straight()).collect();
    let order = arrange(runs, &bent);
    let mut routes = vec![Route::default(); runs.len()];
    // Each on the first track below all that it meets.
    let mut tracks: Vec<Vec<usize>> = Vec::new();
    for &i in &order {
        let run = &runs[i];
        let meets = |other: &Run| run.low() <= other.high() && other.low() <= run.high();
        let lowest = tracks.iter().rposition(|those| those.iter().any(|&j| meets(&runs[j])));
        let track = lowest.map_or(0, |t| t + 1);
        if track == tracks.len() {
            tracks.push(Vec::new());
        }
        tracks[track].push(i);
        routes[i].track = Some(track);
    }
    // What still stands wrong steps aside.
    for &i in &order {
        for &j in &order {
            if i == j {
                continue;
            }
            let lines_up =
                runs[i].ends.iter().filter(|e| e.1).any(|e| runs[j].ends.iter().any(|f| f.0 == e.0 && !f.1));
            if lines_up && routes[i].track >= routes[j].track {
                routes[i].aside = true;
            }
        }
    }
    (routes, tracks.len())
}

/// The order of the bent pieces from the top.
fn arrange(runs: &[Run], bent: &[usize]) -> Vec<usize> {
    let mut order = bent.to_vec();
    // Turns at the upper edge above, those at the lower edge below, the short inside the long.
    let rank = |&i: &usize| {
        let run = &runs[i];
        let kind = match (run.ends[0].1, run.ends[1].1) {
            (true, true) => 0,
            (false, false) => 2,
            _ => 1,
        };
        let long = run.high() - run.low();
        (kind, if kind == 2 { -long } else { long }, i)
    };
    order.sort_by_key(rank);
    let n = order.len();
    if n < 2 {
        return order;
    }
    let passes = if n > MANY { 0 } else { 4 };
    let cost: Vec<Vec<u32>> = if passes == 0 {
        Vec::new()
    } else {
        bent.iter()
            .map(|&i| bent.iter().map(|&j| if i == j { 0 } else { runs[i].above(&runs[j]) }).collect())
            .collect()
    };
    let index = |i: usize| bent.binary_search(&i).unwrap_or(0);
    for _ in 0..passes {
        let mut moved = false;
        for (k, &piece) in bent.iter().enumerate() {
            let from = order.iter().position(|&o| o == piece).unwrap_or(0);
            order.remove(from);
            // Cost of each place: all before it above the piece, all after it below.
            let mut here: i64 = order.iter().map(|&o| i64::from(cost[k][index(o)])).sum();
            let (mut best, mut place) = (here, 0);
            for (slot, &o) in order.iter().enumerate() {
                let o = index(o);
                here += i64::from(cost[o][k]) - i64::from(cost[k][o]);
                if here < best || here == best && slot + 1 == from {
                    (best, place) = (here, slot + 1);
                }
            }
            if place != from {
                moved = true;
            }
            order.insert(place, piece);
        }
        if !moved {
            break;
        }
    }
    if passes == 0 {
        fix_lines(runs, &mut order);
    }
    order
}

/// For very many pieces: only what must be above is moved above.
fn fix_lines(runs: &[Run], order: &mut Vec<usize>) {
    use std::collections::BTreeMap;
    let mut lower_at: BTreeMap<i32, usize> = BTreeMap::new();
    for &i in order.iter() {
        for (x, upper) in runs[i].ends {
            if !upper {
                lower_at.insert(x, i);
            }
        }
    }
    // A depth-first walk puts each piece above those that leave below it; a ring is left to step aside.
    let mut done: BTreeMap<usize, bool> = BTreeMap::new();
    let mut sorted = Vec::with_capacity(order.len());
    for &start in order.iter() {
        let mut stack = vec![(start, false)];
        while let Some((i, leaving)) = stack.pop() {
            if leaving {
                sorted.push(i);
                continue;
            }
            if done.insert(i, true).is_some() {
                continue;
            }
            stack.push((i, true));
            for (x, upper) in runs[i].ends {
                if let Some(&below) = lower_at.get(&x).filter(|&&b| upper && b != i) {
                    stack.push((below, false));
                }
            }
        }
    }
    sorted.reverse();
    *order = sorted;
}
