//! Which `keyon.toml` holds for a file: the nearest one, in its folder or above. The terminal and the editor ask here;
//! where a text comes from (the disk, an open buffer, a revision) is theirs.

use super::{Config, Mistake, Settings};
use keyon_circuit::hash::Map;
use std::{
    collections::BTreeMap,
    ffi::OsString,
    path::{Path, PathBuf},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

/// The name of a settings file.
pub const FILE_NAME: &str = "keyon.toml";

/// A settings file.
#[derive(Debug)]
pub struct Found {
    #[allow(missing_docs)]
    pub path: PathBuf,
    #[allow(missing_docs)]
    pub text: Arc<str>,
    #[allow(missing_docs)]
    pub config: Config,
    /// What is wrong in it.
    pub mistakes: Vec<Mistake>,
    /// By the overrides that hold: most files of a library share one.
    made: Mutex<BTreeMap<Vec<usize>, Arc<Settings>>>,
}

impl Found {
    fn new(path: PathBuf, text: Arc<str>) -> Self {
        let (config, mistakes) = Config::parse(&text);
        Self { path, text, config, mistakes, made: Mutex::default() }
    }

    /// A file's path relative to the folder of the settings, `/` between names; the whole path if it is not inside.
    pub fn relative(&self, file: &Path) -> String {
        let inside = self.path.parent().and_then(|folder| file.strip_prefix(folder).ok()).unwrap_or(file);
        let names: Vec<_> = inside.iter().map(|name| name.to_string_lossy()).collect();
        names.join("/")
    }

    fn settings(&self, file: &Path) -> Arc<Settings> {
        let overrides = self.config.matching(&self.relative(file));
        let mut made = lock(&self.made);
        if let Some(known) = made.get(&overrides) {
            return known.clone();
        }
        let settings = Arc::new(self.config.settings(&overrides));
        made.insert(overrides, settings.clone());
        settings
    }
}

/// Gives the text of a file, if there is one.
pub type Read<'a> = Box<dyn Fn(&Path) -> Option<Arc<str>> + Send + Sync + 'a>;

/// Finds settings and keeps what it found: each folder is looked at once.
pub struct Finder<'a> {
    read: Read<'a>,
    /// By folder. As one string, not name by name: each file asks.
    folders: Mutex<Map<OsString, Option<Arc<Found>>>>,
    usual: Arc<Settings>,
}

impl std::fmt::Debug for Finder<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Finder").field("folders", &self.folders).finish_non_exhaustive()
    }
}

impl<'a> Finder<'a> {
    /// With a way to read files.
    pub fn new(read: Read<'a>) -> Self {
        Self { read, folders: Mutex::default(), usual: Arc::default() }
    }

    /// The nearest settings file of an absolute path: in its folder or above.
    pub fn find(&self, file: &Path) -> Option<Arc<Found>> {
        self.of_folder(file.parent()?)
    }

    /// The settings file that holds for the files of a folder.
    pub fn of_folder(&self, folder: &Path) -> Option<Arc<Found>> {
        let mut passed: Vec<PathBuf> = Vec::new();
        let mut found = None;
        for folder in folder.ancestors() {
            if let Some(known) = lock(&self.folders).get(folder.as_os_str()) {
                found.clone_from(known);
                break;
            }
            passed.push(folder.to_owned());
            let path = folder.join(FILE_NAME);
            if let Some(text) = (self.read)(&path) {
                found = Some(Arc::new(Found::new(path, text)));
                break;
            }
        }
        let mut folders = lock(&self.folders);
        for folder in passed {
            // Whoever came first wins, so that all files of a folder share one.
            found.clone_from(folders.entry(folder.into()).or_insert_with(|| found.clone()));
        }
        found
    }

    /// The settings that hold for a file; the usual ones where there is no settings file.
    pub fn settings(&self, file: &Path) -> Arc<Settings> {
        self.find(file).map_or_else(|| self.usual.clone(), |found| found.settings(file))
    }

    /// Every settings file that was found so far, by path.
    pub fn all(&self) -> Vec<Arc<Found>> {
        let mut all: BTreeMap<PathBuf, Arc<Found>> = BTreeMap::new();
        for found in lock(&self.folders).values().flatten() {
            all.entry(found.path.clone()).or_insert_with(|| found.clone());
        }
        all.into_values().collect()
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Level;

    fn finder<'a>(files: &'a [(&'a str, &'a str)]) -> Finder<'a> {
        Finder::new(Box::new(move |path: &Path| {
            files.iter().find(|(name, _)| Path::new(name) == path).map(|(_, text)| Arc::from(*text))
        }))
    }

    #[test]
    fn the_nearest_file_wins_and_is_not_mixed_with_those_above() {
        let files = [
            ("/lib/keyon.toml", "[rules]\nvoltage-drop = \"error\"\n"),
            ("/lib/old/keyon.toml", "[limits]\nvoltage-drop = \"5 %\"\n"),
        ];
        let finder = finder(&files);
        let top = finder.settings(Path::new("/lib/a/b.keyon"));
        assert_eq!(top.level("voltage-drop"), Some(Some(Level::Error)));
        let old = finder.settings(Path::new("/lib/old/a/b.keyon"));
        assert_eq!((old.level("voltage-drop"), old.voltage_drop), (None, 0.05));
        assert_eq!(*finder.settings(Path::new("/other/b.keyon")), Settings::default());
        let paths: Vec<_> = finder.all().iter().map(|found| found.path.clone()).collect();
        assert_eq!(paths, [Path::new("/lib/keyon.toml"), Path::new("/lib/old/keyon.toml")]);
    }

    #[test]
    fn overrides_hold_for_their_paths_and_the_last_wins() {
        let text = "\
[[override]]
paths = [\"legacy/**\", \"x.keyon\"]
rules = { missing-gauge = \"off\", voltage-drop = \"error\" }
[[override]]
paths = [\"legacy/new/*\"]
rules.voltage-drop = \"hint\"
";
        let files = [("/lib/keyon.toml", text)];
        let finder = finder(&files);
        let level = |path: &str, rule| finder.settings(Path::new(path)).level(rule);
        assert_eq!(level("/lib/legacy/a.keyon", "missing-gauge"), Some(None));
        assert_eq!(level("/lib/legacy/new/a.keyon", "missing-gauge"), Some(None));
        assert_eq!(level("/lib/legacy/new/a.keyon", "voltage-drop"), Some(Some(Level::Hint)));
        assert_eq!(level("/lib/x.keyon", "voltage-drop"), Some(Some(Level::Error)));
        assert_eq!(level("/lib/y.keyon", "voltage-drop"), None);
        assert!(Arc::ptr_eq(
            &finder.settings(Path::new("/lib/y.keyon")),
            &finder.settings(Path::new("/lib/z.keyon"))
        ));
    }
}
