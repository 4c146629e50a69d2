//! Wires in the colours of their insulation, by the letters of IEC 60757.

use keyon_circuit::model::Circuit;
use keyon_draw::{Link, Pen};

/// The colours that the letters stand for. The letters are the standard's; the shades are ours.
const COLOURS: [(&str, &str); 14] = [
    ("BK", "#1c1c1c"),
    ("BN", "#7a4a1e"),
    ("RD", "#cc1f1f"),
    ("OG", "#ee7b10"),
    ("YE", "#f2d21b"),
    ("GN", "#2c8f3a"),
    ("BU", "#2057b8"),
    ("VT", "#7d3fa8"),
    ("GY", "#8c8f94"),
    ("WH", "#ffffff"),
    ("PK", "#f09ab8"),
    ("GD", "#b8962e"),
    ("TQ", "#2fb5b0"),
    ("SR", "#c3c6cb"),
];

/// The shade of a colour's letters; `None` for those of a library's own.
pub(crate) fn shade(letters: &str) -> Option<&'static str> {
    COLOURS.iter().find(|(name, _)| name.eq_ignore_ascii_case(letters)).map(|(_, shade)| *shade)
}

/// Base and tracer of a colour as it is written: `OG/BK`, `GNYE`.
pub fn base_and_tracer(written: &str) -> Option<(&'static str, Option<&'static str>)> {
    if let Some((base, tracer)) = written.split_once(['/', '-']) {
        return Some((shade(base.trim())?, shade(tracer.trim())));
    }
    match written.get(..2).zip(written.get(2..)) {
        Some((base, tracer)) if tracer.len() == 2 => Some((shade(base)?, shade(tracer))),
        _ => shade(written).map(|base| (base, None)),
    }
}

/// An edge that shows white on white, the colour, the tracer as dashes.
pub(super) fn pens(circuit: &Circuit, link: &Link) -> Vec<Pen> {
    let colour = link.wire.and_then(|(wire, stretch)| {
        let stretch = circuit.wires.get(wire.index())?.stretches.get(stretch)?;
        base_and_tracer(stretch.colour.as_deref()?)
    });
    let Some((base, tracer)) = colour else { return vec![super::thin()] };
    let mut pens = vec![Pen::new("#333333", 4.6, ""), Pen::new(base, 3.4, "")];
    pens.extend(tracer.map(|tracer| Pen::new(tracer, 1.7, "9 7")));
    pens
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_colour_of_the_language_has_a_shade() {
        let letters: Vec<&str> = COLOURS.iter().map(|(letters, _)| *letters).collect();
        assert_eq!(letters, keyon_syntax::layout::COLOUR_LETTERS);
    }

    #[test]
    fn colours_with_and_without_tracer_are_read() {
        assert_eq!(base_and_tracer("OG/BK"), Some(("#ee7b10", Some("#1c1c1c"))));
        assert_eq!(base_and_tracer("gn"), Some(("#2c8f3a", None)));
        assert_eq!(base_and_tracer("GNYE"), Some(("#2c8f3a", Some("#f2d21b"))));
        assert_eq!(base_and_tracer("sand"), None);
        assert_eq!(base_and_tracer("é"), None);
    }
}
