//! The formatter's work as edits: only what changes is touched, so that cursors and marks stay.

use keyon_syntax::Span;

/// The edits that lay a text out; none if it is laid out already.
pub fn format(text: &str) -> Vec<(Span, String)> {
    edits(text, &keyon_syntax::fmt::format(text))
}

/// What turns one text into another: line by line where no line was added or taken away, else from the first difference to
/// the last.
pub fn edits(old: &str, new: &str) -> Vec<(Span, String)> {
    if old == new {
        return Vec::new();
    }
    let (old_lines, new_lines): (Vec<_>, Vec<_>) = (pieces(old), pieces(new));
    let same = |(a, b): &(&&str, &&str)| a == b;
    let head = old_lines.iter().zip(&new_lines).take_while(same).count();
    let rest = old_lines.len().min(new_lines.len()) - head;
    let tail = old_lines.iter().rev().zip(new_lines.iter().rev()).take(rest).take_while(same).count();
    let mut at: usize = old_lines.iter().take(head).map(|line| line.len()).sum();
    let old_middle = old_lines.get(head..old_lines.len() - tail).unwrap_or_default();
    let new_middle = new_lines.get(head..new_lines.len() - tail).unwrap_or_default();
    if old_middle.len() != new_middle.len() {
        let len: usize = old_middle.iter().map(|line| line.len()).sum();
        return vec![(Span::new(at, at + len), new_middle.concat())];
    }
    let mut edits = Vec::new();
    for (old, new) in old_middle.iter().zip(new_middle) {
        if old != new {
            edits.push((Span::new(at, at + old.len()), (*new).to_owned()));
        }
        at += old.len();
    }
    edits
}

/// Lines with their ends.
fn pieces(text: &str) -> Vec<&str> {
    text.split_inclusive('\n').collect()
}

/// The line break of a text.
pub(crate) fn newline(text: &str) -> &'static str {
    if text.contains("\r\n") { "\r\n" } else { "\n" }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn apply(text: &str, edits: &[(Span, String)]) -> String {
        let mut out = text.to_owned();
        for (span, new) in edits.iter().rev() {
            out.replace_range(span.range(), new);
        }
        out
    }

    #[test]
    fn touches_only_what_changes() {
        assert_eq!(edits("a\nb\nc\n", "a\nB\nc\n"), [(Span::new(2, 4), "B\n".into())]);
        assert_eq!(edits("a\nb\n", "a\n\nb\n"), [(Span::new(2, 2), "\n".into())]);
        assert_eq!(edits("a", "a\n"), [(Span::new(0, 1), "a\n".into())]);
        assert!(edits("a\n", "a\n").is_empty());
    }

    proptest! {
        #[test]
        fn edits_give_the_new_text(old in "[ab\r\n]{0,12}", new in "[ab\r\n]{0,12}") {
            prop_assert_eq!(apply(&old, &edits(&old, &new)), new);
        }
    }
}
