//! What stands beside the lines: limits, changes of state, the state as it is, names.

use super::{BOTTOM, Field, HEIGHT, LEFT, PENS, SOFT, TOP, curves::Curves, fitted, labels::Labels};
use crate::{
    figure,
    plot::svg::{Anchor, Pen, Svg, Type, text_width},
    sweep::{Limits, axis::Unit, limits, remarks::remarks, watch_name},
};
use keyon_circuit::model::Circuit;
use keyon_solve::sweep::Sweep;

/// Most changes that are drawn; more would hide the curve, and stand in the table.
const MOST_CHANGES: usize = 6;

/// Thresholds, and the ends of ranges.
pub(super) fn marks(svg: &mut Svg, circuit: &Circuit, sweep: &Sweep, field: &Field, labels: &mut Labels<'_>) {
    let pen = Pen { ink: SOFT, width: 1.3, dashes: "6 3 1.5 3" };
    let mut drawn: Vec<f64> = Vec::new();
    let several = sweep.watches.len() > 1;
    for &watch in &sweep.watches {
        let whose = if several { format!(" ({})", watch_name(circuit, watch)) } else { String::new() };
        let volts = figure::volts;
        let all = match limits(circuit, watch) {
            Some(Limits::Range { stated: (low, high), .. }) => vec![
                (low, format!("range from {} V{whose}", volts(low))),
                (high, format!("range to {} V{whose}", volts(high))),
            ],
            Some(Limits::Threshold(limit)) => {
                vec![(limit, format!("reads high from {} V{whose}", volts(limit)))]
            }
            None => Vec::new(),
        };
        for (volts, words) in all {
            let y = field.y(volts);
            // Two inputs of one range: one line, one label.
            if drawn.iter().any(|d| (d - y).abs() < 12.0) {
                continue;
            }
            drawn.push(y);
            svg.line((LEFT, y), (field.right, y), pen);
            labels.across(y);
            // Above the line, below it; where a curve runs there too, at the other end.
            let far = field.right - 8.0 - text_width(&words, 11.0);
            let places = [(LEFT + 8.0, y - 5.0), (LEFT + 8.0, y + 14.0), (far, y - 5.0), (far, y + 14.0)];
            let place = labels.place(&words, 11.0, &places);
            svg.text_over(place, &words, Type::new(11.0, SOFT, Anchor::Start));
        }
    }
}

/// Where devices change their state.
pub(super) fn changes(
    svg: &mut Svg,
    circuit: &Circuit,
    sweep: &Sweep,
    field: &Field,
    curves: &Curves,
    unit: Unit,
) {
    let pen = Pen { ink: SOFT, width: 1.0, dashes: "1.5 3" };
    let (style, bottom) = (Type::new(11.0, SOFT, Anchor::End).turned(90.0), HEIGHT - BOTTOM);
    let all = remarks(circuit, &sweep.steps).into_iter().enumerate().skip(1);
    let all: Vec<(usize, Vec<String>)> = all.filter(|(_, r)| !r.is_empty()).collect();
    if all.len() > MOST_CHANGES {
        let words = format!("{} changes of state on the way: see the table", all.len());
        svg.text((field.right, TOP - 5.0), &words, Type::new(11.0, SOFT, Anchor::End));
        return;
    }
    for (at, words) in all {
        let (before, here) = (sweep.steps[at - 1].value, sweep.steps[at].value);
        let x = field.x(unit.number(f64::midpoint(before, here)));
        svg.line((x, TOP), (x, bottom), pen);
        let words = fitted(&words.join(", "), 11.0, bottom - TOP - 20.0);
        // Along the line, above the curves where there is more room, else below them.
        let (top, low) = curves.reach_at(x);
        if top - TOP >= bottom - low {
            svg.text_over((x - 4.0, TOP + 8.0), &words, style);
        } else {
            svg.text_over((x - 4.0, bottom - 8.0), &words, Type { anchor: Anchor::Start, ..style });
        }
    }
}

/// The state as it stands: a dot on each line, with its volts.
pub(super) fn now(
    svg: &mut Svg,
    sweep: &Sweep,
    field: &Field,
    curves: &Curves,
    labels: &mut Labels<'_>,
    unit: Unit,
) {
    let value = unit.number(sweep.now.value);
    let (low, high) = (field.x.0.min(field.x.1), field.x.0.max(field.x.1));
    if value < low || value > high {
        return;
    }
    let x = field.x(value);
    for (at, read) in sweep.now.reads.iter().enumerate() {
        let Some(volts) = read.volts else { continue };
        let words = format!("{} {}: {} V", unit.text(sweep.now.value), unit.sign, figure::volts(volts));
        let y = field.y(volts);
        let pen = Pen { width: 1.6, dashes: "", ..PENS[at % PENS.len()] };
        svg.circle((x, y), 4.0, pen, true);
        // First on the side that the line leaves free, then ever further away.
        let below_first = curves.rises(at, x);
        let left = x - 9.0 - text_width(&words, 12.0);
        let mut places = Vec::new();
        for away in [0.0, 14.0, 28.0, 42.0] {
            let (above, below) = (y - 9.0 - away, y + 17.0 + away);
            let (one, other) = if below_first { (below, above) } else { (above, below) };
            places.extend([(x + 9.0, one), (left, other), (x + 9.0, other), (left, one)]);
        }
        let place = labels.place(&words, 12.0, &places);
        svg.text_over(place, &words, Type::new(12.0, pen.ink, Anchor::Start));
    }
}

/// Names at the lines' ends.
pub(super) fn names(svg: &mut Svg, curves: &Curves, names: &[String], right: f64) {
    let mut labels: Vec<(f64, &str, Pen)> = Vec::new();
    for (at, (x, y)) in curves.ends() {
        let (name, pen) = (names.get(at).map_or("", String::as_str), PENS[at % PENS.len()]);
        if x < right - 2.0 {
            // A line that breaks off has its name where it does.
            svg.text_over((x + 8.0, y + 4.0), name, Type::new(12.5, pen.ink, Anchor::Start).bold());
        } else {
            labels.push((y, name, pen));
        }
    }
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let heights: Vec<f64> = labels.iter().map(|l| l.0).collect();
    for ((y, name, pen), place) in labels.into_iter().zip(apart(&heights, 16.0, HEIGHT - BOTTOM)) {
        let thin = Pen { width: 0.8, dashes: "", ..pen };
        svg.line((right + 2.0, y), (right + 9.0, place), thin);
        svg.text((right + 12.0, place + 4.0), name, Type::new(12.5, pen.ink, Anchor::Start).bold());
    }
}

/// Heights moved down where they are nearer than `gap`, and up again where they would leave the field below.
fn apart(heights: &[f64], gap: f64, least: f64) -> Vec<f64> {
    let mut places = heights.to_vec();
    for at in 1..places.len() {
        places[at] = places[at].max(places[at - 1] + gap);
    }
    let mut least = least;
    for place in places.iter_mut().rev() {
        *place = place.min(least);
        least = *place - gap;
    }
    places
}
