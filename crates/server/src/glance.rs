//! What can be said of an edit before all of a large circuit is judged anew.
//!
//! Reading the text takes a moment, its names take longer, and the rules longest. So what was found before is shown with
//! what reading finds now, as soon as that has changed: first what is wrong with the writing, then with the names. What was
//! found in lines that the edit has touched is left out, for it is being looked at; all else stands where its line stands
//! now. The whole check follows and has the last word.

use crate::snapshot::{Cell, Checked};
use keyon_check::{Finding, Run, Settings, settings::Found};
use keyon_circuit::{Elaboration, Moved, Source, ids::FileId, model::Loc};
use keyon_solve::Never;
use std::{collections::BTreeSet, sync::Arc};

/// What the last check told. Without its circuit, which is made over for the next version.
#[derive(Debug)]
pub(crate) struct Told {
    files: Vec<Source>,
    settings: Vec<Arc<Settings>>,
    found: Vec<Arc<Found>>,
    /// What was wrong with the writing, with names and values, and what rules found.
    writing: Vec<Finding>,
    names: Vec<Finding>,
    rules: Vec<Finding>,
}

/// Places before the edit, and where they are now.
struct Moves {
    items: Moved,
    /// Libraries that are the same.
    same: Vec<bool>,
}

impl Told {
    /// What a check has told.
    pub(crate) fn new(checked: &Checked, settings: &[Arc<Settings>], found: &[Arc<Found>]) -> Self {
        let elaboration = &checked.elaboration;
        let files = elaboration.files.clone();
        let reading = look(settings, elaboration);
        let writing = look(settings, &Elaboration::of_files(files.clone()));
        let names = without(reading, &writing);
        let rules = without(without(checked.findings.clone(), &writing), &names);
        Self { files, settings: settings.to_vec(), found: found.to_vec(), writing, names, rules }
    }

    /// What to show of a text as soon as it is read; `None` where that is no news.
    pub(crate) fn of_writing(&self, source: &Source) -> Option<Checked> {
        let mut files = self.files.clone();
        *files.first_mut()? = source.clone();
        let moves = Moves::new(&self.files, &files)?;
        let elaboration = Elaboration::of_files(files);
        let writing = look(&self.settings, &elaboration);
        if same(&writing, &moves.all(&self.writing)) {
            return None;
        }
        let findings = [writing, moves.all(&self.names), moves.all(&self.rules)].concat();
        Some(self.checked(Arc::new(elaboration), findings))
    }

    /// What to show of the names in what the edit has touched, by what was known of the circuit before; `None` where that is no news,
    /// or is not to be told of a few lines alone.
    pub(crate) fn of_touched(&self, cell: &Cell) -> Option<Checked> {
        let mut files = self.files.clone();
        *files.first_mut()? = cell.source.clone();
        let moves = Moves::new(&self.files, &files)?;
        let problems = cell.early_problems(moves.items.touched())?;
        let elaboration = Elaboration::of_files(files).with_problems(problems);
        // Whatever is wrong with the writing leaves the names for later.
        let touched = look(&self.settings, &elaboration);
        let known = moves.all(&self.names);
        if touched.is_empty() && same(&known, &self.names) && self.writing.is_empty() {
            return None;
        }
        let findings = [touched, known, moves.all(&self.rules)].concat();
        Some(self.checked(Arc::new(elaboration), findings))
    }

    /// What to show as soon as the names of a text are known, if that is news; and what holds of it should the next edit come before
    /// all is checked. `None` where there is no file.
    pub(crate) fn of_names(&self, cell: &Cell) -> Option<(Option<Checked>, Self)> {
        let elaboration = cell.elaboration();
        let files = elaboration.files.clone();
        let moves = Moves::new(&self.files, &files)?;
        let reading = look(&self.settings, &elaboration);
        let writing = look(&self.settings, &Elaboration::of_files(files.clone()));
        let names = without(reading, &writing);
        let rules = moves.all(&self.rules);
        let news = !same(&names, &moves.all(&self.names));
        let show = news.then(|| {
            let findings = [writing.clone(), names.clone(), rules.clone()].concat();
            self.checked(elaboration, findings)
        });
        let (settings, found) = (self.settings.clone(), self.found.clone());
        Some((show, Self { files, settings, found, writing, names, rules }))
    }

    fn checked(&self, elaboration: Arc<Elaboration>, findings: Vec<Finding>) -> Checked {
        Checked { elaboration, findings, settings: self.found.clone() }
    }
}

/// What reading found.
fn look(settings: &[Arc<Settings>], elaboration: &Elaboration) -> Vec<Finding> {
    let run = Run { settings, expectations: false, memo: None, done: None, threads: 1, cancel: &Never };
    run.first_look(elaboration)
}

fn which(finding: &Finding) -> (Loc, &str, &str) {
    (finding.loc, finding.rule, &finding.message)
}

fn without(mut all: Vec<Finding>, some: &[Finding]) -> Vec<Finding> {
    let some: BTreeSet<_> = some.iter().map(which).collect();
    all.retain(|finding| !some.contains(&which(finding)));
    all
}

fn same(a: &[Finding], b: &[Finding]) -> bool {
    a.iter().map(which).eq(b.iter().map(which))
}

impl Moves {
    /// `None` where there is no file.
    fn new(was: &[Source], is: &[Source]) -> Option<Self> {
        let items = Moved::new(was.first()?, is.first()?);
        let same =
            was.iter().zip(is).map(|(a, b)| a.key == b.key && Arc::ptr_eq(&a.parse, &b.parse)).collect();
        Some(Self { items, same })
    }

    /// Where a place is now; `None` where it was touched.
    fn loc(&self, loc: Loc) -> Option<Loc> {
        if loc.file != FileId(0) {
            return self.same.get(loc.file.index()).copied().unwrap_or(false).then_some(loc);
        }
        Some(Loc { item: self.items.item(loc.item)?, ..loc })
    }

    /// Findings where they are now, but for those of touched lines.
    fn all(&self, findings: &[Finding]) -> Vec<Finding> {
        findings.iter().filter_map(|finding| self.finding(finding)).collect()
    }

    fn finding(&self, finding: &Finding) -> Option<Finding> {
        let loc = self.loc(finding.loc)?;
        let related = finding.related.iter().filter_map(|(loc, word)| Some((self.loc(*loc)?, word.clone())));
        // Diagnostics carry no fixes: they are asked for when the whole is checked.
        Some(Finding { loc, related: related.collect(), fixes: Vec::new(), ..finding.clone() })
    }
}
