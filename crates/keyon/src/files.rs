//! Which files are meant, and what is in them.

use crate::output::Failure;
use keyon_circuit::hash::Set;
use std::{
    io::Read,
    path::{Path, PathBuf},
};
use xxhash_rust::xxh3::xxh3_128;

/// What stands for standard input.
pub(crate) const STDIN: &str = "-";

/// The ending of circuits and parts libraries.
pub(crate) const ENDING: &str = "keyon";

/// Whether a file is a Markdown note, by its ending: its circuits stand in fenced blocks.
pub(crate) fn is_note(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case("md") || e.eq_ignore_ascii_case("markdown"))
}

/// A file, and which of the circuits of a note is meant: `pump.md#left`. A file of just that name comes first.
pub(crate) fn part_of(path: &Path) -> (PathBuf, Option<String>) {
    let split = path.to_str().and_then(|text| text.rsplit_once('#'));
    match split.filter(|(note, _)| is_note(Path::new(note)) && !path.exists()) {
        Some((note, part)) => (PathBuf::from(note), Some(part.to_owned())),
        None => (path.to_owned(), None),
    }
}

/// Files in the order in which they were named, those of a folder sorted, each once; and what went wrong.
#[derive(Debug, Default)]
pub(crate) struct Found {
    pub(crate) files: Vec<PathBuf>,
    /// The canonical path of each of `files`; an empty one for standard input.
    pub(crate) keys: Vec<PathBuf>,
    pub(crate) complaints: Vec<String>,
}

/// Finds the files that the paths name. Hidden folders and links to folders are passed over, and of what is in a folder
/// whatever `excluded` says of a canonical path.
pub(crate) fn find(paths: &[PathBuf], excluded: &dyn Fn(&Path) -> bool) -> Found {
    let mut found = Found::default();
    // By a name that no two paths share: a large library is found sooner so than with all its paths kept twice.
    let mut known: Set<u128> = Set::default();
    let mut is_new = |path: &Path| known.insert(xxh3_128(path.as_os_str().as_encoded_bytes()));
    for path in paths {
        if path.as_os_str() == STDIN {
            if is_new(path) {
                found.files.push(path.clone());
                found.keys.push(PathBuf::new());
            }
            continue;
        }
        let mut files = match std::fs::metadata(path) {
            // One circuit of a note.
            Err(_) if part_of(path).1.is_some() && part_of(path).0.is_file() => vec![with_key(path)],
            Err(error) => {
                found.complaints.push(cannot("read", path, &error));
                continue;
            }
            Ok(meta) if meta.is_dir() => in_folder(path, &mut found.complaints),
            Ok(_) => vec![with_key(path)],
        };
        if files.is_empty() {
            found.complaints.push(format!(
                "no *.{ENDING} file in `{}`: name a file, or a folder that holds some",
                path.display()
            ));
        }
        if path.is_dir() {
            files.retain(|(_, key)| !excluded(key));
        }
        for (file, key) in files {
            if is_new(&key) {
                found.keys.push(key);
                found.files.push(file);
            }
        }
    }
    found
}

/// A file and its canonical path.
fn with_key(path: &Path) -> (PathBuf, PathBuf) {
    (path.to_owned(), PathBuf::from(crate::world::key_of(path)))
}

/// All files of our ending in a folder and those below, with their canonical paths, sorted by their paths. A folder is
/// made canonical once, not each of its files: most of the time that a large, unchanged library takes was that.
fn in_folder(folder: &Path, complaints: &mut Vec<String>) -> Vec<(PathBuf, PathBuf)> {
    let mut files = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        let real = std::fs::canonicalize(&folder);
        let entries = match std::fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) => {
                complaints.push(cannot("read the folder", &folder, &error));
                continue;
            }
        };
        for entry in entries.flatten() {
            let name = entry.file_name();
            let bytes = name.as_encoded_bytes();
            match entry.file_type() {
                Ok(kind) if kind.is_dir() && !bytes.starts_with(b".") => folders.push(entry.path()),
                Ok(kind) if kind.is_dir() || !has_our_ending(bytes) => {}
                Ok(kind) if kind.is_file() => files.push(match &real {
                    Ok(real) => (entry.path(), real.join(name)),
                    Err(_) => with_key(&entry.path()),
                }),
                // A link to a file counts, one to a folder could lead in a circle.
                Ok(_) if entry.path().is_file() => files.push(with_key(&entry.path())),
                _ => {}
            }
        }
    }
    // In the order of paths, name by name, which is that of their bytes with a separator before every other.
    files.sort_by_cached_key(|(path, _)| {
        let bytes = path.as_os_str().as_encoded_bytes().iter();
        bytes.map(|&byte| if std::path::is_separator(byte.into()) { 0 } else { byte }).collect::<Vec<u8>>()
    });
    files
}

/// Whether a file's name ends as those of circuits do; what has no more than the ending has none.
fn has_our_ending(name: &[u8]) -> bool {
    let stem = name.strip_suffix(ENDING.as_bytes()).and_then(|stem| stem.strip_suffix(b"."));
    stem.is_some_and(|stem| !stem.is_empty())
}

/// A file's text, or standard input's. Bytes that are not UTF-8 are replaced.
pub(crate) fn read(path: &Path) -> Result<String, Failure> {
    Ok(match String::from_utf8(read_bytes(path)?) {
        Ok(text) => text,
        Err(error) => String::from_utf8_lossy(error.as_bytes()).into_owned(),
    })
}

/// What is in a file, or comes in by standard input.
pub(crate) fn read_bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let result = if path.as_os_str() == STDIN {
        std::io::stdin().lock().read_to_end(&mut bytes).map(|_| ())
    } else {
        std::fs::read(path).map(|read| bytes = read)
    };
    match result {
        Ok(()) => Ok(bytes),
        Err(error) => Err(Failure::Message(cannot("read", path, &error))),
    }
}

/// What to say where a file cannot be read or written.
pub(crate) fn cannot(what: &str, path: &Path, error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    let path = path.display();
    match error.kind() {
        ErrorKind::NotFound => format!("cannot {what} `{path}`: there is no such file or folder"),
        ErrorKind::PermissionDenied => format!("cannot {what} `{path}`: permission denied"),
        _ => format!("cannot {what} `{path}`: {error}"),
    }
}
