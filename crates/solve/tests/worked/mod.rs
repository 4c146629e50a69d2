//! The worked examples of `tests/reference/dc-worked-examples.toml`: a reader for the little of TOML that it uses.

use std::collections::BTreeMap;

/// A table: key and value as text, quotes taken off.
pub(crate) type Entry = BTreeMap<String, String>;

/// One worked circuit.
#[derive(Debug, Default)]
pub(crate) struct Example {
    pub(crate) head: Entry,
    pub(crate) elements: Vec<Entry>,
    pub(crate) expects: Vec<Entry>,
}

impl Example {
    pub(crate) fn id(&self) -> &str {
        &self.head["id"]
    }
    pub(crate) fn element(&self, name: &str) -> usize {
        self.elements
            .iter()
            .position(|e| e["name"] == name)
            .unwrap_or_else(|| panic!("{}: no {name}", self.id()))
    }
}

pub(crate) fn number(entry: &Entry, key: &str) -> f64 {
    entry.get(key).unwrap_or_else(|| panic!("no {key} in {entry:?}")).parse().expect("a number")
}

/// All examples whose figures were seen in print or computed; those from memory are no test.
pub(crate) fn examples() -> Vec<Example> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/dc-worked-examples.toml");
    let text = std::fs::read_to_string(path).expect("the examples are in the repository");
    let mut examples: Vec<Example> = Vec::new();
    let mut target = 0;
    for line in text.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with('#')) {
        match line {
            "[[example]]" => (target, _) = (0, examples.push(Example::default())),
            "[[example.element]]" => (target, _) = (1, last(&mut examples).elements.push(Entry::new())),
            "[[example.expect]]" => (target, _) = (2, last(&mut examples).expects.push(Entry::new())),
            _ => {
                let (key, value) = line.split_once('=').expect("key = value");
                let example = last(&mut examples);
                let entry = match target {
                    0 => &mut example.head,
                    1 => example.elements.last_mut().expect("a table is open"),
                    _ => example.expects.last_mut().expect("a table is open"),
                };
                entry.insert(key.trim().into(), value.trim().trim_matches('"').into());
            }
        }
    }
    examples.retain(|e| matches!(e.head["basis"].as_str(), "seen" | "computed"));
    assert_eq!(examples.len(), 83, "all but the one from memory");
    examples
}

fn last(examples: &mut [Example]) -> &mut Example {
    examples.last_mut().expect("an example is open")
}

/// Compares with the exact answer, and with the print as far as it is printed.
pub(crate) fn compare(id: &str, expect: &Entry, got: f64) -> Result<(), String> {
    let exact = number(expect, "exact_si");
    // The exact figures are kept to twelve digits.
    if (got - exact).abs() > 1e-9 * exact.abs() + 1e-12 {
        return Err(format!("{id}: {expect:?}\n  got {got:e}, exactly {exact:e}"));
    }
    // Half of the last printed place where the row says that the print is the right rounding.
    if expect.get("agrees_within_half_last_digit").is_some_and(|v| v == "true") {
        let (print, step) = (number(expect, "published_si"), number(expect, "published_resolution_si"));
        if (got - print).abs() > 0.5 * step * (1.0 + 1e-6) {
            return Err(format!("{id}: {expect:?}\n  got {got}, printed {print}"));
        }
    }
    Ok(())
}
