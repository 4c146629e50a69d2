//! What is known of unchanged files, kept on disk.
//!
//! One entry a file, named by its path, so that the folder grows no further than the library does. An entry holds as
//! long as everything does that its answer came from: the file's bytes, the bytes of all it uses (and that what it
//! missed is still missing), the settings, and this very program. Writing is to a file of one's own that is then renamed:
//! two processes at once leave one whole entry or the other. Whatever cannot be read is as if it were not there.

use super::record::Record;
use crate::world::{Content, Disk, Files};
use keyon_check::Settings;
use serde::{Deserialize, Serialize};
use std::{
    borrow::Cow,
    collections::hash_map::RandomState,
    fs,
    hash::{BuildHasher, Hasher},
    path::{Path, PathBuf},
};
use xxhash_rust::xxh3::xxh3_128;

/// A folder of entries.
#[derive(Debug)]
pub(crate) struct Cache {
    folder: PathBuf,
    /// This very program: what another build found may not be what this one finds.
    program: String,
}

/// An entry, after its line of checksum.
#[derive(Serialize, Deserialize)]
struct Entry<'a> {
    program: Cow<'a, str>,
    key: Cow<'a, str>,
    content: String,
    settings: Cow<'a, str>,
    record: Cow<'a, Record>,
}

impl Cache {
    /// The cache in a folder, which is made when something is first kept.
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self { folder, program: program() }
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

    fn path(&self, key: &str) -> PathBuf {
        let name = hex(xxh3_128(key.as_bytes()));
        // No folder gets crowded.
        let (folder, file) = name.split_at(2);
        self.folder.join(folder).join(file)
    }

    /// What is known of a file, if it still holds.
    /// `settings` names the settings that hold for files.
    pub(crate) fn find(
        &self,
        file: &Content,
        settings: &dyn Fn(&[String]) -> String,
        disk: &Disk,
    ) -> Option<Record> {
        let bytes = fs::read(self.path(&file.key)).ok()?;
        let (sum, body) = bytes.split_at_checked(33)?;
        if sum != format!("{}\n", hex(xxh3_128(body))).as_bytes() {
            return None;
        }
        let entry: Entry<'_> = serde_json::from_slice(body).ok()?;
        let holds = entry.program == self.program
            && entry.key == file.key
            && entry.content == hex(file.hash)
            && entry.settings == settings(&entry.record.files)
            && entry.record.asked.iter().all(|(path, hash)| {
                disk.content(path).map(|content| hex(content.hash)).as_ref() == hash.as_ref()
            });
        holds.then(|| entry.record.into_owned())
    }

    /// Keeps what is known of a file. A folder that cannot be written to only costs time.
    pub(crate) fn keep(&self, file: &Content, settings: &str, record: &Record) {
        let entry = Entry {
            program: Cow::Borrowed(&self.program),
            key: Cow::Borrowed(&file.key),
            content: hex(file.hash),
            settings: Cow::Borrowed(settings),
            record: Cow::Borrowed(record),
        };
        let Ok(body) = serde_json::to_vec(&entry) else { return };
        let mut bytes = format!("{}\n", hex(xxh3_128(&body))).into_bytes();
        bytes.extend(body);
        let path = self.path(&file.key);
        let Some(folder) = path.parent() else { return };
        // Two containers may share the folder and the number of the process.
        let odd = RandomState::new().build_hasher().finish();
        let own = folder.join(format!("{}.{odd:x}.new", std::process::id()));
        if fs::create_dir_all(folder).is_err()
            || fs::write(&own, &bytes).is_err()
            || fs::rename(&own, &path).is_err()
        {
            let _ = fs::remove_file(&own);
        }
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
    use std::collections::BTreeMap;

    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("keyon-cache-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        folder
    }

    fn record(asked: &[(&Path, Option<u128>)]) -> Record {
        let asked = asked.iter().map(|(path, hash)| ((*path).to_owned(), hash.map(hex)));
        let mut record = Record::default();
        record.asked = asked.collect::<BTreeMap<_, _>>();
        record.circuit = Some("c".into());
        record
    }

    fn s(_: &[String]) -> String {
        "s".to_owned()
    }

    #[test]
    fn an_entry_holds_until_something_changes() {
        let at = folder("holds");
        let cache = Cache::new(at.join("cache"));
        let library = at.join("p.keyon");
        fs::write(&library, "part a").unwrap();
        let hash = Disk::default().content(&library).unwrap().hash;
        let file = Content::new("a.keyon".into(), b"circuit c");
        let known = record(&[(&library, Some(hash)), (&at.join("missing.keyon"), None)]);
        assert_eq!(cache.find(&file, &s, &Disk::default()), None);
        cache.keep(&file, "s", &known);
        assert_eq!(cache.find(&file, &s, &Disk::default()), Some(known.clone()));
        assert_eq!(cache.find(&file, &|_| "other".to_owned(), &Disk::default()), None);
        let changed = Content::new("a.keyon".into(), b"circuit d");
        assert_eq!(cache.find(&changed, &s, &Disk::default()), None);
        fs::write(at.join("missing.keyon"), "").unwrap();
        assert_eq!(cache.find(&file, &s, &Disk::default()), None);
        fs::remove_file(at.join("missing.keyon")).unwrap();
        fs::write(&library, "part b").unwrap();
        assert_eq!(cache.find(&file, &s, &Disk::default()), None);
        let other = Cache { program: "another".into(), ..Cache::new(at.join("cache")) };
        fs::write(&library, "part a").unwrap();
        assert_eq!(other.find(&file, &s, &Disk::default()), None);
        assert_eq!(cache.find(&file, &s, &Disk::default()), Some(known));
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn spoilt_entries_are_passed_over_and_replaced() {
        let at = folder("spoilt");
        let cache = Cache::new(at.clone());
        let file = Content::new("a.keyon".into(), b"circuit c");
        let known = record(&[]);
        cache.keep(&file, "s", &known);
        let path = cache.path("a.keyon");
        let whole = fs::read(&path).unwrap();
        for spoilt in
            [&b""[..], b"x", &whole[..whole.len() / 2], &[&whole[..], b" "].concat(), &vec![0xff; 4096]]
        {
            fs::write(&path, spoilt).unwrap();
            assert_eq!(cache.find(&file, &s, &Disk::default()), None);
            cache.keep(&file, "s", &known);
            assert_eq!(cache.find(&file, &s, &Disk::default()), Some(known.clone()));
        }
        for at in 0..whole.len() {
            let mut bytes = whole.clone();
            bytes[at] ^= 1;
            fs::write(&path, &bytes).unwrap();
            assert_eq!(cache.find(&file, &s, &Disk::default()), None, "byte {at}");
        }
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn many_writers_leave_one_whole_entry() {
        let at = folder("writers");
        let file = Content::new("a.keyon".into(), b"circuit c");
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    let cache = Cache::new(at.clone());
                    for _ in 0..50 {
                        cache.keep(&file, "s", &record(&[]));
                        // Never half an entry: what is found is whole, or not there yet.
                        if let Some(found) = cache.find(&file, &s, &Disk::default()) {
                            assert_eq!(found, record(&[]));
                        }
                    }
                });
            }
        });
        assert_eq!(Cache::new(at.clone()).find(&file, &s, &Disk::default()), Some(record(&[])));
        fs::remove_dir_all(at).unwrap();
    }

    #[test]
    fn a_folder_that_cannot_be_written_to_is_no_error() {
        let at = folder("file");
        let no_folder = at.join("a file");
        fs::write(&no_folder, "").unwrap();
        let cache = Cache::new(no_folder);
        let file = Content::new("a.keyon".into(), b"");
        cache.keep(&file, "s", &record(&[]));
        assert_eq!(cache.find(&file, &s, &Disk::default()), None);
        fs::remove_dir_all(at).unwrap();
    }
}
