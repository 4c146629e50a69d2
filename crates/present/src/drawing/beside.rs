//! Several states of one circuit in one drawing: each thing stands at the same place in all of them.

use super::{Drawn, Letters, View, label, letters, written};
use keyon_circuit::model::Circuit;
use keyon_draw::{At, Link, Room, Thing, lay_out_with_room, size_of};
use keyon_solve::Solution;
use std::collections::BTreeMap;

/// Between two drawings.
const GAP: f64 = 24.0;
/// What a printer leaves of A4, in millimetres: only the shape counts.
const PAPER: At = (190.0, 277.0);

/// The states, each with what is said of it, as one SVG: side by side or one below the other, whichever prints larger.
pub fn beside_svg(circuit: &Circuit, states: &[(String, &Solution)], drawn: &Drawn) -> String {
    let wanted = |thing: Thing| drawn.only.is_empty() || drawn.only.contains(&thing);
    let letters: Letters =
        if drawn.letters { letters(circuit, &drawn.only).into_iter().collect() } else { BTreeMap::new() };
    let said = |solution, link: &Link, end: usize, lower: bool| {
        label(circuit, View::State(solution), drawn, &letters, link, end, lower)
    };
    let room = |link: &Link, end: usize, lower: bool| {
        let each = states.iter().filter_map(|(_, solution)| Some(said(solution, link, end, lower)?.room()));
        each.reduce(Room::or)
    };
    let layout = lay_out_with_room(circuit, &wanted, &room);
    let drawings: Vec<String> = states
        .iter()
        .map(|(subject, solution)| {
            let mut layout = layout.clone();
            layout.say(&|link, end, lower| said(solution, link, end, lower));
            let drawn = Drawn { subject: subject.clone(), ..drawn.clone() };
            written(circuit, View::State(solution), &drawn, layout)
        })
        .collect();
    together(&drawings)
}

/// Drawings of one circuit in one, in as many columns as print largest.
fn together(drawings: &[String]) -> String {
    let sizes: Vec<At> = drawings.iter().map(|d| size_of(d)).collect();
    let (wide, high) = sizes.iter().fold((0.0, 0.0), |(w, h): At, s| (w.max(s.0), h.max(s.1)));
    let columns = columns(drawings.len(), (wide, high));
    let mut body = String::new();
    let (mut right, mut y): At = (0.0, 0.0);
    for (row, sizes) in drawings.chunks(columns).zip(sizes.chunks(columns)) {
        let mut x = 0.0;
        for drawing in row {
            body.push_str(&drawing.replacen("<svg ", &format!("<svg x=\"{x}\" y=\"{y}\" "), 1));
            x += wide + GAP;
        }
        right = right.max(x - GAP);
        y += sizes.iter().map(|s| s.1).fold(0.0, f64::max) + GAP;
    }
    let (width, height) = (right.max(0.0), (y - GAP).max(0.0));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\">\n<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n{body}</svg>\n"
    )
}

/// How many columns of so many drawings of a size fill a sheet best, upright or turned.
fn columns(count: usize, (wide, high): At) -> usize {
    let scale = |columns: usize| {
        let rows = count.div_ceil(columns.max(1)) as f64;
        let columns = columns as f64;
        let (w, h) = (columns * (wide + GAP) - GAP, rows * (high + GAP) - GAP);
        let on = |paper: At| (paper.0 / w.max(1.0)).min(paper.1 / h.max(1.0));
        on(PAPER).max(on((PAPER.1, PAPER.0)))
    };
    // Of equals the one with more beside each other.
    (1..=count.max(1)).max_by(|&a, &b| scale(a).total_cmp(&scale(b)).then(a.cmp(&b))).unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_drawings_stand_below_one_another_and_narrow_ones_beside() {
        assert_eq!(columns(3, (1400.0, 600.0)), 1);
        assert_eq!(columns(3, (400.0, 1200.0)), 3);
        assert_eq!(columns(4, (600.0, 800.0)), 2);
        assert_eq!(columns(1, (600.0, 800.0)), 1);
    }
}
