//! Many values in many states, each distinct one once. A column is one value a state; states take the value of the state that
//! they are much like (their parent), and a pattern says where they do not. Patterns, strings and columns are shared.

use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// All columns of a record.
#[derive(Debug, Default)]
pub(super) struct Columns {
    parents: Vec<usize>,
    strings: Interned<String>,
    patterns: Interned<Vec<usize>>,
    /// A pattern, and which strings its ordinals stand for.
    columns: Interned<(usize, Vec<usize>)>,
}

/// Things by number, in the order in which they came.
#[derive(Debug)]
struct Interned<T> {
    of: BTreeMap<T, usize>,
}

impl<T> Default for Interned<T> {
    fn default() -> Self {
        Self { of: BTreeMap::new() }
    }
}

impl<T: Ord> Interned<T> {
    fn number(&mut self, thing: T) -> usize {
        let next = self.of.len();
        *self.of.entry(thing).or_insert(next)
    }

    /// The things in the order of their new numbers, and the new number of each old one: what is used most comes first.
    fn by_use(&self, uses: &[usize]) -> (Vec<&T>, Vec<usize>) {
        let mut all: Vec<(&T, usize)> = self.of.iter().map(|(thing, &n)| (thing, n)).collect();
        let count = |n: usize| uses.get(n).copied().unwrap_or(0);
        all.sort_by_key(|&(_, n)| (std::cmp::Reverse(count(n)), n));
        let mut new = vec![0; all.len()];
        all.iter().enumerate().for_each(|(to, &(_, from))| new[from] = to);
        (all.into_iter().map(|(thing, _)| thing).collect(), new)
    }
}

impl Columns {
    pub(super) fn new(parents: Vec<usize>) -> Self {
        Self { parents, ..Self::default() }
    }

    /// The number of the column with these values; states beyond them take their parents' values.
    pub(super) fn column(&mut self, values: &[&str]) -> usize {
        let mut ordinals: BTreeMap<&str, usize> = BTreeMap::new();
        let mut strings = Vec::new();
        let mut here = Vec::with_capacity(values.len());
        let mut pattern = Vec::new();
        let mut same = 0;
        for (state, &value) in values.iter().enumerate() {
            let next = ordinals.len();
            let ordinal = *ordinals.entry(value).or_insert(next);
            if ordinal == next {
                strings.push(self.strings.number(value.to_owned()));
            }
            // The first state's value is the first.
            let parent = self.parents.get(state).and_then(|&p| here.get(p)).copied().unwrap_or(0);
            if ordinal == parent {
                same += 1;
            } else {
                pattern.extend([same, ordinal]);
                same = 0;
            }
            here.push(ordinal);
        }
        let pattern = self.patterns.number(pattern);
        self.columns.number((pattern, strings))
    }

    /// All of it with the texts that are made of it, as the page reads it.
    pub(super) fn written(&self, texts: Vec<(String, Vec<usize>)>) -> Map<String, Value> {
        let count = |size: usize, used: &mut dyn Iterator<Item = usize>| {
            let mut uses = vec![0; size];
            used.for_each(|n| uses[n] += 1);
            uses
        };
        let uses = count(self.columns.of.len(), &mut texts.iter().flat_map(|t| t.1.iter().copied()));
        let (columns, column) = self.columns.by_use(&uses);
        let uses = count(self.patterns.of.len(), &mut columns.iter().map(|c| c.0));
        let (patterns, pattern) = self.patterns.by_use(&uses);
        let uses = count(self.strings.of.len(), &mut columns.iter().flat_map(|c| c.1.iter().copied()));
        let (strings, string) = self.strings.by_use(&uses);
        let mut out = Map::new();
        out.insert("parents".into(), json!(numbers(self.parents.iter().copied())));
        out.insert("strings".into(), json!(strings));
        let all = patterns.iter().flat_map(|p| std::iter::once(p.len()).chain(p.iter().copied()));
        out.insert("patterns".into(), json!(numbers(all)));
        let all = columns.iter().flat_map(|(p, values)| {
            let head = [values.len(), pattern[*p]];
            head.into_iter().chain(values.iter().map(|&v| string[v]))
        });
        out.insert("columns".into(), json!(numbers(all)));
        let texts =
            texts.into_iter().map(|(name, used)| (name, json!(numbers(used.into_iter().map(|n| column[n])))));
        out.insert("texts".into(), Value::Object(texts.collect()));
        out
    }
}

/// Digits of numbers: each number ends with one of the first half, what comes before it is of the second.
const DIGITS: &[u8; 90] =
    b"!#$%'()*+,-./0123456789:;=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[]^_`abcdefghijklmnopqrstuvwxyz{|}~";
const HALF: usize = DIGITS.len() / 2;

/// Numbers, most of them small, in as few letters as is simple.
pub(super) fn numbers(all: impl Iterator<Item = usize>) -> String {
    let mut out = String::new();
    for mut number in all {
        let mut digits = vec![DIGITS[number % HALF]];
        while number >= HALF {
            number /= HALF;
            digits.push(DIGITS[HALF + number % HALF]);
        }
        out.extend(digits.iter().rev().map(|&d| char::from(d)));
    }
    out
}

/// The numbers again.
#[cfg(test)]
pub(super) fn read(text: &str) -> Vec<usize> {
    let mut out = Vec::new();
    let mut number = 0;
    for letter in text.bytes() {
        let digit = DIGITS.iter().position(|&d| d == letter).unwrap_or(0);
        number = number * HALF + digit % HALF;
        if digit < HALF {
            out.push(std::mem::take(&mut number));
        }
    }
    out
}
