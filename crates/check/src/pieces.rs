//! Large circuits are judged in pieces.
//!
//! A question about states costs more the larger the circuit is, and a large circuit asks more of them. So the rules
//! that look at states see a large circuit as [`regions`]: each piece with all on which it hangs, up to the supplies and
//! down to ground. A piece tells what it finds in its own lines.

mod cut;
mod cutter;
mod lines;
mod memo;
pub(crate) mod schedule;

pub use memo::Memo;
pub(crate) use schedule::worker;

use crate::{Context, Facts, Finding, Rule, Settings, report::Run};
use cut::Cut;
use cutter::{Cutter, Piece, StandIn};
use keyon_circuit::{Elaboration, ids::*, model::*};
use keyon_solve::Cancelled;
use memo::Keys;
use std::{borrow::Borrow, collections::BTreeSet, sync::Arc};

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

impl Pieces {
    /// Whether a circuit is so large that it is cut.
    pub(crate) fn cuts(&self, circuit: &Circuit) -> bool {
        circuit.elements.len() > self.whole
    }
}

/// Rules of the groups that look at states which see the whole circuit nevertheless: they add up over all of it, or look at
/// how it is drawn and at no state.
const OF_ALL: &[&str] = &[
    "coil-without-suppression",
    "fuse-over-wire",
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
const OF_ANY: &[&str] = &["supply-to-ground", "supplies-joined", "gang-short", "opposed-drivers"];

/// Rules that look at what there is and where it leads, and at no number: what they find stays while the circuit keeps its
/// shape ([`Elaboration::shape`]).
const OF_SHAPE: &[&str] = &[
    "circuit-number-clash",
    "double-cavity",
    "fused-ground",
    "same-colour-neighbours",
    "shared-return-mismatch",
    "unconnected-pin",
    "undeclared-shared-return",
    "unused-but-wired",
];

/// Whether a rule finds the same in all circuits of one shape.
pub(crate) fn is_of_shape(rule: &Rule) -> bool {
    OF_SHAPE.contains(&rule.name())
}

/// Whether a rule can judge a piece by itself.
pub(crate) fn splits(rule: &Rule) -> bool {
    let group = matches!(rule.group(), "power" | "return" | "driver" | "signal" | "sneak");
    (group || rule.name() == "thin-wire") && !OF_ALL.contains(&rule.name())
}

/// Whether a rule that sees all of a circuit solves states of all of it.
pub(crate) fn solves_all(rule: &Rule) -> bool {
    rule.group() == "teaching" || rule.name() == "key-off-draw"
}

/// What the pieces find (`held`: the points that hang on what could not be read, ascending), where the circuit is large enough to have some; `None` where it is to be judged in one.
pub(crate) fn findings<S: Borrow<Settings> + Sync>(
    run: &Run<'_, S>,
    cut: Pieces,
    held: &[PointId],
    elaboration: &Elaboration,
    settings: &Settings,
    rules: &[&Rule],
) -> Result<Option<Vec<Finding>>, Cancelled> {
    let circuit = &elaboration.circuit;
    if !cut.cuts(circuit) || rules.is_empty() {
        return Ok(None);
    }
    let cut = match run.memo {
        Some(memo) => memo.cut(elaboration, held, cut.size),
        None => Arc::new(Cut::new(circuit, elaboration.shape(), held, cut.size)),
    };
    let Cut { regions, lines, .. } = &*cut;
    if regions.len() < 2 {
        return Ok(None);
    }
    let cutter = Cutter::new(elaboration, &cut, held);
    let keys = run.memo.map(|_| Keys::new(elaboration, &cut, settings, rules));
    let judge = |index: usize, hanging: &[StandIn]| -> Result<Judged, Cancelled> {
        let known = run.memo.zip(keys.as_ref()).map(|(memo, keys)| (memo, keys.piece(index, hanging)));
        if let Some((memo, key)) = &known
            && let Some(before) = memo.get(key.key)
        {
            let (findings, on) = key.recall(&before);
            return Ok(Judged { findings, on });
        }
        let judged = judge_piece(run, &cutter.piece(index, hanging), settings, rules)?;
        if let Some((memo, key)) = &known
            && let Some(new) = key.keep(&judged.findings, &judged.on)
        {
            memo.put(key.key, new);
        }
        Ok(judged)
    };
    let parents: Vec<Option<usize>> = regions.iter().map(|region| region.parent).collect();
    let found = schedule::children_first(&parents, run.threads(), |index, hanging| {
        if run.cancel.cancelled() {
            return Err(Cancelled);
        }
        let hanging: Vec<StandIn> =
            hanging.iter().flat_map(|child: &&Judged| child.on.iter().cloned()).collect();
        judge(index, &hanging)
    })?;
    if let Some(memo) = run.memo {
        memo.turn();
    }
    // A piece tells of its own lines; the first of several that share one.
    let mut told: BTreeSet<(&'static str, Loc)> = BTreeSet::new();
    let mut all = Vec::new();
    for (index, mut news) in found.into_iter().map(|judged| judged.findings).enumerate() {
        let own = |finding: &Finding| {
            let regions = lines.of(finding.loc);
            regions.is_empty()
                || regions.iter().any(|&(_, region)| region == index as u32)
                || OF_ANY.contains(&finding.rule)
        };
        news.retain(|finding| own(finding) && !told.contains(&(finding.rule, finding.loc)));
        told.extend(news.iter().map(|finding| (finding.rule, finding.loc)));
        all.extend(news);
    }
    Ok(Some(all))
}

/// What came of a piece: its findings, and what stands for it where it hangs.
struct Judged {
    findings: Vec<Finding>,
    on: Vec<StandIn>,
}

fn judge_piece<S: Borrow<Settings> + Sync>(
    run: &Run<'_, S>,
    piece: &Piece<'_>,
    settings: &Settings,
    rules: &[&Rule],
) -> Result<Judged, Cancelled> {
    let part = &piece.elaboration;
    let facts = Facts::new(part, settings, run.cancel).with_held(&part.circuit.tainted);
    let context =
        Context { elaboration: part, circuit: &part.circuit, settings, facts: &facts, cancel: run.cancel };
    let mut findings = Vec::new();
    for rule in rules {
        (rule.check)(&context, &mut findings)?;
        if let Some(done) = run.done {
            done(rule.name());
        }
    }
    let on = if piece.hangs() { piece.stand_ins(&facts)? } else { Vec::new() };
    Ok(Judged { findings, on })
}
