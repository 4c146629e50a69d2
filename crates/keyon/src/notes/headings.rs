//! Headings: those of an answer stand one level below the one in the note that it stands under. And what a drawing is called.

use super::{BEGIN, END};

/// The lines of Markdown that are no code, each with its level if it is a heading.
fn outside_code(text: &str) -> impl Iterator<Item = (&str, Option<usize>)> {
    let mut fence: Option<char> = None;
    text.split_inclusive('\n').map(move |line| {
        let start = line.trim_start();
        let mark = ['`', '~'].into_iter().find(|c| start.starts_with(&c.to_string().repeat(3)));
        match (fence, mark) {
            (None, Some(mark)) => fence = Some(mark),
            (Some(open), Some(mark)) if open == mark => fence = None,
            (None, None) => return (line, level(line)),
            _ => {}
        }
        (line, None)
    })
}

/// The level of a heading: `## Lamp` has two.
fn level(line: &str) -> Option<usize> {
    let marks = line.bytes().take_while(|b| *b == b'#').count();
    let rest = line.get(marks..)?;
    ((1..=6).contains(&marks) && (rest.trim().is_empty() || rest.starts_with([' ', '\t']))).then_some(marks)
}

/// The level of the note's own heading that a place stands under; 0 where there is none.
pub(super) fn level_at(note: &str, offset: usize) -> usize {
    let mut found = 0;
    let mut filled = false;
    let mut before = "";
    for (line, level) in outside_code(note.get(..offset).unwrap_or(note)) {
        let underline = |c: char| !line.trim().is_empty() && line.trim().chars().all(|l| l == c);
        // What fills another region is not the note's own.
        if line.contains(BEGIN) {
            filled = true;
        } else if line.contains(END) {
            filled = false;
        } else if let Some(level) = level.filter(|_| !filled) {
            found = level;
        } else if !filled && !before.trim().is_empty() && underline('=') {
            found = 1;
        }
        before = line;
    }
    found
}

/// An answer with its highest headings one level below `level`.
pub(super) fn nested(answer: &str, level: usize) -> String {
    let highest = outside_code(answer).filter_map(|(_, level)| level).min();
    let Some(highest) = highest.filter(|_| level > 0) else { return answer.to_owned() };
    let moved = outside_code(answer).map(|(line, own)| match own {
        Some(own) => {
            let to = (own + level + 1 - highest).min(6);
            format!("{}{}", "#".repeat(to), line.get(own..).unwrap_or_default())
        }
        None => line.to_owned(),
    });
    moved.collect()
}

/// What a drawing shows, for who cannot see it: its title says circuit and state.
pub(super) fn alt_text(svg: &str, words: &[String]) -> String {
    let title = svg.split_once("<title>").and_then(|(_, rest)| rest.split_once("</title>"));
    let title = title.map_or("", |(title, _)| title);
    let title = title.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&");
    let view = words.iter().skip_while(|word| *word != "--view").nth(1);
    let view = view.map_or_else(String::new, |view| format!(", {view} view"));
    keyon_present::grid::escape_markdown(&format!("Circuit diagram of {title}{view}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_stand_below_the_one_above_them() {
        let note = "# Note\n\n```\n# code\n```\n\n## Sheet\n\n<!-- keyon: sheet -->\n\n#### Old\n\n<!-- keyon end -->\n\nHere";
        assert_eq!(level_at(note, note.len()), 2);
        assert_eq!(level_at("Note\n====\n\nHere", 14), 1);
        assert_eq!(level_at("#no heading\n", 12), 0);
        assert_eq!(nested("# A\n\n## 1. B\n\n```\n# c\n```\n", 2), "### A\n\n#### 1. B\n\n```\n# c\n```\n");
        assert_eq!(nested("### A\n", 1), "## A\n");
        assert_eq!(nested("## A\n", 0), "## A\n");
        assert_eq!(nested("##### A\n###### B\n", 6), "###### A\n###### B\n");
    }

    #[test]
    fn a_drawing_says_what_it_shows() {
        let words = ["--in", "lit", "--view", "plain"].map(str::to_owned);
        let svg = "<svg><title>Yard &lt;b&gt;: Lit</title></svg>";
        assert_eq!(alt_text(svg, &words), "Circuit diagram of Yard &lt;b>: Lit, plain view");
    }
}
