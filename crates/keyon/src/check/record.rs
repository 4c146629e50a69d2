//! All that is known of one checked file, without its trees: what the reports are made of, and what the cache keeps.

use super::says::Says;
use keyon_check::{Expectation, Finding, Level, Report, Summary, Verdict, rules};
use keyon_circuit::{Elaboration, model::Loc};
use keyon_present::{
    place::Lines,
    reports::{ExpectationCase, Place, Placed, PlacedFix, ids},
};
use serde::{Deserialize, Serialize};
use std::{collections::BTreeMap, path::PathBuf};

/// What came of one file.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(crate) struct Record {
    /// The keys of the elaboration's files: its own first.
    pub(crate) files: Vec<String>,
    /// What it asked for, with the hash of the content; `None` where there was no such file.
    pub(crate) asked: BTreeMap<PathBuf, Option<String>>,
    /// The circuit's name; `None` for a parts library.
    pub(crate) circuit: Option<String>,
    pub(crate) findings: Vec<Entry>,
    pub(crate) expectations: Vec<Row>,
    /// What it says of wires and cavities. Kept behind the rest, and read when two files have to be compared anew.
    #[serde(skip)]
    pub(crate) says: Says,
}

/// File (an index into `files`), line, column, end line, end column.
type At = (u32, usize, usize, usize, usize);

/// An edit that mends something: what it does, whether it is safe, what is replaced by what.
type Mend = (String, bool, Vec<(At, String)>);

/// A finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Entry {
    rule: String,
    level: u8,
    message: String,
    help: Option<String>,
    at: At,
    related: Vec<(At, String)>,
    fixes: Vec<Mend>,
    anchor: String,
}

/// A row of an `expect` block: scenario, probe, text, line, verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Row(String, String, String, usize, Judgement);

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
enum Judgement {
    Holds(String),
    Fails(String),
    Silenced(String),
    Refused(String),
    Unknown,
}

impl Record {
    /// Of a file that was checked.
    pub(crate) fn new(elaboration: &Elaboration, report: &Report) -> Self {
        let mut places = Places::new(elaboration);
        let mut record = Self::unchecked(elaboration);
        record.findings = report.findings.iter().map(|f| places.entry(f)).collect();
        record.expectations = report.expectations.iter().map(|e| places.row(e)).collect();
        record
    }

    /// Of a file of which only is asked what it says of wires and cavities.
    pub(crate) fn unchecked(elaboration: &Elaboration) -> Self {
        Self {
            files: elaboration.files.iter().map(|file| file.key.to_string()).collect(),
            circuit: (!elaboration.library).then(|| elaboration.circuit.name.to_string()),
            says: Says::Known(Summary::new(elaboration)),
            ..Self::default()
        }
    }

    /// The findings under the names by which people know the files.
    pub(crate) fn placed(&self, shown: &dyn Fn(&str) -> String) -> Vec<Placed> {
        let names: Vec<String> = self.files.iter().map(|key| shown(key)).collect();
        self.findings.iter().map(|entry| entry.placed(&names)).collect()
    }

    pub(crate) fn cases(&self) -> Vec<ExpectationCase> {
        let case = |Row(scenario, probe, text, line, judgement): &Row| ExpectationCase {
            scenario: scenario.clone(),
            probe: probe.clone(),
            text: text.clone(),
            line: *line,
            verdict: match judgement.clone() {
                Judgement::Holds(got) => Verdict::Holds(got),
                Judgement::Fails(got) => Verdict::Fails(got),
                Judgement::Silenced(got) => Verdict::Silenced(got),
                Judgement::Refused(why) => Verdict::Refused(why),
                Judgement::Unknown => Verdict::Unknown,
            },
        };
        self.expectations.iter().map(case).collect()
    }

    /// Takes in what another circuit of the same note came to.
    pub(crate) fn join(&mut self, mut other: Self) {
        let files: Vec<u32> = other
            .files
            .iter()
            .map(|key| {
                let at = self.files.iter().position(|known| known == key).unwrap_or_else(|| {
                    self.files.push(key.clone());
                    self.files.len() - 1
                });
                at as u32
            })
            .collect();
        let moved = |file: &mut u32| *file = files.get(*file as usize).copied().unwrap_or(*file);
        for finding in &mut other.findings {
            moved(&mut finding.at.0);
            finding.related.iter_mut().for_each(|(at, _)| moved(&mut at.0));
            let edits = finding.fixes.iter_mut().flat_map(|(_, _, edits)| edits);
            edits.for_each(|(at, _)| moved(&mut at.0));
        }
        other.says.rename(moved);
        self.findings.append(&mut other.findings);
        // A library's findings come with every circuit that uses it.
        let mut known = std::collections::BTreeSet::new();
        self.findings.retain(|f| known.insert((f.rule.clone(), f.at, f.message.clone())));
        self.expectations.append(&mut other.expectations);
        self.says.join(other.says);
        self.asked.append(&mut other.asked);
        self.circuit = self.circuit.take().or(other.circuit);
    }

    /// Puts a finding about the whole file first.
    pub(crate) fn put_first(&mut self, finding: Entry) {
        self.findings.insert(0, finding);
    }
}

impl Entry {
    /// One finding for all bytes that were not UTF-8, at the first of them.
    pub(crate) fn of_replaced_bytes(text: &str) -> Option<Self> {
        let first = text.find(char::REPLACEMENT_CHARACTER)?;
        let (line, column) = Lines::new(text).place(text, first);
        Some(Self {
            rule: rules::files::syntax::RULE.name().to_owned(),
            level: number(Level::Error),
            message: "bytes that are not UTF-8 stand here; they were read as `\u{fffd}`, and the rest of the file as it is"
                .to_owned(),
            help: Some("save the file as UTF-8".to_owned()),
            at: (0, line, column, line, column + 1),
            related: Vec::new(),
            fixes: Vec::new(),
            anchor: "bytes".to_owned(),
        })
    }

    /// Whether it is a syntax error on a line of its own file.
    pub(crate) fn is_syntax_on(&self, line: impl Fn(usize) -> bool) -> bool {
        self.rule == rules::files::syntax::RULE.name() && self.at.0 == 0 && line(self.at.1)
    }

    fn placed(&self, names: &[String]) -> Placed {
        let place = |at: &At| {
            let (file, line, column, end_line, end_column) = *at;
            let file = names.get(file as usize).cloned().unwrap_or_default();
            Place { file, line, column, end_line, end_column }
        };
        let edits =
            |edits: &[(At, String)]| edits.iter().map(|(at, text)| (place(at), text.clone())).collect();
        Placed {
            rule: self.rule.clone(),
            level: level(self.level),
            message: self.message.clone(),
            help: self.help.clone(),
            at: place(&self.at),
            related: edits(&self.related),
            fixes: self
                .fixes
                .iter()
                .map(|(title, safe, list)| PlacedFix {
                    title: title.clone(),
                    safe: *safe,
                    edits: edits(list),
                })
                .collect(),
            anchor: self.anchor.clone(),
            id: String::new(),
        }
    }
}

pub(super) fn number(level: Level) -> u8 {
    match level {
        Level::Hint => 0,
        Level::Warning => 1,
        Level::Error => 2,
    }
}

pub(super) fn level(number: u8) -> Level {
    match number {
        0 => Level::Hint,
        1 => Level::Warning,
        _ => Level::Error,
    }
}

/// Lines and columns of an elaboration's places.
pub(crate) struct Places<'a> {
    elaboration: &'a Elaboration,
    /// By file; made when first asked for.
    lines: Vec<Option<Lines>>,
}

impl<'a> Places<'a> {
    pub(crate) fn new(elaboration: &'a Elaboration) -> Self {
        Self { elaboration, lines: vec![None; elaboration.files.len()] }
    }

    pub(crate) fn of(&mut self, loc: Loc) -> At {
        let index = loc.file.index();
        let (Some(source), Some(slot)) = (self.elaboration.files.get(index), self.lines.get_mut(index))
        else {
            return (0, 1, 1, 1, 1);
        };
        let lines = slot.get_or_insert_with(|| Lines::new(&source.text));
        let span = self.elaboration.span(loc).range();
        let (line, column) = lines.place(&source.text, span.start);
        let (end_line, end_column) = lines.place(&source.text, span.end.max(span.start));
        (loc.file.0, line, column, end_line, end_column)
    }

    fn entry(&mut self, finding: &Finding) -> Entry {
        let fixes = finding.fixes.iter().map(|fix| {
            let edits = fix.edits.iter().map(|(loc, text)| (self.of(*loc), text.clone())).collect();
            (fix.title.clone(), fix.safe, edits)
        });
        let fixes = fixes.collect();
        Entry {
            rule: finding.rule.to_owned(),
            level: number(finding.level),
            message: finding.message.clone(),
            help: finding.help.clone(),
            at: self.of(finding.loc),
            related: finding.related.iter().map(|(loc, word)| (self.of(*loc), word.clone())).collect(),
            fixes,
            anchor: self.anchor(finding.loc),
        }
    }

    fn anchor(&self, loc: Loc) -> String {
        let file = self.elaboration.files.get(loc.file.index());
        let item = file.and_then(|file| file.parse.file.items.get(loc.item as usize));
        let head =
            item.map_or("", |placed| self.elaboration.text(Loc { span: placed.item.statement, ..loc }));
        ids::anchor(head, self.elaboration.text(loc))
    }

    fn row(&mut self, row: &Expectation) -> Row {
        let judgement = match row.verdict.clone() {
            Verdict::Holds(got) => Judgement::Holds(got),
            Verdict::Fails(got) => Judgement::Fails(got),
            Verdict::Silenced(got) => Judgement::Silenced(got),
            Verdict::Refused(why) => Judgement::Refused(why),
            Verdict::Unknown => Judgement::Unknown,
        };
        let line = self.of(row.loc).1;
        Row(row.scenario.to_string(), row.probe.clone(), row.text.clone(), line, judgement)
    }
}
