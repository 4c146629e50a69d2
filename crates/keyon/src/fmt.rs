//! `keyon fmt`.

use crate::{
    args::FmtArgs,
    files,
    output::{self, Failure, Outcome},
};
use std::path::Path;

pub(crate) fn run(args: &FmtArgs) -> Result<Outcome, Failure> {
    let found = files::find(&args.paths, &|_| false);
    let mut outcome = if found.complaints.is_empty() { Outcome::Sound } else { Outcome::Incomplete };
    for complaint in &found.complaints {
        output::complain(complaint);
    }
    let mut changed = Vec::new();
    for path in &found.files {
        match one(path, args.check) {
            Ok(true) => changed.push(path.display().to_string()),
            Ok(false) => {}
            Err(Failure::Message(message)) => {
                output::complain(&message);
                outcome = Outcome::Incomplete;
            }
            Err(Failure::Pipe) => return Err(Failure::Pipe),
        }
    }
    let from_stdin = found.files.iter().any(|file| file.as_os_str() == files::STDIN);
    if args.check {
        let mut text = String::new();
        for path in &changed {
            text.push_str(&format!("{path}: not formatted\n"));
        }
        text.push_str(&counted(found.files.len(), changed.len(), "would be formatted"));
        output::print(&text)?;
        if !changed.is_empty() {
            outcome = outcome.max(Outcome::Findings);
        }
    } else if !from_stdin {
        output::print(&counted(found.files.len(), changed.len(), "formatted"))?;
    }
    Ok(outcome)
}

fn counted(files: usize, changed: usize, verb: &str) -> String {
    let files = if files == 1 { "1 file".to_owned() } else { format!("{files} files") };
    if changed == 0 {
        format!("{files}: all formatted already\n")
    } else {
        format!("{files}: {changed} {verb}\n")
    }
}

/// Whether the file's text is not in its canonical layout; mends that unless only checking.
fn one(path: &Path, check: bool) -> Result<bool, Failure> {
    let stdin = path.as_os_str() == files::STDIN;
    let text = if stdin {
        files::read(path)?
    } else {
        // What is not UTF-8 must not come back changed: leave such a file alone.
        let bytes = std::fs::read(path).map_err(|error| files::cannot("read", path, &error))?;
        String::from_utf8(bytes).map_err(|_| {
            format!("`{}` is not UTF-8: left as it is; save it as UTF-8 first", path.display())
        })?
    };
    let formatted = if files::is_note(path) { note(&text) } else { keyon_syntax::fmt::format(&text) };
    if stdin && !check {
        output::print(&formatted)?;
        return Ok(false);
    }
    if formatted == text {
        return Ok(false);
    }
    if !check {
        std::fs::write(path, formatted).map_err(|error| files::cannot("write", path, &error))?;
    }
    Ok(true)
}

/// A note with its circuits' blocks in their canonical layout, everything else as it is.
fn note(text: &str) -> String {
    let circuits = keyon_syntax::notes::circuits(text);
    let mut blocks: Vec<_> = circuits.iter().flat_map(|circuit| &circuit.blocks).cloned().collect();
    blocks.sort_by_key(|block| block.start);
    let mut out = String::with_capacity(text.len());
    let mut done = 0;
    for block in blocks {
        out.push_str(text.get(done..block.start).unwrap_or_default());
        out.push_str(&keyon_syntax::fmt::format(text.get(block.clone()).unwrap_or_default()));
        done = block.end;
    }
    out.push_str(text.get(done..).unwrap_or_default());
    out
}
