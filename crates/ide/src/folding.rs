//! What can be folded: items and connectors that span lines, and runs of comment lines.

use keyon_circuit::Source;
use keyon_syntax::Span;

/// A stretch of lines that can be folded away.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fold {
    /// From the line that stays to the last line that goes.
    pub span: Span,
    /// A run of comments.
    pub comment: bool,
}

/// The folds of a file, in source order.
pub fn folds(source: &Source) -> Vec<Fold> {
    let mut folds = Vec::new();
    for placed in &source.parse.file.items {
        let item = &placed.item;
        folds.push(Fold { span: item.statement.moved(placed.start), comment: false });
        let Some(pinout) = item.kind.pinout() else { continue };
        let housings = pinout.housings.iter().map(|housing| housing.span);
        let gangs = pinout.gangs.iter().map(|gang| gang.span);
        folds.extend(
            housings.chain(gangs).map(|span| Fold { span: span.moved(placed.start), comment: false }),
        );
    }
    folds.extend(comments(&source.text));
    let one_line = |fold: &Fold| {
        let text = source.text.get(fold.span.range()).unwrap_or_default();
        !text.contains(['\n', '\r'])
    };
    folds.retain(|fold| !one_line(fold));
    folds.sort_by_key(|fold| (fold.span.start, std::cmp::Reverse(fold.span.end)));
    folds.dedup();
    folds
}

/// Runs of lines that begin with `#`.
fn comments(text: &str) -> Vec<Fold> {
    let mut runs: Vec<Fold> = Vec::new();
    let mut open = false;
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let trimmed = line.trim_start();
        let start = at + line.len() - trimmed.len();
        at += line.len();
        if !trimmed.starts_with('#') {
            open = false;
            continue;
        }
        let span = Span::new(start, start + trimmed.trim_end().len());
        match runs.last_mut().filter(|_| open) {
            Some(run) => run.span.end = span.end,
            None => runs.push(Fold { span, comment: true }),
        }
        open = true;
    }
    runs
}
