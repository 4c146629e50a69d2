//! Which parts changed, line by line.

use super::side::Side;
use keyon_circuit::Source;
use keyon_present::compare::PartChange;
use keyon_syntax::tree::ItemKind;
use std::collections::BTreeMap;

/// Parts whose text differs in files that both versions have; blanks do not count.
pub(super) fn changes(old: &Side, new: &Side) -> Vec<PartChange> {
    let mut out = Vec::new();
    for (file, key) in &new.list {
        let known = if old.single { old.list.values().next() } else { old.list.get(file) };
        let known = known.and_then(|key| old.files.content(key));
        let (Some(before), Some(after)) = (known, new.files.content(key)) else { continue };
        if before.hash == after.hash {
            continue;
        }
        let mut before = parts(before.source());
        for (name, lines) in parts(after.source()) {
            let change = |old, new| PartChange { file: file.clone(), part: name.clone(), old, new };
            match before.remove(&name) {
                Some(known) if known == lines => {}
                Some(known) => {
                    let (old, new) = unlike(known, lines);
                    out.push(change(old, new));
                }
                None => out.push(change(Vec::new(), vec![format!("part {name}")])),
            }
        }
        for name in before.into_keys() {
            let gone = vec![format!("part {name}")];
            out.push(PartChange { file: file.clone(), part: name, old: gone, new: Vec::new() });
        }
    }
    out
}

/// Every part by its name, as lines without blanks at their ends and with single ones inside.
fn parts(source: &Source) -> BTreeMap<String, Vec<String>> {
    let mut parts = BTreeMap::new();
    for placed in &source.parse.file.items {
        let ItemKind::Part(part) = &placed.item.kind else { continue };
        let span = placed.item.statement.moved(placed.start);
        let text = source.text.get(span.range()).unwrap_or_default();
        let lines = text.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "));
        parts.insert(part.name.text.to_string(), lines.filter(|line| !line.is_empty()).collect());
    }
    parts
}

/// The lines of each that the other does not have, in order.
fn unlike(old: Vec<String>, new: Vec<String>) -> (Vec<String>, Vec<String>) {
    let mut counts: BTreeMap<&str, i64> = BTreeMap::new();
    for line in &new {
        *counts.entry(line).or_default() += 1;
    }
    let mut gone = Vec::new();
    for line in &old {
        match counts.get_mut(line.as_str()) {
            Some(count) if *count > 0 => *count -= 1,
            _ => gone.push(line.clone()),
        }
    }
    let mut come: Vec<String> = Vec::new();
    for line in new.iter().rev() {
        if let Some(count) = counts.get_mut(line.as_str()).filter(|count| **count > 0) {
            *count -= 1;
            come.push(line.clone());
        }
    }
    come.reverse();
    (gone, come)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_differs_is_left_in_order() {
        let lines = |text: &str| text.split(',').map(str::to_owned).collect::<Vec<_>>();
        let (old, new) = unlike(lines("part v,coil 24 ohm,a,a,}"), lines("part v,coil 20 ohm,a,b,}"));
        assert_eq!((old, new), (lines("coil 24 ohm,a"), lines("coil 20 ohm,b")));
        let (old, new) = unlike(lines("a,b"), lines("b,a"));
        assert!(old.is_empty() && new.is_empty());
    }
}
