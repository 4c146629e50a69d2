//! `workspace/willRenameFiles`: the paths of `use` follow the files that they mean.

use crate::{
    files::{self, Files},
    position::{Encoding, Lines},
    token::Token,
    workspace,
};
use keyon_circuit::Source;
use keyon_solve::Cancelled;
use keyon_syntax::Span;
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
    for source in workspace::files(&roots, world, token)?.into_iter().flatten().map(|part| part.source) {
        let found = moved_uses(&source, &moved);
        let Some(uri) = files::uri(&source.key).filter(|_| !found.is_empty()) else { continue };
        let lines = Lines::new(&source.text);
        let edits = found
            .into_iter()
            .map(|(span, new)| TextEdit::new(lines.range(&source.text, span, encoding), new));
        changes.entry(uri).or_default().extend(edits);
    }
    Ok((!changes.is_empty()).then(|| WorkspaceEdit::new(changes)))
}

/// The edits of one file. `moved` gives where a file goes, `None` for one that stays. The file's own place counts too: where
/// it moves to another folder, what it uses is found by another path from there.
fn moved_uses(source: &Source, moved: &dyn Fn(&Path) -> Option<PathBuf>) -> Vec<(Span, String)> {
    let own = Path::new(source.key.as_str());
    let Some(folder) = own.parent().filter(|folder| folder.is_absolute()) else { return Vec::new() };
    let moved_own = moved(own);
    let new_folder = moved_own.as_deref().and_then(Path::parent).unwrap_or(folder);
    let mut edits = Vec::new();
    for (span, written) in keyon_ide::uses(source) {
        // What comes with Keyon has a name and no ending.
        if written.is_empty() || Path::new(written).extension().is_none() {
            continue;
        }
        let target = files::plain(&folder.join(written));
        let new_target = moved(&target);
        if new_target.is_none() && new_folder == folder {
            continue;
        }
        let path = relative(new_folder, new_target.as_deref().unwrap_or(&target));
        if path != written {
            edits.push((span, format!("\"{path}\"")));
        }
    }
    edits
}

/// The way from a folder to a file, with `/` on every system.
fn relative(folder: &Path, file: &Path) -> String {
    let (from, to): (Vec<_>, Vec<_>) = (folder.components().collect(), file.components().collect());
    let same = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    let up = std::iter::repeat_n("..".to_owned(), from.len() - same);
    let down = to.iter().skip(same).map(|part| part.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    fn edits(key: &str, text: &str, renames: &[(&str, &str)]) -> Vec<String> {
        let source =
            Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) };
        let moved = |path: &Path| {
            renames.iter().find_map(|(old, new)| Some(Path::new(new).join(path.strip_prefix(old).ok()?)))
        };
        let moved = |path: &Path| moved(path).map(|p| files::plain(&p));
        moved_uses(&source, &moved)
            .into_iter()
            .map(|(span, new)| {
                assert!(text[span.range()].starts_with('"') && text[span.range()].ends_with('"'));
                new
            })
            .collect()
    }

    #[test]
    fn a_library_moves_away_under_its_users() {
        let text = "circuit a\nuse \"trade\"\nuse \"parts/pump.keyon\"\nuse \"parts/fan.keyon\" as fans\n";
        let moved = edits("/w/a.keyon", text, &[("/w/parts/pump.keyon", "/w/units/water/pump.keyon")]);
        assert_eq!(moved, ["\"units/water/pump.keyon\""]);
        let folder = edits("/w/a.keyon", text, &[("/w/parts", "/w/kit")]);
        assert_eq!(folder, ["\"kit/pump.keyon\"", "\"kit/fan.keyon\""]);
        assert_eq!(edits("/w/a.keyon", text, &[("/w/b.keyon", "/w/c.keyon")]), [""; 0]);
    }

    #[test]
    fn a_circuit_takes_its_ways_along() {
        let text = "circuit a\nuse \"trade\"\nuse \"../parts/pump.keyon\"\n";
        assert_eq!(edits("/w/x/a.keyon", text, &[("/w/x/a.keyon", "/w/a.keyon")]), ["\"parts/pump.keyon\""]);
        assert_eq!(edits("/w/x/a.keyon", text, &[("/w/x/a.keyon", "/w/x/b.keyon")]), [""; 0]);
        // A folder that holds both moves as a whole.
        assert_eq!(edits("/w/x/a.keyon", text, &[("/w", "/v")]), [""; 0]);
    }
}
