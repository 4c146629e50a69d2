//! A small SVG writer: deterministic bytes, figures with two decimals, all text escaped.

use crate::{figure, grid::escape_html};

/// A drawing that is being written.
#[derive(Clone, Debug)]
pub(crate) struct Svg {
    body: String,
    width: f64,
    height: f64,
    title: String,
    words: String,
    lowered: bool,
}

/// Where a text hangs on its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text looks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Type {
    pub(crate) size: f64,
    pub(crate) bold: bool,
    pub(crate) ink: &'static str,
    pub(crate) anchor: Anchor,
    /// Degrees, counter-clockwise.
    pub(crate) turned: f64,
}

impl Type {
    pub(crate) const fn new(size: f64, ink: &'static str, anchor: Anchor) -> Self {
        Self { size, bold: false, ink, anchor, turned: 0.0 }
    }
    pub(crate) const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }
    pub(crate) const fn turned(self, turned: f64) -> Self {
        Self { turned, ..self }
    }
}

/// How a line looks: ink, width, dashes (none: solid).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pen {
    pub(crate) ink: &'static str,
    pub(crate) width: f64,
    pub(crate) dashes: &'static str,
}

/// A coordinate.
fn n(value: f64) -> String {
    let text = figure::fixed(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The width of every letter of a monospaced face, to its size.
const ONE_WIDTH: f64 = 0.603;

/// How wide a text is at most, as near as counting comes: in a common sans-serif face, or with letters of one width, as our
/// own PNG has them.
pub(crate) fn text_width(text: &str, size: f64) -> f64 {
    let width = |c: char| match c {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' => 0.28,
        ' ' | 'f' | 't' | 'r' | '-' | '(' | ')' | '/' => 0.36,
        'm' | 'w' | 'M' | 'W' => 0.9,
        c if c.is_uppercase() => 0.72,
        _ => 0.62,
    };
    let (letters, sans) = text.chars().fold((0.0, 0.0), |(all, sum), c| (all + ONE_WIDTH, sum + width(c)));
    f64::max(letters, sans) * size
}

impl Svg {
    /// `title` and `words` are what a screen reader says.
    pub(crate) fn new(width: f64, height: f64, title: &str, words: &str) -> Self {
        let (title, words) = (title.to_owned(), words.to_owned());
        Self { body: String::new(), width, height, title, words, lowered: false }
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: Pen) {
        let ends = format!("x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"", n(from.0), n(from.1), n(to.0), n(to.1));
        self.body.push_str(&format!("<line {ends}{}/>\n", stroke(pen)));
    }

    /// Moves all that is drawn from here on down, and makes room for it.
    pub(crate) fn lower(&mut self, by: f64) {
        self.body.push_str(&format!("<g transform=\"translate(0 {})\">\n", n(by)));
        self.height += by;
        self.lowered = true;
    }

    /// An open line through points.
    pub(crate) fn path(&mut self, points: &[(f64, f64)], pen: Pen) {
        let mut d = String::new();
        for (index, (x, y)) in points.iter().enumerate() {
            let command = if index == 0 { 'M' } else { 'L' };
            d.push_str(&format!("{command}{} {}", n(*x), n(*y)));
        }
        let joins = " fill=\"none\" stroke-linejoin=\"round\" stroke-linecap=\"butt\"";
        self.body.push_str(&format!("<path d=\"{d}\"{joins}{}/>\n", stroke(pen)));
    }

    pub(crate) fn rect(&mut self, (x, y): (f64, f64), (width, height): (f64, f64), fill: &str) {
        let size = format!("width=\"{}\" height=\"{}\"", n(width.max(0.0)), n(height.max(0.0)));
        self.body.push_str(&format!("<rect x=\"{}\" y=\"{}\" {size} fill=\"{fill}\"/>\n", n(x), n(y)));
    }

    /// A ring with a white middle, or a dot.
    pub(crate) fn circle(&mut self, (x, y): (f64, f64), radius: f64, pen: Pen, filled: bool) {
        let fill = if filled { pen.ink } else { "#ffffff" };
        let at = format!("cx=\"{}\" cy=\"{}\" r=\"{}\"", n(x), n(y), n(radius));
        self.body.push_str(&format!("<circle {at} fill=\"{fill}\"{}/>\n", stroke(pen)));
    }

    /// Text with its base line at `at`.
    pub(crate) fn text(&mut self, at: (f64, f64), text: &str, style: Type) {
        let element = text_element(at, text, style, "");
        self.body.push_str(&element);
    }

    /// Text on a white halo, to stand on lines. The halo is a text of its own: not every viewer knows `paint-order`.
    pub(crate) fn text_over(&mut self, at: (f64, f64), text: &str, style: Type) {
        let halo = " stroke=\"#ffffff\" stroke-width=\"4\" stroke-linejoin=\"round\" aria-hidden=\"true\"";
        let element = text_element(at, text, Type { ink: "#ffffff", ..style }, halo);
        self.body.push_str(&element);
        self.text(at, text, style);
    }

    /// Fine lines that a region is filled with: `url(#hatch)`.
    pub(crate) fn hatch(&mut self) {
        self.body.push_str(
            "<defs><pattern id=\"hatch\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate(45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" stroke=\"#c9ccd1\" \
             stroke-width=\"1.4\"/></pattern></defs>\n",
        );
    }

    /// The whole file.
    pub(crate) fn finish(self) -> String {
        let (width, height) = (n(self.width), n(self.height));
        let (title, words) = (escape_html(&self.title), escape_html(&self.words));
        let end = if self.lowered { "</g>\n" } else { "" };
        let face = "font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\"";
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} \
             {height}\" role=\"img\" {face}>\n<title>{title}</title>\n<desc>{words}</desc>\n<rect width=\"{width}\" \
             height=\"{height}\" fill=\"#ffffff\"/>\n{}{end}</svg>\n",
            self.body
        )
    }
}

fn text_element((x, y): (f64, f64), text: &str, style: Type, more: &str) -> String {
    let anchor = match style.anchor {
        Anchor::Start => "",
        Anchor::Middle => " text-anchor=\"middle\"",
        Anchor::End => " text-anchor=\"end\"",
    };
    let bold = if style.bold { " font-weight=\"bold\"" } else { "" };
    let turned = if style.turned == 0.0 {
        String::new()
    } else {
        format!(" transform=\"rotate({} {} {})\"", n(-style.turned), n(x), n(y))
    };
    let (size, ink, text) = (n(style.size), style.ink, escape_html(text));
    format!(
        "<text x=\"{}\" y=\"{}\" font-size=\"{size}\" fill=\"{ink}\"{anchor}{bold}{turned}{more}>{text}</text>\n",
        n(x),
        n(y)
    )
}

fn stroke(pen: Pen) -> String {
    let dashes =
        if pen.dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", pen.dashes) };
    format!(" stroke=\"{}\" stroke-width=\"{}\"{dashes}", pen.ink, n(pen.width))
}
