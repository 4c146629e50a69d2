//! The circuits, libraries and notes of the workspace folders.

use crate::{
    files::{self, Files},
    parts::{Part, is_note},
};
use keyon_solve::{Cancel, Cancelled};
use std::path::{Path, PathBuf};

/// Files that are looked at, at most.
const MOST: usize = 20_000;

/// Every `.keyon` file of the folders and every note with a circuit, as it is in the editor or on disk, in the order of their
/// paths; each with its circuits.
///
/// # Errors
/// When `cancel` asks for it.
pub(crate) fn files(
    roots: &[PathBuf],
    world: &Files,
    cancel: &dyn Cancel,
) -> Result<Vec<Vec<Part>>, Cancelled> {
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
                Ok(kind) if kind.is_dir() && !hidden && entry.file_name() != "node_modules" => {
                    folders.push(path)
                }
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
        let parts = world.parts(&files::path_key(&path)).unwrap_or_default();
        let parts: Vec<Part> = parts.into_iter().filter(Part::is_there).collect();
        out.extend((!parts.is_empty()).then_some(parts));
    }
    Ok(out)
}

fn is_ours(path: &Path) -> bool {
    path.extension().is_some_and(|e| e == "keyon") || path.to_str().is_some_and(is_note)
}
