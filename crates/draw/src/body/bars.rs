//! Supplies, splices and grounds as bars with dots, fuses and in-line ways as symbols in a line.

use super::{Body, Column, LABEL, Landing, STEP, Slot, steps, values::with_unit, wrapped};
use crate::{
    block::{Block, Thing},
    glyph::{Glyph, HIGH, Placed},
    layer::Side,
    scene::{Class, Sketch},
};
use keyon_circuit::{
    model::{Circuit, ElementKind},
    value::Num,
};

/// Puts landings in the order of their wishes, two steps apart, from `first` on.
fn spread(landings: &[Landing], side: Side, first: i32) -> Vec<(usize, i32)> {
    let mut those: Vec<usize> = (0..landings.len()).filter(|&i| landings[i].side == side).collect();
    those.sort_by(|&a, &b| landings[a].wish.total_cmp(&landings[b].wish).then(a.cmp(&b)));
    those.into_iter().enumerate().map(|(n, i)| (i, first + 2 * n as i32)).collect()
}

/// A supply, a splice, a ground, a branch that leaves the page: a bar with its links above and below.
pub(super) fn bar(circuit: &Circuit, block: &Block, landings: &[Landing]) -> Body {
    let above = spread(landings, Side::Top, 1);
    let below = spread(landings, Side::Bottom, 1);
    let point = block.pins.first().map(|p| p.point);
    let lead = point.map_or(Class::Symbol, Class::Lead);
    let mut sketch = Sketch::default();
    let mut slots = vec![Slot { x: 1, side: Side::Top }; landings.len()];
    let (few, many) = (above.len().min(below.len()), above.len().max(below.len()));
    // The smaller side stands over the middle of the larger.
    let shift = if few > 0 { (many - few) as i32 / 2 * 2 } else { 0 };
    for (side, list) in [(Side::Top, &above), (Side::Bottom, &below)] {
        let shift = if list.len() < many { shift } else { 0 };
        for &(i, x) in list {
            slots[i] = Slot { x: x + shift, side };
        }
    }
    let last = (2 * many as i32 - 1).max(1);
    let (label, bar_y, height) = match block.thing {
        Thing::Supply(i) => {
            let Some(supply) = circuit.supplies.get(i) else { return Body::default() };
            let volts = with_unit(supply.volts, "V");
            (Column::new(&supply.name, [volts]), 22.0, 26.0)
        }
        Thing::Splice(i) => {
            let name = circuit.splices.get(i).map_or("", |s| s.name.as_str());
            (Column::new(name, []), 8.0, 16.0)
        }
        Thing::Ground(i) => {
            let Some(ground) = circuit.grounds.get(i) else { return Body::default() };
            let title = ground.title.as_deref().unwrap_or("");
            (Column::new(&ground.name, wrapped(title, 14, 2)), 8.0, 40.0)
        }
        Thing::Elsewhere(i) => {
            let title = circuit.branches.get(i).and_then(|b| b.title.as_deref()).unwrap_or("elsewhere");
            (Column { lines: wrapped(title, 14, 3) }, 8.0, 36.0)
        }
        _ => (Column::new("ground", []), 8.0, 32.0),
    };
    let xs = |x: i32| f64::from(x) * STEP;
    let all: Vec<i32> = slots.iter().map(|s| s.x).collect();
    let (from, to) = (all.iter().copied().min().unwrap_or(1), all.iter().copied().max().unwrap_or(1));
    if to > from || matches!(block.thing, Thing::Supply(_)) {
        let over = if matches!(block.thing, Thing::Supply(_)) { 8.0 } else { 0.0 };
        sketch.line(lead, &[(xs(from) - over, bar_y), (xs(to) + over, bar_y)]);
    }
    for slot in &slots {
        let edge = if slot.side == Side::Top { 0.0 } else { height };
        sketch.line(lead, &[(xs(slot.x), bar_y), (xs(slot.x), edge)]);
    }
    dots(block.thing, &slots, bar_y, lead, &mut sketch);
    let mut label_at = (xs(to.max(1)) + 6.0, bar_y - LABEL * 0.5 - 1.0);
    let mut solid = Vec::new();
    let middle = xs(from + to) / 2.0;
    match block.thing {
        Thing::Supply(_) => label_at = (2.0, 0.0),
        Thing::Ground(_) | Thing::Common => {
            sketch.line(lead, &[(middle, bar_y), (middle, 22.0)]);
            for (half, y) in [(9.0, 22.0), (6.0, 26.0), (3.0, 30.0)] {
                sketch.line(Class::Symbol, &[(middle - half, y), (middle + half, y)]);
            }
            solid.push([middle - 9.0, 20.0, middle + 9.0, 31.0]);
            label_at = (middle.max(xs(to)) + 13.0, 14.0);
        }
        Thing::Elsewhere(_) => {
            sketch.line(lead, &[(xs(1), 0.0), (xs(1), 18.0)]);
            sketch.area(Class::Symbol, &[(xs(1) - 5.0, 18.0), (xs(1) + 5.0, 18.0), (xs(1), 28.0)], true);
            solid.push([xs(1) - 5.0, 16.0, xs(1) + 5.0, 29.0]);
            label_at = (xs(1) + 10.0, 6.0);
        }
        _ => {}
    }
    let mut height = height;
    match block.thing {
        Thing::Supply(_) => {
            // Name and volts in one line above the bar.
            let line = label.lines.join("  ");
            sketch.bold((label_at.0, 12.0), &line, LABEL);
            let wide = crate::scene::width_of(&line, LABEL).max(widest(circuit, block.thing));
            let width = (last + 1).max(steps(wide + 6.0));
            solid.push([xs(from) - 8.0, bar_y - 2.0, xs(to) + 8.0, bar_y + 2.0]);
            return Body { width, height, slots, marks: sketch.0, solid };
        }
        _ => label.draw(label_at, &mut sketch),
    }
    height = height.max(label_at.1 + label.height());
    let width = (last + 1).max(steps(label_at.0 + label.width() + 4.0));
    // Links below leave from the lower edge, which the label may have moved.
    let mut more = Sketch(std::mem::take(&mut sketch.0));
    for slot in slots.iter().filter(|s| s.side == Side::Bottom) {
        more.line(lead, &[(xs(slot.x), bar_y), (xs(slot.x), height)]);
    }
    Body { width, height, slots, marks: more.0, solid }
}

/// Room for a supply's name with any volts of its range, whichever a state has.
fn widest(circuit: &Circuit, thing: Thing) -> f64 {
    let Thing::Supply(i) = thing else { return 0.0 };
    let Some(supply) = circuit.supplies.get(i) else { return 0.0 };
    let ends = supply.range.into_iter().flat_map(|(low, high)| [low, high]);
    let line = |volts: f64| format!("{}  {}", supply.name, with_unit(Num::exact(volts), "V"));
    ends.map(|volts| crate::scene::width_of(&line(volts), LABEL)).fold(0.0, f64::max)
}

/// Dots where three or more lines meet; a splice has always one.
fn dots(thing: Thing, slots: &[Slot], y: f64, lead: Class, sketch: &mut Sketch) {
    let xs = |x: i32| f64::from(x) * STEP;
    let mut places: Vec<i32> = slots.iter().map(|s| s.x).collect();
    places.sort_unstable();
    let (first, last) = (places.first().copied(), places.last().copied());
    let mut unique = places.clone();
    unique.dedup();
    let mut any = false;
    for &x in &unique {
        let here = places.iter().filter(|&&p| p == x).count();
        let sideways = usize::from(Some(x) != first) + usize::from(Some(x) != last);
        if here + sideways >= 3 {
            sketch.dot(lead, (xs(x), y));
            any = true;
        }
    }
    if !any
        && matches!(thing, Thing::Splice(_))
        && let Some(x) = first
    {
        sketch.dot(lead, (xs(x), y));
    }
}

/// A fuse or a way of an in-line connector: in above, out below.
pub(super) fn in_line(circuit: &Circuit, block: &Block, landings: &[Landing]) -> Body {
    let mut sketch = Sketch::default();
    let above = spread(landings, Side::Top, 1);
    let below = spread(landings, Side::Bottom, 1);
    let mut slots = vec![Slot { x: 1, side: Side::Top }; landings.len()];
    for (side, list) in [(Side::Top, &above), (Side::Bottom, &below)] {
        for &(i, x) in list {
            slots[i] = Slot { x, side };
        }
    }
    let top_pin = landings.iter().find(|l| l.side == Side::Top).map_or(0, |l| l.pin);
    let point = |pin: usize| block.pins.get(pin).map_or(keyon_circuit::model::COMMON, |p| p.point);
    let (upper, lower) = (point(top_pin), point(1 - top_pin.min(1)));
    let (label, glyph_height) = match block.thing {
        Thing::Fuse(i) => {
            let fuse = circuit.fuses.get(i);
            let element = fuse.and_then(|f| circuit.elements.get(f.element.index()));
            let rating = element.and_then(|e| e.rating).map(|r| with_unit(r, "A"));
            let name = fuse.map_or("", |f| f.name.as_str());
            let kind = element.map_or(ElementKind::Tie, |e| e.kind);
            let glyph = Glyph {
                element: fuse.map_or_else(|| 0_usize.into(), |f| f.element),
                kind,
                ends: [upper, lower],
                third: None,
                breaks: false,
                moved: false,
                note: String::new(),
                throws: Vec::new(),
            };
            let placed =
                Placed { width: 2, terminals: vec![(upper, 1, Side::Top), (lower, 1, Side::Bottom)] };
            glyph.draw(&placed, (0.0, 6.0), &mut sketch);
            (Column::new(name, rating), HIGH + 12.0)
        }
        Thing::Inline(i, k) => {
            let inline = circuit.inlines.get(i.index());
            let cavity = inline.and_then(|c| c.cavities.get(k)).map_or("", |c| c.name.as_str());
            let name = format!("{}.{cavity}", inline.map_or("", |c| c.name.as_str()));
            let x = STEP;
            // A pin in a socket.
            sketch.line(Class::Lead(upper), &[(x, 6.0), (x, 15.0)]);
            sketch.curve(
                Class::Symbol,
                (x - 5.0, 21.0),
                vec![[(x - 5.0, 13.0), (x + 5.0, 13.0), (x + 5.0, 21.0)]],
            );
            sketch.line(Class::Lead(lower), &[(x, 19.0), (x, 30.0)]);
            (Column::new(&name, []), 36.0)
        }
        _ => return Body::default(),
    };
    let xs = |x: i32| f64::from(x) * STEP;
    for (pin_point, list, y, edge) in
        [(upper, &above, 6.0, 0.0), (lower, &below, glyph_height - 6.0, glyph_height)]
    {
        let lead = Class::Lead(pin_point);
        let far = list.iter().map(|&(_, x)| x).max().unwrap_or(1);
        sketch.line(lead, &[(xs(1), y), (xs(1), edge)]);
        if far > 1 {
            sketch.line(lead, &[(xs(1), y), (xs(far), y)]);
            for &(_, x) in list {
                sketch.line(lead, &[(xs(x), y), (xs(x), edge)]);
                if x < far {
                    sketch.dot(lead, (xs(x), y));
                }
            }
        }
    }
    let label_y = (glyph_height - label.height()) / 2.0;
    label.draw((xs(1) + 10.0, label_y), &mut sketch);
    let slots_wide = 2 * above.len().max(below.len()).max(1) as i32;
    let width = slots_wide.max(steps(xs(1) + 10.0 + label.width() + 4.0));
    let solid = vec![[xs(1) - 7.0, 9.0, xs(1) + 7.0, glyph_height - 9.0]];
    Body { width, height: glyph_height, slots, marks: sketch.0, solid }
}
