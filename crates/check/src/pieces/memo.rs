//! What pieces found the last time, for whoever checks the same circuit again and again while it is edited.
//!
//! A piece is known by all that it is made of: the text of its items and of those on which it hangs, the names of its points
//! and elements, what stands for what hangs on it, and everything that belongs to no piece. Places are kept by the rank of
//! their item among the piece's items, so that an edit elsewhere, which moves items, leaves them right.

use super::{cutter::StandIn, lines::Lines};
use crate::{Finding, Rule, Settings};
use keyon_circuit::{Elaboration, Region, ids::*, model::*};
use std::{
    collections::{BTreeSet, HashMap},
    sync::{Arc, Mutex, PoisonError},
};
use xxhash_rust::xxh3::Xxh3;

/// Keeps what the pieces of the last two checks found. One for a document.
#[derive(Debug, Default)]
pub struct Memo {
    known: Mutex<Generations>,
}

#[derive(Debug, Default)]
struct Generations {
    now: HashMap<u128, Arc<Known>>,
    before: HashMap<u128, Arc<Known>>,
}

/// What a piece found, and what stands for it where it hangs.
#[derive(Debug)]
pub(super) struct Known {
    /// Its items in the circuit's own file, in order.
    items: Vec<u32>,
    findings: Vec<Finding>,
    /// Each with the place of its point among the points of the way.
    stand_ins: Vec<(usize, StandIn)>,
}

impl Memo {
    /// What is known of a piece.
    pub(super) fn get(&self, key: u128) -> Option<Arc<Known>> {
        let mut all = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        let found = all.now.get(&key).or_else(|| all.before.get(&key)).cloned();
        if let Some(found) = &found {
            all.now.insert(key, Arc::clone(found));
        }
        found
    }

    pub(super) fn put(&self, key: u128, known: Known) {
        self.known.lock().unwrap_or_else(PoisonError::into_inner).now.insert(key, Arc::new(known));
    }

    /// A check is done: what neither it nor the one before has asked for is forgotten.
    pub(super) fn turn(&self) {
        let mut all = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        all.before = std::mem::take(&mut all.now);
    }
}

/// Makes keys.
pub(super) struct Keys<'a> {
    elaboration: &'a Elaboration,
    regions: &'a [Region],
    damaged: &'a BTreeSet<PointId>,
    /// Of all that belongs to no piece.
    rest: u128,
}

/// A piece's key, its items and the points of its way.
pub(super) struct Piece {
    pub(super) key: u128,
    items: Vec<u32>,
    points: Vec<PointId>,
}

impl<'a> Keys<'a> {
    pub(super) fn new(
        elaboration: &'a Elaboration,
        regions: &'a [Region],
        damaged: &'a BTreeSet<PointId>,
        lines: &Lines,
        settings: &Settings,
        rules: &[&Rule],
    ) -> Self {
        let mut hash = Xxh3::new();
        for file in elaboration.files.iter().skip(1) {
            text(&mut hash, &file.key);
            text(&mut hash, &file.text);
        }
        if let Some(own) = elaboration.files.first() {
            text(&mut hash, &own.key);
            let mut of_regions = lines.items().peekable();
            for (item, placed) in own.parse.file.items.iter().enumerate() {
                if of_regions.next_if_eq(&(item as u32)).is_none() {
                    text(
                        &mut hash,
                        own.text.get(placed.item.span.moved(placed.start).range()).unwrap_or_default(),
                    );
                }
            }
        }
        text(&mut hash, &format!("{settings:?}"));
        rules.iter().for_each(|rule| text(&mut hash, rule.name()));
        Self { elaboration, regions, damaged, rest: hash.digest128() }
    }

    /// The key of a piece with what stands for all that hangs on it.
    pub(super) fn piece(&self, index: usize, stand_ins: &[StandIn]) -> Piece {
        let circuit = &self.elaboration.circuit;
        let mut hash = Xxh3::new();
        hash.update(&self.rest.to_le_bytes());
        let mut items: BTreeSet<u32> = BTreeSet::new();
        let mut points = Vec::new();
        let mut next = Some(index);
        while let Some(region) = next.and_then(|i| self.regions.get(i)) {
            hash.update(b"region");
            for e in region.elements.iter().filter_map(|e| circuit.elements.get(e.index())) {
                text(&mut hash, &e.name);
                let owner = match e.owner {
                    Owner::Device(d) => circuit.devices.get(d.index()).map(|d| d.loc),
                    Owner::Module(m, ..) => circuit.modules.get(m.index()).map(|m| m.loc),
                    _ => None,
                };
                items
                    .extend(owner.into_iter().chain([e.loc]).filter(|l| l.file == FileId(0)).map(|l| l.item));
            }
            for id in &region.points {
                let Some(point) = circuit.points.get(id.index()) else { continue };
                text(&mut hash, &point.name);
                hash.update(&[u8::from(self.damaged.contains(id))]);
                items.extend(point.loc.filter(|l| l.file == FileId(0)).map(|l| l.item));
            }
            points.extend_from_slice(&region.points);
            next = region.parent;
        }
        let items: Vec<u32> = items.into_iter().collect();
        if let Some(own) = self.elaboration.files.first() {
            for placed in items.iter().filter_map(|&i| own.parse.file.items.get(i as usize)) {
                text(
                    &mut hash,
                    own.text.get(placed.item.span.moved(placed.start).range()).unwrap_or_default(),
                );
            }
        }
        for stand_in in stand_ins {
            let at = points.iter().position(|p| *p == stand_in.at);
            text(&mut hash, &format!("{at:?} {}", stand_in.telling(|item| items.binary_search(&item).ok())));
        }
        Piece { key: hash.digest128(), items, points }
    }
}

fn text(hash: &mut Xxh3, text: &str) {
    hash.update(&(text.len() as u64).to_le_bytes());
    hash.update(text.as_bytes());
}

impl Piece {
    /// Keeps what was found, if all its places are in the piece.
    pub(super) fn keep(&self, findings: &[Finding], stand_ins: &[StandIn]) -> Option<Known> {
        let inside = |loc: &Loc| loc.file != FileId(0) || self.items.binary_search(&loc.item).is_ok();
        let places = |finding: &Finding| {
            let edits = finding.fixes.iter().flat_map(|fix| &fix.edits).map(|(loc, _)| *loc);
            let related = finding.related.iter().map(|(loc, _)| *loc);
            edits.chain(related).chain([finding.loc]).all(|loc| inside(&loc))
        };
        if !findings.iter().all(places) {
            return None;
        }
        let at = |stand_in: &StandIn| {
            let at = self.points.iter().position(|p| *p == stand_in.at)?;
            stand_in.locs().iter().all(inside).then(|| (at, stand_in.clone()))
        };
        let stand_ins = stand_ins.iter().map(at).collect::<Option<Vec<_>>>()?;
        Some(Known { items: self.items.clone(), findings: findings.to_vec(), stand_ins })
    }

    /// What is known, at the places where the items stand now.
    pub(super) fn recall(&self, known: &Known) -> (Vec<Finding>, Vec<StandIn>) {
        let moved = |loc: Loc| -> Loc {
            if loc.file != FileId(0) {
                return loc;
            }
            let rank = known.items.binary_search(&loc.item).ok();
            let item = rank.and_then(|rank| self.items.get(rank)).copied().unwrap_or(loc.item);
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
        let stand_ins = known.stand_ins.iter().filter_map(|(at, stand_in)| {
            let at = *self.points.get(*at)?;
            Some(stand_in.moved(at, moved))
        });
        (findings, stand_ins.collect())
    }
}
