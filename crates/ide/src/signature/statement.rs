//! Which part of a statement is being written.

use super::Param;
use std::ops::Range;

/// What stands in a statement at some place.
#[derive(Debug)]
struct Slot<'f> {
    /// Where in the form.
    range: Range<usize>,
    /// The words that lead in what may be left out, `live in`; empty where it is known by its place.
    lead: Vec<&'f str>,
    /// What is to be filled in.
    holes: Vec<&'f str>,
    /// Words between: `to` of `pull_up OHMS to VOLTS`.
    between: Vec<&'f str>,
    optional: bool,
    /// How many of its holes are filled.
    filled: usize,
    /// Its lead was written.
    begun: bool,
}

impl Slot<'_> {
    fn open(&self) -> bool {
        self.filled < self.holes.len()
    }

    /// Whether a number with a unit belongs here.
    fn takes_amounts(&self) -> bool {
        self.holes.get(self.filled).is_some_and(|hole| is_amount(hole))
    }

    /// Whether a word that is no number belongs here.
    fn takes_words(&self) -> bool {
        self.holes.get(self.filled).is_some_and(|hole| !is_amount(hole) && !hole.starts_with('"'))
    }
}

/// Whether a number with a unit is to be filled in.
fn is_amount(hole: &str) -> bool {
    const AMOUNTS: &[&str] = &[
        "RATING",
        "OHMS",
        "AMPS",
        "VOLTS",
        "WATTS",
        "LOW",
        "HIGH",
        "GAUGE",
        "LENGTH",
        "TEMPERATURE",
        "KELVIN",
        "FREQUENCY",
        "VALUE",
    ];
    AMOUNTS.contains(&hole)
}

/// The parameters of a form behind `offset` bytes of a label.
pub(super) fn params(form: &str, offset: usize) -> Vec<Param> {
    let about = |slot: &Slot<'_>| match (slot.lead.first(), slot.holes.as_slice()) {
        (Some(lead), _) => crate::completion::words::help(lead),
        (None, [hole, ..]) => super::forms::about(hole),
        _ => None,
    };
    let param = |slot: &Slot<'_>| Param {
        range: slot.range.start + offset..slot.range.end + offset,
        about: about(slot),
    };
    slots(form).iter().map(param).collect()
}

/// Takes a form apart.
fn slots(form: &str) -> Vec<Slot<'_>> {
    let mut slots: Vec<Slot<'_>> = Vec::new();
    let mut at = 0;
    while let Some(rest) = form.get(at..).filter(|rest| !rest.is_empty()) {
        if rest.starts_with('[') {
            let length = rest.find(']').map_or(rest.len(), |close| close + 1);
            let inside = rest.get(1..length - 1).unwrap_or_default();
            slots.push(slot(inside, at..at + length, true));
            at += length;
        } else {
            let length = rest.find(' ').unwrap_or(rest.len());
            let word = rest.get(..length).unwrap_or_default();
            let text = word.starts_with('"');
            if text || is_hole(word) {
                slots.push(slot(word, at..at + length, false));
            } else if word.chars().next().is_some_and(char::is_lowercase) {
                // A word that has to be there leads what follows it, up to the next: `drop VOLTS`, `over LOW .. HIGH`.
                let mut end = at + length;
                let mut inside = word;
                while let Some(next) = form.get(end + 1..).and_then(|more| more.split(' ').next()) {
                    if !is_hole(next) && next != ".." {
                        break;
                    }
                    end += 1 + next.len();
                    inside = form.get(at..end).unwrap_or_default();
                    if next != ".." && form.get(end..).is_some_and(|more| !more.starts_with(" ..")) {
                        break;
                    }
                }
                slots.push(slot(inside, at..end, false));
                at = end;
                continue;
            }
            at += length;
        }
        at += 1;
    }
    slots
}

/// `CAVITY,` and `PIN)` are holes too.
fn is_hole(word: &str) -> bool {
    let bare = word.trim_matches(|c: char| matches!(c, '(' | ')' | ','));
    bare.len() > 1 && bare.chars().all(|c| c.is_ascii_uppercase())
}

fn slot(inside: &str, range: Range<usize>, optional: bool) -> Slot<'_> {
    let (mut lead, mut holes, mut between) = (Vec::new(), Vec::new(), Vec::new());
    for word in inside.split(' ').filter(|word| *word != "..") {
        if is_hole(word) || word.starts_with('"') {
            holes.push(word.trim_matches(|c: char| matches!(c, '(' | ')' | ',')));
        } else if holes.is_empty() {
            lead.push(word);
        } else {
            between.push(word);
        }
    }
    Slot { range, lead, holes, between, optional, filled: 0, begun: false }
}

/// The slot in which the cursor is, behind these words of the statement; `None` where nothing has to follow. With `more` also what may
/// follow. `quoted`: a text is being written.
pub(super) fn active(form: &str, before: &[&str], quoted: bool, more: bool) -> Option<usize> {
    let mut slots = slots(form);
    let mut now: Option<usize> = None;
    // A number that waits for its unit.
    let mut half: Option<usize> = None;
    for (at, &word) in before.iter().enumerate() {
        let next = before.get(at + 1).copied();
        if let Some(waiting) = half.take() {
            if is_unit(word) {
                fill(&mut slots, waiting, &mut now);
                continue;
            }
            if word != ".." {
                // It was a name, or has no unit yet.
                fill(&mut slots, waiting, &mut now);
            } else {
                slots[waiting].filled += 1;
                continue;
            }
        }
        if word == "->" {
            arrow(&mut slots, &mut now);
        } else if word.starts_with('"') {
            let text =
                |slot: &Slot<'_>| slot.holes.get(slot.filled).is_some_and(|hole| hole.starts_with('"'));
            let own = now.filter(|&at| text(&slots[at]));
            if let Some(at) = own.or_else(|| slots.iter().position(|slot| slot.lead.is_empty() && text(slot)))
            {
                fill(&mut slots, at, &mut now);
            }
        } else if let Some(at) = lead(&slots, word, next) {
            slots[at].begun = true;
            now = Some(at).filter(|&at| slots[at].open());
        } else if now.is_some_and(|at| slots[at].lead.contains(&word) || slots[at].between.contains(&word))
            || !word.starts_with(char::is_alphanumeric)
        {
            // `by` of `shared by`; signs.
        } else if word.starts_with(|c: char| c.is_ascii_digit()) {
            let whole = word.ends_with(char::is_alphabetic) && !word.ends_with(['x', 'X']);
            let place = now.or_else(|| place(&slots, before, at));
            if let Some(at) = place {
                if whole || slots[at].takes_words() {
                    fill(&mut slots, at, &mut now);
                } else {
                    half = Some(at);
                }
            }
        } else if let Some(at) = now.or_else(|| {
            slots.iter().position(|slot| slot.lead.is_empty() && slot.takes_words() && slot.open())
        }) {
            fill(&mut slots, at, &mut now);
        }
    }
    if before.last() == Some(&"/") {
        return slots.iter().position(|slot| slot.holes.first() == Some(&"COLOUR"));
    }
    // What can be told from where a list goes on.
    if before.last() == Some(&",") {
        let list =
            |slot: &Slot<'_>| slot.holes.last().is_some_and(|hole| hole.ends_with('S')) && slot.filled > 0;
        if let Some(at) = slots.iter().rposition(list) {
            return Some(at);
        }
    }
    if quoted {
        let text = |slot: &Slot<'_>| slot.holes.last().is_some_and(|hole| hole.starts_with('"'));
        return now
            .filter(|&at| text(&slots[at]))
            .or_else(|| slots.iter().position(|slot| slot.lead.is_empty() && text(slot)));
    }
    let wanted = half.or(now).or_else(|| slots.iter().position(|slot| !slot.optional && slot.open()));
    wanted.or_else(|| {
        let known = |slot: &Slot<'_>| !slot.lead.is_empty() || slot.holes.first() == Some(&"FROM");
        let free = |slot: &Slot<'_>| slot.optional && !slot.begun && slot.filled == 0 && known(slot);
        slots.iter().position(free).filter(|_| more)
    })
}

/// Where a number goes: behind `mm2` the next is a length; a wire's label may be one, and so may a pin.
fn place(slots: &[Slot<'_>], before: &[&str], at: usize) -> Option<usize> {
    let free = |slot: &Slot<'_>| slot.lead.is_empty() && slot.open();
    let amount = |slot: &Slot<'_>| free(slot) && slot.takes_amounts();
    let first = slots.iter().position(|slot| free(slot) && (slot.takes_words() || slot.takes_amounts()))?;
    // A name that is a number: what follows is no unit.
    if slots[first].takes_words() && !before.get(at + 1).is_some_and(|next| is_unit(next)) {
        let named = slots[first].holes.first().is_some_and(|hole| *hole != "NAME" && *hole != "COLOUR");
        if named {
            return Some(first);
        }
    }
    let unit = before.get(at + 1).copied().unwrap_or_default();
    let length = matches!(unit, "m" | "cm" | "mm" | "km" | "ft" | "in");
    let named = |hole: &str| slots.iter().position(|slot| amount(slot) && slot.holes.first() == Some(&hole));
    match unit {
        _ if length => named("LENGTH"),
        "mm2" | "AWG" => named("GAUGE"),
        _ => None,
    }
    .or_else(|| slots.iter().position(amount))
    .or(Some(first))
}

/// The clause that a word begins, if it is not there yet. Of two that begin alike the one whose second word follows.
fn lead(slots: &[Slot<'_>], word: &str, next: Option<&str>) -> Option<usize> {
    let fits = |slot: &Slot<'_>| slot.lead.first() == Some(&word) && !slot.begun;
    let both = |slot: &Slot<'_>| fits(slot) && slot.lead.get(1).copied() == next;
    slots.iter().position(both).or_else(|| slots.iter().position(fits))
}

/// One more of a slot's holes is filled.
fn fill(slots: &mut [Slot<'_>], at: usize, now: &mut Option<usize>) {
    if let Some(slot) = slots.get_mut(at) {
        slot.filled += 1;
        *now = Some(at).filter(|_| slot.open() && !slot.lead.is_empty() || slot.open() && slot.filled > 0);
    }
}

/// What stands before an arrow is where it comes from, whatever it was taken for; behind one the next stretch begins.
fn arrow(slots: &mut [Slot<'_>], now: &mut Option<usize>) {
    *now = None;
    let hole = |slot: &Slot<'_>, name: &str| slot.holes.first() == Some(&name);
    let Some(from) = slots.iter().position(|slot| hole(slot, "FROM")) else { return };
    for slot in slots.iter_mut().take(from + 1).filter(|slot| !slot.optional) {
        // Values stand in front of a path as well, where they are given.
        if !slot.holes.first().is_some_and(|hole| is_amount(hole)) {
            slot.filled = slot.holes.len();
        }
    }
    // A path that may be left out is one slot.
    if let Some(path) = slots.get_mut(from).filter(|slot| slot.holes.len() > 1) {
        path.filled = 1;
        *now = Some(from);
    } else if let Some(to) = slots.get_mut(from + 1).filter(|slot| hole(slot, "TO")) {
        to.filled = 0;
    }
}

fn is_unit(word: &str) -> bool {
    keyon_syntax::unit::Unit::from_spelling(word).is_some() || word == "AWG"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_forms_apart() {
        let form =
            "NAME [\"title\"] FROM -> TO RATING [live in CONTROL POSITION] over LOW .. HIGH drop VOLTS";
        let shown: Vec<_> = slots(form).iter().map(|slot| form[slot.range.clone()].to_owned()).collect();
        assert_eq!(
            shown,
            [
                "NAME",
                "[\"title\"]",
                "FROM",
                "TO",
                "RATING",
                "[live in CONTROL POSITION]",
                "over LOW .. HIGH",
                "drop VOLTS"
            ]
        );
    }
}
