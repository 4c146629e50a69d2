//! Findings for people: our own header, then the place in the text as ariadne draws it.

use ariadne::{Config, IndexType, Label, Report, ReportKind, Source};
use keyon_check::Level;
use keyon_present::{place::Lines, reports::Placed};
use std::collections::HashMap;

/// Lines longer than this are not drawn: the header says where.
const LONGEST_LINE: usize = 400;

/// The texts in which findings lie, ready to draw; by the name that is shown.
#[derive(Default)]
pub(crate) struct Texts {
    texts: HashMap<String, Text>,
}

struct Text {
    lines: Lines,
    source: Source<String>,
}

impl Texts {
    /// Adds a text under the name by which places call it.
    pub(crate) fn add(&mut self, name: &str, text: &str) {
        if !self.texts.contains_key(name) {
            let text = plain_lines(text);
            let lines = Lines::new(&text);
            self.texts.insert(name.to_owned(), Text { lines, source: Source::from(text) });
        }
    }
}

/// The same text, byte for byte as long, with no line ends but ours: ariadne would also break lines at form feeds
/// and the like, and its line numbers would not be the editor's.
fn plain_lines(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\x0B' | '\x0C' => out.push(' '),
            '\u{85}' => out.push_str("  "),
            '\u{2028}' | '\u{2029}' => out.push_str("   "),
            _ => out.push(c),
        }
    }
    out
}

/// The findings as text.
pub(crate) fn draw(findings: &[Placed], texts: &mut Texts, colour: bool) -> String {
    let mut out = String::new();
    for finding in findings {
        out.push_str(&header(finding, colour));
        out.push_str(&snippet(finding, texts, colour));
        if let Some(help) = &finding.help {
            out.push_str(&indented("help: ", help));
        }
        for (place, word) in &finding.related {
            let at = format!("{}:{}:{}: ", place.file, place.line, place.column);
            out.push_str(&indented(&at, word));
        }
        out.push('\n');
    }
    out
}

/// `path:line:column: error[rule]: message`.
fn header(finding: &Placed, colour: bool) -> String {
    let at = &finding.at;
    let level = finding.level.words();
    let (on, off) = match (colour, finding.level) {
        (false, _) => ("", ""),
        (true, Level::Error) => ("\x1b[1;31m", "\x1b[0m"),
        (true, Level::Warning) => ("\x1b[1;33m", "\x1b[0m"),
        (true, Level::Hint) => ("\x1b[1;36m", "\x1b[0m"),
    };
    let rule = &finding.rule;
    format!(
        "{}:{}:{}: {on}{level}[{rule}]{off}: {}\n",
        at.file,
        at.line,
        at.column,
        one_line(&finding.message)
    )
}

/// A message in one line, whatever it quotes.
fn one_line(text: &str) -> String {
    text.lines().map(str::trim_end).collect::<Vec<_>>().join(" ")
}

fn indented(label: &str, text: &str) -> String {
    let body = keyon_present::grid::wrap(&one_line(text), 100, 0);
    let mut out = String::new();
    for (number, line) in body.lines().enumerate() {
        let lead = if number == 0 { label } else { "" };
        let pad = if number == 0 { 0 } else { label.chars().count().min(8) };
        out.push_str(&format!("  {lead}{}{line}\n", " ".repeat(pad)));
    }
    out
}

/// The line with the place marked; nothing where it cannot be drawn.
fn snippet(finding: &Placed, texts: &mut Texts, colour: bool) -> String {
    let Some(text) = texts.texts.get(&finding.at.file) else { return String::new() };
    let whole = text.source.text();
    let range = text.lines.range(finding.at.line);
    let Some(line) = whole.get(range.clone()) else { return String::new() };
    if line.len() > LONGEST_LINE || line.trim().is_empty() {
        return String::new();
    }
    let byte = |column: usize| {
        let inside = line.char_indices().nth(column.saturating_sub(1)).map_or(line.len(), |(at, _)| at);
        range.start + inside
    };
    let start = byte(finding.at.column);
    // What goes on below is marked to the end of its first line.
    let end = if finding.at.end_line == finding.at.line {
        byte(finding.at.end_column)
    } else {
        range.start + line.trim_end().len()
    };
    let end = end.max(start);
    let colour_of = match finding.level {
        Level::Error => ariadne::Color::Red,
        Level::Warning => ariadne::Color::Yellow,
        Level::Hint => ariadne::Color::Cyan,
    };
    let config = Config::new().with_color(colour).with_index_type(IndexType::Byte).with_compact(true);
    let label = Label::new(start..end).with_color(colour_of).with_message("here");
    let report = Report::build(ReportKind::Error, start..end).with_config(config).with_label(label).finish();
    let mut drawn = Vec::new();
    if report.write_for_stdout(&text.source, &mut drawn).is_err() {
        return String::new();
    }
    // The first two lines are ariadne's own header; ours stands already. Its closing line says nothing.
    let drawn = String::from_utf8_lossy(&drawn);
    let kept: Vec<&str> = drawn.lines().skip(2).filter(|line| !line.trim().is_empty()).collect();
    let mut out = String::new();
    for line in kept {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use keyon_present::reports::Place;

    fn finding(line: usize, column: usize, end_line: usize, end_column: usize) -> Placed {
        Placed {
            rule: "no-feed-path".into(),
            level: Level::Error,
            message: "no feed".into(),
            help: Some("give it one".into()),
            at: Place { file: "a.keyon".into(), line, column, end_line, end_column },
            related: vec![(
                Place { file: "b.keyon".into(), line: 2, column: 1, end_line: 2, end_column: 2 },
                "first here".into(),
            )],
            fixes: Vec::new(),
            anchor: String::new(),
            id: String::new(),
        }
    }

    fn shown(text: &str, finding: Placed) -> String {
        let mut texts = Texts::default();
        texts.add("a.keyon", text);
        draw(&[finding], &mut texts, false)
    }

    #[test]
    fn a_finding_has_our_header_and_its_line() {
        insta::assert_snapshot!(shown("wire 1 ä -> b\nlamp L\n", finding(1, 8, 1, 9)));
        insta::assert_snapshot!(shown("lamp L\n  1\r\n}", finding(1, 1, 3, 2)));
    }

    #[test]
    fn odd_line_ends_do_not_shift_lines() {
        let text = "a\u{0c}b\u{2028}c\nlamp L\n";
        let drawn = shown(text, finding(2, 6, 2, 7));
        assert!(drawn.contains("2 │lamp L"), "{drawn}");
    }

    #[test]
    fn places_beyond_the_text_are_drawn_without_panic() {
        for (line, column) in [(9, 9), (1, 99), (2, 1), (3, 1)] {
            let drawn = shown("\u{feff}lamp ä\n\n", finding(line, column, line, column + 5));
            assert!(drawn.starts_with("a.keyon:"), "{drawn}");
        }
    }
}
