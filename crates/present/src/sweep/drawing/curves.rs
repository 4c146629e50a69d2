//! The lines themselves, and where they leave room for words.

use super::{BOTTOM, Field, HEIGHT, PENS, TOP};
use crate::{
    plot::svg::{Anchor, Pen, Svg, Type},
    sweep::{axis::Unit, gap_words},
};
use keyon_solve::sweep::Sweep;

/// A point on the sheet.
pub(super) type Spot = (f64, f64);

/// All lines on the sheet.
pub(super) struct Curves {
    lines: Vec<Line>,
}

/// One line.
struct Line {
    /// Stretches between gaps.
    runs: Vec<Vec<Spot>>,
    /// Where there is nothing to draw: from, to, why.
    gaps: Vec<(f64, f64, &'static str)>,
}

impl Curves {
    pub(super) fn new(sweep: &Sweep, field: &Field, unit: Unit) -> Self {
        Self { lines: (0..sweep.watches.len()).map(|at| line(sweep, at, field, unit)).collect() }
    }

    pub(super) fn draw(&self, svg: &mut Svg, names: &[String]) {
        for (at, (line, name)) in self.lines.iter().zip(names).enumerate() {
            let pen = PENS[at % PENS.len()];
            let end = Pen { width: 1.6, dashes: "", ..pen };
            for run in &line.runs {
                svg.path(run, pen);
                let ends = [run.first(), run.last()].into_iter().flatten();
                for spot in ends.filter(|_| !line.gaps.is_empty()) {
                    svg.circle(*spot, 3.2, end, false);
                }
            }
            for (from, to, words) in &line.gaps {
                let y = HEIGHT - BOTTOM - 8.0 - 14.0 * at as f64;
                let style = Type { ink: pen.ink, ..Type::new(11.0, pen.ink, Anchor::Middle) };
                svg.text_over((f64::midpoint(*from, *to), y), &format!("{name} {words}"), style);
            }
        }
    }

    /// The last point of each line that has any.
    pub(super) fn ends(&self) -> impl Iterator<Item = (usize, Spot)> {
        let last = |line: &Line| line.runs.last().and_then(|run| run.last()).copied();
        self.lines.iter().enumerate().filter_map(move |(at, line)| Some((at, last(line)?)))
    }

    fn spots(&self) -> impl Iterator<Item = Spot> {
        self.lines.iter().flat_map(|line| line.runs.iter().flatten().copied())
    }

    /// Whether a line runs through a box.
    pub(super) fn crosses(&self, x: Spot, y: Spot) -> bool {
        let inside = |(a, b): Spot| a >= x.0 && a <= x.1 && b >= y.0 && b <= y.1;
        let between = |ends: &[Spot]| {
            let [from, to] = ends else { return false };
            // Close enough for a letter not to slip through.
            let steps = ((to.0 - from.0).abs().max((to.1 - from.1).abs()) / 3.0).ceil().min(1000.0);
            (0..=steps as u32).any(|step| {
                let share = f64::from(step) / steps.max(1.0);
                inside((from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1)))
            })
        };
        self.spots().any(inside) || self.lines.iter().flat_map(|l| &l.runs).any(|r| r.windows(2).any(between))
    }

    /// Highest and lowest place of any line near a height; the middle of the field where there is none.
    pub(super) fn reach_at(&self, x: f64) -> Spot {
        let near = self.spots().filter(|(a, _)| (a - x).abs() < 10.0).map(|(_, y)| y);
        let (mut top, mut bottom) = (f64::INFINITY, f64::NEG_INFINITY);
        for y in near {
            (top, bottom) = (top.min(y), bottom.max(y));
        }
        if top.is_finite() { (top, bottom) } else { (f64::midpoint(TOP, HEIGHT - BOTTOM), TOP) }
    }

    /// Whether a line goes up to the right of a place.
    pub(super) fn rises(&self, at: usize, x: f64) -> bool {
        let spots = || self.lines.get(at).into_iter().flat_map(|l| l.runs.iter().flatten());
        let here = spots().find(|s| s.0 >= x).map(|s| s.1);
        let there = spots().find(|s| s.0 >= x + 60.0).or_else(|| spots().last()).map(|s| s.1);
        here.zip(there).is_some_and(|(here, there)| there < here - 0.5)
    }
}

fn line(sweep: &Sweep, at: usize, field: &Field, unit: Unit) -> Line {
    let mut line = Line { runs: Vec::new(), gaps: Vec::new() };
    let mut last: Option<Option<&'static str>> = None;
    for step in &sweep.steps {
        let Some(read) = step.reads.get(at) else { continue };
        let x = field.x(unit.number(step.value));
        let gap = if read.volts.is_none() { Some(gap_words(*read)) } else { None };
        let goes_on = last == Some(gap);
        last = Some(gap);
        match (read.volts, gap) {
            (Some(volts), _) => {
                let spot = (x, field.y(volts));
                match line.runs.last_mut().filter(|_| goes_on) {
                    Some(run) => run.push(spot),
                    None => line.runs.push(vec![spot]),
                }
            }
            (None, Some(words)) => match line.gaps.last_mut().filter(|_| goes_on) {
                Some(gap) => gap.1 = x,
                None => line.gaps.push((x, x, words)),
            },
            (None, None) => {}
        }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::{super::labels::Labels, *};

    #[test]
    fn words_stand_clear_of_a_line_also_between_its_points() {
        let runs = vec![vec![(100.0, 100.0), (400.0, 400.0)]];
        let curves = Curves { lines: vec![Line { runs, gaps: Vec::new() }] };
        assert!(curves.crosses((245.0, 255.0), (245.0, 255.0)));
        assert!(!curves.crosses((300.0, 350.0), (100.0, 200.0)));
        let field = Field { x: (0.0, 1.0), y: (0.0, 1.0), right: 700.0 };
        let mut labels = Labels::new(&curves, &field);
        // The first place is on the line, the second outside the field; the next words find the third taken.
        let places = [(240.0, 255.0), (660.0, 150.0), (300.0, 150.0), (300.0, 180.0)];
        assert_eq!(labels.place("25 °C: 2.66 V", 12.0, &places), (300.0, 150.0));
        assert_eq!(labels.place("25 °C: 2.66 V", 12.0, &places), (300.0, 180.0));
    }
}
