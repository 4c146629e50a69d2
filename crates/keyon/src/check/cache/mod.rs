//! What is known of unchanged files, kept on disk.
//!
//! The entries of a folder of the library are one file ([`shelf`]), so that a large library is a few large files and not
//! twice as many small ones; what is not there any more goes when the shelf is written. An entry holds as long as everything
//! does that its answer came from: the file's bytes, the bytes of all it uses (and that what it missed is still missing), the
//! settings, and this very program. Writing is to a file of one's own that is then renamed: two processes at once leave
//! one whole shelf or the other.

mod shelf;

use super::{record::Record, says::Says};
use crate::world::{Content, Disk, Files, lock};
use keyon_check::Settings;
use serde::{Deserialize, Serialize};
use shelf::{Kept, Shelf};
use std::{
    borrow::Cow,
    collections::{BTreeMap, HashMap},
    fs,
    path::{Path, PathBuf},
    sync::{Arc, Mutex, OnceLock},
};
use xxhash_rust::xxh3::xxh3_128;

/// As many new entries of a folder are written at once, that a run which is stopped has not been for nothing.
const AT_ONCE: usize = 2_000;

/// A folder of shelves.
#[derive(Debug)]
pub(crate) struct Cache {
    folder: PathBuf,
    /// This very program: what another build found may not be what this one finds.
    program: String,
    /// By the folder of the library.
    shelves: Mutex<HashMap<PathBuf, Arc<OnceLock<Shelf>>>>,
    /// What is not written yet.
    new: Mutex<HashMap<PathBuf, BTreeMap<String, Kept>>>,
    /// One at a time writes: a shelf is read, added to and written.
    writing: Mutex<()>,
}

/// What came of a file, and under what.
#[derive(Serialize, Deserialize)]
struct Entry<'a> {
    content: String,
    settings: Cow<'a, str>,
    record: Cow<'a, Record>,
}

impl Cache {
    /// The cache in a folder, which is made when something is first kept.
    pub(crate) fn new(folder: PathBuf) -> Self {
        let (shelves, new, writing) = (Mutex::default(), Mutex::default(), Mutex::default());
        Self { folder, program: program(), shelves, new, writing }
    }

    /// The usual folder: `KEYON_CACHE_DIR`, else `keyon` in the user's folder for caches; `None` where there is no such
    /// folder.
    pub(crate) fn usual_folder() -> Option<PathBuf> {
        let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
        // Relative ones are to be passed over (XDG Base Directory Specification).
        let absolute = |name: &str| set(name).filter(|path| path.is_absolute());
        set("KEYON_CACHE_DIR").or_else(|| {
            let caches = absolute("XDG_CACHE_HOME")
                .or_else(|| absolute("HOME").map(|home| home.join(".cache")))
                .or_else(|| absolute("LOCALAPPDATA"));
            caches.map(|caches| caches.join("keyon"))
        })
    }

    /// Where the entries of a folder of the library are.
    fn path(&self, folder: &Path) -> PathBuf {
        self.folder.join(hex(xxh3_128(folder.as_os_str().as_encoded_bytes())))
    }

    /// What is known of a file, if it still holds.
    /// `settings` names the settings that hold for files.
    pub(crate) fn find(
        &self,
        file: &Content,
        settings: &dyn Fn(&[String]) -> String,
        disk: &Disk,
    ) -> Option<Record> {
        let folder = Path::new(&file.key).parent()?;
        let shelf = lock(&self.shelves).entry(folder.to_owned()).or_default().clone();
        let shelf = shelf.get_or_init(|| Shelf::read(&self.path(folder), &self.program));
        let (entry, says) = shelf.find(&file.key)?;
        let entry: Entry<'_> = serde_json::from_str(entry).ok()?;
        let holds = entry.content == hex(file.hash)
            && entry.settings == settings(&entry.record.files)
            && entry.record.asked.iter().all(|(path, hash)| {
                disk.content(path).map(|content| hex(content.hash)).as_ref() == hash.as_ref()
            });
        let mut record = holds.then(|| entry.record.into_owned())?;
        record.says = Says::Written(says.into());
        Some(record)
    }

    /// Keeps what is known of a file; [`Cache::write`] writes it.
    pub(crate) fn keep(&self, file: &Content, settings: &str, record: &Record) {
        let entry = Entry {
            content: hex(file.hash),
            settings: Cow::Borrowed(settings),
            record: Cow::Borrowed(record),
        };
        let Some(folder) = Path::new(&file.key).parent() else { return };
        let Ok(head) = serde_json::to_string(&entry) else { return };
        let kept = Kept { head, says: record.says.written().into_owned() };
        let full = {
            let mut new = lock(&self.new);
            let entries = new.entry(folder.to_owned()).or_default();
            entries.insert(file.key.clone(), kept);
            (entries.len() >= AT_ONCE).then(|| std::mem::take(entries))
        };
        if let Some(full) = full {
            let _one = lock(&self.writing);
            Shelf::write(&self.path(folder), &self.program, &full);
        }
    }

    /// Writes what was kept. A folder that cannot be written to only costs time.
    pub(crate) fn write(&self) {
        let _one = lock(&self.writing);
        for (folder, entries) in std::mem::take(&mut *lock(&self.new)) {
            if !entries.is_empty() {
                Shelf::write(&self.path(&folder), &self.program, &entries);
            }
        }
    }

    /// What was found across the files that have `key` together, as long as all that they say is named `content`.
    pub(crate) fn find_across(&self, key: u128, content: u128) -> Option<String> {
        let text = fs::read_to_string(self.across(key)).ok()?;
        let (head, text) = text.split_once('\n')?;
        (head == self.head(content, text)).then(|| text.to_owned())
    }

    /// Keeps what was found across files.
    pub(crate) fn keep_across(&self, key: u128, content: u128, text: &str) {
        shelf::put(&self.across(key), format!("{}\n{text}", self.head(content, text)).as_bytes());
    }

    /// What came of the last run that was asked this.
    pub(crate) fn find_run(&self, key: u128) -> Option<String> {
        let text = fs::read_to_string(self.run(key)).ok()?;
        let (head, text) = text.split_once('\n')?;
        (head == self.head(key, text)).then(|| text.to_owned())
    }

    /// Keeps what came of a run.
    pub(crate) fn keep_run(&self, key: u128, text: &str) {
        shelf::put(&self.run(key), format!("{}\n{text}", self.head(key, text)).as_bytes());
    }

    fn run(&self, key: u128) -> PathBuf {
        self.folder.join("runs").join(hex(key))
    }

    fn across(&self, key: u128) -> PathBuf {
        self.folder.join("across").join(hex(key))
    }

    fn head(&self, content: u128, text: &str) -> String {
        format!("{} {} {}", self.program, hex(content), hex(xxh3_128(text.as_bytes())))
    }
}

/// A hash as it is written.
pub(crate) fn hex(hash: u128) -> String {
    format!("{hash:032x}")
}

/// A name for settings: everything is in it, floating point to the last bit, maps in order.
pub(crate) fn settings_name(settings: &Settings) -> u128 {
    xxh3_128(format!("{settings:?}").as_bytes())
}

/// Version, size and time of the program that runs.
fn program() -> String {
    let stamp = std::env::current_exe().ok().and_then(|path| fs::metadata(path).ok()).map(|meta| {
        let time = meta.modified().ok().and_then(|t| t.duration_since(std::time::UNIX_EPOCH).ok());
        format!("{} {}", meta.len(), time.map_or(0, |time| time.as_nanos()))
    });
    format!("{} {}", env!("CARGO_PKG_VERSION"), stamp.unwrap_or_default())
}

/// Where entries are kept: as asked, else the usual folder.
pub(crate) fn open(asked: Option<&Path>, none: bool) -> Option<Cache> {
    if none {
        return None;
    }
    asked.map(Path::to_owned).or_else(Cache::usual_folder).map(Cache::new)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("keyon-cache-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        folder
    }

    fn record(asked: &[(&Path, Option<u128>)]) -> Record {
        let asked = asked.iter().map(|(path, hash)| ((*path).to_owned(), hash.map(hex)));
        Record { asked: asked.collect(), circuit: Some("c".into()), ..Record::default() }
    }

    fn s(_: &[String]) -> String {
        "s".to_owned()
    }

    /// What a run finds that begins now.
    fn found(folder: &Path, file: &Content) -> Option<Record> {
        Cache::new(folder.to_owned()).find(file, &s, &Disk::default())
    }

    fn keep(folder: &Path, file: &Content, record: &Record) {
        let cache = Cache::new(folder.to_owned());
        cache.keep(file, "s", record);
        cache.write();
    }

    #[test]
    fn an_entry_holds_until_something_changes() {
        let at = folder("holds");
        let folder = at.join("cache");
        let library = at.join("p.keyon");
        fs::write(&library, "part a").unwrap();
        let hash = Disk::default().content(&library).unwrap().hash;
        let file = Content::new("a.keyon".into(), b"circuit c");
        let known = record(&[(&library, Some(hash)), (&at.join("missing.keyon"), None)]);
        assert_eq!(found(&folder, &file), None);
        keep(&folder, &file, &known);
        assert_eq!(found(&folder, &file), Some(known.clone()));
        let cache = Cache::new(folder.clone());
        assert_eq!(cache.find(&file, &|_| "other".to_owned(), &Disk::default()), None);
        let changed = Content::new("a.keyon".into(), b"circuit d");
        assert_eq!(found(&folder, &changed), None);
        fs::write(at.join("missing.keyon"), "").unwrap();
        assert_eq!(found(&folder, &file), None);
        fs::remove_file(at.join("missing.keyon")).unwrap();
        fs::write(&library, "part b").unwrap();
        assert_eq!(found(&folder, &file), None);
        let other = Cache { program: "another".into(), ..Cache::new(folder.clone()) };
        fs::write(&library, "part a").unwrap();
        assert_eq!(other.find(&file, &s, &Disk::default()), None);
        assert_eq!(found(&folder, &file), Some(known));
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn a_folder_keeps_what_is_known_of_its_files_and_forgets_those_that_are_gone() {
        let at = folder("shelf");
        let folder = at.join("cache");
        let content = |name: &str| Content::new(at.join(name).display().to_string(), name.as_bytes());
        let (a, b) = (content("a.keyon"), content("b.keyon"));
        for name in ["a.keyon", "b.keyon"] {
            fs::write(at.join(name), name).unwrap();
            keep(&folder, &content(name), &record(&[]));
        }
        assert!(found(&folder, &a).is_some() && found(&folder, &b).is_some());
        fs::remove_file(at.join("a.keyon")).unwrap();
        keep(&folder, &b, &record(&[]));
        assert!(found(&folder, &a).is_none() && found(&folder, &b).is_some());
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn spoilt_entries_are_passed_over_and_replaced() {
        let at = folder("spoilt");
        let file = Content::new("a.keyon".into(), b"circuit c");
        let known = record(&[]);
        keep(&at, &file, &known);
        let path = Cache::new(at.clone()).path(Path::new(""));
        let whole = fs::read(&path).unwrap();
        for spoilt in [&b""[..], b"x", &whole[..whole.len() / 2], &vec![0xff; 4096]] {
            fs::write(&path, spoilt).unwrap();
            assert_eq!(found(&at, &file), None);
            keep(&at, &file, &known);
            assert_eq!(found(&at, &file), Some(known.clone()));
        }
        for byte in 0..whole.len() {
            let mut bytes = whole.clone();
            bytes[byte] ^= 1;
            fs::write(&path, &bytes).unwrap();
            assert_eq!(found(&at, &file), None, "byte {byte}");
        }
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn many_writers_leave_one_whole_shelf() {
        let at = folder("writers");
        let file = Content::new("a.keyon".into(), b"circuit c");
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    for _ in 0..50 {
                        keep(&at, &file, &record(&[]));
                        // Never half a shelf: what is there is whole.
                        assert_eq!(found(&at, &file), Some(record(&[])));
                    }
                });
            }
        });
        assert_eq!(fs::read_dir(&at).unwrap().count(), 1);
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn what_is_found_across_files_holds_for_what_they_said() {
        let at = folder("across");
        let cache = Cache::new(at.clone());
        assert_eq!(cache.find_across(1, 2), None);
        cache.keep_across(1, 2, "[]");
        assert_eq!(cache.find_across(1, 2).as_deref(), Some("[]"));
        assert_eq!(cache.find_across(1, 3), None);
        assert_eq!(cache.find_across(2, 2), None);
        fs::write(cache.across(1), "x").unwrap();
        assert_eq!(cache.find_across(1, 2), None);
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn a_folder_that_cannot_be_written_to_is_no_error() {
        let at = folder("file");
        let no_folder = at.join("a file");
        fs::write(&no_folder, "").unwrap();
        let file = Content::new("a.keyon".into(), b"");
        keep(&no_folder, &file, &record(&[]));
        assert_eq!(found(&no_folder, &file), None);
        fs::remove_dir_all(at).unwrap();
    }
}
