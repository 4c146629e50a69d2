//! Which diagnostics each file shows, and because of whom: the one place that knows.
//!
//! A circuit's check may find something in one of its libraries, and a library may be open itself: a file shows
//! the union, each finding once.

use smol_str::SmolStr;
use std::collections::BTreeMap;
use tower_lsp::lsp_types::Diagnostic;

/// By file, then by the document whose check said so.
#[derive(Debug, Default)]
pub(crate) struct Board {
    files: BTreeMap<SmolStr, BTreeMap<SmolStr, Vec<Diagnostic>>>,
    shown: BTreeMap<SmolStr, Vec<Diagnostic>>,
}

impl Board {
    /// What the check of `by` found, by file. Gives the files whose diagnostics changed, with all they show now.
    /// `always` is published even if nothing changed (a document just opened).
    pub(crate) fn put(
        &mut self,
        by: &SmolStr,
        found: BTreeMap<SmolStr, Vec<Diagnostic>>,
        always: Option<&SmolStr>,
    ) -> Vec<(SmolStr, Vec<Diagnostic>)> {
        for contributions in self.files.values_mut() {
            contributions.remove(by);
        }
        for (file, diagnostics) in found {
            self.files.entry(file).or_default().insert(by.clone(), diagnostics);
        }
        let mut changed = Vec::new();
        for (file, contributions) in &self.files {
            let mut all: Vec<Diagnostic> = Vec::new();
            for diagnostic in contributions.values().flatten() {
                if !all.contains(diagnostic) {
                    all.push(diagnostic.clone());
                }
            }
            all.sort_by_key(|d| (d.range.start, d.range.end));
            let unchanged = self.shown.get(file).map_or(all.is_empty(), |shown| *shown == all);
            if !unchanged || always == Some(file) {
                changed.push((file.clone(), all.clone()));
            }
            if all.is_empty() {
                self.shown.remove(file);
            } else {
                self.shown.insert(file.clone(), all);
            }
        }
        self.files.retain(|_, contributions| !contributions.is_empty());
        changed
    }

    /// Takes back all that the check of `by` said: it was closed.
    pub(crate) fn clear(&mut self, by: &SmolStr) -> Vec<(SmolStr, Vec<Diagnostic>)> {
        // The closed file's own are always cleared, also where none were shown, so that no client keeps old ones.
        let mut changed = self.put(by, BTreeMap::new(), None);
        if !changed.iter().any(|(file, _)| file == by) && !self.shown.contains_key(by) {
            changed.push((by.clone(), Vec::new()));
        }
        changed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn say(what: &str) -> Diagnostic {
        Diagnostic { message: what.into(), ..Diagnostic::default() }
    }
    fn found(rows: &[(&str, &str)]) -> BTreeMap<SmolStr, Vec<Diagnostic>> {
        let mut map = BTreeMap::<SmolStr, Vec<Diagnostic>>::new();
        for (file, what) in rows {
            map.entry((*file).into()).or_default().push(say(what));
        }
        map
    }
    fn words(changed: &[(SmolStr, Vec<Diagnostic>)]) -> Vec<String> {
        changed
            .iter()
            .map(|(file, all)| {
                format!("{file}: {}", all.iter().map(|d| &*d.message).collect::<Vec<_>>().join(", "))
            })
            .collect()
    }

    #[test]
    fn a_file_shows_the_union_once() {
        let mut board = Board::default();
        let (a, b) = ("a".into(), "b".into());
        assert_eq!(words(&board.put(&a, found(&[("a", "x"), ("lib", "y")]), None)), ["a: x", "lib: y"]);
        assert_eq!(words(&board.put(&b, found(&[("lib", "y")]), None)), Vec::<String>::new(), "same again");
        assert_eq!(words(&board.put(&b, found(&[("lib", "y"), ("lib", "z")]), None)), ["lib: y, z"]);
        assert_eq!(words(&board.clear(&a)), ["a: "], "b still says y and z");
        assert_eq!(words(&board.clear(&b)), ["lib: ", "b: "]);
    }

    #[test]
    fn opening_publishes_even_nothing() {
        let mut board = Board::default();
        let a = "a".into();
        assert_eq!(words(&board.put(&a, found(&[("a", "x")]), Some(&a))), ["a: x"]);
        assert_eq!(words(&board.put(&a, found(&[]), Some(&a))), ["a: "]);
        let mut none = found(&[]);
        none.insert(a.clone(), Vec::new());
        assert_eq!(words(&board.put(&a, none, Some(&a))), ["a: "]);
    }
}
