//! `--since REV`: the files that changed, and every file that uses one of them.

use super::run::{Checker, Wanted};
use crate::{files::STDIN, git::Repository, output::Failure, world::key_of};
use keyon_check::settings::FILE_NAME;
use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
};

const WHY: &str = "`--since`";

/// Marks which of the files are wanted.
pub(crate) fn select(
    checker: &Checker,
    files: Vec<PathBuf>,
    revision: &str,
) -> Result<Vec<(PathBuf, Wanted)>, Failure> {
    let repository = Repository::of(Path::new("."), WHY)?;
    let changed: BTreeSet<PathBuf> = repository
        .changed_since(revision, WHY)?
        .into_iter()
        // A link is what it leads to; what is gone keeps its name.
        .map(|path| PathBuf::from(key_of(&path)))
        .collect();
    // A settings file holds for the folder that it is in and those below; one that is gone did.
    let settings: Vec<&Path> = changed
        .iter()
        .filter(|p| p.file_name().is_some_and(|n| n == FILE_NAME))
        .filter_map(|p| p.parent())
        .collect();
    let uses = checker.uses(&files);
    let touched = |file: &PathBuf| {
        if file.as_os_str() == STDIN {
            return true;
        }
        let own = PathBuf::from(checker.disk.key(file));
        changed.contains(&own)
            || uses.get(file).is_some_and(|uses| uses.iter().any(|used| changed.contains(used)))
            || settings.iter().any(|folder| own.starts_with(folder))
    };
    Ok(files
        .into_iter()
        .map(|file| {
            let wanted = if touched(&file) { Wanted::All } else { Wanted::Says };
            (file, wanted)
        })
        .collect())
}
