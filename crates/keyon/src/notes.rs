//! `keyon notes`: the marked regions of Markdown notes, filled with what the circuits in the same note give.
//!
//! A region is `<!-- keyon: table --of lamp -->` … `<!-- keyon end -->`: the words of a command without its file. The
//! circuit is the last one whose first block stands above the region. Each region is answered by this very program, asked
//! with the note's circuit on standard input, so that a region can never say other than the command.

mod headings;

use crate::{
    args::NotesArgs,
    files,
    output::{self, Failure, Outcome},
};
use keyon_syntax::notes::{NoteCircuit, circuits};
use std::{
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

const BEGIN: &str = "<!-- keyon:";
const END: &str = "<!-- keyon end -->";

/// The commands that a region may ask, and the format that fits a note.
const COMMANDS: [(&str, &[&str]); 8] = [
    ("table", &["--format", "markdown"]),
    ("pinout", &["--format", "markdown"]),
    ("probe", &["--format", "markdown"]),
    ("sheet", &["--format", "markdown"]),
    ("sweep", &["--format", "markdown"]),
    ("state", &[]),
    ("trace", &[]),
    ("draw", &[]),
];

pub(crate) fn run(args: &NotesArgs) -> Result<Outcome, Failure> {
    let mut outcome = Outcome::Sound;
    for path in &args.files {
        let bytes = files::read_bytes(path)?;
        let text = String::from_utf8(bytes)
            .map_err(|_| format!("`{}` is not UTF-8: nothing is changed", path.display()))?;
        let mut filled = Filler::new(path, &text).fill()?;
        // A circuit that is asked several times is doubtful once.
        let mut known = std::collections::BTreeSet::new();
        filled.warnings.retain(|warning| known.insert(warning.clone()));
        for warning in &filled.warnings {
            output::complain(warning);
            outcome = Outcome::Findings;
        }
        let stale = filled.text != text || filled.drawings.iter().any(|(path, svg)| !is_current(path, svg));
        if !args.write {
            if stale {
                for line in &filled.stale {
                    output::complain(&format!(
                        "{}:{line}: the region is not what the circuit gives now",
                        path.display()
                    ));
                }
                outcome = Outcome::Findings;
            }
            continue;
        }
        for (path, svg) in &filled.drawings {
            if !is_current(path, svg) {
                output::deliver(Some(path), svg.as_bytes())?;
            }
        }
        if filled.text != text {
            output::deliver(Some(path), filled.text.as_bytes())?;
        }
    }
    Ok(outcome)
}

fn is_current(path: &Path, text: &str) -> bool {
    std::fs::read(path).is_ok_and(|bytes| bytes == text.as_bytes())
}

/// A note with its regions filled.
struct Filled {
    text: String,
    /// Drawings that stand beside the note.
    drawings: Vec<(PathBuf, String)>,
    /// What commands had to say of circuits that could not be read in full.
    warnings: Vec<String>,
    /// The lines of the regions that were other.
    stale: Vec<usize>,
}

struct Filler<'a> {
    path: &'a Path,
    text: &'a str,
    circuits: Vec<NoteCircuit>,
}

impl<'a> Filler<'a> {
    fn new(path: &'a Path, text: &'a str) -> Self {
        Self { path, text, circuits: circuits(text) }
    }

    fn fill(&self) -> Result<Filled, Failure> {
        let mut filled = Filled {
            text: String::with_capacity(self.text.len()),
            drawings: Vec::new(),
            warnings: Vec::new(),
            stale: Vec::new(),
        };
        let newline = if self.text.contains("\r\n") { "\r\n" } else { "\n" };
        let mut rest = self.text;
        while let Some(begin) = rest.find(BEGIN) {
            let offset = self.text.len() - rest.len() + begin;
            let line = self.text.get(..offset).map_or(0, |t| t.matches('\n').count()) + 1;
            let here =
                |message: String| Failure::Message(format!("{}:{line}: {message}", self.path.display()));
            let after = rest.get(begin + BEGIN.len()..).unwrap_or("");
            let close = after.find("-->").ok_or_else(|| here("the region's mark has no `-->`".to_owned()))?;
            let words = after.get(..close).unwrap_or("").trim();
            let body = after.get(close + 3..).unwrap_or("");
            let end = body.find(END).ok_or_else(|| here(format!("the region has no `{END}`")))?;
            if body.get(..end).is_some_and(|inside| inside.contains(BEGIN)) {
                return Err(here(format!("the region has no `{END}` before the next one begins")));
            }
            let old = body.get(..end).unwrap_or("");
            let answer = self.answer(words, offset, &mut filled).map_err(here)?;
            let new = format!("\n\n{}\n\n", answer.trim()).replace('\n', newline);
            if new != old {
                filled.stale.push(line);
            }
            filled.text.push_str(rest.get(..begin + BEGIN.len() + close + 3).unwrap_or(""));
            filled.text.push_str(&new);
            filled.text.push_str(END);
            rest = body.get(end + END.len()..).unwrap_or("");
        }
        filled.text.push_str(rest);
        Ok(filled)
    }

    /// What a region says.
    fn answer(&self, words: &str, offset: usize, filled: &mut Filled) -> Result<String, String> {
        let drawings = &mut filled.drawings;
        let mut words = split(words)?;
        if words.is_empty() {
            return Err("the region asks nothing: write a command, like `table --of lamp`".to_owned());
        }
        let command = words.remove(0);
        let Some((_, extra)) = COMMANDS.iter().find(|(name, _)| *name == command) else {
            let names: Vec<&str> = COMMANDS.iter().map(|c| c.0).collect();
            return Err(format!("`{command}` cannot stand in a region: {}", names.join(", ")));
        };
        if words.iter().any(|w| w == "-o" || w.starts_with("--output") || w == "--key") {
            return Err(
                "a region writes nothing elsewhere, and no key: leave out -o, --output and --key".to_owned()
            );
        }
        let mut above = self.circuits.iter().filter(|c| c.blocks.first().is_some_and(|b| b.start < offset));
        let circuit = above.next_back().or(self.circuits.first()).ok_or("the note has no ```keyon block")?;
        let formatted = words.iter().any(|w| w.starts_with("--format"));
        let mut child = Command::new(std::env::current_exe().map_err(|e| e.to_string())?);
        // The note as it is on disk; which of its circuits only where it has several.
        let mut file = self.path.as_os_str().to_owned();
        if self.circuits.len() > 1 {
            file.push(format!("#{}", circuit.name));
        }
        child.arg(&command).arg(file).args(&words);
        if !formatted {
            child.args(*extra);
        }
        let stem = self.path.file_stem().map_or_else(String::new, |s| s.to_string_lossy().into_owned());
        let name = format!("{stem}-{}", drawings.len() + 1);
        // A sheet is marked on its drawing, which it writes beside itself: here, beside the note.
        let sheet = (command == "sheet" && !formatted).then(Beside::new).transpose()?;
        if let Some(sheet) = &sheet {
            child.arg("-o").arg(sheet.0.join(format!("{name}.md")));
        }
        let done = child.stdin(Stdio::null()).output().map_err(|e| e.to_string())?;
        let said = String::from_utf8_lossy(&done.stderr);
        if !matches!(done.status.code(), Some(0 | 1)) {
            let first = said.lines().find(|l| !l.trim().is_empty()).unwrap_or("the command failed");
            return Err(first.trim_start_matches("keyon: ").trim_start_matches("error: ").to_owned());
        }
        let doubts = said.lines().map(|line| line.trim_start_matches("keyon: ").to_owned());
        filled.warnings.extend(doubts.filter(|line| !line.trim().is_empty()));
        let mut text = String::from_utf8_lossy(&done.stdout).into_owned();
        let drawing = self.path.with_file_name(format!("{name}.svg"));
        if let Some(sheet) = &sheet {
            let read = |ending: &str| std::fs::read_to_string(sheet.0.join(format!("{name}.{ending}")));
            text = read("md").map_err(|e| e.to_string())?;
            drawings.push((drawing, read("svg").map_err(|e| e.to_string())?));
        } else if command == "draw" {
            let figure = format!("![{}](<{name}.svg>)", headings::alt_text(&text, &words));
            drawings.push((drawing, text));
            return Ok(figure);
        }
        if extra.is_empty() && !formatted {
            return Ok(format!("```text\n{}\n```", text.trim_end()));
        }
        Ok(headings::nested(&text, headings::level_at(self.text, offset)))
    }
}

/// A folder of our own, for what a command writes in two files; it goes when it is done with.
struct Beside(PathBuf);

impl Beside {
    fn new() -> Result<Self, String> {
        let folder = std::env::temp_dir().join(format!("keyon-notes-{}", std::process::id()));
        std::fs::create_dir_all(&folder).map_err(|e| e.to_string())?;
        Ok(Self(folder))
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        _ = std::fs::remove_dir_all(&self.0);
    }
}

/// The words of a command line: blanks part them, quotes hold them together.
fn split(text: &str) -> Result<Vec<String>, String> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quote: Option<char> = None;
    for c in text.chars() {
        match (quote, c) {
            (Some(q), c) if c == q => quote = None,
            (Some(_), c) => word.get_or_insert_default().push(c),
            (None, '\'' | '"') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, c) if c.is_whitespace() => words.extend(word.take()),
            (None, c) => word.get_or_insert_default().push(c),
        }
    }
    if quote.is_some() {
        return Err("a quote is not closed".to_owned());
    }
    words.extend(word);
    Ok(words)
}

#[cfg(test)]
mod tests {
    use super::split;

    #[test]
    fn words_are_parted_by_blanks_and_held_by_quotes() {
        let words = split("table --set 'left_cmd=on 40 %'  --of \"a b\" ''").unwrap_or_default();
        assert_eq!(words, ["table", "--set", "left_cmd=on 40 %", "--of", "a b", ""]);
        assert!(split("'open").is_err());
    }
}
