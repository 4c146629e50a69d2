//! What pieces found the last time, for whoever checks the same circuit again and again while it is edited.
//!
//! A piece is known by all that it is made of: the text of its items and of those on which it hangs, the names of its points
//! and elements, what stands for what hangs on it, and everything that belongs to no piece. Places are kept by the rank of
//! their item among the piece's items, so that an edit elsewhere, which moves items, leaves them right.

use super::{
    cut::{Core, Cut, Own},
    cutter::StandIn,
};
use crate::{Finding, Rule, Settings, facts::expectations::Judged, fix::edit};
use keyon_circuit::{Elaboration, Likeness, Source, ids::*, model::*};
use keyon_syntax::tree::ItemKind;
use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};
use xxhash_rust::xxh3::{Xxh3, xxh3_128};

/// Keeps what the pieces of the last checks found, and what of the last one stays as long as the circuit keeps its shape.
/// One for a document.
#[derive(Debug, Default)]
pub struct Memo {
    known: Mutex<Generations>,
    /// How the circuit was cut.
    cut: Mutex<Option<Arc<Cut>>>,
    /// What came of the expectations, and in which circuit with which settings.
    judged: Mutex<Option<(Likeness, String, Vec<Judged>)>>,
    /// What rules found that look at the shape of the circuit alone.
    told: Mutex<HashMap<&'static str, Told>>,
}

/// How many checks a piece is remembered after the last that asked for it: whoever types a word comes by the same circuit
/// again before long.
const REMEMBERED: u64 = 8;

/// What pieces found, each with the check that asked for it last.
#[derive(Debug, Default)]
struct Generations {
    known: HashMap<u128, (u64, Arc<Known>)>,
    check: u64,
}

/// What a piece found, and what stands for it where it hangs.
#[derive(Debug)]
pub(super) struct Known {
    /// The items in the circuit's own file of each region of its way, in order.
    items: Vec<Arc<[u32]>>,
    findings: Vec<Finding>,
    /// Each with the place of its point among the points of the way.
    stand_ins: Vec<((usize, usize), StandIn)>,
}

/// What a rule found in a circuit of some shape.
#[derive(Debug)]
struct Told {
    shape: Likeness,
    findings: Vec<Finding>,
    /// The items in which it found it, with a digest of their lines.
    lines: Vec<(u32, u128)>,
}

impl Memo {
    /// The circuit, cut; as before where it has kept its shape.
    pub(super) fn cut(&self, elaboration: &Elaboration, held: &[PointId], size: usize) -> Arc<Cut> {
        let shape = elaboration.shape();
        let mut known = self.cut.lock().unwrap_or_else(PoisonError::into_inner);
        match &*known {
            Some(cut) if cut.fits(shape, held, size) => Arc::clone(cut),
            _ => {
                let cut = Arc::new(Cut::new(&elaboration.circuit, shape, held, size));
                *known = Some(Arc::clone(&cut));
                cut
            }
        }
    }

    /// What a rule found that looks at the shape of the circuit alone, if that and all lines in which it found something are as
    /// they were.
    pub(crate) fn told(&self, elaboration: &Elaboration, rule: &Rule) -> Option<Vec<Finding>> {
        let told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        let known = told.get(rule.name())?;
        let same = |&(item, digest): &(u32, u128)| digest_of_lines(elaboration, item) == Some(digest);
        let fits = known.shape == *elaboration.shape() && known.lines.iter().all(same);
        fits.then(|| known.findings.clone())
    }

    /// Keeps what it found.
    pub(crate) fn tell(&self, elaboration: &Elaboration, rule: &Rule, findings: &[Finding]) {
        let own = |loc: &Loc| loc.file == FileId(0);
        let mut items: Vec<u32> = findings.iter().flat_map(places).filter(own).map(|loc| loc.item).collect();
        items.sort_unstable();
        items.dedup();
        let digest = |item| Some((item, digest_of_lines(elaboration, item)?));
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        match items.into_iter().map(digest).collect() {
            Some(lines) => {
                let (shape, findings) = (elaboration.shape().clone(), findings.to_vec());
                told.insert(rule.name(), Told { shape, findings, lines });
            }
            // A place that is in no item is not kept.
            None => _ = told.remove(rule.name()),
        }
    }

    /// What is known of a piece.
    pub(super) fn get(&self, key: u128) -> Option<Arc<Known>> {
        let mut all = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        let check = all.check;
        let (asked, found) = all.known.get_mut(&key)?;
        *asked = check;
        Some(Arc::clone(found))
    }

    pub(super) fn put(&self, key: u128, known: Known) {
        let mut all = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        let check = all.check;
        all.known.insert(key, (check, Arc::new(known)));
    }

    /// What came of the expectations the last time, if nothing that flows has changed since.
    pub(crate) fn judged(&self, electric: &Likeness, settings: &Settings) -> Option<Vec<Judged>> {
        let known = self.judged.lock().unwrap_or_else(PoisonError::into_inner);
        let (known, with, judged) = known.as_ref()?;
        (known == electric && *with == format!("{settings:?}")).then(|| judged.clone())
    }

    /// Keeps what came of them.
    pub(crate) fn keep_judged(&self, electric: &Likeness, settings: &Settings, judged: &[Judged]) {
        let new = (electric.clone(), format!("{settings:?}"), judged.to_vec());
        *self.judged.lock().unwrap_or_else(PoisonError::into_inner) = Some(new);
    }

    /// A check is done: what nobody has asked for in a while is forgotten.
    pub(super) fn turn(&self) {
        let mut all = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        all.check += 1;
        let check = all.check;
        all.known.retain(|_, (asked, _)| *asked + REMEMBERED >= check);
    }
}

/// Makes keys.
pub(super) struct Keys<'a> {
    cut: &'a Cut,
    /// Of all that belongs to no piece.
    rest: u128,
    /// Of the lines of each region's items, all and those of its core.
    lines: Vec<[u128; 2]>,
}

/// A piece's key and its way.
pub(super) struct Piece<'a> {
    pub(super) key: u128,
    cut: &'a Cut,
    way: Vec<usize>,
}

impl<'a> Keys<'a> {
    pub(super) fn new(elaboration: &Elaboration, cut: &'a Cut, settings: &Settings, rules: &[&Rule]) -> Self {
        let mut hash = Xxh3::new();
        for file in elaboration.files.iter().skip(1) {
            text(&mut hash, &file.key);
            text(&mut hash, &file.text);
        }
        if let Some(own) = elaboration.files.first() {
            text(&mut hash, &own.key);
            text(&mut hash, edit::newline(elaboration, FileId(0)));
            let mut of_regions = cut.lines.items().peekable();
            for (item, placed) in own.parse.file.items.iter().enumerate() {
                if of_regions.next_if_eq(&(item as u32)).is_none() && reaches_pieces(&placed.item.kind) {
                    text(
                        &mut hash,
                        own.text.get(placed.item.span.moved(placed.start).range()).unwrap_or_default(),
                    );
                }
            }
        }
        text(&mut hash, &format!("{settings:?}"));
        rules.iter().for_each(|rule| text(&mut hash, rule.name()));
        let lines = |own: &Own| {
            let mut hash = Xxh3::new();
            let source = elaboration.files.first();
            for lines in own.items.iter().filter_map(|&item| lines_of(source?, item)) {
                text(&mut hash, lines);
            }
            hash.digest128()
        };
        let both = |(own, core): (&Own, &Core)| {
            let all = lines(own);
            [all, if Arc::ptr_eq(&own.items, &core.own.items) { all } else { lines(&core.own) }]
        };
        let lines = cut.owns.iter().zip(&cut.cores).map(both).collect();
        Self { cut, rest: hash.digest128(), lines }
    }

    /// The key of a piece with what stands for all that hangs on it.
    pub(super) fn piece(&self, index: usize, stand_ins: &[StandIn]) -> Piece<'a> {
        let mut hash = Xxh3::new();
        hash.update(&self.rest.to_le_bytes());
        let way: Vec<usize> = self.cut.way(index).collect();
        let piece = Piece { key: 0, cut: self.cut, way };
        for (depth, region) in piece.way.iter().enumerate() {
            hash.update(b"region");
            let [all, core] = self.lines.get(*region).copied().unwrap_or_default();
            let lines = if depth == 0 { all } else { core };
            let Some(own) = piece.own(depth) else { continue };
            hash.update(&own.names.to_le_bytes());
            hash.update(&lines.to_le_bytes());
            // Where its items stand among those on which it hangs: what comes first is told first.
            for above in piece.items().skip(depth + 1) {
                for item in &*own.items {
                    let rank = above.partition_point(|above| above < item);
                    hash.update(&(rank as u32).to_le_bytes());
                }
            }
        }
        for stand_in in stand_ins {
            let at = piece.place_of(stand_in.at);
            text(&mut hash, &format!("{at:?} {}", stand_in.telling(|item| piece.rank(item))));
        }
        Piece { key: hash.digest128(), ..piece }
    }
}

/// Whether an item that has nothing in any region can make a difference to a piece nevertheless. What is said of states is
/// no part of a piece, and a wire that leads nowhere is in none.
fn reaches_pieces(item: &ItemKind) -> bool {
    use ItemKind::{About, Exercise, Expect, Fuse, Junk, Readings, Scenario, Stray, View, Wire};
    !matches!(
        item,
        About(_)
            | Exercise(_)
            | Expect(_)
            | Fuse(_)
            | Junk
            | Readings(_)
            | Scenario(_)
            | Stray
            | View(_)
            | Wire(_)
    )
}

pub(super) fn text(hash: &mut Xxh3, text: &str) {
    hash.update(&(text.len() as u64).to_le_bytes());
    hash.update(text.as_bytes());
}

/// The whole lines in which an item stands: fixes go by what stands before and behind it.
fn lines_of(source: &Source, item: u32) -> Option<&str> {
    let placed = source.parse.file.items.get(item as usize)?;
    let (text, span) = (&*source.text, placed.item.span.moved(placed.start).range());
    let start = text.get(..span.start)?.rfind(['\n', '\r']).map_or(0, |newline| newline + 1);
    let end = text.get(span.end..)?.find(['\n', '\r']).map_or(text.len(), |length| span.end + length);
    text.get(start..end)
}

fn digest_of_lines(elaboration: &Elaboration, item: u32) -> Option<u128> {
    let lines = lines_of(elaboration.files.first()?, item)?;
    Some(xxh3_128(lines.as_bytes()))
}

/// All places that a finding names.
fn places(finding: &Finding) -> impl Iterator<Item = Loc> + '_ {
    let edits = finding.fixes.iter().flat_map(|fix| &fix.edits).map(|(loc, _)| *loc);
    finding.related.iter().map(|(loc, _)| *loc).chain(edits).chain([finding.loc])
}

/// Where an item stands: in which of some lists, the first that has it, and where in that.
fn rank<'i>(lists: impl Iterator<Item = &'i Arc<[u32]>>, item: u32) -> Option<(usize, usize)> {
    let place = |(depth, items): (usize, &Arc<[u32]>)| Some((depth, items.binary_search(&item).ok()?));
    lists.enumerate().find_map(place)
}

impl Piece<'_> {
    /// The items of each region of the way.
    fn items(&self) -> impl Iterator<Item = &Arc<[u32]>> {
        (0..self.way.len()).filter_map(|depth| self.own(depth)).map(|own| &own.items)
    }

    /// What a region of the way has: the first all of it, those on which it hangs their core.
    fn own(&self, depth: usize) -> Option<&Own> {
        let region = *self.way.get(depth)?;
        if depth == 0 { self.cut.owns.get(region) } else { self.cut.cores.get(region).map(|core| &core.own) }
    }

    /// The points of a region of the way, likewise.
    fn points(&self, depth: usize) -> Option<&[PointId]> {
        let region = *self.way.get(depth)?;
        let all = || self.cut.regions.get(region).map(|region| region.points.as_slice());
        if depth == 0 { all() } else { self.cut.cores.get(region).map(|core| core.points.as_slice()) }
    }

    /// Where an item stands on the way; in the order of that.
    fn rank(&self, item: u32) -> Option<(usize, usize)> {
        rank(self.items(), item)
    }

    /// Where a point stands among the points of the way.
    fn place_of(&self, point: PointId) -> Option<(usize, usize)> {
        (0..self.way.len()).find_map(|depth| Some((depth, self.points(depth)?.binary_search(&point).ok()?)))
    }

    /// Keeps what was found, if all its places are in the piece.
    pub(super) fn keep(&self, findings: &[Finding], stand_ins: &[StandIn]) -> Option<Known> {
        let inside = |loc: Loc| loc.file != FileId(0) || self.rank(loc.item).is_some();
        if !findings.iter().flat_map(places).all(inside) {
            return None;
        }
        let at = |stand_in: &StandIn| {
            let at = self.place_of(stand_in.at)?;
            stand_in.locs().into_iter().all(inside).then(|| (at, stand_in.clone()))
        };
        let stand_ins = stand_ins.iter().map(at).collect::<Option<Vec<_>>>()?;
        Some(Known { items: self.items().cloned().collect(), findings: findings.to_vec(), stand_ins })
    }

    /// What is known, at the places where the items stand now.
    pub(super) fn recall(&self, known: &Known) -> (Vec<Finding>, Vec<StandIn>) {
        let now: Vec<&Arc<[u32]>> = self.items().collect();
        let moved = |loc: Loc| -> Loc {
            if loc.file != FileId(0) {
                return loc;
            }
            let item = rank(known.items.iter(), loc.item)
                .and_then(|(depth, at)| now.get(depth)?.get(at).copied())
                .unwrap_or(loc.item);
            Loc { item, ..loc }
        };
        let mut findings = known.findings.clone();
        for finding in &mut findings {
            finding.loc = moved(finding.loc);
            finding.related.iter_mut().for_each(|(loc, _)| *loc = moved(*loc));
            for fix in &mut finding.fixes {
                fix.edits.iter_mut().for_each(|(loc, _)| *loc = moved(*loc));
            }
        }
        let stand_ins = known.stand_ins.iter().filter_map(|&((depth, at), ref stand_in)| {
            Some(stand_in.moved(*self.points(depth)?.get(at)?, moved))
        });
        (findings, stand_ins.collect())
    }
}
