//! Set-ups and faults as a command line says them.

use super::Builder;
use crate::{Elaboration, libraries, model::Change};
use keyon_syntax::tree::ItemKind;

/// Reads a set-up: `unplug left_valve`.
pub(crate) fn parse_setup(e: &Elaboration, text: &str) -> Result<Vec<Change>, String> {
    let whole = format!("scenario said {{\n  {text}\n}}\n");
    read(e, text, &whole, |b, kind| match kind {
        ItemKind::Scenario(said) if said.settings.is_empty() && said.setups.len() == 1 => {
            let mut changes = Vec::new();
            b.setups(&said.setups, &mut changes);
            Some(changes)
        }
        _ => None,
    })
}

/// Reads a fault: `open 431`.
pub(crate) fn parse_fault(e: &Elaboration, text: &str) -> Result<Vec<Change>, String> {
    let whole = format!("exercise said in said {{\n  fault {text}\n}}\n");
    read(e, text, &whole, |b, kind| match kind {
        ItemKind::Exercise(said) => match said.faults.as_slice() {
            [fault] => Some(b.fault(fault).unwrap_or_default()),
            _ => None,
        },
        _ => None,
    })
}

/// Parses the one item that was made of a text, and lets `take` build it.
fn read(
    e: &Elaboration,
    text: &str,
    whole: &str,
    take: impl FnOnce(&mut Builder<'_>, &ItemKind) -> Option<Vec<Change>>,
) -> Result<Vec<Change>, String> {
    let parse = keyon_syntax::parse(whole);
    if let Some(error) = parse.errors.first() {
        return Err(match &error.help {
            Some(help) => format!("{}; {help}", error.message),
            None => error.message.clone(),
        });
    }
    let not_one = || format!("`{text}` is not one thing to do to the circuit");
    let [only] = parse.file.items.as_slice() else { return Err(not_one()) };
    let item = only.item.clone();
    let source = crate::Source { key: "said".into(), text: whole.into(), parse: parse.into() };
    let loaded = [source];
    let none = libraries::Libraries::none();
    let mut b = Builder::new(&loaded, &none);
    b.c = e.circuit.clone();
    let changes = take(&mut b, &item.kind);
    match (b.problems.first(), changes) {
        (Some(problem), _) => Err(match &problem.help {
            Some(help) => format!("{}; {help}", problem.message),
            None => problem.message.clone(),
        }),
        (None, Some(changes)) => Ok(changes),
        (None, None) => Err(not_one()),
    }
}
