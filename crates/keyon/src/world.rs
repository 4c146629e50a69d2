//! Files on disk as the core asks for them.

use crate::files;
use keyon_check::settings::Finder;
use keyon_circuit::{Source, World};
use std::{
    collections::{BTreeMap, HashMap},
    path::{Path, PathBuf},
    sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError},
};
use xxhash_rust::xxh3::xxh3_128;

/// A file's text: read once, hashed once, parsed when somebody needs its tree.
#[derive(Debug)]
pub(crate) struct Content {
    /// The canonical path.
    pub(crate) key: String,
    pub(crate) text: Arc<str>,
    /// Of its bytes. 128 bits, so that two different files of one library never meet; XXH3, because it runs at the
    /// speed of memory and nobody here has to be defended against (who can write the cache can write the circuit).
    pub(crate) hash: u128,
    /// Some bytes were not UTF-8: the text has U+FFFD in their place.
    pub(crate) replaced: bool,
    parsed: OnceLock<Source>,
}

impl Content {
    pub(crate) fn new(key: String, bytes: &[u8]) -> Self {
        let text = String::from_utf8_lossy(bytes);
        let replaced = matches!(text, std::borrow::Cow::Owned(_));
        Self { key, text: text.into(), hash: xxh3_128(bytes), replaced, parsed: OnceLock::new() }
    }

    pub(crate) fn source(&self) -> &Source {
        self.parsed.get_or_init(|| Source {
            key: self.key.as_str().into(),
            text: self.text.clone(),
            parse: Arc::new(keyon_syntax::parse(&self.text)),
        })
    }
}

/// Where texts come from: the disk, a revision.
pub(crate) trait Files: Sync {
    /// The key of the file that `from` means by `path`, whether it exists or not.
    fn resolve(&self, from: &str, path: &str) -> PathBuf;

    /// A file by its key; `None` if it cannot be read.
    fn content(&self, file: &Path) -> Option<Arc<Content>>;
}

/// Libraries are looked for beside the file that uses them. Each is read and parsed once.
#[derive(Debug, Default)]
pub(crate) struct Disk {
    known: Mutex<HashMap<PathBuf, Option<Arc<Content>>>>,
    /// How the user named a file, by its key: so are its findings shown.
    shown: Mutex<HashMap<String, String>>,
    here: OnceLock<Option<PathBuf>>,
}

impl Disk {
    /// With texts, by their files' keys, that stand for those on disk.
    pub(crate) fn with(texts: BTreeMap<String, String>) -> Self {
        let disk = Self::default();
        let known = texts.into_iter().map(|(key, text)| {
            let content = Content::new(key.clone(), text.as_bytes());
            (PathBuf::from(key), Some(Arc::new(content)))
        });
        lock(&disk.known).extend(known);
        disk
    }

    /// A text that goes by the name `path`: its findings are shown under that name. It is not kept.
    pub(crate) fn named(&self, path: &Path, bytes: &[u8]) -> Content {
        let key = key_of(path);
        let shown = path.display().to_string();
        lock(&self.shown).entry(key.clone()).or_insert(shown);
        Content::new(key, bytes)
    }

    /// How a key is shown to people: as the user named the file, else relative to where we are.
    pub(crate) fn shown(&self, key: &str) -> String {
        if let Some(shown) = lock(&self.shown).get(key) {
            return shown.clone();
        }
        let here = self.here.get_or_init(|| std::env::current_dir().ok()?.canonicalize().ok());
        let path = Path::new(key);
        match here.as_deref().and_then(|here| path.strip_prefix(here).ok()) {
            Some(inside) => inside.display().to_string(),
            None => key.to_owned(),
        }
    }
}

/// A `keyon.toml` finder over the disk.
pub(crate) fn finder() -> Finder<'static> {
    Finder::new(Box::new(|path| {
        let bytes = path.is_file().then(|| std::fs::read(path).ok()).flatten()?;
        Some(String::from_utf8_lossy(&bytes).into())
    }))
}

/// The canonical path, also of a name that no file has: then what lies above it is made canonical.
pub(crate) fn key_of(path: &Path) -> String {
    if let Ok(real) = std::fs::canonicalize(path) {
        return real.display().to_string();
    }
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let folder = absolute.parent().and_then(|folder| std::fs::canonicalize(folder).ok());
    match (folder, absolute.file_name()) {
        (Some(folder), Some(name)) => folder.join(name).display().to_string(),
        _ => absolute.display().to_string(),
    }
}

impl Files for Disk {
    fn resolve(&self, from: &str, path: &str) -> PathBuf {
        let folder = Path::new(from).parent().unwrap_or(Path::new("."));
        PathBuf::from(key_of(&folder.join(path)))
    }

    fn content(&self, file: &Path) -> Option<Arc<Content>> {
        if let Some(known) = lock(&self.known).get(file) {
            return known.clone();
        }
        // Read outside the lock: two threads may do it at once, and come to the same.
        let bytes = file.is_file().then(|| std::fs::read(file).ok()).flatten();
        let content = bytes.map(|bytes| Arc::new(Content::new(file.display().to_string(), &bytes)));
        lock(&self.known).entry(file.to_owned()).or_insert(content).clone()
    }
}

impl World for Disk {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        Some(self.content(&self.resolve(from, path))?.source().clone())
    }
}

/// Files for one elaboration, keeping what it asked for: its answer holds as long as these stay as they are.
pub(crate) struct Asking<'a> {
    files: &'a dyn Files,
    asked: Mutex<BTreeMap<PathBuf, Option<u128>>>,
}

impl<'a> Asking<'a> {
    pub(crate) fn new(files: &'a dyn Files) -> Self {
        Self { files, asked: Mutex::default() }
    }

    /// Every file that was asked for, with the hash of what is in it; `None` where there is none.
    pub(crate) fn asked(self) -> BTreeMap<PathBuf, Option<u128>> {
        self.asked.into_inner().unwrap_or_else(PoisonError::into_inner)
    }
}

impl World for Asking<'_> {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let file = self.files.resolve(from, path);
        let content = self.files.content(&file);
        lock(&self.asked).insert(file, content.as_ref().map(|c| c.hash));
        Some(content?.source().clone())
    }
}

/// Files read in standard input's place have their name from `--stdin-name`.
pub(crate) fn source_name(path: &Path, stdin_name: Option<&Path>) -> PathBuf {
    if path.as_os_str() == files::STDIN {
        stdin_name.map_or_else(|| PathBuf::from("standard-input.keyon"), Path::to_owned)
    } else {
        path.to_owned()
    }
}

pub(crate) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
