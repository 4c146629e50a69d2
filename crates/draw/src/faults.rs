//! What no careful draughtsman would have drawn: texts over each other or over lines, wires through symbols, two wires on
//! one line. For tests: a layout has none.

use crate::{
    compose::Layout,
    scene::{At, Class, Shape},
};

type Rect = [f64; 4];

/// Every fault of a layout, in words, with its place.
pub fn faults(layout: &Layout) -> Vec<String> {
    let scene = layout.scene();
    let mut texts: Vec<(Rect, &str, Class)> = Vec::new();
    let mut lines: Vec<(At, At, Class)> = Vec::new();
    for mark in &scene.marks {
        match &mark.shape {
            // A sign counts with its outline.
            Shape::Text(_) if matches!(mark.class, Class::Tag(_)) => {}
            Shape::Circle((x, y), r, _) if matches!(mark.class, Class::Tag(_)) => {
                texts.push((shrink([x - r, y - r, x + r, y + r], 0.3), "sign", mark.class));
            }
            Shape::Area(points, _) if matches!(mark.class, Class::Tag(_)) => {
                let bounds = points
                    .iter()
                    .map(|&p| around(p, p))
                    .reduce(|a, b| [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]);
                texts.extend(bounds.map(|bounds| (shrink(bounds, 0.3), "sign", mark.class)));
            }
            Shape::Text(words) => texts.push((shrink(words.bounds(), 0.6), &words.text, mark.class)),
            Shape::Line(points) if !matches!(mark.class, Class::Linkage | Class::Frame) => {
                lines.extend(points.windows(2).map(|p| (p[0], p[1], mark.class)));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    for (i, (a, one, stands)) in texts.iter().enumerate() {
        for (b, other, _) in texts.iter().skip(i + 1).filter(|(b, ..)| overlap(a, b)) {
            found.push(format!("text `{one}` over `{other}` at {:.0}, {:.0}", b[0], b[1]));
        }
        for (p, q, class) in lines.iter().filter(|(p, q, _)| overlap(a, &around(*p, *q))) {
            // Slanted strokes: their box is larger than they are.
            let straight = (p.0 - q.0).abs() < 1e-6 || (p.1 - q.1).abs() < 1e-6;
            // A sign stands on its own wire.
            let own = matches!((stands, class), (Class::Tag(sign), Class::Link(link)) if sign == link);
            if straight && !own {
                found.push(format!("text `{one}` over a line ({class:?}) at {:.0}, {:.0}", p.0, p.1));
            }
        }
        if a[0] < 0.0 || a[1] < 0.0 || a[2] > scene.size.0 + 1.0 || a[3] > scene.size.1 + 1.0 {
            found.push(format!("text `{one}` off the sheet at {:.0}, {:.0}", a[0], a[1]));
        }
    }
    let bodies: Vec<Rect> = scene.bodies.iter().map(|b| shrink(*b, 1.0)).collect();
    for (i, a) in bodies.iter().enumerate() {
        for b in bodies.iter().skip(i + 1).filter(|b| overlap(a, b)) {
            found.push(format!("symbol over symbol at {:.0}, {:.0}", b[0], b[1]));
        }
        for (p, q, class) in lines.iter().filter(|l| matches!(l.2, Class::Link(_))) {
            if overlap(a, &around(*p, *q)) {
                found.push(format!("wire ({class:?}) through a symbol at {:.0}, {:.0}", p.0, p.1));
            }
        }
    }
    let links: Vec<(At, At, usize)> = lines
        .iter()
        .filter_map(|&(p, q, class)| match class {
            Class::Link(i) => Some((p, q, i)),
            _ => None,
        })
        .collect();
    for (n, (p, q, i)) in links.iter().enumerate() {
        for (r, s, j) in links.iter().skip(n + 1).filter(|l| l.2 != *i) {
            if on_one_line(*p, *q, *r, *s) {
                found.push(format!("wires {i} and {j} on one line at {:.0}, {:.0}", r.0, r.1));
            }
        }
    }
    found
}

fn shrink([l, t, r, b]: Rect, by: f64) -> Rect {
    [l + by, t + by, r - by, b - by]
}

fn around(p: At, q: At) -> Rect {
    [p.0.min(q.0), p.1.min(q.1), p.0.max(q.0), p.1.max(q.1)]
}

fn overlap(a: &Rect, b: &Rect) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
        || is_line(b)
            && a[0] < b[2].max(b[0] + 1e-9)
            && b[0] < a[2]
            && a[1] < b[3].max(b[1] + 1e-9)
            && b[1] < a[3]
}

fn is_line(r: &Rect) -> bool {
    (r[0] - r[2]).abs() < 1e-9 || (r[1] - r[3]).abs() < 1e-9
}

/// Whether two stretches share more than a point and lie on one line.
fn on_one_line(p: At, q: At, r: At, s: At) -> bool {
    let (a, b) = (around(p, q), around(r, s));
    let shared = |low: usize, high: usize| a[high].min(b[high]) - a[low].max(b[low]);
    let flat = |x: &Rect| (x[1] - x[3]).abs() < 1e-6;
    let upright = |x: &Rect| (x[0] - x[2]).abs() < 1e-6;
    flat(&a) && flat(&b) && (a[1] - b[1]).abs() < 1.0 && shared(0, 2) > 1.0
        || upright(&a) && upright(&b) && (a[0] - b[0]).abs() < 1.0 && shared(1, 3) > 1.0
}
