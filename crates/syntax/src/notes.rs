//! Circuits in Markdown notes: fenced blocks whose info string begins with `keyon`.
//!
//! A circuit of a note is the note's own text with everything outside its blocks made blank, line breaks kept: every
//! byte offset, line and column in it is that in the note, so nothing has to be mapped back.

use std::ops::Range;

/// A circuit of a note.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoteCircuit {
    /// The word after `keyon` in the info string; else the name after `circuit` in the block; else empty.
    pub name: String,
    /// As long as the note, with only this circuit's blocks in it.
    pub text: String,
    /// The bytes of its blocks, fences not included.
    pub blocks: Vec<Range<usize>>,
}

/// The circuits of a note, in the order of their first blocks. Blocks of one name join; a block without a name and without
/// a `circuit` line goes on with the circuit before it.
pub fn circuits(note: &str) -> Vec<NoteCircuit> {
    let mut found: Vec<NoteCircuit> = Vec::new();
    for (name, range) in blocks(note) {
        let body = note.get(range.clone()).unwrap_or("");
        let own = name.or_else(|| circuit_line(body));
        let last = found.len().checked_sub(1);
        let same = own.as_ref().map_or(last, |name| found.iter().position(|c| c.name == *name));
        match same.and_then(|i| found.get_mut(i)) {
            Some(circuit) => circuit.blocks.push(range),
            None => found.push(NoteCircuit {
                name: own.unwrap_or_default(),
                text: String::new(),
                blocks: vec![range],
            }),
        }
    }
    for circuit in &mut found {
        circuit.text = mask(note, &circuit.blocks);
    }
    found
}

/// The note with everything blank: as many bytes and lines.
pub fn blank(note: &str) -> String {
    mask(note, &[])
}

/// The text with all outside the ranges blank.
fn mask(note: &str, keep: &[Range<usize>]) -> String {
    let mut out = String::with_capacity(note.len());
    for (at, c) in note.char_indices() {
        if c == '\n' || c == '\r' || keep.iter().any(|r| r.contains(&at)) {
            out.push(c);
        } else {
            // As many bytes as before; one blank each.
            out.extend(std::iter::repeat_n(' ', c.len_utf8()));
        }
    }
    out
}

/// Each fenced `keyon` block: its name, and where its lines are.
fn blocks(note: &str) -> Vec<(Option<String>, Range<usize>)> {
    struct Open {
        mark: char,
        long: usize,
        keyon: Option<Option<String>>,
        start: usize,
    }
    let mut found = Vec::new();
    let mut open: Option<Open> = None;
    let mut at = 0;
    for line in note.split_inclusive('\n') {
        let start = at;
        at += line.len();
        let body = line.trim_end_matches(['\n', '\r']);
        let inner = body.trim_start_matches(' ');
        let indent = body.len() - inner.len();
        let mark = inner.chars().next().filter(|c| matches!(c, '`' | '~'));
        let long = mark.map_or(0, |m| inner.chars().take_while(|c| *c == m).count());
        let is_fence = indent < 4 && long >= 3;
        match &open {
            None if is_fence => {
                let info = inner.get(long..).unwrap_or("").trim();
                let mark = mark.unwrap_or('`');
                // A backtick fence has no backtick in its info string.
                if mark == '`' && info.contains('`') {
                    continue;
                }
                let mut words = info.split_whitespace();
                let keyon = (words.next() == Some("keyon")).then(|| words.next().map(str::to_owned));
                open = Some(Open { mark, long, keyon, start: at });
            }
            Some(o) if is_fence && mark == Some(o.mark) && long >= o.long => {
                let rest = inner.get(long..).unwrap_or("");
                if rest.trim().is_empty()
                    && let Some(Open { keyon: Some(name), start: from, .. }) = open.take()
                {
                    found.push((name, from..start));
                }
            }
            _ => {}
        }
    }
    // A fence that is never closed runs to the end, as Markdown has it.
    if let Some(Open { keyon: Some(name), start, .. }) = open {
        found.push((name, start..note.len()));
    }
    found
}

/// The name after `circuit`, where a block's first statement is one.
fn circuit_line(body: &str) -> Option<String> {
    let line = body.lines().map(str::trim_start).find(|l| !l.is_empty() && !l.starts_with('#'))?;
    let rest = line.strip_prefix("circuit")?.strip_prefix([' ', '\t'])?;
    let name: String = rest.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
    (!name.is_empty()).then_some(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTE: &str = "# Ä note\n\n```keyon\ncircuit a\nsupply b 12 V\n```\ntext\n~~~keyon\nground G1\n~~~\n```keyon other\nsupply c 5 V\n```\n```rust\nfn x() {}\n```\n```keyon a\nsplice S1\n```\n";

    #[test]
    fn blocks_of_one_name_join_and_offsets_stay() {
        let all = circuits(NOTE);
        let names: Vec<&str> = all.iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names, ["a", "other"]);
        for circuit in &all {
            assert_eq!(circuit.text.len(), NOTE.len());
            for block in &circuit.blocks {
                assert_eq!(circuit.text[block.clone()], NOTE[block.clone()]);
            }
        }
        let words: Vec<&str> = all[0].text.split_whitespace().collect();
        assert_eq!(words.join(" "), "circuit a supply b 12 V ground G1 splice S1");
        assert_eq!(all[1].text.trim(), "supply c 5 V");
    }

    #[test]
    fn an_open_fence_runs_to_the_end_and_others_are_left_alone() {
        assert_eq!(circuits("```keyon\nsupply b 12 V").len(), 1);
        assert!(circuits("````\n```keyon\n```\n````\n").is_empty());
        assert!(circuits("    ```keyon\n").is_empty());
        assert!(circuits("```keyonic\nx\n```\n").is_empty());
    }
}
