//! The edits that findings offer to mend themselves.

use keyon_check::Finding;
use keyon_circuit::{Elaboration, model::Loc};
use keyon_syntax::Span;

/// An edit that mends a finding.
#[derive(Clone, Debug)]
pub struct Action {
    /// What it does.
    pub title: String,
    /// The rule that it satisfies.
    pub rule: &'static str,
    /// Where the finding stands.
    pub finding: Span,
    /// Replacements, not overlapping; perhaps in several files.
    pub edits: Vec<(Loc, String)>,
    /// Safe to make without a look.
    pub safe: bool,
}

/// What mends the findings that touch a range of the checked file, in the findings' order.
pub fn actions(elaboration: &Elaboration, findings: &[Finding], range: Span) -> Vec<Action> {
    let mut actions = Vec::new();
    for finding in findings.iter().filter(|finding| finding.loc.file.index() == 0) {
        let span = elaboration.span(finding.loc);
        if span.start > range.end || range.start > span.end {
            continue;
        }
        for fix in &finding.fixes {
            // An edit of a built-in part can be made nowhere, and a part of a fix is none.
            let editable = fix.edits.iter().all(|(loc, _)| {
                elaboration
                    .files
                    .get(loc.file.index())
                    .is_some_and(|file| loc.file.index() == 0 || file.key.contains(['/', '\\', ':']))
            });
            if editable {
                actions.push(Action {
                    title: fix.title.clone(),
                    rule: finding.rule,
                    finding: span,
                    edits: fix.edits.clone(),
                    safe: fix.safe,
                });
            }
        }
    }
    actions
}
