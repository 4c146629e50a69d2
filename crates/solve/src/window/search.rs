//! Corner by corner, or from the stated values to the corners that matter, or by sampling.

use super::{
    Method, Reading, Window,
    values::{Share, Value, placed},
};
use crate::{Cancel, Cancelled, Solution, State, solve};
use keyon_circuit::model::Circuit;
use std::{collections::BTreeMap, rc::Rc};

/// Bands up to this number are searched corner by corner.
const ALL_CORNERS: usize = 7;
/// Points drawn where corners prove nothing.
const DRAWN: usize = 128;
/// What counts as a difference, in proportion to the reading.
const SLACK: f64 = 1e-11;

pub(super) struct Bench<'a> {
    pub(super) circuit: &'a Circuit,
    pub(super) state: &'a State,
    pub(super) values: Vec<Value>,
    pub(super) readings: &'a [Reading],
    pub(super) cancel: &'a dyn Cancel,
}

/// All readings with the values standing somewhere, and what conducts there.
struct Read {
    figures: Vec<Option<f64>>,
    conduct: Vec<u8>,
}

/// What was read so far.
struct Book<'a> {
    bench: &'a Bench<'a>,
    known: BTreeMap<Vec<u8>, Rc<Read>>,
    windows: Vec<Option<Window>>,
    /// What conducts with the values as stated.
    stated: Vec<u8>,
    /// Something else conducts somewhere.
    changes_over: bool,
}

/// A corner at which several readings, each in one direction, come to their extreme.
type Shared = (Vec<Share>, Vec<(usize, bool)>);

const STATED: Share = None;
const LOW: Share = Some(0.0);
const HIGH: Share = Some(1.0);

fn end(high: bool) -> Share {
    if high { HIGH } else { LOW }
}

/// A corner as a key.
fn key(shares: &[Share]) -> Vec<u8> {
    shares.iter().map(|share| share.map_or(0, |s| if s == 0.0 { 1 } else { 2 })).collect()
}

impl Bench<'_> {
    pub(super) fn windows(&self) -> Result<Vec<Option<Window>>, Cancelled> {
        let count = self.values.len();
        let stated = self.read(&vec![STATED; count])?;
        let windows = stated.figures.iter().map(|v| v.map(Window::at)).collect();
        let mut book = Book {
            bench: self,
            known: BTreeMap::new(),
            windows,
            stated: stated.conduct.clone(),
            changes_over: false,
        };
        if count == 0 {
            return Ok(book.windows);
        }
        let few = count <= ALL_CORNERS;
        let mut turned = if few { book.corners()? } else { book.climb(&stated)? };
        // Where not all corners were seen, what is drawn is the test of those that were.
        if !few || book.changes_over || turned.contains(&true) || is_pulsed(self.state) {
            let before = book.windows.clone();
            book.draw()?;
            for ((turned, before), after) in turned.iter_mut().zip(&before).zip(&book.windows) {
                *turned |= before.zip(*after).is_some_and(|(b, a)| a.is_wider(b));
            }
        }
        // Over a pulse several states are mixed, each with a direction of its own.
        let mixed = book.changes_over || is_pulsed(self.state);
        for (window, turned) in book.windows.iter_mut().zip(turned) {
            // What nothing moves at all needs no proof.
            if let Some(window) = window.as_mut().filter(|w| (turned || mixed) && w.low < w.high) {
                window.method = Method::Sampled;
            }
        }
        Ok(book.windows)
    }

    fn read(&self, shares: &[Share]) -> Result<Read, Cancelled> {
        if self.cancel.cancelled() {
            return Err(Cancelled);
        }
        let solution = solve(self.circuit, &placed(self.circuit, self.state, &self.values, shares));
        let figures = self.readings.iter().map(|reading| self.figure(&solution, *reading)).collect();
        Ok(Read { figures, conduct: self.conduct(&solution) })
    }

    fn figure(&self, solution: &Solution, reading: Reading) -> Option<f64> {
        match reading {
            Reading::Volts(point) => solution.volts.get(point.index()).copied().flatten(),
            Reading::Input(m, c, k) => solution.input_volts(self.circuit, m, c, k),
            Reading::Amps(element) => solution.amps.get(element.index())?.known(),
        }
    }

    /// What conducts, what is at its limit, what turns: two solutions that agree in this obey the same linear network.
    fn conduct(&self, solution: &Solution) -> Vec<u8> {
        use keyon_circuit::model::Law;
        let mut marks: Vec<u8> = solution.conducts.iter().map(|&on| u8::from(on)).collect();
        for (index, element) in self.circuit.elements.iter().enumerate() {
            if let (Law::Source { limit: Some(limit), .. }, Some(amps)) =
                (&element.law, solution.amps.get(index).and_then(|a| a.known()))
            {
                // Within its own band a limit moves: what gives at least the least of it may stand at it.
                marks.push(u8::from(amps.abs() >= limit.low.min(limit.nominal) * (1.0 - 1e-9)));
            }
        }
        let turns = |index: usize| u8::from(solution.turning.iter().any(|e| e.index() == index));
        let runs = |law: &Law| matches!(law, Law::Winding { runs: Some(_), .. });
        let windings = self.circuit.elements.iter().enumerate().filter(|(_, e)| runs(&e.law));
        marks.extend(windings.map(|(index, _)| turns(index)));
        marks.extend(solution.blown.iter().map(|(e, _)| e.index() as u8));
        marks.push(u8::from(!solution.chatters.is_empty()));
        marks
    }
}

/// Whether something is switched at a duty below one.
fn is_pulsed(state: &State) -> bool {
    state.duty.iter().zip(&state.positions).any(|(&duty, &position)| duty < 1.0 && position != 0)
}

impl Book<'_> {
    /// The readings at a corner; whatever is read widens the windows.
    fn at(&mut self, shares: &[Share]) -> Result<Rc<Read>, Cancelled> {
        let key = key(shares);
        if let Some(known) = self.known.get(&key) {
            return Ok(Rc::clone(known));
        }
        let read = Rc::new(self.bench.read(shares)?);
        self.widen(&read);
        self.known.insert(key, Rc::clone(&read));
        Ok(read)
    }

    fn widen(&mut self, read: &Read) {
        self.changes_over |= read.conduct != self.stated;
        for (window, value) in self.windows.iter_mut().zip(&read.figures) {
            *window = window.zip(*value).map(|(window, value)| window.with(value));
        }
    }

    /// Every corner. A mark for each reading that a twin value moves: it may turn within the band.
    fn corners(&mut self) -> Result<Vec<bool>, Cancelled> {
        let count = self.bench.values.len();
        let corner = |bits: usize| -> Vec<Share> { (0..count).map(|b| end(bits >> b & 1 == 1)).collect() };
        for bits in 0..1usize << count {
            self.at(&corner(bits))?;
        }
        let mut turned = vec![false; self.bench.readings.len()];
        let twins: Vec<usize> = (0..count).filter(|&v| self.bench.values[v].is_twin()).collect();
        for bits in (0..1usize << count).filter(|_| !twins.is_empty()) {
            let here = self.at(&corner(bits))?;
            for twin in twins.iter().filter(|twin| bits >> **twin & 1 == 0) {
                let there = self.at(&corner(bits | 1 << twin))?;
                mark_moved(&mut turned, &here, &there);
            }
        }
        Ok(turned)
    }

    /// From the stated values along the influence of each. A mark for each reading that some value pulls now this way,
    /// now that.
    fn climb(&mut self, start: &Read) -> Result<Vec<bool>, Cancelled> {
        let (count, readings) = (self.bench.values.len(), self.bench.readings.len());
        let stated = vec![STATED; count];
        let mut turned = vec![false; readings];
        // By value: the readings at its low and high end, the others as stated.
        let mut alone = Vec::with_capacity(count);
        for value in 0..count {
            let mut at = |end: Share| {
                let mut shares = stated.clone();
                shares[value] = end;
                self.at(&shares)
            };
            let (low, high) = (at(LOW)?, at(HIGH)?);
            if self.bench.values[value].is_twin() {
                mark_moved(&mut turned, &low, &high);
            }
            alone.push((low, high));
        }
        // Readings of branches that have nothing to do with each other reach their extremes at one corner together.
        let mut corners: Vec<Shared> = Vec::new();
        for reading in (0..readings).filter(|&r| start.figures[r].is_some()) {
            for upwards in [false, true] {
                let wants: Vec<Share> = alone.iter().map(|both| wanted(both, reading, upwards)).collect();
                let fits = |shares: &[Share]| {
                    shares.iter().zip(&wants).all(|(a, b)| a.is_none() || b.is_none() || a == b)
                };
                match corners.iter_mut().find(|(shares, _)| fits(shares)) {
                    Some((shares, whose)) => {
                        shares.iter_mut().zip(wants).for_each(|(share, want)| *share = share.or(want));
                        whose.push((reading, upwards));
                    }
                    None => corners.push((wants, vec![(reading, upwards)])),
                }
            }
        }
        for (shares, whose) in corners {
            let here = self.at(&shares)?;
            for value in 0..count {
                for other in [LOW, HIGH].into_iter().filter(|end| *end != shares[value]) {
                    let mut flipped = shares.clone();
                    flipped[value] = other;
                    let there = self.at(&flipped)?;
                    for &(reading, upwards) in &whose {
                        turned[reading] |= is_beyond(&here, &there, reading, upwards);
                    }
                }
            }
        }
        Ok(turned)
    }

    /// Points within all bands, and corners, with a fixed seed.
    fn draw(&mut self) -> Result<(), Cancelled> {
        let count = self.bench.values.len();
        let mut seed = 0x2545_f491_4f6c_dd1d_u64;
        let mut random = || {
            // xorshift64 (G. Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8 (2003)).
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            (seed >> 11) as f64 / (1u64 << 53) as f64
        };
        for round in 0..DRAWN {
            let share = |random: f64| if round % 2 == 0 { Some(random) } else { end(random < 0.5) };
            let shares: Vec<Share> = (0..count).map(|_| share(random())).collect();
            let read = self.bench.read(&shares)?;
            self.widen(&read);
        }
        Ok(())
    }
}

/// Where a value must stand to move a reading farthest, by what it does alone.
fn wanted((low, high): &(Rc<Read>, Rc<Read>), reading: usize, upwards: bool) -> Share {
    let (low, high) = (low.figures[reading]?, high.figures[reading]?);
    ((high - low).abs() > slack(low, high)).then(|| end((high > low) == upwards)).flatten()
}

/// Whether a reading lies farther out there than here.
fn is_beyond(here: &Read, there: &Read, reading: usize, upwards: bool) -> bool {
    match (here.figures[reading], there.figures[reading]) {
        (Some(here), Some(there)) => {
            let more = if upwards { there - here } else { here - there };
            more > slack(here, there)
        }
        _ => false,
    }
}

impl Window {
    fn is_wider(self, than: Self) -> bool {
        self.low < than.low - slack(self.low, than.low) || self.high > than.high + slack(self.high, than.high)
    }
}

fn mark_moved(turned: &mut [bool], here: &Read, there: &Read) {
    for (turned, pair) in turned.iter_mut().zip(here.figures.iter().zip(&there.figures)) {
        *turned |= matches!(pair, (Some(a), Some(b)) if (a - b).abs() > slack(*a, *b));
    }
}

fn slack(a: f64, b: f64) -> f64 {
    SLACK * a.abs().max(b.abs()).max(1e-3)
}
