//! Making the fixes that findings carry.
//!
//! A fix is a set of edits that belong together. [`mend`] makes as many as do not overlap, checks again, and goes on until
//! nothing is left to do. A fix that does not make its finding go away, or that brings a new slip of the pen, is taken
//! back.

pub(crate) mod edit;
pub(crate) mod modules;
pub(crate) mod wiring;

use crate::{Checked, Finding, Level, Settings, check_with};
use keyon_circuit::{Elaboration, Fix, Source, World};
use keyon_solve::{Cancel, Cancelled};
use smol_str::SmolStr;
use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

/// Which fixes to make.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Those that change nothing which somebody may have meant.
    Safe,
    /// Also those that change what the circuit says, and that somebody has to look at.
    All,
}

/// A fix that was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// Key of the file in which its finding stood.
    pub file: SmolStr,
    /// Line of the finding, from 1, as it was when the fix was made.
    pub line: usize,
    #[allow(missing_docs)]
    pub rule: &'static str,
    /// What it did.
    pub title: String,
}

/// What came of [`mend`].
#[derive(Clone, Debug, Default)]
pub struct Mended {
    /// New texts by their file's key; only those that changed.
    pub texts: BTreeMap<SmolStr, Arc<str>>,
    /// In the order in which they were made.
    pub made: Vec<Made>,
}

/// Rounds of checking and mending before it is left at that: alternatives could take turns for ever.
const ROUNDS: usize = 16;

/// Mends a file, and its libraries where `may_edit` lets their key.
///
/// # Errors
/// When `cancel` asks for it.
pub fn mend(
    world: &dyn World,
    source: &Source,
    settings: &Settings,
    which: Which,
    may_edit: &dyn Fn(&str) -> bool,
    cancel: &dyn Cancel,
) -> Result<Mended, Cancelled> {
    let mut work =
        Work { world, source, settings, cancel, mended: Mended::default(), refused: BTreeSet::new() };
    let mut checked = work.check(&BTreeMap::new())?;
    for _ in 0..ROUNDS {
        let chosen = work.choose(&checked, which, may_edit);
        if chosen.is_empty() {
            break;
        }
        let together = chosen.len();
        match work.try_all(&checked, &chosen)? {
            Some(next) => checked = next,
            None if together == 1 => work.refuse(&chosen),
            None => {
                // One of them spoils it: one by one, the first that works; the rest come in the next round.
                let mut next = None;
                for one in &chosen {
                    next = work.try_all(&checked, std::slice::from_ref(one))?;
                    if next.is_some() {
                        break;
                    }
                    work.refuse(std::slice::from_ref(one));
                }
                match next {
                    Some(next) => checked = next,
                    None => break,
                }
            }
        }
    }
    Ok(work.mended)
}

/// A finding and the fix of it that was chosen.
type Chosen = (Finding, Fix);

struct Work<'a> {
    world: &'a dyn World,
    source: &'a Source,
    settings: &'a Settings,
    cancel: &'a dyn Cancel,
    mended: Mended,
    /// Fixes that were taken back, by rule, message and title.
    refused: BTreeSet<(&'static str, String, String)>,
}

impl Work<'_> {
    fn check(&self, texts: &BTreeMap<SmolStr, Arc<str>>) -> Result<Checked, Cancelled> {
        let world = Overlay { world: self.world, texts };
        let source = world.changed(self.source.clone());
        check_with(&world, &source, self.settings, self.cancel)
    }

    /// The first fix of each finding that may be made, none of which overlap.
    fn choose(&self, checked: &Checked, which: Which, may_edit: &dyn Fn(&str) -> bool) -> Vec<Chosen> {
        let elaboration = &checked.elaboration;
        let mut taken: Vec<Place> = Vec::new();
        let mut chosen = Vec::new();
        // Slips first, by themselves: what they hid comes to light, and is no fault of theirs.
        let slips = |finding: &&Finding| is_slip(finding);
        let first: Vec<&Finding> = checked.findings.iter().filter(slips).collect();
        let others = checked.findings.iter().filter(|finding| !is_slip(finding));
        for finding in first.into_iter().chain(others) {
            if !is_slip(finding) && chosen.iter().any(|(other, _): &Chosen| is_slip(other)) {
                break;
            }
            for fix in &finding.fixes {
                let title = (finding.rule, finding.message.clone(), fix.title.clone());
                let Some(places) = places(elaboration, fix, may_edit) else { continue };
                if !(fix.safe || which == Which::All)
                    || self.refused.contains(&title)
                    || places.iter().any(|place| taken.iter().any(|other| place.overlaps(other)))
                {
                    continue;
                }
                taken.extend(places);
                chosen.push((finding.clone(), fix.clone()));
                break;
            }
        }
        chosen
    }

    fn refuse(&mut self, chosen: &[Chosen]) {
        let titles = chosen.iter().map(|(f, fix)| (f.rule, f.message.clone(), fix.title.clone()));
        self.refused.extend(titles);
    }

    /// Makes these fixes and checks again; `None`, with nothing changed, where a finding stayed or a slip came.
    fn try_all(&mut self, before: &Checked, chosen: &[Chosen]) -> Result<Option<Checked>, Cancelled> {
        let mut texts = self.mended.texts.clone();
        let fixes = chosen.iter().map(|(_, fix)| fix);
        for (file, text) in edited(&before.elaboration, fixes) {
            if let Some(source) = before.elaboration.files.get(file) {
                texts.insert(source.key.clone(), text.into());
            }
        }
        let after = self.check(&texts)?;
        if !better(before, &after, chosen) {
            return Ok(None);
        }
        self.mended.texts = texts;
        for (finding, fix) in chosen {
            let Some(file) = before.elaboration.files.get(finding.loc.file.index()) else { continue };
            let start = before.elaboration.span(finding.loc).start as usize;
            let line = file.text.get(..start).map_or(1, |text| text.matches('\n').count() + 1);
            self.mended.made.push(Made {
                file: file.key.clone(),
                line,
                rule: finding.rule,
                title: fix.title.clone(),
            });
        }
        Ok(Some(after))
    }
}

/// A slip of the pen, and no matter of the circuit.
fn is_slip(finding: &Finding) -> bool {
    let group = crate::rules::find(finding.rule).map_or("", crate::Rule::group);
    matches!(group, "names" | "values") || finding.rule == "syntax"
}

/// Whether each finding that was to be mended is gone, and nothing became worse by it: no text unreadable or unknown, and where
/// the text was readable before, less wrong with the circuit in all. (Of two devices of one part that is right for one of
/// them only, turning it round blames the other.)
fn better(before: &Checked, after: &Checked, chosen: &[Chosen]) -> bool {
    let count = |checked: &Checked, like: &Finding| {
        checked.findings.iter().filter(|f| f.rule == like.rule && f.message == like.message).count()
    };
    let mended = |like: &Finding| {
        chosen.iter().filter(|(f, _)| f.rule == like.rule && f.message == like.message).count()
    };
    let gone = chosen.iter().all(|(f, _)| count(after, f) + mended(f) <= count(before, f));
    let slips = |checked: &Checked| checked.findings.iter().filter(|f| is_slip(f)).count();
    let of = |checked: &Checked, level| checked.findings.iter().filter(|f| f.level == level).count();
    let wrong =
        |checked: &Checked| [Level::Error, Level::Warning, Level::Hint].map(|level| of(checked, level));
    let slip = chosen.iter().any(|(finding, _)| is_slip(finding));
    gone && slips(after) <= slips(before) && (slip || wrong(after) < wrong(before))
}

/// The world with some texts changed.
struct Overlay<'a> {
    world: &'a dyn World,
    texts: &'a BTreeMap<SmolStr, Arc<str>>,
}

impl Overlay<'_> {
    fn changed(&self, source: Source) -> Source {
        match self.texts.get(&source.key) {
            Some(text) => {
                Source { key: source.key, text: text.clone(), parse: Arc::new(keyon_syntax::parse(text)) }
            }
            None => source,
        }
    }
}

impl World for Overlay<'_> {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        self.world.library(from, path).map(|source| self.changed(source))
    }
    fn near(&self, from: &str, path: &str) -> Option<String> {
        self.world.near(from, path)
    }
}

/// Bytes of a file that an edit replaces.
#[derive(Clone, Copy, Debug)]
struct Place {
    file: usize,
    start: usize,
    end: usize,
}

impl Place {
    /// Also where they only touch and one of them is an insertion: which comes first would be chance.
    fn overlaps(&self, other: &Self) -> bool {
        let insertion = self.start == self.end || other.start == other.end;
        let apart = self.end < other.start || other.end < self.start;
        let touch = self.end == other.start || other.end == self.start;
        self.file == other.file && !apart && (!touch || insertion)
    }
}

/// The places of a fix; `None` where one of them cannot be edited, for a part of a fix is none.
fn places(elaboration: &Elaboration, fix: &Fix, may_edit: &dyn Fn(&str) -> bool) -> Option<Vec<Place>> {
    let mut places: Vec<Place> = Vec::new();
    for (loc, _) in &fix.edits {
        let file = elaboration.files.get(loc.file.index())?;
        let span = elaboration.span(*loc);
        let place = Place { file: loc.file.index(), start: span.start as usize, end: span.end as usize };
        file.text.get(place.start..place.end)?;
        if !may_edit(&file.key) || places.iter().any(|other| place.overlaps(other)) {
            return None;
        }
        places.push(place);
    }
    (!places.is_empty()).then_some(places)
}

/// The texts of the files that some fixes change, by the file's index. The fixes must not overlap.
pub fn edited<'f>(
    elaboration: &Elaboration,
    fixes: impl IntoIterator<Item = &'f Fix>,
) -> BTreeMap<usize, String> {
    let mut edits: BTreeMap<usize, Vec<(usize, usize, &str)>> = BTreeMap::new();
    for (loc, text) in fixes.into_iter().flat_map(|fix| &fix.edits) {
        let span = elaboration.span(*loc);
        let edit = (span.start as usize, span.end as usize, text.as_str());
        edits.entry(loc.file.index()).or_default().push(edit);
    }
    let mut texts = BTreeMap::new();
    for (file, mut edits) in edits {
        let Some(source) = elaboration.files.get(file) else { continue };
        edits.sort_unstable();
        let (mut text, mut at) = (String::with_capacity(source.text.len() + 64), 0);
        for (start, end, new) in edits {
            text.push_str(source.text.get(at..start).unwrap_or(""));
            text.push_str(new);
            at = end;
        }
        text.push_str(source.text.get(at..).unwrap_or(""));
        texts.insert(file, text);
    }
    texts
}
