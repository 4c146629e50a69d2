//! A module: a box that shows the connectors and cavities that are used, and what stands behind each.

use super::{
    Body, LABEL, Landing, SMALL, STEP, Slot, cut, middle, steps,
    underside::{Leaving, Underside},
};
use crate::{
    block::Block,
    layer::Side,
    scene::{At, Class, Sketch, Words, width_of},
};
use keyon_circuit::{
    ids::{ElementId, ModuleId, PointId},
    model::{Cavity, Circuit, ElementKind, Module, Role, When},
};
use keyon_syntax::tree::Way;

/// Height of the row of cavity numbers, of the band of connector names, of the symbols.
pub(super) const NUMBERS: f64 = 12.0;
const BAND: f64 = 15.0;
pub(super) const SYMBOLS: f64 = 40.0;

pub(super) fn body(circuit: &Circuit, id: ModuleId, block: &Block, landings: &[Landing]) -> Body {
    let Some(module) = circuit.modules.get(id.index()) else { return Body::default() };
    let cavity = |pin: usize| -> Option<(usize, &Cavity)> {
        let (c, k) = block.pins.get(pin)?.cavity?;
        Some((c, module.connectors.get(c)?.cavities.get(k)?))
    };
    // Above: connectors in the order of what they lead to, and within each its cavities.
    let mut above: Vec<(usize, Vec<usize>)> = Vec::new();
    let mut below: Vec<usize> = Vec::new();
    for (i, landing) in landings.iter().enumerate() {
        let Some((connector, _)) = cavity(landing.pin) else { continue };
        match landing.side {
            Side::Bottom => below.push(i),
            Side::Top => match above.iter_mut().find(|(c, _)| *c == connector) {
                Some((_, those)) => those.push(i),
                None => above.push((connector, vec![i])),
            },
        }
    }
    let mean =
        |those: &[usize]| those.iter().map(|&i| landings[i].wish).sum::<f64>() / those.len().max(1) as f64;
    let pin_wish = |pin: usize, those: &[usize]| {
        let own: Vec<usize> = those.iter().copied().filter(|&i| landings[i].pin == pin).collect();
        mean(&own)
    };
    for (_, those) in &mut above {
        let all = those.clone();
        those.sort_by(|&a, &b| {
            let (pa, pb) = (landings[a].pin, landings[b].pin);
            pin_wish(pa, &all)
                .total_cmp(&pin_wish(pb, &all))
                .then(pa.cmp(&pb))
                .then(landings[a].wish.total_cmp(&landings[b].wish))
                .then(a.cmp(&b))
        });
    }
    above.sort_by(|a, b| mean(&a.1).total_cmp(&mean(&b.1)).then(a.0.cmp(&b.0)));
    below.sort_by(|&a, &b| landings[a].wish.total_cmp(&landings[b].wish).then(a.cmp(&b)));

    let mut sketch = Sketch::default();
    let xs = |x: i32| f64::from(x) * STEP;
    let mut slots = vec![Slot { x: 1, side: Side::Top }; landings.len()];
    let names = landings.iter().filter(|l| l.side == Side::Top).filter_map(|l| cavity(l.pin));
    let longest = names.map(|(_, c)| width_of(&cut(&c.name, 16), SMALL)).fold(0.0, f64::max);
    let symbols_at = NUMBERS + BAND;
    let names_at = symbols_at + SYMBOLS;
    let title_at = names_at + longest + 10.0;
    let leaving = below.iter().filter_map(|&i| {
        let (c, cavity) = cavity(landings[i].pin)?;
        let lead = block.pins.get(landings[i].pin).map_or(Class::Symbol, |p| Class::Lead(p.point));
        Some(Leaving { connector: module.connectors.get(c)?.name.as_str(), cavity, lead })
    });
    let underside = Underside::new(leaving.collect());
    let mut x = 1;
    for (connector, those) in &above {
        let Some(it) = module.connectors.get(*connector) else { continue };
        let first = x;
        let mut seen: Option<(usize, i32)> = None;
        for &i in those {
            let pin = landings[i].pin;
            slots[i] = Slot { x, side: Side::Top };
            let lead = block.pins.get(pin).map_or(Class::Symbol, |p| Class::Lead(p.point));
            match seen {
                // A second wire in the same cavity.
                Some((known, at)) if known == pin => {
                    sketch.line(lead, &[(xs(at), 2.5), (xs(x), 2.5), (xs(x), 0.0)]);
                    sketch.dot(lead, (xs(at), 2.5));
                }
                _ => {
                    seen = Some((pin, x));
                    if let Some((_, cavity)) = cavity(pin) {
                        middle((xs(x), NUMBERS - 1.5), &cavity.number, SMALL, Class::Text, &mut sketch);
                        inside(circuit, module, cavity, lead, (xs(x), symbols_at), &mut sketch);
                        let at = (xs(x) + SMALL * 0.3, names_at + 2.0 + longest);
                        let text = cut(&cavity.name, 16);
                        sketch.words(
                            Class::Text,
                            Words { at, text, size: SMALL, bold: false, middle: false, upright: true },
                        );
                    }
                }
            }
            x += 2;
        }
        let plain = it.name.to_string();
        let wide = f64::from(x - first) * STEP - 4.0;
        if width_of(&plain, SMALL) > wide {
            x = first + steps(width_of(&plain, SMALL) + 6.0).max(x - first);
        }
        let wide = f64::from(x - first) * STEP - 4.0;
        let full = it.title.as_deref().map_or_else(|| plain.clone(), |t| format!("{plain}  {t}"));
        let name = if width_of(&full, SMALL) <= wide { full } else { plain };
        let (left, right) = (xs(first) - 10.0, xs(x) - 14.0);
        sketch.rect(Class::Frame, [left, NUMBERS, right, NUMBERS + BAND - 3.0]);
        middle(((left + right) / 2.0, NUMBERS + 9.0), &name, SMALL, Class::Text, &mut sketch);
    }
    let title = match &module.title {
        Some(title) => format!("{}  {}", module.name, cut(title, 28)),
        None => module.name.to_string(),
    };
    let width = (x - 1).max(underside.width()).max(steps(width_of(&title, LABEL) + 16.0)) + 1;
    let height = title_at + LABEL + 8.0 + underside.height();
    // What leaves below stands under the middle.
    let shift = ((width - underside.width()) / 2).max(0);
    for (&i, x) in below.iter().zip(underside.draw(circuit, module, (1 + shift, height), &mut sketch)) {
        slots[i] = Slot { x, side: Side::Bottom };
    }
    let frame = [0.0, 0.0, xs(width), height];
    sketch.rect(Class::Frame, frame);
    sketch.bold((8.0, title_at + LABEL), &title, LABEL);
    Body { width, height, slots, marks: sketch.0, solid: vec![frame] }
}

/// The stages behind a cavity: whether each is closed at rest, and the point that it joins the cavity to.
fn stages<'a>(
    circuit: &'a Circuit,
    cavity: &'a Cavity,
) -> impl Iterator<Item = (ElementId, bool, PointId)> + 'a {
    cavity.elements.iter().filter_map(|&id| {
        let e = circuit.elements.get(id.index())?;
        let moved = matches!(e.kind, ElementKind::Stage | ElementKind::Return);
        let away = if e.from == cavity.inside { e.to } else { e.from };
        moved.then_some((id, matches!(e.when, When::In { positions, .. } if positions & 1 == 1), away))
    })
}

/// What stands behind a cavity, from the number down.
pub(crate) fn inside(
    circuit: &Circuit,
    module: &Module,
    cavity: &Cavity,
    lead: Class,
    (x, y): At,
    sketch: &mut Sketch,
) {
    let s = Class::Symbol;
    let ground = |sketch: &mut Sketch, y: f64| {
        for (half, dy) in [(6.0, 0.0), (4.0, 2.5), (2.0, 5.0)] {
            sketch.line(s, &[(x - half, y + dy), (x + half, y + dy)]);
        }
    };
    let plus = |sketch: &mut Sketch, y: f64| {
        sketch.line(s, &[(x - 4.0, y), (x + 4.0, y)]);
        sketch.line(s, &[(x, y - 4.0), (x, y + 4.0)]);
    };
    let switch = |sketch: &mut Sketch, y: f64| {
        sketch.circle(s, (x, y), 1.6);
        let blade = |closed| {
            stages(circuit, cavity).next().map_or(s, |(stage, rest, _)| Class::Blade {
                contact: stage,
                closed,
                rest: closed == rest,
            })
        };
        sketch.line(blade(false), &[(x, y + 14.0), (x + 7.0, y + 2.0)]);
        sketch.line(blade(true), &[(x, y + 14.0), (x, y)]);
        sketch.circle(s, (x, y + 14.0), 1.6);
    };
    sketch.line(lead, &[(x, y - 3.0), (x, y + 6.0)]);
    match &cavity.role {
        Role::Drives(Way::Low) => {
            switch(sketch, y + 8.0);
            sketch.line(s, &[(x, y + 24.0), (x, y + 30.0)]);
            ground(sketch, y + 30.0);
        }
        Role::Drives(Way::High) => {
            switch(sketch, y + 8.0);
            plus(sketch, y + 31.0);
        }
        Role::Switches | Role::Drives(Way::Half) => {
            // To the ground on the left or to the feed on the right, whichever stage is closed; at neither a stub.
            sketch.line(lead, &[(x, y + 6.0), (x, y + 9.0)]);
            let grounds: Vec<PointId> = module
                .grounds
                .iter()
                .filter_map(|&(c, k)| Some(module.connectors.get(c)?.cavities.get(k)?.inside))
                .collect();
            for (stage, rest, away) in stages(circuit, cavity) {
                let end = if grounds.contains(&away) { x - 6.0 } else { x + 6.0 };
                let class = Class::Blade { contact: stage, closed: true, rest };
                sketch.line(class, &[(x, y + 9.0), (end, y + 18.0)]);
            }
            sketch.circle(s, (x - 6.0, y + 20.0), 1.6);
            sketch.circle(s, (x + 6.0, y + 20.0), 1.6);
            sketch.line(s, &[(x - 9.0, y + 29.0), (x - 3.0, y + 29.0)]);
            sketch.line(s, &[(x + 3.0, y + 29.0), (x + 9.0, y + 29.0)]);
            sketch.line(s, &[(x + 6.0, y + 26.0), (x + 6.0, y + 32.0)]);
        }
        Role::Feed => {
            sketch.line(lead, &[(x, y + 6.0), (x, y + 18.0)]);
            sketch.area(s, &[(x - 5.0, y + 18.0), (x + 5.0, y + 18.0), (x, y + 28.0)], true);
        }
        Role::Ground => {
            sketch.line(lead, &[(x, y + 6.0), (x, y + 24.0)]);
            ground(sketch, y + 24.0);
        }
        Role::Reference { volts } => {
            sketch.line(lead, &[(x, y + 6.0), (x, y + 10.0)]);
            sketch.circle(s, (x, y + 20.0), 10.0);
            let text = super::values::with_unit(*volts, "");
            middle((x, y + 23.0), &cut(text.trim(), 3), SMALL, Class::Text, sketch);
        }
        Role::Return { switched } => {
            if *switched {
                switch(sketch, y + 8.0);
            } else {
                sketch.line(lead, &[(x, y + 6.0), (x, y + 30.0)]);
            }
            sketch.line(s, &[(x, y + 24.0), (x, y + 30.0)]);
            sketch.area(s, &[(x - 6.0, y + 30.0), (x + 6.0, y + 30.0), (x, y + 36.0)], false);
        }
        Role::Senses { digital } => {
            sketch.line(lead, &[(x, y + 6.0), (x, y + 12.0)]);
            if *digital {
                let step =
                    [(x - 7.0, y + 26.0), (x - 2.0, y + 26.0), (x - 2.0, y + 16.0), (x + 7.0, y + 16.0)];
                // The box is filled: what is in it comes after it.
                sketch.rect(s, [x - 10.0, y + 12.0, x + 10.0, y + 30.0]);
                sketch.line(s, &step);
            } else {
                sketch.area(s, &[(x - 8.0, y + 12.0), (x + 8.0, y + 12.0), (x, y + 28.0)], false);
            }
        }
        Role::Bus { .. } => {
            let wave = vec![
                [(x - 6.0, y + 12.0), (x - 4.0, y + 12.0), (x, y + 19.0)],
                [(x + 4.0, y + 26.0), (x + 6.0, y + 26.0), (x + 9.0, y + 19.0)],
            ];
            sketch.line(lead, &[(x, y + 6.0), (x, y + 9.0)]);
            sketch.rect(s, [x - 10.0, y + 9.0, x + 10.0, y + 30.0]);
            sketch.curve(s, (x - 9.0, y + 19.0), wave);
        }
        Role::Unused => sketch.circle(s, (x, y + 8.0), 2.0),
    }
}
