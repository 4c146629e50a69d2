//! `workspace/willRenameFiles`: the paths of `use` follow the files that they mean.

use crate::{
    files::{self, Files},
    position::{Encoding, Lines},
    token::Token,
    workspace,
};
use keyon_solve::Cancelled;
use std::{
    collections::HashMap,
    path::{Path, PathBuf},
};
use tower_lsp::lsp_types::{FileRename, TextEdit, Url, WorkspaceEdit};

pub(crate) fn run(
    world: &Files,
    encoding: Encoding,
    token: &Token,
    (renames, roots): (Vec<FileRename>, Vec<PathBuf>),
) -> Result<Option<WorkspaceEdit>, Cancelled> {
    // By the paths that the file system knows; the new one does not exist yet.
    let path = |uri: &str| {
        let path = Url::parse(uri).ok()?.to_file_path().ok()?;
        Some(PathBuf::from(files::path_key(&path).as_str()))
    };
    let renames: Vec<(PathBuf, PathBuf)> =
        renames.iter().filter_map(|r| Some((path(&r.old_uri)?, path(&r.new_uri)?))).collect();
    let moved = |file: &Path| {
        renames.iter().find_map(|(old, new)| {
            let rest = file.strip_prefix(old).ok()?;
            Some(if rest.as_os_str().is_empty() { new.clone() } else { new.join(rest) })
        })
    };
    let mut changes: HashMap<Url, Vec<TextEdit>> = HashMap::new();
    for source in workspace::sources(&roots, world, token)? {
        let found = keyon_ide::moved_uses(&source, &moved);
        let Some(uri) = files::uri(&source.key).filter(|_| !found.is_empty()) else { continue };
        let lines = Lines::new(&source.text);
        let edits = found
            .into_iter()
            .map(|(span, new)| TextEdit::new(lines.range(&source.text, span, encoding), new));
        changes.insert(uri, edits.collect());
    }
    Ok((!changes.is_empty()).then(|| WorkspaceEdit::new(changes)))
}
