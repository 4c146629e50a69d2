//! What the signs inside a module's box mean: each that a drawing shows, small, with its words.

use crate::{
    block::Thing,
    body::inside,
    compose::Layout,
    scene::{At, Class, Mark, Shape, Sketch, Words},
};
use keyon_circuit::{
    ids::PointId,
    model::{Circuit, Role},
};
use keyon_syntax::tree::Way;
use std::collections::BTreeSet;

/// A sign and what it means.
#[derive(Clone, Debug, PartialEq)]
pub struct Sign {
    /// Around the origin, 20 pixels high.
    pub marks: Vec<Mark>,
    #[allow(missing_docs)]
    pub words: &'static str,
}

/// How small a sign stands in a legend.
const SMALLER: f64 = 0.5;

/// The signs of the cavities that a drawing shows, each once, in the order of their kinds.
pub fn signs(circuit: &Circuit, layout: &Layout) -> Vec<Sign> {
    let wired: BTreeSet<PointId> = layout.points().collect();
    let modules = layout.things.iter().filter_map(|(thing, _)| match thing {
        Thing::Module(m) => circuit.modules.get(m.index()),
        _ => None,
    });
    let mut found: Vec<(usize, Sign)> = Vec::new();
    for module in modules {
        let cavities = module.connectors.iter().flat_map(|c| &c.cavities);
        for cavity in cavities.filter(|cavity| wired.contains(&cavity.outside)) {
            let Some((order, words)) = meaning(&cavity.role) else { continue };
            if found.iter().any(|(known, _)| *known == order) {
                continue;
            }
            let mut sketch = Sketch::default();
            inside(circuit, module, cavity, Class::Symbol, (0.0, -16.0), &mut sketch);
            found.push((order, Sign { marks: sketch.0.iter().filter_map(smaller).collect(), words }));
        }
    }
    found.sort_by_key(|(order, _)| *order);
    found.into_iter().map(|(_, sign)| sign).collect()
}

fn meaning(role: &Role) -> Option<(usize, &'static str)> {
    Some(match role {
        Role::Feed => (0, "feeds the module"),
        Role::Drives(Way::High) => (1, "switches its feed to the wire"),
        Role::Drives(Way::Low) => (2, "switches the wire to ground"),
        Role::Drives(Way::Half) | Role::Switches => (3, "to ground or to its feed"),
        Role::Reference { .. } => (4, "reference, volts"),
        Role::Return { switched: false } => (5, "ground of sensors"),
        Role::Return { switched: true } => (6, "switched return"),
        Role::Senses { digital: false } => (7, "reads volts"),
        Role::Senses { digital: true } => (8, "reads on or off"),
        Role::Bus { .. } => (9, "bus"),
        Role::Ground | Role::Unused => return None,
    })
}

/// A mark at half its size. Of a contact's blades the open one: a sign says nothing of a state.
fn smaller(mark: &Mark) -> Option<Mark> {
    let class = match mark.class {
        Class::Blade { closed: true, .. } | Class::Neutral { .. } => return None,
        Class::Blade { .. } => Class::Symbol,
        class => class,
    };
    let small = |(x, y): At| (x * SMALLER, y * SMALLER);
    let all = |points: &[At]| points.iter().map(|&p| small(p)).collect::<Vec<_>>();
    let shape = match &mark.shape {
        Shape::Line(points) => Shape::Line(all(points)),
        Shape::Area(points, filled) => Shape::Area(all(points), *filled),
        Shape::Circle(at, radius, filled) => Shape::Circle(small(*at), radius * SMALLER, *filled),
        Shape::Curve(at, curves) => Shape::Curve(small(*at), curves.iter().map(|c| c.map(small)).collect()),
        Shape::Text(words) => {
            Shape::Text(Words { at: small(words.at), size: words.size * SMALLER, ..words.clone() })
        }
    };
    Some(Mark { class, shape })
}
