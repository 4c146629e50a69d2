//! Identities of findings that outlive edits elsewhere in the file: for baselines, and for what follows a finding over
//! the commits of a review.
//!
//! An identity is made of the rule, the file, and an *anchor*: the head of the statement in which the finding stands
//! (`wire 441`) with the text that is marked. Neither line nor column nor a computed value is in it, so that blank lines,
//! the formatter, a statement that moves and a volt more or less change nothing. Equal ones are numbered in order.

use super::Placed;
use std::collections::HashMap;
use xxhash_rust::xxh3::xxh3_128;

/// The anchor of bytes of a text: `head` is the statement's text, `marked` what the finding marks.
pub fn anchor(head: &str, marked: &str) -> String {
    let mut out = String::new();
    for word in head.split_whitespace().take(2) {
        out.push_str(word);
        out.push(' ');
    }
    out.push('|');
    // A mark over a whole body would change with every edit in it: its first line names it.
    for word in marked.lines().next().unwrap_or_default().split_whitespace() {
        out.push(' ');
        out.push_str(word);
    }
    out
}

/// Gives every finding its identity, from its anchor; `root` brings a shown file name to one that does not hang on
/// where the program was started.
pub fn number(findings: &mut [Placed], root: &dyn Fn(&str) -> String) {
    let mut seen: HashMap<u128, u32> = HashMap::new();
    for finding in findings {
        // Divided by a byte that stands in none of them.
        let text = format!("{}\0{}\0{}", finding.rule, root(&finding.at.file), finding.anchor);
        let mut hash = xxh3_128(text.as_bytes());
        let count = seen.entry(hash).or_insert(0);
        *count += 1;
        if *count > 1 {
            hash = xxh3_128(format!("{text}\0{count}").as_bytes());
        }
        finding.id = format!("{hash:032x}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reports::Place;
    use keyon_check::Level;

    fn finding(file: &str, line: usize, anchor: &str) -> Placed {
        Placed {
            rule: "no-feed-path".into(),
            level: Level::Error,
            message: format!("seen on line {line}"),
            help: None,
            at: Place { file: file.into(), line, column: 1, end_line: line, end_column: 2 },
            related: Vec::new(),
            fixes: Vec::new(),
            anchor: anchor.into(),
            id: String::new(),
        }
    }

    fn ids(mut findings: Vec<Placed>) -> Vec<String> {
        number(&mut findings, &|file| file.trim_start_matches("./").to_owned());
        findings.into_iter().map(|f| f.id).collect()
    }

    #[test]
    fn lines_and_messages_are_not_in_an_identity() {
        let before = ids(vec![finding("a", 3, "lamp L | L"), finding("a", 9, "wire 1 | 1")]);
        let after = ids(vec![finding("./a", 13, "lamp L | L"), finding("./a", 99, "wire 1 | 1")]);
        assert_eq!(before, after);
        assert_ne!(before[0], before[1]);
        assert_ne!(ids(vec![finding("b", 3, "lamp L | L")])[0], before[0]);
    }

    #[test]
    fn equal_ones_are_numbered() {
        let three = ids(vec![finding("a", 1, "x"), finding("a", 2, "x"), finding("a", 3, "x")]);
        assert_eq!(three[..2], ids(vec![finding("a", 5, "x"), finding("a", 6, "x")])[..]);
        let mut sorted = three.clone();
        sorted.sort();
        sorted.dedup();
        assert_eq!(sorted.len(), 3);
    }

    #[test]
    fn an_anchor_survives_the_formatter() {
        assert_eq!(anchor("wire  441\tleft.2 -> A", "0.75  mm2"), anchor("wire 441 left.2 -> B", "0.75 mm2"));
        assert_eq!(anchor("device x { a\n b }", "x {\n a"), "device x | x {");
        assert_eq!(anchor("", ""), "|");
    }
}
