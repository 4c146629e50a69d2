//! `keyon check --fix` and `--diff`: the fixes that findings carry, made in the files or shown.

use crate::{
    args::{CheckArgs, Fixes},
    check::is_excluded,
    files,
    output::{self, Failure, Outcome},
    world::{Disk, finder, source_name},
};
use keyon_check::fix::{Mended, Which, mend};
use std::{
    collections::{BTreeMap, BTreeSet},
    io::Write,
    path::{Path, PathBuf},
};

/// What came of the files together.
#[derive(Default)]
struct Outcomes {
    /// New texts by the file they belong to, with the old ones.
    texts: BTreeMap<PathBuf, (String, String)>,
    /// `path:line: rule: what was done`, in the order of the files.
    made: Vec<String>,
    complaints: Vec<String>,
}

/// Mends the files in place and says what was done; complaints are out already. `check` goes on with what is left.
pub(crate) fn run(args: &CheckArgs, which: Fixes) -> Result<Outcome, Failure> {
    if args.paths.iter().any(|path| path.as_os_str() == files::STDIN) {
        return Err(Failure::Message(
            "standard input cannot be mended in place: use `--diff`, or name a file".to_owned(),
        ));
    }
    let mut outcomes = mend_all(args, which);
    for (path, (_, new)) in &outcomes.texts {
        if let Err(error) = write_whole(path, new) {
            outcomes.complaints.push(files::cannot("write", path, &error));
        }
    }
    for complaint in &outcomes.complaints {
        output::complain(complaint);
    }
    for line in &outcomes.made {
        output::complain(line);
    }
    Ok(if outcomes.complaints.is_empty() { Outcome::Sound } else { Outcome::Incomplete })
}

/// Prints what would be done as a unified diff, and changes nothing.
pub(crate) fn diff(args: &CheckArgs, which: Fixes) -> Result<Outcome, Failure> {
    let outcomes = mend_all(args, which);
    let mut text = String::new();
    for (path, (old, new)) in &outcomes.texts {
        let name = source_name(path, args.stdin_name.as_deref()).display().to_string();
        let diff = similar::TextDiff::from_lines(old, new);
        text.push_str(&diff.unified_diff().context_radius(2).header(&name, &name).to_string());
    }
    output::print(&text)?;
    for complaint in &outcomes.complaints {
        output::complain(complaint);
    }
    Ok(match (outcomes.complaints.is_empty(), outcomes.texts.is_empty()) {
        (false, _) => Outcome::Incomplete,
        (true, true) => Outcome::Sound,
        (true, false) => Outcome::Findings,
    })
}

/// One file after the other, for a library may be mended by way of several circuits.
fn mend_all(args: &CheckArgs, which: Fixes) -> Outcomes {
    let finder = finder();
    let found = files::find(&args.paths, &|file| is_excluded(&finder, file));
    let mut outcomes = Outcomes { complaints: found.complaints, ..Outcomes::default() };
    let key_of = |path: &Path| std::fs::canonicalize(path).ok().map(|real| real.display().to_string());
    let named: BTreeMap<String, &PathBuf> =
        found.files.iter().filter_map(|path| Some((key_of(path)?, path))).collect();
    // A text with bytes that are not UTF-8 would not come back as it was.
    let mut spoilt: BTreeSet<String> = BTreeSet::new();
    for (key, path) in &named {
        if std::fs::read(path).is_ok_and(|bytes| String::from_utf8(bytes).is_err()) {
            spoilt.insert(key.clone());
            outcomes
                .complaints
                .push(format!("`{}` is not UTF-8: left as it is; save it as UTF-8 first", path.display()));
        }
    }
    let stdin = |path: &Path| path.as_os_str() == files::STDIN;
    for path in &found.files {
        if key_of(path).is_some_and(|key| spoilt.contains(&key)) {
            continue;
        }
        if files::is_note(path) {
            outcomes.complaints.push(format!(
                "`{}` is a note: fixes are made in files of their own; an editor makes them in notes one by one",
                path.display()
            ));
            continue;
        }
        let known: BTreeMap<String, String> =
            outcomes.texts.iter().filter_map(|(path, (_, new))| Some((key_of(path)?, new.clone()))).collect();
        let world = Disk::with(known);
        let text = match outcomes.texts.get(path) {
            Some((_, new)) => new.clone(),
            None => match files::read(path) {
                Ok(text) => text,
                Err(Failure::Message(message)) => {
                    outcomes.complaints.push(message);
                    continue;
                }
                Err(Failure::Pipe) => continue,
            },
        };
        let content = world.named(&source_name(path, args.stdin_name.as_deref()), text.as_bytes());
        let source = content.source();
        let own = source.key.clone();
        let settings = finder.settings(Path::new(&content.key));
        let may_edit = |key: &str| key == own || (named.contains_key(key) && !spoilt.contains(key));
        let which = match which {
            Fixes::Safe => Which::Safe,
            Fixes::All => Which::All,
        };
        let mended = mend(&world, source, &settings, which, &may_edit, &keyon_solve::Never);
        let Ok(Mended { texts, made }) = mended else { continue };
        for (key, new) in texts {
            let file = if key == own { Some(path) } else { named.get(key.as_str()).copied() };
            let Some(file) = file else { continue };
            let old = match outcomes.texts.get(file) {
                Some((old, _)) => Some(old.clone()),
                None if stdin(file) => Some(text.clone()),
                None => files::read(file).ok(),
            };
            outcomes.texts.extend(old.map(|old| (file.clone(), (old, new.to_string()))));
        }
        for one in made {
            outcomes.made.push(format!(
                "{}:{}: {}: {}",
                world.shown(&one.file),
                one.line,
                one.rule,
                one.title
            ));
        }
    }
    outcomes.texts.retain(|_, (old, new)| old != new);
    outcomes
}

/// Writes a file so that it is never half written: beside it first, then into its place.
fn write_whole(path: &Path, text: &str) -> std::io::Result<()> {
    // Where the name is a link, the file behind it is meant.
    let path = std::fs::canonicalize(path)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let beside = folder.join(format!(".{name}.{}.new", std::process::id()));
    let written = (|| {
        let mut file = std::fs::File::create(&beside)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        std::fs::set_permissions(&beside, std::fs::metadata(&path)?.permissions())?;
        std::fs::rename(&beside, &path)
    })();
    if written.is_err() {
        let _ = std::fs::remove_file(&beside);
    }
    written
}
