//! The circuits and libraries of the workspace folders.

use crate::files::{self, Files};
use keyon_circuit::Source;
use keyon_solve::{Cancel, Cancelled};
use std::path::{Path, PathBuf};

/// Files that are looked at, at most.
const MOST: usize = 20_000;

/// Every `.keyon` file of the folders, as it is in the editor or on disk, in the order of their paths.
///
/// # Errors
/// When `cancel` asks for it.
pub(crate) fn sources(
    roots: &[PathBuf],
    world: &Files,
    cancel: &dyn Cancel,
) -> Result<Vec<Source>, Cancelled> {
    let mut paths = Vec::new();
    let mut folders: Vec<PathBuf> = roots.to_vec();
    while let Some(folder) = folders.pop() {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        for entry in entries.flatten() {
            let path = entry.path();
            let hidden = entry.file_name().to_string_lossy().starts_with('.');
            match entry.file_type() {
                Ok(kind) if kind.is_dir() && !hidden => folders.push(path),
                Ok(kind) if kind.is_file() && is_ours(&path) && paths.len() < MOST => paths.push(path),
                _ => {}
            }
        }
    }
    paths.sort();
    let mut out = Vec::with_capacity(paths.len());
    for path in paths {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        let key = files::path_key(&path);
        out.extend(world.buffers.get(&key).cloned().or_else(|| world.disk.read(&key)));
    }
    Ok(out)
}

fn is_ours(path: &Path) -> bool {
    path.extension().is_some_and(|e| e == "keyon")
}
