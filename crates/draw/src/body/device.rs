//! A device: the symbols of its elements side by side between its pins.

use super::{Body, Column, Landing, SMALL, STEP, Slot, steps, values, wrapped};
use crate::{
    block::Block,
    changeover,
    glyph::{self, Glyph, HIGH, Placed},
    layer::Side,
    scene::{Class, Sketch, Words, width_of},
};
use keyon_circuit::{
    ids::{DeviceId, PointId},
    model::{Circuit, Device, ElementKind},
};
use std::collections::BTreeMap;

/// Height of the strip that pin names stand in.
const STRIP: f64 = 12.0;
/// Between the lines that join what shares a pin.
const TIE: f64 = 7.0;

/// A pin, or a joint inside: what of the symbols meets in it.
#[derive(Debug, Default)]
struct Meeting {
    /// Index into the block's pins.
    pin: Option<usize>,
    side: Option<Side>,
    /// Steps of the terminals that meet here.
    at: Vec<i32>,
    /// Steps of the links' slots.
    slots: Vec<(usize, i32)>,
}

pub(super) fn body(circuit: &Circuit, id: DeviceId, block: &Block, landings: &[Landing]) -> Body {
    let Some(device) = circuit.devices.get(id.index()) else { return Body::default() };
    let mut glyphs = glyph::glyphs(circuit, &device.elements);
    if glyphs.iter().filter(|g| matches!(g.kind, ElementKind::Coil | ElementKind::Winding)).count() < 2 {
        for glyph in glyphs.iter_mut().filter(|g| g.kind != ElementKind::Contact) {
            glyph.note.clear();
        }
    }
    if glyphs.len() < 2 && device.pins.len() <= 2 {
        for glyph in &mut glyphs {
            glyph.note.clear();
        }
    }
    if glyphs.len() > 1 {
        value_notes(circuit, &mut glyphs);
    }
    let changes = glyphs.iter().filter(|g| g.kind == ElementKind::Contact).count() > 1;
    let mut best: Option<(Body, f64)> = None;
    for turned in [false, true] {
        if turned {
            glyphs.reverse();
            if glyphs.len() < 2 {
                for glyph in &mut glyphs {
                    glyph.ends.reverse();
                }
            }
        }
        // A changeover is turned for itself: its throws stand in the order of what they lead to.
        for mirrored in [turned, !turned].into_iter().take(if changes { 2 } else { 1 }) {
            let (body, wish) = variant(circuit, device, block, landings, glyphs.clone(), mirrored);
            if best.as_ref().is_none_or(|(_, least)| wish + 1e-9 < *least) {
                best = Some((body, wish));
            }
        }
    }
    best.map(|(body, _)| body).unwrap_or_default()
}

/// Of several elements each says what it is worth: the rungs of a ladder differ in nothing else.
fn value_notes(circuit: &Circuit, glyphs: &mut [Glyph]) {
    use ElementKind::{Heater, Lamp, Resistor, Thermistor, Track, Variable};
    for glyph in glyphs.iter_mut().filter(|g| g.note.is_empty()) {
        if matches!(glyph.kind, Resistor | Thermistor | Variable | Track(_) | Lamp | Heater) {
            let law = circuit.elements.get(glyph.element.index()).map(|e| &e.law);
            glyph.note = law.map_or_else(String::new, values::worth);
        }
    }
}

/// A stroke runs across its body and beyond.
fn is_slanted(kind: ElementKind) -> bool {
    matches!(kind, ElementKind::Variable | ElementKind::Thermistor)
}

/// One way to draw it, and how far its pins' order is from what the links wish.
fn variant(
    circuit: &Circuit,
    device: &Device,
    block: &Block,
    landings: &[Landing],
    glyphs: Vec<Glyph>,
    mirrored: bool,
) -> (Body, f64) {
    let mut meetings: BTreeMap<PointId, Meeting> = BTreeMap::new();
    for (i, pin) in device.pins.iter().enumerate() {
        let side = landings.iter().find(|l| l.pin == i).map(|l| l.side);
        meetings.insert(pin.inside, Meeting { pin: Some(i), side, ..Meeting::default() });
    }
    let sides = settle_sides(&glyphs, &meetings);
    let room = |point: PointId| {
        let Some(pin) = meetings.get(&point).and_then(|m| m.pin) else { return 0 };
        let links = landings.iter().filter(|l| l.pin == pin).count() as i32;
        (2 * links).max(device.pins.get(pin).map_or(0, |p| steps(width_of(&p.name, SMALL) + 6.0)))
    };
    let glyphs = changeover::join(circuit, &glyphs, &sides, room, mirrored);
    // Columns: each symbol with room for the links of the pins that it is the first to touch, and for their names.
    let mut placed: Vec<(i32, Placed)> = Vec::new();
    // What is wide across stands clear of the frame.
    let wide = |g: &Glyph| g.kind == ElementKind::Coil || is_slanted(g.kind);
    let mut x = i32::from(glyphs.len() > 1 && glyphs.first().is_some_and(wide));
    let mut hosted: BTreeMap<PointId, ()> = BTreeMap::new();
    for glyph in &glyphs {
        let side = |p: &PointId| sides.get(p).copied().unwrap_or(Side::Top);
        let place = glyph.place(
            [side(&glyph.ends[0]), side(&glyph.ends[1])],
            glyph.third.as_ref().map_or(Side::Top, side),
        );
        let mut width = place.width;
        let noted = if glyph.note.is_empty() { 0.0 } else { 8.0 + width_of(&glyph.note, SMALL) };
        width = width.max(1 + steps(noted + 10.0)).max(place.width);
        for &(point, step, _) in &place.terminals {
            if hosted.insert(point, ()).is_some() {
                continue;
            }
            let Some(meeting) = meetings.get(&point) else { continue };
            let Some(pin) = meeting.pin else { continue };
            let links = landings.iter().filter(|l| l.pin == pin).count().max(1) as i32;
            let name = device.pins.get(pin).map_or(0.0, |p| width_of(&p.name, SMALL) + 6.0);
            // The next terminal on the same side of this symbol bounds the name as well.
            width = width.max(step + (2 * links - 1).max(steps(name)));
        }
        placed.push((x, place));
        x += width;
    }
    for (at, place) in &placed {
        for &(point, step, _) in &place.terminals {
            let meeting = meetings.entry(point).or_default();
            meeting.at.push(at + step);
            meeting.side = meeting.side.or(sides.get(&point).copied());
        }
    }
    // Pins without a symbol, with a link.
    for (i, pin) in device.pins.iter().enumerate() {
        let links = landings.iter().filter(|l| l.pin == i).count() as i32;
        if let Some(meeting) = meetings.get_mut(&pin.inside)
            && meeting.at.is_empty()
            && links > 0
        {
            meeting.at.push(x + 1);
            x += (2 * links).max(1 + steps(width_of(&pin.name, SMALL) + 6.0));
        }
    }
    for meeting in meetings.values_mut() {
        let Some(&first) = meeting.at.first() else { continue };
        let Some(pin) = meeting.pin else { continue };
        let mut own: Vec<usize> = (0..landings.len()).filter(|&i| landings[i].pin == pin).collect();
        own.sort_by(|&a, &b| landings[a].wish.total_cmp(&landings[b].wish).then(a.cmp(&b)));
        meeting.slots = own.into_iter().enumerate().map(|(n, i)| (i, first + 2 * n as i32)).collect();
    }
    let inner = x.max(2);
    let unwished = wishes(landings, &meetings);
    (paint(circuit, device, block, landings.len(), &glyphs, &placed, &meetings, inner), unwished)
}

/// Pairs of links whose order on a side is not the order of their wishes.
fn wishes(landings: &[Landing], meetings: &BTreeMap<PointId, Meeting>) -> f64 {
    let slots: Vec<(usize, i32)> = meetings.values().flat_map(|m| m.slots.iter().copied()).collect();
    let mut wrong = 0.0;
    for (n, &(i, x)) in slots.iter().enumerate() {
        for &(j, y) in slots.iter().skip(n + 1) {
            if landings[i].side == landings[j].side {
                let (wish, order) = (landings[i].wish - landings[j].wish, f64::from(x - y));
                if wish * order < 0.0 {
                    wrong += 1.0;
                }
            }
        }
    }
    wrong
}

/// The side of each point inside: that of its pin's links, else across from the other end.
fn settle_sides(glyphs: &[Glyph], meetings: &BTreeMap<PointId, Meeting>) -> BTreeMap<PointId, Side> {
    let mut sides: BTreeMap<PointId, Side> =
        meetings.iter().filter_map(|(p, m)| m.side.map(|s| (*p, s))).collect();
    for _ in 0..glyphs.len() + 1 {
        for glyph in glyphs {
            let [a, b] = glyph.ends;
            match (sides.get(&a).copied(), sides.get(&b).copied()) {
                (Some(side), None) => {
                    sides.insert(b, side.other());
                }
                (None, Some(side)) => {
                    sides.insert(a, side.other());
                }
                _ => {}
            }
        }
        let open = glyphs.iter().find(|g| g.ends.iter().any(|p| !sides.contains_key(p)));
        let Some(open) = open else { break };
        sides.entry(open.ends[0]).or_insert(Side::Top);
    }
    for glyph in glyphs {
        if let Some(third) = glyph.third {
            sides.entry(third).or_insert(Side::Bottom);
        }
    }
    sides
}

#[allow(clippy::too_many_arguments)]
fn paint(
    circuit: &Circuit,
    device: &Device,
    block: &Block,
    links: usize,
    glyphs: &[Glyph],
    placed: &[(i32, Placed)],
    meetings: &BTreeMap<PointId, Meeting>,
    inner: i32,
) -> Body {
    let mut sketch = Sketch::default();
    let xs = |x: i32| f64::from(x) * STEP;
    let used = |side: Side| meetings.values().any(|m| m.side == Some(side) && !m.at.is_empty());
    let tied = |side: Side| {
        meetings.values().filter(|m| m.side == Some(side) && (m.at.len() > 1 || m.slots.len() > 1)).count()
            as f64
    };
    let strip = |side: Side| {
        if used(side) { STRIP + tied(side) * TIE + if tied(side) > 0.0 { 4.0 } else { 2.0 } } else { 8.0 }
    };
    let framed = glyphs.len() != 1;
    let (top, bottom) = (strip(Side::Top), strip(Side::Bottom));
    let label = label(circuit, device, glyphs);
    let floor = if used(Side::Top) { STRIP } else { 0.0 };
    let height = (top + HIGH + bottom).max(floor + label.height() + 2.0);
    let mut slots = vec![Slot { x: 1, side: Side::Top }; links];
    let mut level = [0, 0];
    for (point, meeting) in meetings {
        let (Some(side), Some(&first)) = (meeting.side, meeting.at.first()) else { continue };
        let outside = meeting.pin.and_then(|p| block.pins.get(p)).map_or(*point, |p| p.point);
        let lead = Class::Lead(outside);
        let (edge, symbol, inward) = match side {
            Side::Top => (0.0, top, 1.0),
            Side::Bottom => (height, top + HIGH, -1.0),
        };
        let mut near = symbol;
        if meeting.at.len() > 1 || meeting.slots.len() > 1 {
            let row = &mut level[usize::from(side == Side::Bottom)];
            let tie = edge + inward * (STRIP + 4.0 + f64::from(*row) * TIE);
            *row += 1;
            let ends = meeting.at.iter().copied().chain(meeting.slots.iter().map(|s| s.1));
            let (from, to) = ends.fold((first, first), |(l, h), x| (l.min(x), h.max(x)));
            sketch.line(lead, &[(xs(from), tie), (xs(to), tie)]);
            let mut meets: Vec<i32> = meeting.at.to_vec();
            for &x in &meeting.at {
                sketch.line(lead, &[(xs(x), tie), (xs(x), symbol)]);
            }
            for &(_, x) in &meeting.slots {
                sketch.line(lead, &[(xs(x), tie), (xs(x), edge)]);
                meets.push(x);
            }
            if meeting.slots.is_empty() && meeting.pin.is_some() {
                meets.push(first);
            }
            meets.sort_unstable();
            let mut each = meets.clone();
            each.dedup();
            for x in each {
                let here = meets.iter().filter(|&&m| m == x).count();
                if here + usize::from(x != from) + usize::from(x != to) >= 3 {
                    sketch.dot(lead, (xs(x), tie));
                }
            }
            near = tie;
        }
        if let Some(pin) = meeting.pin {
            let open = meeting.slots.is_empty();
            // A pin that nothing is wired to ends in a ring.
            let from = if open { edge + inward * 4.0 } else { edge };
            sketch.line(lead, &[(xs(first), from), (xs(first), near)]);
            if open {
                sketch.circle(Class::Symbol, (xs(first), from), 2.0);
            }
            for &(i, x) in &meeting.slots {
                slots[i] = Slot { x, side };
            }
            let name = device.pins.get(pin).map_or("", |p| p.name.as_str());
            let y = if side == Side::Top { 8.0 } else { height - 3.0 };
            sketch.text((xs(first) + 3.0, y), name, SMALL);
        }
    }
    let mut solid = Vec::new();
    let mut moved: Vec<f64> = Vec::new();
    for (glyph, (at, place)) in glyphs.iter().zip(placed) {
        glyph.draw(place, (xs(*at), top), &mut sketch);
        let x0 = xs(*at) + xs(place.terminals.iter().take(2).map(|t| t.1).min().unwrap_or(1));
        let x1 = if glyph.throws.is_empty() {
            x0
        } else {
            xs(*at) + xs(place.terminals.iter().map(|t| t.1).max().unwrap_or(1))
        };
        if !glyph.note.is_empty() {
            let lying = place.terminals.first().map(|t| t.2) == place.terminals.get(1).map(|t| t.2);
            // Beside an upright symbol, below one that lies.
            let at = if lying {
                (x0 + 4.0, top + HIGH / 2.0 + 19.5)
            } else {
                (x0 + if is_slanted(glyph.kind) { 17.0 } else { 13.0 }, top + HIGH / 2.0 + 13.0)
            };
            let words = Words {
                at,
                text: glyph.note.clone(),
                size: SMALL,
                bold: false,
                middle: false,
                upright: false,
            };
            sketch.words(Class::Text, words);
        }
        if glyph.moved || glyph.kind == ElementKind::Coil && glyphs.iter().any(|g| g.moved) {
            let half_way = (x1 - x0) / 4.0;
            moved.push(x0 + if glyph.kind == ElementKind::Coil { 10.0 } else { half_way.max(4.0) });
        }
        solid.push([x0 - 9.0, top + 8.0, x1 + 9.0, top + HIGH - 8.0]);
    }
    let middle = top + HIGH / 2.0;
    if let (Some(&from), Some(&to), true) = (moved.first(), moved.last(), moved.len() > 1) {
        sketch.line(Class::Linkage, &[(from, middle), (to, middle)]);
    }
    if framed {
        let frame = [3.0, STRIP - 2.0, xs(inner) + 3.0, height - STRIP + 2.0];
        sketch.rect(Class::Frame, frame);
        solid = vec![frame];
    }
    let left = if framed {
        xs(inner) + 8.0
    } else {
        xs(1) + if placed.first().is_some_and(|p| p.1.width > 2) { xs(inner) - 6.0 } else { 15.0 }
    };
    let label_y = ((height - label.height()) / 2.0).max(floor);
    label.draw((left, label_y), &mut sketch);
    let width = inner.max(steps(left + label.width() + 4.0));
    Body { width, height, slots, marks: sketch.0, solid }
}

/// What stands beside a device.
fn label(circuit: &Circuit, device: &Device, glyphs: &[Glyph]) -> Column {
    let title = device.title.as_deref().map_or(Vec::new(), |t| wrapped(t, 13, 3));
    let mut lines = title;
    if glyphs.len() == 1 {
        let law = device.elements.first().and_then(|e| circuit.elements.get(e.index())).map(|e| &e.law);
        lines.push(law.map_or_else(String::new, values::worth));
    }
    Column::new(&device.name, lines)
}
