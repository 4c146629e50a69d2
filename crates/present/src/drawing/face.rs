//! The face of a connector, seen from the wire side: which wire is in which hole.

use super::colours;
use crate::grid::escape_html;
use keyon_circuit::{Entity, ids::PointId, model::*};
use keyon_draw::{size_of, width_of};
use std::fmt::Write;

/// A hole of a connector.
struct Hole {
    number: String,
    name: String,
    point: PointId,
}

/// The drawing as SVG; `None`: the entity has no `face`, or is no connector.
pub fn face_svg(circuit: &Circuit, subject: Entity) -> Option<String> {
    let (title, attributes, holes): (String, &Attributes, Vec<Hole>) = match subject {
        Entity::Connector(m, c) | Entity::Cavity(m, c, _) => {
            let module = circuit.modules.get(m.index())?;
            let connector = module.connectors.get(c)?;
            let holes = connector.cavities.iter().map(|k| Hole {
                number: k.number.to_string(),
                name: k.name.to_string(),
                point: k.outside,
            });
            let title = connector.title.as_deref().map_or_else(String::new, |t| format!("  {t}"));
            (format!("{} {}{title}", module.name, connector.name), &connector.attributes, holes.collect())
        }
        Entity::Inline(i) | Entity::InlineCavity(i, _) => {
            let inline = circuit.inlines.get(i.index())?;
            let holes = inline.cavities.iter().map(|k| Hole {
                number: k.name.to_string(),
                name: String::new(),
                point: k.a,
            });
            let title = inline.title.as_deref().map_or_else(String::new, |t| format!("  {t}"));
            (format!("{}{title}", inline.name), &inline.attributes, holes.collect())
        }
        _ => return None,
    };
    let (rows, columns) = attributes.face?;
    Some(draw(circuit, &title, (rows.clamp(1, 64), columns.clamp(1, 256)), &holes))
}

const FOOT: &str = "Seen from the wire side, cavity 1 upper left. The maker's drawing wins.";
const CELL: (f64, f64) = (64.0, 62.0);

fn draw(circuit: &Circuit, title: &str, (rows, columns): (u32, u32), holes: &[Hole]) -> String {
    let (left, top) = (24.0, 44.0);
    let (wide, high) = (f64::from(columns) * CELL.0, f64::from(rows) * CELL.1);
    let words = [width_of(title, 13.0), width_of(FOOT, 9.0)].into_iter().fold(0.0, f64::max);
    let (width, height) = ((wide.max(words) + 48.0).ceil(), high + top + 44.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" font-family=\"'DejaVu Sans Mono', Menlo, Consolas, monospace\">\n<title>{0}, seen from the wire \
         side</title>\n<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n<text x=\"24\" y=\"24\" \
         font-size=\"13\" font-weight=\"700\">{0}</text>\n",
        escape_html(title)
    );
    let _ = writeln!(
        out,
        "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"8\" fill=\"none\" stroke=\"#111111\" stroke-width=\"2\"/>",
        left - 6.0,
        top - 6.0,
        wide + 12.0,
        high + 12.0
    );
    for n in 0..rows * columns {
        let (row, column) = (n / columns, n % columns);
        let (x, y) = (left + f64::from(column) * CELL.0, top + f64::from(row) * CELL.1);
        let number = (n + 1).to_string();
        // Cavity 1 is the upper left one; what is numbered otherwise stands where it is counted.
        let hole = holes.iter().find(|h| h.number == number);
        let hole = hole.or_else(|| {
            let plain = holes.iter().all(|h| h.number.parse::<u32>().is_ok());
            if plain { None } else { holes.get(n as usize) }
        });
        let wires = hole.map_or_else(Vec::new, |h| wires(circuit, h.point));
        let (fill, tracer) = wires.first().and_then(|w| w.1).unwrap_or(("#ffffff", None));
        let _ = writeln!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"30\" height=\"20\" rx=\"3\" fill=\"{fill}\" stroke=\"#333333\"/>",
            x + 17.0,
            y + 16.0
        );
        if let Some(tracer) = tracer {
            let _ = writeln!(
                out,
                "<path d=\"M{} {}L{} {}\" stroke=\"{tracer}\" stroke-width=\"5\"/>",
                x + 20.0,
                y + 33.0,
                x + 44.0,
                y + 19.0
            );
        }
        let label = hole.map_or(number.as_str(), |h| h.number.as_str());
        let mut text = |dy: f64, size: u32, words: &str, bold: &str| {
            let words: String = words.chars().take(11).collect();
            let _ = writeln!(
                out,
                "<text x=\"{}\" y=\"{}\" font-size=\"{size}\"{bold} text-anchor=\"middle\">{}</text>",
                x + 32.0,
                y + dy,
                escape_html(&words)
            );
        };
        text(12.0, 10, label, " font-weight=\"700\"");
        if let Some(hole) = hole {
            text(46.0, 9, &wires.iter().map(|w| w.0.as_str()).collect::<Vec<_>>().join(","), "");
            text(56.0, 8, &hole.name, "");
        }
    }
    let _ = writeln!(
        out,
        "<text x=\"24\" y=\"{}\" font-size=\"9\">{}</text>\n</svg>",
        height - 14.0,
        escape_html(FOOT)
    );
    out
}

type Shades = Option<(&'static str, Option<&'static str>)>;

/// Number and shades of each wire that lands on a point.
fn wires(circuit: &Circuit, point: PointId) -> Vec<(String, Shades)> {
    let mut all = Vec::new();
    for wire in &circuit.wires {
        for stretch in &wire.stretches {
            let lands = circuit
                .elements
                .get(stretch.element.index())
                .is_some_and(|e| e.from == point || e.to == point);
            if lands {
                let shades = stretch.colour.as_deref().and_then(colours::base_and_tracer);
                let name = if wire.numbered { wire.name.to_string() } else { String::new() };
                all.push((name, shades));
            }
        }
    }
    all
}

/// Drawings of one circuit side by side, in one.
pub fn side_by_side(drawings: &[String]) -> String {
    let gap = 24.0;
    let width: f64 = drawings.iter().map(|d| size_of(d).0 + gap).sum::<f64>() - gap;
    let height = drawings.iter().map(|d| size_of(d).1).fold(0.0, f64::max);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\">\n<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n"
    );
    let mut x = 0.0;
    for drawing in drawings {
        out.push_str(&drawing.replacen("<svg ", &format!("<svg x=\"{x}\" y=\"0\" "), 1));
        x += size_of(drawing).0 + gap;
    }
    out.push_str("</svg>\n");
    out
}
