//! Files for the core: open buffers win over the disk, and a file is read again only after it changed there.

use crate::parts::{self, Part};
use keyon_circuit::{Source, World};
use smol_str::SmolStr;
use std::{
    collections::{BTreeMap, BTreeSet, HashMap},
    path::{Component, Path, PathBuf},
    sync::{Arc, Mutex, PoisonError},
    time::SystemTime,
};
use tower_lsp::lsp_types::Url;

/// The key of a document: its path as the file system knows it, so that two spellings of one file meet; the URI itself
/// for what is no file.
pub(crate) fn key(uri: &Url) -> SmolStr {
    match uri.to_file_path() {
        Ok(path) if uri.scheme() == "file" => path_key(&path),
        _ => uri.as_str().into(),
    }
}

/// The key of a path.
pub(crate) fn path_key(path: &Path) -> SmolStr {
    // A file that does not exist yet still has a folder that does.
    let canonical = path.canonicalize().ok().or_else(|| {
        let folder = path.parent()?.canonicalize().ok()?;
        Some(folder.join(path.file_name()?))
    });
    canonical.unwrap_or_else(|| plain(path)).to_string_lossy().into()
}

/// The URI of a key.
pub(crate) fn uri(key: &str) -> Option<Url> {
    Url::from_file_path(key).ok().or_else(|| Url::parse(key).ok())
}

/// Without `.` and `..`, as far as the text alone tells.
pub(crate) fn plain(path: &Path) -> PathBuf {
    let mut out = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir => {
                out.pop();
            }
            part => out.push(part),
        }
    }
    out
}

/// Files from the disk, parsed, with what tells whether they changed.
#[derive(Debug, Default)]
pub(crate) struct Disk {
    files: Mutex<HashMap<SmolStr, (Stamp, Vec<Part>)>>,
}

/// What changes when a file does.
type Stamp = (Option<SystemTime>, u64);

impl Disk {
    /// A file's circuits, with their texts and trees; `None` if it cannot be read.
    pub(crate) fn read(&self, key: &str) -> Option<Vec<Part>> {
        let path = Path::new(key);
        let meta = std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file)?;
        let stamp = (meta.modified().ok(), meta.len());
        let known = self.files.lock().unwrap_or_else(PoisonError::into_inner).get(key).cloned();
        if let Some((_, parts)) = known.filter(|(at, _)| *at == stamp) {
            return Some(parts);
        }
        let bytes = std::fs::read(path).ok()?;
        let text: Arc<str> = String::from_utf8_lossy(&bytes).into();
        let mut parts = parts::parts(&key.into(), &text, &[]);
        // Most notes hold no circuit, and their blank text is not worth keeping.
        if parts.iter().all(|part| !part.is_there()) {
            parts.clear();
        }
        let mut files = self.files.lock().unwrap_or_else(PoisonError::into_inner);
        files.insert(key.into(), (stamp, parts.clone()));
        Some(parts)
    }

    /// Forgets a file: it was reported changed, perhaps within the clock's grain.
    pub(crate) fn forget(&self, key: &str) {
        self.files.lock().unwrap_or_else(PoisonError::into_inner).remove(key);
    }
}

/// An open document at one moment.
#[derive(Clone, Debug)]
pub(crate) struct Buffer {
    pub(crate) version: i32,
    /// As the editor has it.
    pub(crate) text: Arc<str>,
    pub(crate) parts: Vec<Part>,
}

/// The files as they were at one moment: a snapshot's world.
#[derive(Debug)]
pub(crate) struct Files {
    pub(crate) buffers: Arc<BTreeMap<SmolStr, Buffer>>,
    pub(crate) disk: Arc<Disk>,
    /// Every key that was asked for, found or not: a change of one of them is a change of whoever asked.
    pub(crate) asked: Mutex<BTreeSet<SmolStr>>,
}

impl Files {
    /// The same world for another circuit, which keeps account of what it asks for by itself.
    pub(crate) fn fresh(&self) -> Self {
        Self { buffers: Arc::clone(&self.buffers), disk: Arc::clone(&self.disk), asked: Mutex::default() }
    }

    /// The circuits of a file as it is in the editor, else on disk.
    pub(crate) fn parts(&self, key: &str) -> Option<Vec<Part>> {
        self.buffers.get(key).map(|buffer| buffer.parts.clone()).or_else(|| self.disk.read(key))
    }

    /// The text of a settings file, if there is one. Noted as asked for in any case: it may come to be.
    pub(crate) fn settings(&self, path: &Path) -> Option<Arc<str>> {
        let key = path_key(path);
        self.asked.lock().unwrap_or_else(PoisonError::into_inner).insert(key.clone());
        if let Some(buffer) = self.buffers.get(&key) {
            return Some(buffer.text.clone());
        }
        // Small, and read only when a document changed.
        let bytes = path.is_file().then(|| std::fs::read(path).ok()).flatten()?;
        Some(String::from_utf8_lossy(&bytes).into())
    }
}

impl World for Files {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        // A document that was never saved has no folder to look in.
        let folder = Path::new(from).parent().filter(|folder| folder.is_absolute())?;
        let key = path_key(&folder.join(path));
        self.asked.lock().unwrap_or_else(PoisonError::into_inner).insert(key.clone());
        self.parts(&key)?.into_iter().next().map(|part| part.source)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_meet() {
        let folder = std::env::temp_dir();
        let a = path_key(&folder.join("keyon-none-such/../x.keyon"));
        let b = path_key(&folder.join("./x.keyon"));
        assert_eq!(a, b);
        let spaced = folder.join("with blank.keyon");
        let by_uri = key(&Url::from_file_path(&spaced).unwrap());
        assert_eq!(by_uri, path_key(&spaced));
        assert_eq!(key(&uri(&by_uri).unwrap()), by_uri);
        assert_eq!(key(&Url::parse("untitled:Untitled-1").unwrap()), "untitled:Untitled-1");
        assert_eq!(uri("untitled:Untitled-1").unwrap().as_str(), "untitled:Untitled-1");
    }
}
