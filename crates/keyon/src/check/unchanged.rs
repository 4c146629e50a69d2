//! A run over files of which none has changed is answered without reading them.
//!
//! What a run found is kept under what it was asked, together with a name for the state of every file that the answer hangs
//! on: the files that were found, those that they use or miss, every settings file that holds or could hold. The state of a file
//! is its number, its size, and the times of its last changes as the system keeps them; no program sets the last of these at
//! will. It is trusted only where it is older than the run by more than the grain of any clock, so that nothing can
//! have changed under the same time. Wherever a file differs, the run goes on file by file and by content.

use super::{
    cache::{Cache, hex},
    gather::Gathered,
    record::{level, number},
};
use crate::{files::Found, world::Disk};
use keyon_check::settings::FILE_NAME;
use keyon_present::reports::{Place, Placed, PlacedFix};
use serde::{Deserialize, Serialize};
use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
    time::{Duration, SystemTime},
};
use xxhash_rust::xxh3::{Xxh3, xxh3_128};

/// Changes that are younger than this are not told from those that may still come: some file systems keep whole seconds,
/// or every other.
const GRAIN: Duration = Duration::from_secs(3);

/// Fewer files than this are looked at by one thread.
const FEW: usize = 512;

/// A run, before anything was read.
#[derive(Debug)]
pub(super) struct Run {
    /// What was asked.
    key: u128,
    /// How the files stand that were found.
    state: u128,
    start: SystemTime,
}

/// What came of a run.
#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    state: String,
    /// What the answer hangs on besides the files that were found.
    others: Vec<PathBuf>,
    /// How those stand.
    beside: String,
    manual: Option<String>,
    findings: Vec<Row>,
    /// The files in which findings are: how each is shown, where it is, its content.
    texts: Vec<(String, PathBuf, String)>,
}

/// File, line, column, end line, end column.
type At = (String, usize, usize, usize, usize);

/// An edit that mends something: what it does, whether it is safe, what is replaced by what.
type Mend = (String, bool, Vec<(At, String)>);

/// Rule, level, message, help, place, related places, fixes, anchor, identity.
#[derive(Debug, Serialize, Deserialize)]
struct Row(String, u8, String, Option<String>, At, Vec<(At, String)>, Vec<Mend>, String, String);

impl Run {
    /// A run over what was found for `asked`; `None` where the system tells too little, or a file has changed just now.
    pub(super) fn new(asked: &[PathBuf], found: &Found, jobs: usize) -> Option<Self> {
        let start = SystemTime::now();
        let mut key = Xxh3::new();
        for path in std::iter::once(&std::env::current_dir().ok()?).chain(asked) {
            key.update(path.as_os_str().as_encoded_bytes());
            key.update(&[0]);
        }
        let state = state(&found.keys, start, jobs, false)?;
        Some(Self { key: key.digest128(), state, start })
    }

    /// What the last run found that was asked the same, if everything stands as it did then; also the files on which that
    /// hangs besides those that were found.
    pub(super) fn answer(&self, cache: &Cache) -> Option<(Gathered, Vec<PathBuf>)> {
        let kept: Kept = serde_json::from_str(&cache.find_run(self.key)?).ok()?;
        let holds = kept.state == hex(self.state)
            && state(&kept.others, self.start, 1, true).is_some_and(|beside| kept.beside == hex(beside));
        if !holds {
            return None;
        }
        let mut gathered = Gathered { manual: kept.manual, ..Gathered::default() };
        for (shown, path, hash) in kept.texts {
            let bytes = std::fs::read(path).ok().filter(|bytes| hex(xxh3_128(bytes)) == hash)?;
            gathered.texts.insert(shown, String::from_utf8_lossy(&bytes).into());
        }
        gathered.report.findings = kept.findings.into_iter().map(Row::placed).collect();
        Some((gathered, kept.others))
    }

    /// Keeps what was found. `asked`: the files that it hangs on besides those that were found.
    pub(super) fn keep(
        &self,
        cache: &Cache,
        disk: &Disk,
        found: &Found,
        asked: &BTreeSet<PathBuf>,
        gathered: &Gathered,
    ) {
        let others = others(found, asked);
        let Some(beside) = state(&others, self.start, 1, true) else { return };
        let texts = gathered.texts.keys().map(|shown| {
            let path = PathBuf::from(disk.key(Path::new(shown)));
            let hash = hex(xxh3_128(&std::fs::read(&path).ok()?));
            Some((shown.clone(), path, hash))
        });
        let Some(texts) = texts.collect::<Option<Vec<_>>>() else { return };
        let kept = Kept {
            state: hex(self.state),
            others,
            beside: hex(beside),
            manual: gathered.manual.clone(),
            findings: gathered.report.findings.iter().map(Row::new).collect(),
            texts,
        };
        if let Ok(text) = serde_json::to_string(&kept) {
            cache.keep_run(self.key, &text);
        }
    }
}

/// The files that were asked for, and in each folder above any file the settings that are or could be there.
fn others(found: &Found, asked: &BTreeSet<PathBuf>) -> Vec<PathBuf> {
    let folders: BTreeSet<&Path> = found.keys.iter().chain(asked).filter_map(|key| key.parent()).collect();
    let folders: BTreeSet<&Path> = folders.into_iter().flat_map(Path::ancestors).collect();
    let settings = folders.into_iter().map(|folder| folder.join(FILE_NAME));
    let mut all: BTreeSet<PathBuf> = settings.collect();
    all.extend(asked.iter().cloned());
    all.into_iter().collect()
}

/// A name for these files and how each of them stands; `None` if that is not to be told of one. One that is not there stands as
/// that where it `may_miss`.
fn state(files: &[PathBuf], start: SystemTime, jobs: usize, may_miss: bool) -> Option<u128> {
    let each = if files.len() < FEW { files.len() } else { files.len().div_ceil(jobs.max(1)) };
    let look = |file: &PathBuf| look(file, start).filter(|look| may_miss || *look != MISSING);
    let looks = |files: &[PathBuf]| files.iter().map(look).collect::<Option<Vec<_>>>();
    let looks: Vec<Option<Vec<Look>>> = std::thread::scope(|scope| {
        let mut chunks = files.chunks(each.max(1));
        let first = chunks.next().unwrap_or_default();
        let others: Vec<_> = chunks.map(|chunk| scope.spawn(move || looks(chunk))).collect();
        let mut all = vec![looks(first)];
        all.extend(others.into_iter().map(|other| other.join().unwrap_or_default()));
        all
    });
    let mut name = Xxh3::new();
    for (file, look) in files.iter().zip(looks.into_iter().collect::<Option<Vec<_>>>()?.iter().flatten()) {
        name.update(file.as_os_str().as_encoded_bytes());
        name.update(&[0]);
        look.iter().for_each(|word| name.update(&word.to_le_bytes()));
    }
    Some(name.digest128())
}

/// Device and number, size, last change of the bytes and of anything, in seconds and billionths. All zero where there is no
/// such file.
type Look = [i64; 7];

const MISSING: Look = [0; 7];

/// How a file stands; `None` if it has changed too short a time before `start`, or the system does not say.
#[cfg(unix)]
fn look(path: &Path, start: SystemTime) -> Option<Look> {
    use std::os::unix::fs::MetadataExt;
    let Ok(meta) = std::fs::metadata(path) else { return Some(MISSING) };
    let changed = SystemTime::UNIX_EPOCH + Duration::from_secs(u64::try_from(meta.ctime()).ok()?);
    if changed.checked_add(GRAIN)? >= start {
        return None;
    }
    let (device, number, size) =
        (meta.dev().cast_signed(), meta.ino().cast_signed(), meta.size().cast_signed());
    Some([device, number, size, meta.mtime(), meta.mtime_nsec(), meta.ctime(), meta.ctime_nsec()])
}

#[cfg(not(unix))]
fn look(_: &Path, _: SystemTime) -> Option<Look> {
    None
}

fn at(place: &Place) -> At {
    (place.file.clone(), place.line, place.column, place.end_line, place.end_column)
}

fn place((file, line, column, end_line, end_column): At) -> Place {
    Place { file, line, column, end_line, end_column }
}

fn edits(all: &[(Place, String)]) -> Vec<(At, String)> {
    all.iter().map(|(place, text)| (at(place), text.clone())).collect()
}

fn placed(all: Vec<(At, String)>) -> Vec<(Place, String)> {
    all.into_iter().map(|(at, text)| (place(at), text)).collect()
}

impl Row {
    fn new(finding: &Placed) -> Self {
        let mend = |fix: &PlacedFix| (fix.title.clone(), fix.safe, edits(&fix.edits));
        Self(
            finding.rule.clone(),
            number(finding.level),
            finding.message.clone(),
            finding.help.clone(),
            at(&finding.at),
            edits(&finding.related),
            finding.fixes.iter().map(mend).collect(),
            finding.anchor.clone(),
            finding.id.clone(),
        )
    }

    fn placed(self) -> Placed {
        let Self(rule, number, message, help, at, related, fixes, anchor, id) = self;
        let mend = |(title, safe, edits): Mend| PlacedFix { title, safe, edits: placed(edits) };
        Placed {
            rule,
            level: level(number),
            message,
            help,
            at: place(at),
            related: placed(related),
            fixes: fixes.into_iter().map(mend).collect(),
            anchor,
            id,
        }
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn a_state_is_another_once_anything_changed_and_unknown_while_it_is_young() {
        let folder = std::env::temp_dir().join(format!("keyon-unchanged-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        let files: Vec<PathBuf> = ["a", "b", "missing"].iter().map(|name| folder.join(name)).collect();
        for file in &files[..2] {
            fs::write(file, "x").unwrap();
        }
        let now = SystemTime::now();
        let later = now + 2 * GRAIN;
        assert_eq!(state(&files, now, 1, true), None, "just written");
        let first = state(&files, later, 1, true);
        assert!(first.is_some());
        assert_eq!(state(&files, later, 1, true), first);
        // The same bytes, written again, with the time of their last change set back.
        let time = fs::metadata(&files[0]).unwrap().modified().unwrap();
        fs::write(&files[0], "x").unwrap();
        fs::File::options().append(true).open(&files[0]).unwrap().set_modified(time).unwrap();
        let second = state(&files, later, 1, true);
        assert_ne!(second, first);
        fs::write(&files[2], "").unwrap();
        assert_ne!(state(&files, later, 1, true), second);
        fs::remove_dir_all(folder).unwrap();
    }

    #[test]
    fn many_threads_see_what_one_sees() {
        let files: Vec<PathBuf> = (0..3 * FEW).map(|i| PathBuf::from(format!("/none/{i}"))).collect();
        let now = SystemTime::now();
        assert_eq!(state(&files, now, 4, true), state(&files, now, 1, true));
        assert_eq!(state(&files, now, 4, false), None);
    }
}
