//! A sweep as a drawing: a line a point, told apart by ink, dashes and a label at its end, so that it reads in grey too.

mod curves;
mod labels;
mod notes;

use super::{Limits, Unit, axis_name, limits, watch_name};
use crate::{
    about::{self, Asked},
    figure,
    plot::{
        svg::{Anchor, Pen, Svg, Type, text_width},
        ticks::Ticks,
    },
};
use curves::Curves;
use keyon_circuit::model::Circuit;
use keyon_solve::{
    State,
    sweep::{Sweep, Watch},
};
use labels::Labels;

const WIDTH: f64 = 800.0;
const HEIGHT: f64 = 500.0;
const LEFT: f64 = 70.0;
const TOP: f64 = 78.0;
const BOTTOM: f64 = 72.0;
/// From one row of the head to the next.
const ROW: f64 = 16.0;

const INK: &str = "#22262b";
const SOFT: &str = "#5b626b";
const FAINT: &str = "#dfe2e6";

/// Lines in their order: dark to light in grey, and no two dashed alike.
const PENS: [Pen; 6] = [
    Pen { ink: "#173a63", width: 2.4, dashes: "" },
    Pen { ink: "#b3541e", width: 2.4, dashes: "9 4" },
    Pen { ink: "#3c7d5a", width: 2.6, dashes: "2.5 3" },
    Pen { ink: "#6d4a8f", width: 2.4, dashes: "12 3 2.5 3" },
    Pen { ink: "#8a6d1d", width: 3.4, dashes: "5 2.5" },
    Pen { ink: "#4f5a66", width: 1.6, dashes: "" },
];
/// Where values lie on the sheet.
struct Field {
    x: (f64, f64),
    y: (f64, f64),
    right: f64,
}

impl Field {
    fn x(&self, value: f64) -> f64 {
        LEFT + (self.right - LEFT) * (value - self.x.0) / (self.x.1 - self.x.0)
    }
    fn y(&self, value: f64) -> f64 {
        let bottom = HEIGHT - BOTTOM;
        bottom - (bottom - TOP) * (value - self.y.0) / (self.y.1 - self.y.0)
    }
}

/// The drawing as an SVG file.
pub fn sweep_svg(circuit: &Circuit, sweep: &Sweep, base: &State, asked: &Asked) -> String {
    let most = sweep.steps.iter().map(|s| s.value.abs()).fold(0.0, f64::max);
    let unit = Unit::of(circuit, sweep.axis, most);
    let names: Vec<String> = sweep.watches.iter().map(|w| watch_name(circuit, *w)).collect();
    let of = axis_name(circuit, sweep.axis);
    let heading = format!("{} over {of}", names.join(", "));
    let (low, high) = volts_span(circuit, sweep);
    let up = Ticks::new(low, high, 6, true);
    let ends = (sweep.steps.first(), sweep.steps.last());
    let x0 = ends.0.map_or(0.0, |s| unit.number(s.value));
    let x1 = ends.1.map_or(1.0, |s| unit.number(s.value));
    // Bold is wider.
    let label_room = names.iter().map(|n| 1.1 * text_width(n, 12.5)).fold(0.0, f64::max) + 26.0;
    let field = Field {
        x: if x0 == x1 { (x0 - 1.0, x0 + 1.0) } else { (x0, x1) },
        y: (up.values.first().copied().unwrap_or(0.0), up.values.last().copied().unwrap_or(1.0)),
        right: WIDTH - label_room.min(WIDTH / 3.0),
    };
    let words =
        format!("{heading}, from {} to {} {}.", figure::short(x0, 5), figure::short(x1, 5), unit.sign);
    let mut svg = Svg::new(WIDTH, HEIGHT, &heading, &words);
    head(&mut svg, circuit, &heading, base, asked);
    outside(&mut svg, circuit, sweep, &field);
    let inputs = sweep.watches.iter().all(|w| matches!(w, Watch::Input(..)));
    let beside = if inputs { "signal in V" } else { "voltage in V" };
    axes(&mut svg, &field, &up, &format!("{of}: {} in {}", unit.what, unit.sign), beside);
    let curves = Curves::new(sweep, &field, unit);
    let mut labels = Labels::new(&curves, &field);
    notes::marks(&mut svg, circuit, sweep, &field, &mut labels);
    curves.draw(&mut svg, &names);
    notes::changes(&mut svg, circuit, sweep, &field, &curves, unit);
    notes::now(&mut svg, sweep, &field, &curves, &mut labels, unit);
    notes::names(&mut svg, &curves, &names, field.right);
    svg.text((LEFT, HEIGHT - 12.0), about::FOOT, Type::new(10.5, SOFT, Anchor::Start));
    svg.finish()
}

/// Lowest and highest volts that the drawing has to hold: the curves, and the limits that they are judged by.
fn volts_span(circuit: &Circuit, sweep: &Sweep) -> (f64, f64) {
    let mut all: Vec<f64> = sweep.steps.iter().flat_map(|s| &s.reads).filter_map(|r| r.volts).collect();
    for watch in &sweep.watches {
        match limits(circuit, *watch) {
            Some(Limits::Range { stated: (low, high), .. }) => all.extend([low, high]),
            Some(Limits::Threshold(limit)) => all.push(limit),
            None => {}
        }
    }
    let low = all.iter().copied().fold(f64::INFINITY, f64::min);
    let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !low.is_finite() {
        return (0.0, 1.0);
    }
    // Zero is a volt's natural foot, unless the curve lives far above it.
    let low = if low > 0.0 && low < 0.6 * high { 0.0 } else { low };
    // What does not move at all still gets some air.
    if high - low < 0.05 { (low - 0.05, high + 0.05) } else { (low, high) }
}

fn head(svg: &mut Svg, circuit: &Circuit, heading: &str, base: &State, asked: &Asked) {
    let heading = fitted(heading, 17.0, WIDTH - LEFT - 10.0);
    svg.text((LEFT, 26.0), &heading, Type::new(17.0, INK, Anchor::Start).bold());
    let mut words = vec![about::title(circuit).replace("  ", ": ")];
    let lines = about::state_lines(circuit, base, asked);
    words.extend(asked.scenario_line(circuit));
    words.extend(
        lines.iter().filter(|(l, _)| matches!(*l, "set" | "changed")).map(|(l, w)| format!("{l} {w}")),
    );
    words.extend(lines.iter().filter(|(l, _)| *l == "supply").map(|(_, w)| w.clone()));
    let room = WIDTH - LEFT - 10.0;
    let rows = wrapped(&words.join("; ").replace("  ", " "), 12.0, room);
    for (row, at) in rows.iter().zip(0_u16..) {
        svg.text((LEFT, 46.0 + ROW * f64::from(at)), row, Type::new(12.0, SOFT, Anchor::Start));
    }
    // The head has room for two.
    let more = rows.len().saturating_sub(2);
    if more > 0 {
        svg.lower(ROW * more as f64);
    }
}

/// A text in rows of a width, broken between words; a figure keeps its unit.
fn wrapped(text: &str, size: f64, room: f64) -> Vec<String> {
    let mut rows: Vec<String> = Vec::new();
    let mut words = text.split(' ').peekable();
    while let Some(word) = words.next() {
        let is_unit = |next: &&str| word.parse::<f64>().is_ok() && next.chars().count() <= 5;
        let unit = words.next_if(is_unit).map_or_else(String::new, |unit| format!(" {unit}"));
        let word = format!("{word}{unit}");
        match rows.last_mut() {
            Some(row) if text_width(&format!("{row} {word}"), size) <= room => {
                row.push(' ');
                row.push_str(&word);
            }
            _ => rows.push(fitted(&word, size, room)),
        }
    }
    rows
}

/// A text cut to a width, and said to be.
fn fitted(text: &str, size: f64, room: f64) -> String {
    if text_width(text, size) <= room {
        return text.to_owned();
    }
    let mut cut: String = text.to_owned();
    while !cut.is_empty() && text_width(&cut, size) > room - size {
        cut.pop();
    }
    format!("{} …", cut.trim_end())
}

/// Hatching where a signal is not plausible, if one input alone is drawn.
fn outside(svg: &mut Svg, circuit: &Circuit, sweep: &Sweep, field: &Field) {
    let [watch] = sweep.watches.as_slice() else { return };
    let Some(Limits::Range { plausible: (low, high), .. }) = limits(circuit, *watch) else { return };
    svg.hatch();
    let width = field.right - LEFT;
    let (top, bottom) = (field.y(field.y.1), field.y(field.y.0));
    let (high, low) = (field.y(high).clamp(top, bottom), field.y(low).clamp(top, bottom));
    svg.rect((LEFT, top), (width, high - top), "url(#hatch)");
    svg.rect((LEFT, low), (width, bottom - low), "url(#hatch)");
}

fn axes(svg: &mut Svg, field: &Field, up: &Ticks, below: &str, beside: &str) {
    let (bottom, label) = (HEIGHT - BOTTOM, Type::new(12.0, INK, Anchor::Middle));
    let grid = Pen { ink: FAINT, width: 1.0, dashes: "" };
    let axis = Pen { ink: INK, width: 1.2, dashes: "" };
    let (x0, x1) = (field.x.0.min(field.x.1), field.x.0.max(field.x.1));
    let across = Ticks::new(x0, x1, 8, false);
    for &value in &across.values {
        let x = field.x(value);
        svg.line((x, TOP), (x, bottom), grid);
        svg.line((x, bottom), (x, bottom + 5.0), axis);
        svg.text((x, bottom + 19.0), &across.text(value), label);
    }
    for &value in &up.values {
        let y = field.y(value);
        svg.line((LEFT, y), (field.right, y), grid);
        svg.line((LEFT - 5.0, y), (LEFT, y), axis);
        svg.text((LEFT - 9.0, y + 4.0), &up.text(value), Type::new(12.0, INK, Anchor::End));
    }
    svg.line((LEFT, TOP), (LEFT, bottom), axis);
    svg.line((LEFT, bottom), (field.right, bottom), axis);
    let middle = f64::midpoint(LEFT, field.right);
    svg.text((middle, bottom + 40.0), below, Type::new(13.0, INK, Anchor::Middle).bold());
    let at = (24.0, f64::midpoint(TOP, bottom));
    svg.text(at, beside, Type::new(13.0, INK, Anchor::Middle).bold().turned(90.0));
}
