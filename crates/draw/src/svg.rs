//! Writes a drawing as SVG: the same marks give the same bytes, and every text is escaped.

use crate::{
    compose::{Layout, LinkPath},
    look::{Look, Pen},
    scene::{At, Class, Mark, Shape, Words, width_of},
    wrap::wrap,
};
use std::fmt::Write;

/// What stands around a drawing, and what a screen reader says.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// Read first, and printed above.
    pub title: String,
    /// What the drawing shows, in words.
    pub words: String,
    /// Marks beside the drawing: a legend, reading boxes, a second drawing; in the drawing's own coordinates.
    pub more: Vec<Mark>,
    /// Pixels added below, for a legend.
    pub foot: f64,
}

/// Height of the title's first line with what stands around it, and of each further line.
const HEAD: f64 = 26.0;
const LINE: f64 = 16.0;
/// Letters of the title.
const TITLE: f64 = 13.0;
/// Letters of one width; what is installed nearest to it is taken.
const FACE: &str = "'DejaVu Sans Mono', Menlo, Consolas, 'Liberation Mono', monospace";

/// Writes a layout with a look.
pub fn svg(layout: &Layout, look: &Look<'_>, sheet: &Sheet) -> String {
    let scene = layout.scene();
    let (left, right) = layout.edges();
    let title = wrap(&sheet.title, TITLE, right - left);
    let head = if title.is_empty() { 0.0 } else { HEAD + (title.len() - 1) as f64 * LINE };
    let title_right = title.iter().map(|line| left + width_of(line, TITLE)).fold(0.0, f64::max);
    let more_right = sheet.more.iter().map(|m| right_of(&m.shape)).fold(0.0, f64::max);
    let width = right.max(title_right).max(more_right) + left;
    let height = scene.size.1 + head + sheet.foot;
    let mut out = String::new();
    let (w, h) = (n(width.ceil()), n(height.ceil()));
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
         font-family=\"{FACE}\">"
    );
    if !sheet.title.is_empty() {
        let _ = writeln!(out, "<title>{}</title>", escape(&sheet.title));
    }
    if !sheet.words.is_empty() {
        let _ = writeln!(out, "<desc>{}</desc>", escape(&sheet.words));
    }
    let _ = writeln!(out, "<rect width=\"{w}\" height=\"{h}\" fill=\"#ffffff\"/>");
    for (n, line) in title.into_iter().enumerate() {
        let at = (left, 19.0 + n as f64 * LINE);
        let words = Words { at, text: line, size: TITLE, bold: true, middle: false, upright: false };
        text(&mut out, &words, look.ink);
    }
    let _ = writeln!(out, "<g transform=\"translate(0 {})\">", n(head));
    for mark in scene.marks.iter().chain(&sheet.more).filter(|mark| look.shows(mark.class)) {
        if let (Class::Link(index), Shape::Line(points)) = (mark.class, &mark.shape) {
            let Some(path) = layout.links.get(index) else { continue };
            if look.broken.as_ref().is_some_and(|broken| broken(path.link)) {
                interrupted(&mut out, path, points, look);
                continue;
            }
            for pen in (look.link)(path.link) {
                line(&mut out, points, &pen);
            }
            continue;
        }
        paint(&mut out, mark, look);
    }
    if let Some(name) = &look.name {
        // A finger is wider than a wire.
        for link in &layout.links {
            let at = escape(&name(link.link.points[0]));
            let d = path(&link.points);
            let wide = "fill=\"none\" stroke=\"transparent\" stroke-width=\"16\" pointer-events=\"stroke\"";
            let _ = writeln!(out, "<path d=\"{d}\" {wide} data-at=\"{at}\"/>");
        }
    }
    out.push_str("</g>\n</svg>\n");
    out
}

/// The size that a drawing of ours says it has: width and height in pixels.
pub fn size_of(svg: &str) -> At {
    let said = |name: &str| {
        let value = svg.split_once(name).and_then(|(_, rest)| rest.split('"').next());
        value.and_then(|value| value.parse().ok()).unwrap_or(0.0)
    };
    (said(" width=\""), said(" height=\""))
}

/// A wire with a break in the middle of its longest stretch.
fn interrupted(out: &mut String, wire: &LinkPath, points: &[At], look: &Look<'_>) {
    let length = |i: &usize| (points[i + 1].0 - points[*i].0).abs() + (points[i + 1].1 - points[*i].1).abs();
    let longest = (0..points.len().saturating_sub(1)).max_by(|a, b| length(a).total_cmp(&length(b)));
    let Some(at) = longest else { return };
    let (a, b) = (points[at], points[at + 1]);
    let middle = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
    let gap = 6.0_f64.min(length(&at) / 3.0);
    let step = |from: f64, to: f64| if (to - from).abs() < 1e-9 { 0.0 } else { (to - from).signum() * gap };
    let aside = (step(a.0, b.0), step(a.1, b.1));
    let before = [&points[..=at], &[(middle.0 - aside.0, middle.1 - aside.1)]].concat();
    let behind = [&[(middle.0 + aside.0, middle.1 + aside.1)], &points[at + 1..]].concat();
    // A path runs from its upper end to its lower one.
    let [upper, lower] = [wire.link.points[1 - wire.lower], wire.link.points[wire.lower]];
    line(out, &before, &(look.lead)(upper));
    line(out, &behind, &(look.lead)(lower));
    let cross = Pen::new(look.ink, 1.6, "");
    for turn in [1.0, -1.0] {
        let (dx, dy) = (4.5, 4.5 * turn);
        line(out, &[(middle.0 - dx, middle.1 - dy), (middle.0 + dx, middle.1 + dy)], &cross);
    }
}

fn right_of(shape: &Shape) -> f64 {
    match shape {
        Shape::Line(points) | Shape::Area(points, _) => points.iter().map(|p| p.0).fold(0.0, f64::max),
        Shape::Circle(at, r, _) => at.0 + r,
        Shape::Curve(at, _) => at.0,
        Shape::Text(words) => words.bounds()[2],
    }
}

/// A coordinate, with two decimals at the most.
fn n(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A text inside an element or a quoted attribute, of HTML or XML. What XML forbids becomes a space.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            c if c.is_control() && !matches!(c, '\n' | '\t') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn stroke(pen: &Pen) -> String {
    let dashes =
        if pen.dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", pen.dashes) };
    format!(" stroke=\"{}\" stroke-width=\"{}\"{dashes}", escape(&pen.ink), n(pen.width))
}

fn path(points: &[At]) -> String {
    let mut d = String::new();
    let mut last: Option<At> = None;
    for &(x, y) in points {
        match last {
            None => _ = write!(d, "M{} {}", n(x), n(y)),
            Some((_, b)) if (b - y).abs() < 1e-9 => _ = write!(d, "H{}", n(x)),
            Some((a, _)) if (a - x).abs() < 1e-9 => _ = write!(d, "V{}", n(y)),
            _ => _ = write!(d, "L{} {}", n(x), n(y)),
        }
        last = Some((x, y));
    }
    d
}

fn line(out: &mut String, points: &[At], pen: &Pen) {
    let _ = writeln!(
        out,
        "<path d=\"{}\" fill=\"none\" stroke-linejoin=\"round\"{}/>",
        path(points),
        stroke(pen)
    );
}

fn text(out: &mut String, words: &Words, ink: &str) {
    let (x, y) = words.at;
    let turn =
        if words.upright { format!(" transform=\"rotate(-90 {} {})\"", n(x), n(y)) } else { String::new() };
    let bold = if words.bold { " font-weight=\"700\"" } else { "" };
    let middle = if words.middle { " text-anchor=\"middle\"" } else { "" };
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{ink}\"{bold}{middle}{turn} xml:space=\"preserve\">{}</text>",
        n(x),
        n(y),
        n(words.size),
        escape(&words.text)
    );
}

fn paint(out: &mut String, mark: &Mark, look: &Look<'_>) {
    let pen = look.pen(mark.class);
    match &mark.shape {
        Shape::Line(points) => line(out, points, &pen),
        Shape::Area(points, filled) => {
            let fill = if *filled { escape(&pen.ink) } else { look.fill(mark.class).to_owned() };
            let _ = writeln!(
                out,
                "<path d=\"{}Z\" fill=\"{fill}\" stroke-linejoin=\"round\"{}/>",
                path(points),
                stroke(&pen)
            );
        }
        Shape::Circle((x, y), radius, filled) => {
            let fill = if *filled { escape(&pen.ink) } else { look.fill(mark.class).to_owned() };
            let works = matches!(mark.class, Class::Load(_) | Class::Sample(_));
            let width = if *filled {
                String::new()
            } else {
                stroke(&Pen { width: if works { pen.width } else { pen.width.min(1.3) }, ..pen.clone() })
            };
            let _ = writeln!(
                out,
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{fill}\"{width}/>",
                n(*x),
                n(*y),
                n(*radius)
            );
        }
        Shape::Curve((x, y), curves) => {
            let mut d = format!("M{} {}", n(*x), n(*y));
            for [a, b, c] in curves {
                let _ = write!(d, "C{} {} {} {} {} {}", n(a.0), n(a.1), n(b.0), n(b.1), n(c.0), n(c.1));
            }
            let _ = writeln!(out, "<path d=\"{d}\" fill=\"none\"{}/>", stroke(&pen));
        }
        Shape::Text(words) => {
            let ink = if mark.class == Class::Faint { look.faint } else { look.ink };
            text(out, words, ink);
        }
    }
}
