//! Files on disk as the core asks for them.

use crate::{files, output::Failure};
use keyon_check::settings::Finder;
use keyon_circuit::{Source, World, hash::Map};
use std::{
    collections::{BTreeMap, HashMap},
    ffi::OsString,
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
    parsed: OnceLock<Circuits>,
}

impl Content {
    pub(crate) fn new(key: String, bytes: &[u8]) -> Self {
        let sound = std::str::from_utf8(bytes).ok();
        let text = sound.map_or_else(|| String::from_utf8_lossy(bytes).into(), Arc::from);
        Self { key, text, hash: xxh3_128(bytes), replaced: sound.is_none(), parsed: OnceLock::new() }
    }

    /// The circuit; of a note the first one.
    pub(crate) fn source(&self) -> &Source {
        &self.parsed().first.1
    }

    /// The circuits, with the names by which a note knows them, each in its place. Of anything but a note it is all of it.
    pub(crate) fn sources(&self) -> impl Iterator<Item = &(String, Source)> {
        let parsed = self.parsed();
        std::iter::once(&parsed.first).chain(&parsed.more)
    }

    fn parsed(&self) -> &Circuits {
        self.parsed.get_or_init(|| {
            let source = |text: Arc<str>| {
                let parse = Arc::new(keyon_syntax::parse(&text));
                Source { key: self.key.as_str().into(), text, parse }
            };
            if !files::is_note(Path::new(&self.key)) {
                return Circuits { first: (String::new(), source(self.text.clone())), more: Vec::new() };
            }
            let mut circuits = keyon_syntax::notes::circuits(&self.text).into_iter();
            let none = || (String::new(), source(keyon_syntax::notes::blank(&self.text).into()));
            let mut named = || circuits.next().map(|circuit| (circuit.name, source(circuit.text.into())));
            let first = named().unwrap_or_else(none);
            Circuits { first, more: std::iter::from_fn(named).collect() }
        })
    }

    /// The circuit that is meant: of a note that holds several the one of this name.
    pub(crate) fn meant(&self, shown: &str, part: Option<&str>) -> Result<&Source, String> {
        let names: Vec<&str> =
            self.sources().map(|(name, _)| name.as_str()).filter(|name| !name.is_empty()).collect();
        let Some(part) = part else {
            return match self.parsed().more.len() {
                0 => Ok(self.source()),
                more => Err(format!(
                    "`{shown}` holds {} circuits: name one of them, as in `{shown}#{}`; it has {}",
                    more + 1,
                    names.first().unwrap_or(&""),
                    names.join(", ")
                )),
            };
        };
        let found = self.sources().find(|(name, _)| name == part).map(|(_, source)| source);
        found.ok_or_else(|| {
            let has = if names.is_empty() { String::new() } else { format!("; it has {}", names.join(", ")) };
            format!("`{shown}` holds no circuit `{part}`{has}")
        })
    }
}

/// What a file holds.
#[derive(Debug)]
struct Circuits {
    first: (String, Source),
    more: Vec<(String, Source)>,
}

/// A file that a command was given, and which circuit of it is meant.
pub(crate) struct Opened {
    pub(crate) content: Content,
    /// As people know it.
    pub(crate) name: PathBuf,
    part: Option<String>,
}

impl Opened {
    pub(crate) fn source(&self) -> Result<&Source, Failure> {
        let source = self.content.meant(&self.name.display().to_string(), self.part.as_deref())?;
        if files::is_note(&self.name) && source.text.trim().is_empty() {
            return Err(no_block(&self.name).into());
        }
        Ok(source)
    }
}

/// What to say of a note without a circuit.
pub(crate) fn no_block(name: &Path) -> String {
    format!(
        "`{}` holds no circuit: in a note one stands in a block fenced by ```keyon and ```",
        name.display()
    )
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
    /// Canonical paths that are known already, by the names of files.
    keys: Map<OsString, PathBuf>,
    /// Canonical paths of what files in a folder use, by the folder and the words of `use`.
    used: Mutex<HashMap<(PathBuf, String), PathBuf>>,
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

    /// Takes in canonical paths, by the names of files.
    pub(crate) fn know<'a>(&mut self, keys: impl Iterator<Item = (&'a PathBuf, &'a PathBuf)>) {
        self.keys.extend(keys.map(|(file, key)| (file.clone().into(), key.clone())));
    }

    /// The canonical path of a name, also of one that no file has.
    pub(crate) fn key(&self, path: &Path) -> String {
        self.keys.get(path.as_os_str()).map_or_else(|| key_of(path), |key| key.display().to_string())
    }

    /// A text that goes by the name `path`: its findings are shown under that name. It is not kept.
    pub(crate) fn named(&self, path: &Path, bytes: &[u8]) -> Content {
        let key = self.key(path);
        let shown = path.display().to_string();
        lock(&self.shown).entry(key.clone()).or_insert(shown);
        Content::new(key, bytes)
    }

    /// Opens a file that a command was given; `FILE#NAME` is one circuit of a note.
    pub(crate) fn open(&self, file: &Path, stdin_name: Option<&Path>) -> Result<Opened, Failure> {
        let (file, part) = files::part_of(file);
        let bytes = files::read_bytes(&file)?;
        let name = source_name(&file, stdin_name);
        Ok(Opened { content: self.named(&name, &bytes), name, part })
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
        let asked = (folder.to_owned(), path.to_owned());
        if let Some(known) = lock(&self.used).get(&asked) {
            return known.clone();
        }
        let key = PathBuf::from(key_of(&folder.join(path)));
        lock(&self.used).insert(asked, key.clone());
        key
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
