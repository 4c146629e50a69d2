//! Contacts that one blade serves: a changeover, a selector. Drawn as one symbol where the blade rests on one of them at a time:
//! two throws on whichever sides their wires leave, also with a position between them; more throws where the blade always rests
//! on one and the common terminal stands across from some.

use crate::{
    body::SMALL,
    glyph::{Glyph, HIGH, NOTE, Placed, STEP},
    layer::Side,
    scene::{At, Class, Sketch, Words, width_of},
};
use keyon_circuit::{
    ids::{ElementId, PointId},
    model::{Circuit, ElementKind, When},
};
use std::collections::BTreeMap;

/// One of the places on which a blade may rest.
#[derive(Clone, Debug)]
pub(crate) struct Throw {
    pub(crate) element: ElementId,
    /// The fixed contact.
    pub(crate) point: PointId,
    /// The blade rests here when nothing acts.
    rest: bool,
    /// What is said beside the fixed contact.
    note: String,
    /// Steps to the next fixed contact: room for its note, its pin's name and its links.
    room: i32,
    /// Where its lead leaves the symbol.
    side: Side,
}

/// Joins contacts that share a blade; `sides` are the sides of the points, `room` the steps that a point's pin needs.
pub(crate) fn join(
    circuit: &Circuit,
    glyphs: &[Glyph],
    sides: &BTreeMap<PointId, Side>,
    room: impl Fn(PointId) -> i32,
    mirrored: bool,
) -> Vec<Glyph> {
    let mut joined: Vec<Glyph> = Vec::new();
    let mut taken = vec![false; glyphs.len()];
    for (i, glyph) in glyphs.iter().enumerate() {
        if taken[i] {
            continue;
        }
        let group = group(circuit, glyphs, i, sides);
        let Some((common, members)) = group.filter(|(_, members)| !members.iter().any(|&m| taken[m])) else {
            joined.push(glyph.clone());
            continue;
        };
        // Each with the steps that it needs on either side.
        let mut throws: Vec<(Throw, i32)> = members
            .iter()
            .filter_map(|&m| {
                taken[m] = true;
                let g = glyphs.get(m)?;
                let point = g.ends.into_iter().find(|&p| p != common)?;
                let noted = if g.note.is_empty() { 0.0 } else { 10.0 + width_of(&g.note, NOTE) };
                let side = *sides.get(&point)?;
                // A lead that turns back runs beside the blade, its pin's name beside the common one's.
                let turns = Some(&side) == sides.get(&common);
                let least = if turns { 2 * room(point).max(room(common)).max(2) } else { 2 };
                let room = room(point).max((noted / STEP).ceil() as i32).max(least);
                let note = g.note.clone();
                Some((Throw { element: g.element, point, rest: g.breaks, note, room, side }, least))
            })
            .collect();
        if mirrored {
            throws.reverse();
        }
        let before: Vec<i32> = throws.iter().skip(1).map(|(_, least)| *least).collect();
        for ((throw, _), least) in throws.iter_mut().zip(before) {
            throw.room = throw.room.max(least);
        }
        let throws: Vec<Throw> = throws.into_iter().map(|(throw, _)| throw).collect();
        let Some(first) = throws.first() else { continue };
        let ends = [common, first.point];
        joined.push(Glyph { ends, note: String::new(), throws, ..glyph.clone() });
    }
    joined
}

/// The contacts that share a blade with the one at `first`, itself among them, and their common terminal.
fn group(
    circuit: &Circuit,
    glyphs: &[Glyph],
    first: usize,
    sides: &BTreeMap<PointId, Side>,
) -> Option<(PointId, Vec<usize>)> {
    let when = |g: &Glyph| {
        let of = circuit.elements.get(g.element.index()).filter(|_| g.kind == ElementKind::Contact);
        of.map(|e| e.when)
    };
    let own = when(glyphs.get(first)?)?;
    glyphs.get(first)?.ends.into_iter().find_map(|common| {
        let side = sides.get(&common)?;
        let member = |g: &Glyph| {
            let same = match (own, when(g)?) {
                (When::In { control: a, .. }, When::In { control: b, .. }) => a == b,
                (When::Energised { coil: a, .. }, When::Energised { coil: b, .. }) => a == b,
                _ => false,
            };
            let [a, b] = g.ends;
            let other = if a == common { b } else { a };
            let ends_here = (a == common || b == common) && other != common;
            (same && ends_here && sides.contains_key(&other)).then_some(other)
        };
        let found: Vec<(usize, PointId)> =
            glyphs.iter().enumerate().filter_map(|(i, g)| Some((i, member(g)?))).collect();
        let mut points: Vec<PointId> = found.iter().map(|f| f.1).collect();
        points.sort_unstable();
        points.dedup();
        let members: Vec<usize> = found.iter().map(|f| f.0).collect();
        let whens: Vec<When> = members.iter().filter_map(|&m| when(glyphs.get(m)?)).collect();
        // Where all leads leave on one side the blade would lie over that of a third throw.
        let clear = members.len() == 2 || points.iter().any(|p| sides.get(p) != Some(side));
        let one_blade =
            clear && points.len() == members.len() && members.len() > 1 && one_at_most(circuit, &whens);
        one_blade.then_some((common, members))
    })
}

/// Whether exactly one of these contacts is closed wherever what moves them stands; of two also none.
fn one_at_most(circuit: &Circuit, whens: &[When]) -> bool {
    match whens {
        [When::Energised { open: a, .. }, When::Energised { open: b, .. }] => a != b,
        [When::In { control, .. }, ..] => {
            let count = circuit.controls.get(control.index()).map_or(0, |c| c.positions.len().min(64));
            let closed = |w: &When, position: usize| matches!(w, When::In { positions, .. } if positions >> position & 1 == 1);
            let most = |position: usize| whens.iter().filter(|w| closed(w, position)).count();
            (0..count).all(|position| most(position) == 1 || whens.len() == 2 && most(position) == 0)
        }
        _ => false,
    }
}

/// Where the terminals go: the common one over the middle, the others in a row across; the lead of one that leaves on the
/// common terminal's side turns back.
pub(crate) fn place(glyph: &Glyph, common: Side) -> Placed {
    let mut at = 1;
    let mut fixed = Vec::new();
    for throw in &glyph.throws {
        fixed.push((throw.point, at, throw.side));
        at += throw.room;
    }
    let (first, last) = (fixed.first().map_or(1, |f| f.1), fixed.last().map_or(1, |f| f.1));
    let mut terminals = vec![(glyph.ends[0], (first + last) / 2, common)];
    terminals.extend(fixed);
    Placed { width: at, terminals }
}

/// Draws it with its upper left corner at `(x, y)`.
pub(crate) fn draw(glyph: &Glyph, placed: &Placed, (x, y): At, sketch: &mut Sketch) {
    let Some((&(common, step, side), fixed)) = placed.terminals.split_first() else { return };
    let edge = |side: Side| if side == Side::Top { y } else { y + HIGH };
    // From the common terminal towards the others.
    let on = if side == Side::Top { 1.0 } else { -1.0 };
    let middle = y + HIGH / 2.0;
    let pivot = (x + f64::from(step) * STEP, middle - 12.0 * on);
    sketch.line(Class::Lead(common), &[(pivot.0, edge(side)), pivot]);
    for (&(point, step, side), throw) in fixed.iter().zip(&glyph.throws) {
        let contact = (x + f64::from(step) * STEP, middle + 12.0 * on);
        sketch.line(Class::Lead(point), &[contact, (contact.0, edge(side))]);
        sketch.circle(Class::Symbol, contact, 1.8);
        let blade = Class::Blade { contact: throw.element, closed: true, rest: throw.rest };
        sketch.line(blade, &[pivot, (contact.0, contact.1 - 1.8 * on)]);
        if !throw.note.is_empty() {
            let at = (contact.0 + 5.0, contact.1 + 3.0);
            let text = throw.note.clone();
            let words = Words { at, text, size: SMALL, bold: false, middle: false, upright: false };
            sketch.words(Class::Text, words);
        }
    }
    if let [a, b] = glyph.throws.as_slice() {
        // Between two throws the blade may rest on neither.
        let class = Class::Neutral { throws: [a.element, b.element], rest: !a.rest && !b.rest };
        sketch.line(class, &[pivot, (pivot.0, middle + 5.0 * on)]);
    }
    sketch.circle(Class::Symbol, pivot, 1.8);
}
