//! One check of one file: every rule, `allow`, the levels of the settings, and what came of the expectations.

use crate::{
    Context, Facts, Finding, Level, Settings, allow, facts::expectations::Judged, fix, meant, pieces,
    pieces::Pieces, rule::Rule, rules, uses,
};
use keyon_circuit::{
    Elaboration, Fix, Problem,
    ids::FileId,
    model::{Circuit, Loc, Probe},
};
use keyon_solve::{Cancel, Cancelled};
use keyon_syntax::{Span, SyntaxError};
use smol_str::SmolStr;
use std::{
    borrow::Borrow,
    collections::{BTreeMap, BTreeSet},
};

/// What a check works with.
pub struct Run<'a, S: Borrow<Settings>> {
    /// The settings of each file of the elaboration: the first one's limits hold for the circuit, each one's levels for
    /// the findings in it. Where there are fewer than files, the first ones hold for the rest.
    pub settings: &'a [S],
    /// Whether the rows of `expect` blocks are wanted one by one.
    pub expectations: bool,
    /// What the pieces of a large circuit found the last time, for whoever checks again and again.
    pub memo: Option<&'a pieces::Memo>,
    /// Told of each rule that is done, with its name; for whoever measures. One thread does all then.
    pub done: Option<&'a (dyn Fn(&'static str) + Sync)>,
    /// How many threads may share the work of one large circuit, at least one.
    pub threads: usize,
    #[allow(missing_docs)]
    pub cancel: &'a dyn Cancel,
}

impl<S: Borrow<Settings>> std::fmt::Debug for Run<'_, S> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Run").field("expectations", &self.expectations).finish_non_exhaustive()
    }
}

/// What came of it.
#[derive(Clone, Debug, Default)]
pub struct Report {
    /// In source order, after `allow` and levels. Those of a library stand at its file id.
    pub findings: Vec<Finding>,
    /// In source order; empty unless they were asked for.
    pub expectations: Vec<Expectation>,
}

/// What came of a row of an `expect` block.
#[derive(Clone, Debug)]
pub struct Expectation {
    #[allow(missing_docs)]
    pub scenario: SmolStr,
    /// What is measured or looked at, by its full name: `SCU.A.4`, `left_valve.1 to left_valve.2`.
    pub probe: String,
    /// The row as it is written, blanks joined.
    pub text: String,
    #[allow(missing_docs)]
    pub loc: Loc,
    #[allow(missing_docs)]
    pub verdict: Verdict,
}

/// Whether a row of an `expect` block holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// With what was computed.
    Holds(String),
    /// With what was computed instead.
    Fails(String),
    /// It fails, and an `allow` or the settings silence it.
    Silenced(String),
    /// It cannot be judged, and why.
    Refused(String),
    /// What it looks at hangs on something that could not be read.
    Unknown,
}

impl<S: Borrow<Settings> + Sync> Run<'_, S> {
    /// How many threads work.
    pub(crate) fn threads(&self) -> usize {
        if self.done.is_some() { 1 } else { self.threads.max(1) }
    }

    /// Nobody wants to hear of it.
    fn is_off(&self, rule: &str) -> bool {
        !self.settings.is_empty() && self.settings.iter().all(|s| s.borrow().is_off(rule))
    }

    /// The rules that somebody wants to hear of.
    fn asked(&self) -> impl Iterator<Item = &'static Rule> {
        // The files of a circuit mostly have the same settings, so few rules are to be looked for in more than one.
        let mut each = self.settings.iter().map(Borrow::borrow);
        let first = each.next();
        let levels = first.into_iter().flat_map(|settings| &settings.levels);
        let mut off: Vec<&str> = levels.filter(|(_, level)| level.is_none()).map(|(rule, _)| *rule).collect();
        for other in each.filter(|other| first.is_none_or(|first| !std::ptr::eq(first, *other))) {
            off.retain(|rule| other.is_off(rule));
        }
        rules::all().filter(move |rule| off.binary_search(&rule.name()).is_err())
    }

    /// Checks what is elaborated already.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn report(&self, elaboration: &Elaboration) -> Result<Report, Cancelled> {
        self.report_in(elaboration, Pieces::default())
    }

    /// The same with a say in how a large circuit is cut.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn report_in(&self, elaboration: &Elaboration, cut: Pieces) -> Result<Report, Cancelled> {
        let usual = Settings::default();
        let settings = self.of(FileId(0)).unwrap_or(&usual);
        let mut findings = of_reading(elaboration);
        let facts = Facts::new(elaboration, settings, self.cancel).with(self.memo, self.threads());
        let circuit = &elaboration.circuit;
        let context = Context { elaboration, circuit, settings, facts: &facts, cancel: self.cancel };
        let (every, mut of_all): (Vec<&Rule>, Vec<&Rule>) =
            self.asked().partition(|rule| pieces::splits(rule));
        // Asked of the whole circuit: a piece does not know of all that was not read.
        let unsure = facts.may_miss_a_wire();
        let tells = |rule: &&Rule| !unsure || !rule.rests_on_absence();
        of_all.retain(tells);
        let apart: Vec<&Rule> = every.iter().copied().filter(tells).collect();
        let held = facts.held_by_damage();
        let of_pieces = || {
            // Who checks again and again judges all, or else every piece would be judged anew whenever a wire that is being
            // written is no wire yet.
            let judging = if self.memo.is_some() { &every } else { &apart };
            let mut found = pieces::findings(self, cut, &held, elaboration, settings, judging)?;
            for findings in found.iter_mut().filter(|_| unsure) {
                findings.retain(|finding| apart.iter().any(|rule| rule.name() == finding.rule));
            }
            Ok(found)
        };
        if self.threads() > 1 && cut.cuts(circuit) {
            // What is solved for all of a large circuit takes about as long as everything else together.
            let (solving, quick): (Vec<&Rule>, Vec<&Rule>) =
                of_all.into_iter().partition(|rule| pieces::solves_all(rule));
            let beside = || {
                let found = of_pieces()?;
                let facts = Facts::new(elaboration, settings, self.cancel).with(self.memo, self.threads());
                let context = Context { elaboration, circuit, settings, facts: &facts, cancel: self.cancel };
                let whole = if found.is_none() { apart.as_slice() } else { &[] };
                let mut findings = found.unwrap_or_default();
                self.see(whole, &context, &mut findings)?;
                self.see(&quick, &context, &mut findings)?;
                Ok(findings)
            };
            std::thread::scope(|scope| {
                let thread = pieces::worker().spawn_scoped(scope, beside);
                self.see(&solving, &context, &mut findings)?;
                findings.extend(match thread {
                    Ok(thread) => thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)),
                    Err(_) => beside(),
                }?);
                Ok(())
            })?;
        } else {
            let found = of_pieces()?;
            self.see(&of_all, &context, &mut findings)?;
            match found {
                Some(found) => findings.extend(found),
                None => self.see(&apart, &context, &mut findings)?,
            }
        }
        findings.retain(|finding| !meant::is_meant(circuit, finding));
        let off = |file: FileId, rule: &str| self.of(file).is_some_and(|s| s.is_off(rule));
        allow::apply(elaboration, &off, &mut findings);
        self.level(&mut findings);
        sort(elaboration, &mut findings);
        uses::once(elaboration, &mut findings);
        // Where their rule is off, nobody wants them judged.
        let expectations = if self.expectations && !self.is_off("expectation-failed") {
            expectations(elaboration, facts.expectations()?, &findings)
        } else {
            Vec::new()
        };
        Ok(Report { findings, expectations })
    }
}

impl<S: Borrow<Settings>> Run<'_, S> {
    /// The settings of a file.
    fn of(&self, file: FileId) -> Option<&Settings> {
        self.settings.get(file.index()).or(self.settings.first()).map(Borrow::borrow)
    }

    /// What reading the text found, before any rule is asked: mistakes of writing, unknown names. Part of what
    /// [`Run::report`] gives; for whoever shows something at once while the rest of a large circuit is looked at.
    pub fn first_look(&self, elaboration: &Elaboration) -> Vec<Finding> {
        let mut findings = of_reading(elaboration);
        allow::silence(elaboration, &mut findings);
        self.level(&mut findings);
        sort(elaboration, &mut findings);
        findings
    }

    /// Gives findings the levels of the settings, and takes out those that are off.
    fn level(&self, findings: &mut Vec<Finding>) {
        findings.retain_mut(|finding| match self.of(finding.loc.file).and_then(|s| s.level(finding.rule)) {
            Some(Some(level)) => {
                finding.level = level;
                true
            }
            Some(None) => false,
            None => true,
        });
    }

    /// Asks each of these rules.
    fn see(
        &self,
        rules: &[&Rule],
        context: &Context<'_>,
        findings: &mut Vec<Finding>,
    ) -> Result<(), Cancelled> {
        for rule in rules {
            if self.cancel.cancelled() {
                return Err(Cancelled);
            }
            let known = self.memo.filter(|_| pieces::is_of_shape(rule));
            match known.and_then(|memo| memo.told(context.elaboration, rule)) {
                Some(told) => findings.extend(told),
                None => {
                    let first = findings.len();
                    (rule.check)(context, findings)?;
                    if let Some(memo) = known {
                        memo.tell(context.elaboration, rule, findings.get(first..).unwrap_or_default());
                    }
                }
            }
            if let Some(done) = self.done {
                done(rule.name());
            }
        }
        Ok(())
    }
}

fn expectations(elaboration: &Elaboration, judged: &[Judged], findings: &[Finding]) -> Vec<Expectation> {
    let circuit = &elaboration.circuit;
    let tell = [rules::teaching::expectation_failed::RULE.name(), rules::teaching::ohms_on_live::RULE.name()];
    let told: BTreeSet<Loc> = findings.iter().filter(|f| tell.contains(&f.rule)).map(|f| f.loc).collect();
    let rows = judged.iter().filter_map(|judged| {
        let row = circuit.expects.get(judged.expect)?.rows.get(judged.row)?;
        let verdict = match &judged.outcome {
            None => Verdict::Unknown,
            Some(outcome) if outcome.holds => Verdict::Holds(outcome.got.to_string()),
            Some(outcome) => {
                let why = outcome.refused.as_ref().map(|why| why.words(circuit));
                match (why, told.contains(&row.loc)) {
                    (Some(why), true) => Verdict::Refused(why),
                    (None, true) => Verdict::Fails(outcome.got.to_string()),
                    (why, false) => Verdict::Silenced(why.unwrap_or_else(|| outcome.got.to_string())),
                }
            }
        };
        let text = elaboration.text(row.loc).split_whitespace().collect::<Vec<_>>().join(" ");
        let scenario = circuit.scenarios.get(judged.scenario.index())?.name.clone();
        Some(Expectation { scenario, probe: probe_name(circuit, row.probe), text, loc: row.loc, verdict })
    });
    rows.collect()
}

/// What a row measures, by its full name.
pub fn probe_name(circuit: &Circuit, probe: Probe) -> String {
    let point =
        |p: keyon_circuit::ids::PointId| circuit.points.get(p.index()).map_or("", |p| p.name.as_str());
    let element =
        |e: keyon_circuit::ids::ElementId| circuit.elements.get(e.index()).map_or("", |e| e.name.as_str());
    match probe {
        Probe::Point(p) => point(p).to_owned(),
        Probe::Input(m, c, k) => {
            let module = circuit.modules.get(m.index()).map_or("", |m| m.name.as_str());
            let cavity = circuit.cavity(m, c, k).map_or("", |c| c.name.as_str());
            format!("{module}.{cavity}")
        }
        Probe::Device(d) => circuit.devices.get(d.index()).map_or("", |d| d.name.as_str()).to_owned(),
        Probe::Element(e) => element(e).to_owned(),
        Probe::Across(a, b) => format!("{} to {}", point(a), point(b)),
        Probe::Ohms(a, b) => format!("ohms {} to {}", point(a), point(b)),
        Probe::Clamp(e) => format!("clamp {}", element(e)),
        Probe::Lamp(a, b) => format!("lamp {} to {}", point(a), point(b)),
    }
}

/// By place, then by name; one finding once.
fn sort(elaboration: &Elaboration, findings: &mut Vec<Finding>) {
    findings.sort_by_cached_key(|f| {
        let span = elaboration.span(f.loc);
        (f.loc.file, span.start, span.end, f.rule, f.message.clone())
    });
    findings.dedup_by(|a, b| (a.rule, a.loc, &a.message) == (b.rule, b.loc, &b.message));
}

/// What is wrong with the text and its names.
fn of_reading(elaboration: &Elaboration) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (file, source) in elaboration.files.iter().enumerate() {
        let errors = &source.parse.errors;
        findings.extend(errors.iter().map(|error| of_syntax(elaboration, file.into(), error)));
    }
    findings.extend(elaboration.problems.iter().map(|problem| of_problem(elaboration, problem)));
    once_a_line(elaboration, &mut findings);
    findings
}

/// Of a line that could not be read to its end the first mistake says all: what else looks wrong there may follow from it.
fn once_a_line(elaboration: &Elaboration, findings: &mut Vec<Finding>) {
    let syntax = rules::files::syntax::RULE.name();
    let unread = |f: &&Finding| f.rule == syntax && f.fixes.is_empty();
    if !findings.iter().any(|f| unread(&f)) {
        return;
    }
    let ends = |text: &str| text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(at, _)| at).collect();
    let lines: Vec<Vec<usize>> = elaboration.files.iter().map(|file| ends(&file.text)).collect();
    let line = |finding: &Finding| {
        let start = elaboration.span(finding.loc).start as usize;
        let ends = lines.get(finding.loc.file.index()).map_or(&[][..], Vec::as_slice);
        (finding.loc.file, ends.partition_point(|end| *end < start))
    };
    let mut first: BTreeMap<(FileId, usize), u32> = BTreeMap::new();
    for finding in findings.iter().filter(unread) {
        let start = elaboration.span(finding.loc).start;
        first.entry(line(finding)).and_modify(|known| *known = start.min(*known)).or_insert(start);
    }
    findings.retain(|finding| {
        let start = elaboration.span(finding.loc).start;
        let read = finding.rule == syntax && !finding.fixes.is_empty();
        first.get(&line(finding)).is_none_or(|known| read || (finding.rule == syntax && *known == start))
    });
}

fn of_syntax(elaboration: &Elaboration, file: FileId, error: &SyntaxError) -> Finding {
    let place = |span| place(elaboration, file, span);
    let mut finding = rules::files::syntax::RULE.at(place(error.span), error.message.clone());
    finding.help.clone_from(&error.help);
    if let Some((title, span, text)) = &error.fix {
        let text = text.replace('\n', fix::edit::newline(elaboration, file));
        // How a word is spelt is no matter of opinion; a word that is not there is a guess.
        let guess = span.is_empty() && !text.trim().is_empty();
        let edits = vec![(place(*span), text)];
        finding.fixes.push(Fix { title: title.clone(), edits, safe: !guess });
    }
    finding
}

/// The place of absolute bytes: relative to the item in which they begin.
pub(crate) fn place(elaboration: &Elaboration, file: FileId, span: Span) -> Loc {
    let items = elaboration.files.get(file.index()).map_or(&[][..], |f| &f.parse.file.items);
    let after = items.partition_point(|placed| placed.start <= span.start);
    match after.checked_sub(1).and_then(|item| Some((item, items.get(item)?))) {
        Some((item, placed)) => {
            let start = span.start - placed.start;
            let end = span.end.max(span.start) - placed.start;
            Loc { file, item: item as u32, span: Span { start, end } }
        }
        // Before the first item: no item, so the bytes stand as they are.
        None => Loc { file, item: u32::MAX, span },
    }
}

fn of_problem(elaboration: &Elaboration, problem: &Problem) -> Finding {
    let usual = rules::find(problem.rule).map_or(Level::Error, Rule::level);
    let level = if problem.mild { usual.min(Level::Warning) } else { usual };
    let mut fixes: Vec<Fix> = problem.fix.iter().cloned().collect();
    for fix in &mut fixes {
        // A name in other capitals is the same name misspelt; a near one may be another.
        let same = |(loc, text): &(Loc, String)| elaboration.text(*loc).to_lowercase() == text.to_lowercase();
        fix.safe |= problem.rule == "unknown-name" && fix.edits.iter().all(same);
    }
    fixes.extend(rules::names::unused_name::fix(elaboration, problem));
    fixes.extend(rules::names::duplicate_name::fix(elaboration, problem));
    Finding {
        rule: problem.rule,
        level,
        loc: problem.loc,
        message: problem.message.clone(),
        help: problem.help.clone(),
        related: problem.related.clone(),
        fixes,
    }
}
