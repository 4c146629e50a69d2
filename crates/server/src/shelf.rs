//! What the checks of the workspace's files found, kept as long as nothing changes that they hung on.

use crate::files::Files;
use smol_str::SmolStr;
use std::{
    collections::{BTreeMap, BTreeSet, HashMap},
    path::Path,
    sync::{Arc, Mutex, PoisonError},
};
use tower_lsp::lsp_types::Diagnostic;

/// Findings by the file they stand in.
pub(crate) type Found = BTreeMap<SmolStr, Vec<Diagnostic>>;

/// The texts of a file's circuits, or of a settings file; nothing where there is none.
type Texts = Vec<Arc<str>>;

#[derive(Debug)]
struct Kept {
    /// What was looked at, the file itself among it.
    seen: Vec<(SmolStr, Texts)>,
    found: Arc<Found>,
}

/// Findings by the file that was checked.
#[derive(Debug, Default)]
pub(crate) struct Shelf(Mutex<HashMap<SmolStr, Kept>>);

impl Shelf {
    /// What is kept of a file, if it still holds.
    pub(crate) fn get(&self, world: &Files, key: &SmolStr) -> Option<Arc<Found>> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let kept = kept.get(key)?;
        kept.seen.iter().all(|(key, before)| texts(world, key) == *before).then(|| Arc::clone(&kept.found))
    }

    /// Keeps what a check found that looked at these files.
    pub(crate) fn put(&self, world: &Files, key: SmolStr, asked: BTreeSet<SmolStr>, found: Arc<Found>) {
        let all = asked.into_iter().chain([key.clone()]);
        let seen = all.map(|key| (key.clone(), texts(world, &key))).collect();
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(key, Kept { seen, found });
    }
}

fn texts(world: &Files, key: &SmolStr) -> Texts {
    if key.ends_with(".toml") {
        return world.fresh().settings(Path::new(key.as_str())).into_iter().collect();
    }
    world.parts(key).into_iter().flatten().map(|part| part.source.text).collect()
}
