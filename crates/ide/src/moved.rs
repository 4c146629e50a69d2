//! What has to be written otherwise when files are renamed or moved: the paths of `use`.

use keyon_circuit::Source;
use keyon_syntax::{Span, tree::ItemKind};
use std::path::{Component, Path, PathBuf};

/// The edits of one file. `moved` gives where a file goes, `None` for one that stays. The file's own place counts too: where
/// it moves to another folder, what it uses is found by another path from there.
pub fn moved_uses(source: &Source, moved: &dyn Fn(&Path) -> Option<PathBuf>) -> Vec<(Span, String)> {
    let own = Path::new(source.key.as_str());
    let Some(folder) = own.parent().filter(|folder| folder.is_absolute()) else { return Vec::new() };
    let moved_own = moved(own);
    let new_folder = moved_own.as_deref().and_then(Path::parent).unwrap_or(folder);
    let mut edits = Vec::new();
    for placed in &source.parse.file.items {
        let ItemKind::Use(library) = &placed.item.kind else { continue };
        let written = library.path.text.as_str();
        // What comes with Keyon has a name and no ending.
        if written.is_empty() || Path::new(written).extension().is_none() {
            continue;
        }
        let target = plain(&folder.join(written));
        let new_target = moved(&target);
        if new_target.is_none() && new_folder == folder {
            continue;
        }
        let path = relative(new_folder, new_target.as_deref().unwrap_or(&target));
        if path != written {
            edits.push((library.path.span.moved(placed.start), format!("\"{path}\"")));
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

/// Without `.` and `..`.
fn plain(path: &Path) -> PathBuf {
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
        let moved = |path: &Path| moved(path).map(|p| plain(&p));
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
