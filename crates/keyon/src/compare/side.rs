//! One of the two versions: a file, a folder, or a commit.

use crate::{
    check::is_excluded,
    files,
    git::Repository,
    output::Failure,
    world::{Content, Disk, Files, finder, key_of, lock},
};
use keyon_check::settings::Finder;
use std::{
    collections::{BTreeMap, HashMap},
    path::{Component, Path, PathBuf},
    sync::{Arc, Mutex},
};

const WHY: &str = "`keyon compare`";

/// A version of a library.
pub(super) struct Side {
    /// As the command line calls it.
    pub(super) name: String,
    pub(super) files: Arc<dyn Files + Send>,
    pub(super) finder: Finder<'static>,
    /// To which shown names are relative.
    root: PathBuf,
    /// The files to compare: by the names relative to the root.
    pub(super) list: BTreeMap<String, PathBuf>,
    /// It is a single file: it is compared with whatever single file the other side is.
    pub(super) single: bool,
}

impl Side {
    /// How a key is shown: relative to the root where it is inside.
    pub(super) fn shown(&self, key: &Path) -> String {
        let inside = key.strip_prefix(&self.root).unwrap_or(key);
        inside.iter().map(|name| name.to_string_lossy()).collect::<Vec<_>>().join("/")
    }
}

/// Both versions that the command line means, the old one first.
pub(super) fn sides(old: &str, new: Option<&str>, only: Option<&Path>) -> Result<(Side, Side), Failure> {
    let is_path = |name: &str| Path::new(name).exists();
    let (old, new) = match new {
        Some(new) => (old.to_owned(), Some(new.to_owned())),
        None if is_path(old) => {
            return Err(Failure::Message(format!(
                "`{old}` is a file or a folder: name the other version too, or name a commit"
            )));
        }
        None => match old.split_once("..") {
            Some((_, new)) if new.starts_with('.') => {
                return Err(Failure::Message("write `OLD..NEW`, with two points".to_owned()));
            }
            Some((old, new)) => {
                let named = |side: &str| if side.is_empty() { "HEAD" } else { side }.to_owned();
                (named(old), Some(named(new)))
            }
            None => (old.to_owned(), None),
        },
    };
    let commit = |name: &str| -> Result<Side, Failure> { revision(name, only) };
    match new {
        Some(new) => {
            let side = |name: &str| if is_path(name) { disk(Path::new(name), only) } else { commit(name) };
            let (old, new) = (side(&old)?, side(&new)?);
            if old.single != new.single {
                return Err(Failure::Message("a single file is compared with a single file".to_owned()));
            }
            Ok((old, new))
        }
        None => {
            let old = commit(&old)?;
            let top = Repository::of(Path::new("."), WHY)?.top;
            let mut new = disk(&top, only)?;
            new.name = "the files as they are".to_owned();
            Ok((old, new))
        }
    }
}

/// A file or a folder.
fn disk(path: &Path, only: Option<&Path>) -> Result<Side, Failure> {
    let finder = finder();
    let single = path.is_file();
    let root = PathBuf::from(key_of(path));
    let found = files::find(&[path.to_owned()], &|file| is_excluded(&finder, file));
    if let Some(complaint) = found.complaints.first() {
        return Err(Failure::Message(complaint.clone()));
    }
    let root = if single { root.parent().map_or(root.clone(), Path::to_owned) } else { root };
    let mut side = Side {
        name: path.display().to_string(),
        files: Arc::new(Disk::default()),
        finder,
        root,
        list: BTreeMap::new(),
        single,
    };
    let only = only.map(|only| PathBuf::from(key_of(only)));
    for key in found.keys {
        if only.as_ref().is_none_or(|only| key.starts_with(only)) {
            side.list.insert(side.shown(&key), key);
        }
    }
    Ok(side)
}

/// A commit of the repository that we are in.
fn revision(name: &str, only: Option<&Path>) -> Result<Side, Failure> {
    let repository = Repository::of(Path::new("."), WHY)?;
    let commit = repository.commit(name, WHY).map_err(|failure| match failure {
        Failure::Message(message) => {
            Failure::Message(format!("{message}, and there is no such file or folder"))
        }
        Failure::Pipe => Failure::Pipe,
    })?;
    let root = PathBuf::from("/");
    let files = repository.files(&commit, WHY)?;
    let files: HashMap<PathBuf, Vec<u8>> =
        files.into_iter().map(|(path, bytes)| (root.join(path), bytes)).collect();
    let files = Arc::new(Revision { files, known: Mutex::default() });
    let texts = files.clone();
    let finder = Finder::new(Box::new(move |path: &Path| {
        Some(String::from_utf8_lossy(texts.files.get(path)?).into())
    }));
    // Where we are told to look, as a path below the top.
    let only = match only {
        None => root.clone(),
        Some(only) => {
            let key = PathBuf::from(key_of(only));
            let inside = key.strip_prefix(&repository.top).map_err(|_| {
                Failure::Message(format!("`{}` is outside of the repository", only.display()))
            })?;
            root.join(inside)
        }
    };
    let mut list = BTreeMap::new();
    for key in files.files.keys().filter(|key| key.starts_with(&only)) {
        let circuit = key.extension().is_some_and(|ending| ending == files::ENDING);
        let excluded = finder.find(key).is_some_and(|found| found.config.excludes(&found.relative(key)));
        if circuit && !excluded {
            let inside = key.strip_prefix(&root).unwrap_or(key);
            list.insert(inside.display().to_string(), key.clone());
        }
    }
    Ok(Side { name: name.to_owned(), files, finder, root, list, single: false })
}

/// The files of a commit. Their keys are paths as if the repository's top were the root of the disk.
struct Revision {
    files: HashMap<PathBuf, Vec<u8>>,
    known: Mutex<HashMap<PathBuf, Arc<Content>>>,
}

impl Files for Revision {
    fn resolve(&self, from: &str, path: &str) -> PathBuf {
        let mut out = Path::new(from).parent().unwrap_or(Path::new("/")).to_owned();
        for part in Path::new(path).components() {
            match part {
                Component::ParentDir => {
                    out.pop();
                }
                Component::Normal(name) => out.push(name),
                _ => {}
            }
        }
        out
    }

    fn content(&self, file: &Path) -> Option<Arc<Content>> {
        let bytes = self.files.get(file)?;
        let mut known = lock(&self.known);
        let content = known
            .entry(file.to_owned())
            .or_insert_with(|| Arc::new(Content::new(file.display().to_string(), bytes)));
        Some(content.clone())
    }
}
