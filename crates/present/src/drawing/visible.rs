//! What of a drawing can be seen in it: a legend explains that and nothing else.

use keyon_circuit::ids::{ElementId, PointId};
use keyon_draw::{At, Class, Layout, Link, Shape};
use std::collections::BTreeSet;

/// A shorter stroke is a joint, not a line whose kind can be told.
const SHORT: f64 = 6.0;

/// Each once.
#[derive(Clone, Debug, Default)]
pub(super) struct Visible {
    /// The points whose states have strokes.
    pub(super) points: BTreeSet<PointId>,
    /// Contacts, stages and fuses with a blade.
    pub(super) contacts: BTreeSet<ElementId>,
    #[allow(missing_docs)]
    pub(super) loads: BTreeSet<ElementId>,
}

impl Visible {
    /// `broken` says which wires are interrupted: each half is drawn as its own end.
    pub(super) fn of(layout: &Layout, broken: &dyn Fn(&Link) -> bool) -> Self {
        let mut seen = Self::default();
        for mark in layout.scene().marks {
            let long = matches!(&mark.shape, Shape::Line(points) if length(points) >= SHORT);
            match mark.class {
                Class::Link(index) => {
                    let Some(path) = layout.links.get(index).filter(|_| long) else { continue };
                    let [a, b] = path.link.points;
                    seen.points.insert(a);
                    if broken(&path.link) {
                        seen.points.insert(b);
                    }
                }
                Class::Lead(point) if long => _ = seen.points.insert(point),
                Class::Blade { contact, .. } => _ = seen.contacts.insert(contact),
                Class::Load(load) => _ = seen.loads.insert(load),
                _ => {}
            }
        }
        seen
    }
}

fn length(points: &[At]) -> f64 {
    points.windows(2).map(|p| (p[1].0 - p[0].0).abs() + (p[1].1 - p[0].1).abs()).sum()
}
