//! Large circuits are judged in pieces.
//!
//! A question about states costs more the larger the circuit is, and a large circuit asks more of them. So the rules
//! that look at states see a large circuit as [`regions`]: each piece with all on which it hangs, up to the supplies and
//! down to ground. A piece tells what it finds in its own lines.

mod cutter;
mod memo;

pub use memo::Memo;

use crate::{Context, Facts, Finding, Rule, Settings, report::Run};
use cutter::{Cutter, StandIn};
use keyon_circuit::{Elaboration, Region, ids::*, model::*, regions};
use keyon_solve::Cancelled;
use memo::Keys;
use std::{
    borrow::Borrow,
    collections::{BTreeMap, BTreeSet},
};

/// How a circuit is cut.
#[derive(Clone, Copy, Debug)]
pub struct Pieces {
    /// Elements of a piece, about.
    pub size: usize,
    /// Circuits of up to so many elements are judged in one.
    pub whole: usize,
}

impl Default for Pieces {
    /// What takes the least time.
    fn default() -> Self {
        Self { size: 72, whole: 200 }
    }
}

/// Rules of the groups that look at states which see the whole circuit nevertheless: they add up over all of it, or look at
/// how it is drawn and at no state.
const OF_ALL: &[&str] = &[
    "coil-without-suppression",
    "fused-ground",
    "key-off-draw",
    "module-without-ground",
    "pulsed-relay",
    "sensor-return-to-chassis",
    "shared-return-mismatch",
    "undeclared-shared-return",
    "unfused-feed",
    "unpaired-gang",
    "unprotected-length",
    "unusual-fuse",
];

/// Rules that are right about any piece they see, also outside its own lines: they show a state in which something is wrong,
/// and what is left out makes it no better.
const OF_ANY: &[&str] =
    &["supply-to-ground", "supplies-joined", "fuse-over-wire", "gang-short", "opposed-drivers"];

/// Whether a rule can judge a piece by itself.
pub(crate) fn splits(rule: &Rule) -> bool {
    let group = matches!(rule.group(), "power" | "return" | "driver" | "signal" | "sneak");
    (group || rule.name() == "thin-wire") && !OF_ALL.contains(&rule.name())
}

/// What the pieces find, where the circuit is large enough to have some; `None` where it is to be judged in one.
pub(crate) fn findings<S: Borrow<Settings>>(
    run: &Run<'_, S>,
    cut: Pieces,
    whole: &Facts<'_>,
    elaboration: &Elaboration,
    settings: &Settings,
    rules: &[&Rule],
) -> Result<Option<Vec<Finding>>, Cancelled> {
    let circuit = &elaboration.circuit;
    if circuit.elements.len() <= cut.whole || rules.is_empty() {
        return Ok(None);
    }
    let damaged = whole.damaged();
    let regions = regions(circuit, &damaged, cut.size);
    if regions.len() < 2 {
        return Ok(None);
    }
    let damaged: BTreeSet<PointId> = damaged.into_iter().collect();
    let cutter = Cutter::new(elaboration, &regions, &damaged);
    let lines = lines(circuit, &regions);
    let keys = run.memo.map(|_| Keys::new(elaboration, &regions, &damaged, &lines, settings, rules));
    let mut stand_ins: Vec<Vec<StandIn>> = vec![Vec::new(); regions.len()];
    let mut found: Vec<Vec<Finding>> = vec![Vec::new(); regions.len()];
    // What hangs on a piece comes before it, so that it is known what stands for it there.
    for index in (0..regions.len()).rev() {
        if run.cancel.cancelled() {
            return Err(Cancelled);
        }
        let hanging = std::mem::take(&mut stand_ins[index]);
        let known = run.memo.zip(keys.as_ref()).map(|(memo, keys)| (memo, keys.piece(index, &hanging)));
        if let Some((memo, key)) = &known
            && let Some(before) = memo.get(key.key)
        {
            let (findings, on) = key.recall(&before);
            found[index] = findings;
            if let Some(parent) = regions[index].parent {
                stand_ins[parent].extend(on);
            }
            continue;
        }
        let piece = cutter.piece(index, &hanging);
        let part = &piece.elaboration;
        let facts = Facts::new(part, settings, run.cancel);
        let context = Context {
            elaboration: part,
            circuit: &part.circuit,
            settings,
            facts: &facts,
            cancel: run.cancel,
        };
        for rule in rules {
            (rule.check)(&context, &mut found[index])?;
            if let Some(done) = run.done {
                done(rule.name());
            }
        }
        let on = match regions[index].parent {
            Some(_) => piece.stand_ins(&facts)?,
            None => Vec::new(),
        };
        if let Some((memo, key)) = &known
            && let Some(new) = key.keep(&found[index], &on)
        {
            memo.put(key.key, new);
        }
        if let Some(parent) = regions[index].parent {
            stand_ins[parent].extend(on);
        }
    }
    if let Some(memo) = run.memo {
        memo.turn();
    }
    // A piece tells of its own lines; the first of several that share one.
    let mut told: BTreeSet<(&'static str, Loc)> = BTreeSet::new();
    let mut all = Vec::new();
    for (index, mut news) in found.into_iter().enumerate() {
        let own = |finding: &Finding| {
            let line = lines.get(&(finding.loc.file, finding.loc.item));
            line.is_none_or(|regions| regions.contains(&(index as u32))) || OF_ANY.contains(&finding.rule)
        };
        news.retain(|finding| own(finding) && !told.contains(&(finding.rule, finding.loc)));
        told.extend(news.iter().map(|finding| (finding.rule, finding.loc)));
        all.extend(news);
    }
    Ok(Some(all))
}

/// Where each line belongs: the regions that have something of it.
type Lines = BTreeMap<(FileId, u32), Vec<u32>>;

fn lines(circuit: &Circuit, regions: &[Region]) -> Lines {
    let mut lines = Lines::new();
    for (index, region) in regions.iter().enumerate() {
        let mut add = |loc: Loc| {
            let of = lines.entry((loc.file, loc.item)).or_default();
            if of.last() != Some(&(index as u32)) {
                of.push(index as u32);
            }
        };
        let owner = |owner: Owner| match owner {
            Owner::Device(d) => circuit.devices.get(d.index()).map(|d| d.loc),
            Owner::Module(m, ..) => circuit.modules.get(m.index()).map(|m| m.loc),
            _ => None,
        };
        for e in region.elements.iter().filter_map(|e| circuit.elements.get(e.index())) {
            // A line of a library belongs to whoever uses it.
            owner(e.owner).into_iter().chain([e.loc]).filter(|loc| loc.file == FileId(0)).for_each(&mut add);
        }
        for p in region.points.iter().filter_map(|p| circuit.points.get(p.index())) {
            p.loc.into_iter().filter(|loc| loc.file == FileId(0)).for_each(&mut add);
        }
    }
    lines
}
