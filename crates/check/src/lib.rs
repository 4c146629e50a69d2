//! Findings: rules, `allow`, settings. Reads no files, prints nothing.
//!
//! [`check()`] is syntax errors, what elaboration found, and every rule of [`rules`], less what an `allow` silences.

mod allow;
mod explain;
pub mod facts;
pub mod finding;
pub mod library;
pub mod rule;
pub mod rules;
pub mod settings;
mod words;

pub use explain::explain;
pub use facts::Facts;
pub use finding::{Finding, Level};
pub use library::conflicts;
pub use rule::{Context, Rule};
pub use settings::Settings;

use keyon_circuit::{Elaboration, Fix, Problem, World, ids::FileId, model::Loc};
use keyon_solve::{Cancel, Cancelled};
use keyon_syntax::{Span, SyntaxError};

/// Everything known of one file: its elaboration and its findings.
#[derive(Clone, Debug)]
pub struct Checked {
    /// File 0 is the file asked about.
    pub elaboration: Elaboration,
    /// In source order, after `allow`. Those of a library stand at its file id.
    pub findings: Vec<Finding>,
}

/// Checks one file with its libraries, with the usual limits.
///
/// # Errors
/// When `cancel` asks for it.
pub fn check(
    world: &dyn World,
    source: &keyon_circuit::Source,
    cancel: &dyn Cancel,
) -> Result<Checked, Cancelled> {
    check_with(world, source, &Settings::default(), cancel)
}

/// Checks one file with its libraries.
///
/// # Errors
/// When `cancel` asks for it.
pub fn check_with(
    world: &dyn World,
    source: &keyon_circuit::Source,
    settings: &Settings,
    cancel: &dyn Cancel,
) -> Result<Checked, Cancelled> {
    let elaboration = keyon_circuit::elaborate(world, source);
    let findings = findings(&elaboration, settings, cancel)?;
    Ok(Checked { elaboration, findings })
}

/// The findings of what is elaborated already.
///
/// # Errors
/// When `cancel` asks for it.
pub fn findings(
    elaboration: &Elaboration,
    settings: &Settings,
    cancel: &dyn Cancel,
) -> Result<Vec<Finding>, Cancelled> {
    let mut findings = Vec::new();
    for (file, source) in elaboration.files.iter().enumerate() {
        let errors = &source.parse.errors;
        findings.extend(errors.iter().map(|error| of_syntax(elaboration, file.into(), error)));
    }
    findings.extend(elaboration.problems.iter().map(of_problem));
    let facts = Facts::new(elaboration, settings, cancel);
    let context = Context { elaboration, circuit: &elaboration.circuit, settings, facts: &facts, cancel };
    for rule in rules::all() {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        (rule.check)(&context, &mut findings)?;
    }
    allow::apply(elaboration, &mut findings);
    sort(elaboration, &mut findings);
    Ok(findings)
}

/// By place, then by name; one finding once.
fn sort(elaboration: &Elaboration, findings: &mut Vec<Finding>) {
    findings.sort_by_cached_key(|f| {
        let span = elaboration.span(f.loc);
        (f.loc.file, span.start, span.end, f.rule, f.message.clone())
    });
    findings.dedup_by(|a, b| (a.rule, a.loc, &a.message) == (b.rule, b.loc, &b.message));
}

fn of_syntax(elaboration: &Elaboration, file: FileId, error: &SyntaxError) -> Finding {
    let place = |span| place(elaboration, file, span);
    let mut finding = rules::files::syntax::RULE.at(place(error.span), error.message.clone());
    finding.help.clone_from(&error.help);
    if let Some((title, span, text)) = &error.fix {
        finding.fixes.push(Fix {
            title: title.clone(),
            edits: vec![(place(*span), text.clone())],
            safe: true,
        });
    }
    finding
}

/// The place of absolute bytes: relative to the item in which they begin.
fn place(elaboration: &Elaboration, file: FileId, span: Span) -> Loc {
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

fn of_problem(problem: &Problem) -> Finding {
    let level = rules::find(problem.rule).map_or(Level::Error, Rule::level);
    Finding {
        rule: problem.rule,
        level,
        loc: problem.loc,
        message: problem.message.clone(),
        help: problem.help.clone(),
        related: problem.related.clone(),
        fixes: problem.fix.iter().cloned().collect(),
    }
}
