//! Files on disk as the core asks for them.

use crate::files;
use keyon_circuit::{Source, World};
use std::{
    collections::{BTreeMap, HashMap},
    path::{Path, PathBuf},
    sync::{Arc, Mutex, PoisonError},
};

/// Libraries are looked for beside the file that uses them. Each file is read and parsed once.
#[derive(Debug, Default)]
pub(crate) struct Disk {
    known: Mutex<HashMap<PathBuf, Option<Source>>>,
    /// How the user named a file, by its key: so are its findings shown.
    shown: Mutex<HashMap<String, String>>,
}

impl Disk {
    /// With texts, by their files' keys, that stand for those on disk.
    pub(crate) fn with(texts: BTreeMap<String, String>) -> Self {
        let disk = Self::default();
        let known = texts.into_iter().map(|(key, text)| {
            let parse = Arc::new(keyon_syntax::parse(&text));
            (PathBuf::from(&key), Some(Source { key: key.into(), text: text.into(), parse }))
        });
        disk.known.lock().unwrap_or_else(PoisonError::into_inner).extend(known);
        disk
    }

    /// The source of a text that goes by the name `path`.
    pub(crate) fn source(&self, path: &Path, text: String) -> Source {
        let key = key_of(path);
        let shown = path.display().to_string();
        self.shown.lock().unwrap_or_else(PoisonError::into_inner).entry(key.clone()).or_insert(shown);
        let parse = Arc::new(keyon_syntax::parse(&text));
        Source { key: key.into(), text: text.into(), parse }
    }

    /// How a key is shown to people: as the user named the file, else relative to where we are.
    pub(crate) fn shown(&self, key: &str) -> String {
        if let Some(shown) = self.shown.lock().unwrap_or_else(PoisonError::into_inner).get(key) {
            return shown.clone();
        }
        let here = std::env::current_dir().ok().and_then(|here| std::fs::canonicalize(here).ok());
        let path = Path::new(key);
        match here.as_deref().and_then(|here| path.strip_prefix(here).ok()) {
            Some(inside) => inside.display().to_string(),
            None => key.to_owned(),
        }
    }
}

/// The canonical path, also of a name that no file has: then what lies above it is made canonical.
fn key_of(path: &Path) -> String {
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

impl World for Disk {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let folder = Path::new(from).parent().unwrap_or(Path::new("."));
        let file = std::fs::canonicalize(folder.join(path)).ok().filter(|file| file.is_file())?;
        if let Some(known) = self.known.lock().unwrap_or_else(PoisonError::into_inner).get(&file) {
            return known.clone();
        }
        // Read outside the lock: two threads may do it at once, and come to the same.
        let source = files::read(&file).ok().map(|text| {
            let parse = Arc::new(keyon_syntax::parse(&text));
            Source { key: file.display().to_string().into(), text: text.into(), parse }
        });
        self.known.lock().unwrap_or_else(PoisonError::into_inner).insert(file, source.clone());
        source
    }
}
