//! `keyon compare`.

mod circuit;
mod parts;
mod side;

use crate::{
    args::{CompareArgs, CompareFormat},
    output::{self, Failure, Outcome},
};
use circuit::{Fingerprint, Version};
use keyon_present::compare::{Comparison, Moved, comparison_json, comparison_markdown, comparison_text};
use side::Side;
use std::{
    collections::{BTreeMap, BTreeSet},
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicUsize, Ordering},
    },
};

pub(crate) fn run(args: &CompareArgs) -> Result<Outcome, Failure> {
    let (old, new) = side::sides(&args.old, args.new.as_deref(), args.only.as_deref())?;
    let comparison = compare(&old, &new)?;
    match args.format {
        CompareFormat::Text => output::print(&comparison_text(&comparison))?,
        CompareFormat::Markdown => output::print(&comparison_markdown(&comparison))?,
        CompareFormat::Json => output::print_json(&comparison_json(&comparison))?,
    }
    Ok(if comparison.is_worse() { Outcome::Findings } else { Outcome::Sound })
}

fn compare(old: &Side, new: &Side) -> Result<Comparison, Failure> {
    let mut comparison = Comparison { old: old.name.clone(), new: new.name.clone(), ..Comparison::default() };
    let (before, after) = (circuit::fingerprints(old)?, circuit::fingerprints(new)?);
    comparison.parts = parts::changes(old, new);
    let mut pairs: Vec<(&Fingerprint, &Fingerprint)> = Vec::new();
    for (file, print) in &after {
        let known = partner(old, &before, &after, file, print);
        match known {
            Some(known) if known.hash == print.hash && (old.single || known.file == *file) => {
                comparison.untouched.push(file.clone());
            }
            Some(known) => pairs.push((known, print)),
            None if print.circuit.is_some() => comparison.added.push(file.clone()),
            None => {}
        }
    }
    let met: BTreeSet<&str> = pairs.iter().map(|(old, _)| old.file.as_str()).collect();
    for (file, print) in &before {
        let met = met.contains(file.as_str()) || (!old.single && after.contains_key(file));
        if !met && print.circuit.is_some() && !comparison.untouched.contains(file) {
            comparison.removed.push(file.clone());
        }
    }
    // A library has no readings of its own: what changed in it shows in its parts and in the circuits that use it.
    pairs.retain(|(old, new)| old.circuit.is_some() || new.circuit.is_some());
    comparison.circuits = all(old, new, &pairs);
    Ok(comparison)
}

/// The old version of a circuit: the file of the same path, else the only file that is gone and has a circuit of the same
/// name.
fn partner<'a>(
    old: &Side,
    before: &'a BTreeMap<String, Fingerprint>,
    after: &BTreeMap<String, Fingerprint>,
    file: &str,
    print: &Fingerprint,
) -> Option<&'a Fingerprint> {
    if old.single {
        return before.values().next();
    }
    if let Some(known) = before.get(file) {
        return Some(known);
    }
    let name = print.circuit.as_ref()?;
    let named = |all: &BTreeMap<String, Fingerprint>, others: &BTreeMap<String, Fingerprint>| {
        let fits = all.values().filter(|p| p.circuit.as_ref() == Some(name) && !others.contains_key(&p.file));
        fits.count()
    };
    if named(before, after) != 1 || named(after, before) != 1 {
        return None;
    }
    before.values().find(|p| p.circuit.as_ref() == Some(name) && !after.contains_key(&p.file))
}

/// Compares all pairs, several at a time, in their order.
fn all(
    old: &Side,
    new: &Side,
    pairs: &[(&Fingerprint, &Fingerprint)],
) -> Vec<keyon_present::compare::CircuitChange> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(pairs.len().max(1));
    let next = AtomicUsize::new(0);
    let slots: Vec<Mutex<Option<_>>> = pairs.iter().map(|_| Mutex::new(None)).collect();
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let (Some((before, after)), Some(slot)) = (pairs.get(index), slots.get(index)) else {
                        return;
                    };
                    let (before, after) = (Version::new(old, before), Version::new(new, after));
                    let change = circuit::change(&before, &after);
                    *slot.lock().unwrap_or_else(PoisonError::into_inner) = change.map(|mut change| {
                        if !old.single && before.file != after.file {
                            change.moved = Some(Moved { from: before.file });
                        }
                        change
                    });
                }
            });
        }
    });
    slots.into_iter().filter_map(|slot| slot.into_inner().unwrap_or_else(PoisonError::into_inner)).collect()
}
