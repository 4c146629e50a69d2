//! The face of a connector, seen from the wire side: which wire is in which hole.

use super::{FLOATS, colours};
use crate::{figure, grid::escape_html};
use keyon_circuit::{Entity, ids::PointId, model::*};
use keyon_draw::{width_of, wrap};
use keyon_solve::{NodeState, Solution};
use std::fmt::Write;

/// A hole of a connector.
struct Hole {
    number: String,
    name: String,
    point: PointId,
}

/// A connector, or a half of one that stands in a line.
struct Face {
    title: String,
    holes: Vec<Hole>,
    /// The half that meets the first: what is on the left there is on the right here.
    mirrored: bool,
}

/// The drawing as SVG; `None`: the entity has no `face`, or is no connector. With a state, and what is said of it, also the
/// volts of each hole.
pub fn face_svg(circuit: &Circuit, subject: Entity, state: Option<(&Solution, &str)>) -> Option<String> {
    let titled = |name: &str, title: &Option<_>| match title {
        Some(title) => format!("{name}  {title}"),
        None => name.to_owned(),
    };
    let (attributes, faces): (&Attributes, Vec<Face>) = match subject {
        Entity::Connector(m, c) | Entity::Cavity(m, c, _) => {
            let module = circuit.modules.get(m.index())?;
            let connector = module.connectors.get(c)?;
            let holes = connector.cavities.iter().map(|k| Hole {
                number: k.number.to_string(),
                name: k.name.to_string(),
                point: k.outside,
            });
            let title = titled(&format!("{} {}", module.name, connector.name), &connector.title);
            (&connector.attributes, vec![Face { title, holes: holes.collect(), mirrored: false }])
        }
        Entity::Inline(i) | Entity::InlineCavity(i, _) => {
            let inline = circuit.inlines.get(i.index())?;
            let title = titled(&inline.name, &inline.title);
            let half = |side: &str, mirrored: bool| {
                let holes = inline.cavities.iter().map(|k| Hole {
                    number: k.name.to_string(),
                    name: String::new(),
                    point: if mirrored { k.b } else { k.a },
                });
                Face { title: format!("{title}, side {side}"), holes: holes.collect(), mirrored }
            };
            (&inline.attributes, vec![half("a", false), half("b", true)])
        }
        _ => return None,
    };
    let (rows, columns) = attributes.face?;
    Some(draw(circuit, (rows.clamp(1, 64), columns.clamp(1, 256)), &faces, state))
}

const ONE: &str = "Seen from the wire side, cavity 1 upper left. A cross: no wire. The maker's drawing wins.";
const HALVES: &str = "Each half seen from its wire side: cavity 1 upper left on side a, upper right on side b. A cross: no wire. \
                      The maker's drawing wins.";
/// Width of a hole with what stands below it, and height of that without its texts.
const CELL: (f64, f64) = (64.0, 40.0);
/// A line of text below a hole.
const LINE: f64 = 10.0;
/// The wire in a hole: left, top, width, height.
const WIRE: [f64; 4] = [17.0, 16.0, 30.0, 20.0];
const LEFT: f64 = 24.0;
/// The narrowest drawing: its foot is read as well.
const NARROWEST: f64 = 300.0;

fn draw(
    circuit: &Circuit,
    (rows, columns): (u32, u32),
    faces: &[Face],
    state: Option<(&Solution, &str)>,
) -> String {
    let lines = if state.is_some() { 4.0 } else { 3.0 };
    let cell = (CELL.0, CELL.1 + lines * LINE);
    let (wide, high) = (f64::from(columns) * cell.0, f64::from(rows) * cell.1);
    let inside = wide.max(NARROWEST - 2.0 * LEFT);
    let mut body = String::new();
    let mut y = 8.0;
    let text = |body: &mut String, y: f64, size: f64, bold: &str, line: &str| {
        let _ = writeln!(
            body,
            "<text x=\"{LEFT}\" y=\"{y}\" font-size=\"{size}\"{bold}>{}</text>",
            escape_html(line)
        );
    };
    for (n, face) in faces.iter().enumerate() {
        let title = match state {
            Some((_, said)) if n == 0 => format!("{}: {said}", face.title),
            _ => face.title.clone(),
        };
        for line in wrap(&title, 13.0, inside) {
            y += 16.0;
            text(&mut body, y, 13.0, " font-weight=\"700\"", &line);
        }
        y += 20.0;
        let _ = writeln!(
            body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"8\" fill=\"none\" stroke=\"#111111\" stroke-width=\"2\"/>",
            LEFT - 6.0,
            y - 6.0,
            wide + 12.0,
            high + 12.0
        );
        for n in 0..rows * columns {
            let (row, column) = (n / columns, n % columns);
            let column = if face.mirrored { columns - 1 - column } else { column };
            let at = (LEFT + f64::from(column) * cell.0, y + f64::from(row) * cell.1);
            hole(circuit, face, n, at, state.map(|s| s.0), &mut body);
        }
        y += high + 16.0;
    }
    for line in wrap(if faces.len() > 1 { HALVES } else { ONE }, 9.0, inside) {
        y += 12.0;
        text(&mut body, y, 9.0, "", &line);
    }
    let title = faces.first().map_or("", |f| f.title.as_str());
    let longest = wrap(title, 13.0, inside).iter().map(|l| width_of(l, 13.0)).fold(inside, f64::max);
    let (width, height) = ((longest + 2.0 * LEFT).ceil(), (y + 12.0).ceil());
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" font-family=\"'DejaVu Sans Mono', Menlo, Consolas, monospace\">\n<title>{}, seen from the wire \
         side</title>\n<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n{body}</svg>\n",
        escape_html(title)
    )
}

/// One hole with its wires, their letters, and what is said of it.
fn hole(
    circuit: &Circuit,
    face: &Face,
    n: u32,
    (x, y): (f64, f64),
    state: Option<&Solution>,
    out: &mut String,
) {
    let number = (n + 1).to_string();
    // Cavity 1 is the upper left one; what is numbered otherwise stands where it is counted.
    let hole = face.holes.iter().find(|h| h.number == number);
    let hole = hole.or_else(|| {
        let plain = face.holes.iter().all(|h| h.number.parse::<u32>().is_ok());
        if plain { None } else { face.holes.get(n as usize) }
    });
    let wires = hole.map_or_else(Vec::new, |h| wires(circuit, h.point));
    let [left, top, wide, high] = WIRE;
    let (left, top) = (x + left, y + top);
    let share = wide / wires.len().max(1) as f64;
    for (n, wire) in wires.iter().enumerate() {
        let left = left + n as f64 * share;
        let (fill, tracer) = wire.shades.unwrap_or(("#ffffff", None));
        let _ = writeln!(
            out,
            "<rect x=\"{left}\" y=\"{top}\" width=\"{share}\" height=\"{high}\" fill=\"{fill}\"/>"
        );
        if let Some(tracer) = tracer {
            let (from, to) = (left + share * 0.1, left + share * 0.9);
            let (low, up) = (top + high - 3.0, top + 3.0);
            let _ =
                writeln!(out, "<path d=\"M{from} {low}L{to} {up}\" stroke=\"{tracer}\" stroke-width=\"5\"/>");
        }
    }
    let dashes = if wires.is_empty() { " stroke-dasharray=\"3 2\"" } else { "" };
    let _ = writeln!(
        out,
        "<rect x=\"{left}\" y=\"{top}\" width=\"{wide}\" height=\"{high}\" rx=\"3\" fill=\"none\" stroke=\"#333333\"{dashes}/>"
    );
    if wires.is_empty() {
        let (l, t, r, b) = (left + 8.0, top + 3.0, left + wide - 8.0, top + high - 3.0);
        let _ = writeln!(
            out,
            "<path class=\"empty\" d=\"M{l} {t}L{r} {b}M{l} {b}L{r} {t}\" stroke=\"#333333\"/>"
        );
    }
    let mut text = |y: f64, size: f64, words: &str, bold: &str| {
        let most = ((CELL.0 - 2.0) / width_of("m", size)) as usize;
        let words: String = words.chars().take(most).collect();
        if !words.is_empty() {
            let (x, words) = (x + CELL.0 / 2.0, escape_html(&words));
            let _ = writeln!(
                out,
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{bold} text-anchor=\"middle\">{words}</text>"
            );
        }
    };
    text(y + 12.0, 10.0, hole.map_or(number.as_str(), |h| h.number.as_str()), " font-weight=\"700\"");
    let Some(hole) = hole else { return };
    let all = |f: fn(&Wire) -> &str| {
        let those: Vec<&str> = wires.iter().map(f).filter(|text| !text.is_empty()).collect();
        those.join(",")
    };
    text(y + 46.0, 9.0, &all(|w| &w.name), "");
    // The standard's letters, for whom the colour on paper or screen says nothing.
    text(y + 56.0, 8.0, &all(|w| &w.letters), "");
    text(y + 66.0, 8.0, &hole.name, "");
    if let Some(solution) = state.filter(|_| !wires.is_empty()) {
        text(y + 77.0, 9.0, &volts(solution, hole.point), " font-weight=\"700\"");
    }
}

fn volts(solution: &Solution, point: PointId) -> String {
    let open = solution.node_states.get(point.index()) == Some(&NodeState::Open);
    match solution.volts.get(point.index()).copied().flatten() {
        _ if open => FLOATS.to_owned(),
        Some(volts) => format!("{} V", figure::volts(volts)),
        None => "?".to_owned(),
    }
}

/// A wire in a hole.
struct Wire {
    name: String,
    /// Of its colour, as they are written.
    letters: String,
    shades: Option<(&'static str, Option<&'static str>)>,
}

/// Each wire that lands on a point.
fn wires(circuit: &Circuit, point: PointId) -> Vec<Wire> {
    let mut all = Vec::new();
    for wire in &circuit.wires {
        for stretch in &wire.stretches {
            let lands = circuit
                .elements
                .get(stretch.element.index())
                .is_some_and(|e| e.from == point || e.to == point);
            if lands {
                all.push(Wire {
                    name: if wire.numbered { wire.name.to_string() } else { String::new() },
                    letters: stretch.colour.as_deref().unwrap_or("").to_owned(),
                    shades: stretch.colour.as_deref().and_then(colours::base_and_tracer),
                });
            }
        }
    }
    all
}
