//! The entries of one folder of a library in one file.
//!
//! A line with the program, then for each entry a line with its checksum and the lengths of its three parts: the path of
//! the file that it is about, what came of that file, what the file says of wires and cavities. The checksum is over the
//! lengths and the parts. Whatever cannot be read is as if it were not there.

use super::hex;
use std::{
    collections::{BTreeMap, HashMap},
    fs,
    hash::{BuildHasher, RandomState},
    ops::Range,
    path::Path,
};
use xxhash_rust::xxh3::Xxh3;

/// What is kept of one file.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Kept {
    /// What came of it.
    pub(super) head: String,
    /// What it says of wires and cavities.
    pub(super) says: String,
}

/// The bytes of a shelf, and where in them each entry is.
#[derive(Debug, Default)]
pub(super) struct Shelf {
    text: String,
    /// Header and parts, by the path of the file.
    entries: HashMap<String, Placed>,
}

#[derive(Clone, Debug)]
struct Placed {
    sum: Range<usize>,
    /// From the lengths to the end.
    all: Range<usize>,
    head: Range<usize>,
    says: Range<usize>,
}

impl Shelf {
    /// Reads a shelf that this very program wrote; empty where there is none.
    pub(super) fn read(path: &Path, program: &str) -> Self {
        let text = fs::read(path).ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default();
        Self::of(text, program)
    }

    fn of(text: String, program: &str) -> Self {
        let mut entries = HashMap::new();
        let Some((first, _)) = text.split_once('\n').filter(|(first, _)| *first == program) else {
            return Self::default();
        };
        let mut at = first.len() + 1;
        // Spoilt lengths end it: what is behind them cannot be found.
        while let Some((placed, path)) = placed(&text, at) {
            at = placed.all.end;
            entries.insert(path.to_owned(), placed);
        }
        Self { text, entries }
    }

    /// What is kept of a file, if it is whole: what came of it, what it says.
    pub(super) fn find(&self, path: &str) -> Option<(&str, &str)> {
        let placed = self.entries.get(path)?;
        let part = |range: &Range<usize>| self.text.get(range.clone());
        let whole = part(&placed.all)?;
        (part(&placed.sum)? == sum(whole)).then_some(())?;
        Some((part(&placed.head)?, part(&placed.says)?))
    }

    /// Writes a shelf anew: `new`, and those that are there of other files that are there as well.
    pub(super) fn write(path: &Path, program: &str, new: &BTreeMap<String, Kept>) {
        // Read again: another process may have written since.
        let old = Self::read(path, program);
        let mut text = format!("{program}\n");
        let mut others: Vec<(&String, &Placed)> = old
            .entries
            .iter()
            .filter(|(file, _)| !new.contains_key(*file) && Path::new(file).exists())
            .collect();
        others.sort_by_key(|(_, placed)| placed.sum.start);
        for (file, placed) in others {
            if old.find(file).is_some() {
                text.push_str(old.text.get(placed.sum.start..placed.all.end).unwrap_or_default());
            }
        }
        for (file, kept) in new {
            let Kept { head, says } = kept;
            let all = format!("{} {} {}\n{file}{head}{says}", file.len(), head.len(), says.len());
            text.push_str(&sum(&all));
            text.push(' ');
            text.push_str(&all);
        }
        put(path, text.as_bytes());
    }
}

/// The entry that begins at a place, and the path of its file.
fn placed(text: &str, at: usize) -> Option<(Placed, &str)> {
    let line = text.get(at..)?.split_once('\n')?.0;
    let (sum, lengths) = line.split_once(' ')?;
    let mut lengths = lengths.split(' ').map(|length| length.parse::<usize>().ok());
    let (path, head, says) = (lengths.next()??, lengths.next()??, lengths.next()??);
    let start = at + line.len() + 1;
    let head = start.checked_add(path)?..start.checked_add(path)?.checked_add(head)?;
    let says = head.end..head.end.checked_add(says)?;
    let file = text.get(start..head.start)?;
    text.get(says.clone())?;
    let sum = at..at + sum.len();
    Some((Placed { all: sum.end + 1..says.end, sum, head, says }, file))
}

fn sum(all: &str) -> String {
    let mut hasher = Xxh3::new();
    hasher.update(all.as_bytes());
    hex(hasher.digest128())
}

/// Writes to a file of one's own that is then renamed. A folder that cannot be written to only costs time.
pub(super) fn put(path: &Path, bytes: &[u8]) {
    let Some(folder) = path.parent() else { return };
    // Two containers may share the folder and the number of the process.
    let odd = RandomState::new().hash_one(0);
    let own = folder.join(format!("{}.{odd:x}.new", std::process::id()));
    let written = || fs::write(&own, bytes).and_then(|()| fs::rename(&own, path));
    // As a rule the folder is there.
    if written().is_err() && (fs::create_dir_all(folder).is_err() || written().is_err()) {
        let _ = fs::remove_file(&own);
    }
}
