//! Devices and parts: headers and bodies.

use super::{
    build::Pieces,
    elements,
    modules::pinout,
    node::{Node, plain_pieces},
    run::{Runner, ways},
    sources::{ATTRIBUTES, named, nameless},
    statement::HeadPiece,
};
use crate::{
    Span, SyntaxError,
    step::step,
    tree::{
        Attributes, Body, Device, DeviceKind, Grade, ItemKind, Module, ModuleKind, Name, Param, Part,
        PartCall, PartKind, Pin, Pinout, Quantity,
    },
};
use smol_str::SmolStr;
use std::collections::HashMap;

/// What a header of a device, part or module says.
pub(crate) struct Header {
    pub(crate) name: Name,
    pub(crate) title: Option<crate::tree::Title>,
    pub(crate) attributes: Attributes,
    pub(crate) call: Option<PartCall>,
    pub(crate) params: Vec<Param>,
    pub(crate) uses: Option<Vec<Name>>,
    pub(crate) damaged: bool,
}

pub(crate) fn header<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> Header {
    let keyword = node.keyword();
    let (head, stopped, damaged) = runner.try_read(ways!(owner), node.sigs, errors);
    let (plain, others) = plain_pieces(head.unwrap_or_default());
    let mut calls = Vec::new();
    let mut params = Vec::new();
    for other in others {
        match other {
            HeadPiece::Call { part, arguments, span } => calls.push(PartCall { part, arguments, span }),
            HeadPiece::Params(p) => params = p,
            HeadPiece::Piece(_) => {}
        }
    }
    let second = calls.get(1).map(|call| call.span);
    let call = calls.into_iter().next();
    check_dimensions(&params, errors);
    let mut pieces = Pieces::new(plain, node.sigs, stopped, damaged, errors);
    let name = named(&mut pieces, keyword).unwrap_or_else(|| nameless(pieces.head));
    let title = pieces.title();
    let attributes = pieces.attributes();
    let uses = if keyword == "module" { pieces.with_names("uses") } else { None };
    let open = Span { start: node.body_span.start, end: node.body_span.start + 1 };
    match (&call, &node.body) {
        (_, None) if keyword == "part" => {
            pieces.missing("the part's body", "for example `part valve { pins 1, 2 … }`")
        }
        (Some(_), _) if keyword == "part" => pieces.wrong(
            open,
            "a part is no other part",
            "take the `: …` out; parameters stand in `( )` behind the name",
        ),
        (None, None) => pieces.missing(
            &format!("what the {keyword} is"),
            &format!("write `: PART` or a body `{{ … }}` behind `{keyword} {}`", name.text),
        ),
        (Some(_), Some(_)) => pieces.wrong(
            open,
            &format!("this {keyword} has a part and a body"),
            "keep one of them: what the part is, stands in the part",
        ),
        _ => {}
    }
    if let Some(second) = second {
        pieces.wrong(second, &format!("this {keyword} has a second part"), "keep one of them");
    }
    let clauses: &[&str] = if keyword == "module" { &[ATTRIBUTES, &["uses"]].concat() } else { ATTRIBUTES };
    let damaged = pieces.finish(keyword, clauses);
    Header { name, title, attributes, call, params, uses, damaged }
}

/// Dimensions have nine names.
fn check_dimensions(params: &[Param], errors: &mut Vec<SyntaxError>) {
    for param in params {
        let word = param.dimension.text.as_str();
        if DIMENSIONS.contains(&word) {
            continue;
        }
        let near = crate::nearest::nearest(word, DIMENSIONS.iter().copied());
        errors.push(SyntaxError {
            span: param.dimension.span,
            message: format!("`{word}` is no dimension"),
            help: Some(match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("a parameter is one of {}", DIMENSIONS.join(", ")),
            }),
            fix: near.map(|near| (format!("write `{near}`"), param.dimension.span, near.to_owned())),
        });
    }
}

const DIMENSIONS: &[&str] =
    &["resistance", "current", "voltage", "power", "length", "temperature", "ratio", "frequency", "pressure"];

pub(crate) fn device<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    errors: &mut Vec<SyntaxError>,
) -> (ItemKind, bool) {
    let head = header(runner, node, errors);
    let mut damaged = head.damaged;
    let what = match (head.call, &node.body) {
        (Some(call), _) => DeviceKind::Call(call),
        (None, Some(_)) => {
            let (body, hurt) = body(runner, node, errors);
            damaged |= hurt;
            DeviceKind::Body(body)
        }
        (None, None) => DeviceKind::Missing,
    };
    (
        ItemKind::Device(Box::new(Device {
            name: head.name,
            title: head.title,
            what,
            attributes: head.attributes,
        })),
        damaged,
    )
}

pub(crate) fn module<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    errors: &mut Vec<SyntaxError>,
) -> (ItemKind, bool) {
    let head = header(runner, node, errors);
    let mut damaged = head.damaged;
    let what = match (head.call, &node.body) {
        (Some(call), _) => ModuleKind::Call { call, uses: head.uses },
        (None, Some(_)) => {
            let (pinout, hurt) = pinout(runner, node, errors);
            damaged |= hurt;
            ModuleKind::Body(pinout)
        }
        (None, None) => ModuleKind::Missing,
    };
    (
        ItemKind::Module(Box::new(Module {
            name: head.name,
            title: head.title,
            what,
            attributes: head.attributes,
        })),
        damaged,
    )
}

pub(crate) fn part<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    errors: &mut Vec<SyntaxError>,
) -> (ItemKind, bool) {
    let head = header(runner, node, errors);
    let mut damaged = head.damaged;
    let is_module = node.rows().iter().any(|row| matches!(row.keyword(), "connector" | "gang"));
    let what = if is_module {
        let (pinout, hurt): (Pinout, bool) = pinout(runner, node, errors);
        damaged |= hurt;
        PartKind::Module(pinout)
    } else {
        let (body, hurt) = body(runner, node, errors);
        damaged |= hurt;
        PartKind::Device(body)
    };
    let part =
        Part { name: head.name, params: head.params, title: head.title, what, attributes: head.attributes };
    (ItemKind::Part(Box::new(part)), damaged)
}

/// Adds attributes written as a line of the body.
pub(crate) fn add_attributes(to: &mut Attributes, from: Attributes) {
    to.place = from.place.or(to.place.take());
    to.access = from.access.or(to.access.take());
    to.sealed = from.sealed.or(to.sealed);
    to.face = from.face.or(to.face);
    to.moves = from.moves.or(to.moves);
    to.hazards.extend(from.hazards);
    to.restricted = from.restricted.or(to.restricted);
}

/// The rows of a thermistor's `table { … }`.
pub(crate) fn table_rows<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    errors: &mut Vec<SyntaxError>,
) -> elements::TableRows {
    node.body.as_ref()?;
    let mut rows: Vec<(Quantity, Quantity)> = Vec::new();
    for row in node.rows() {
        let (pairs, _) = runner.read(ways!(table_row), row.sigs, errors);
        rows.extend(pairs.into_iter().flatten());
    }
    Some((rows, node.body_span))
}

const ELEMENTS: &[&str] = &[
    "resistor",
    "lamp",
    "heater",
    "coil",
    "winding",
    "motor",
    "thermistor",
    "variable",
    "diode",
    "track",
    "transducer",
    "contact",
    "changeover",
];
const BODY_WORDS: &[&str] = &[
    "pins",
    "positions",
    "unused",
    "grade",
    "contact",
    "changeover",
    "coil",
    "diode",
    "resistor",
    "lamp",
    "heater",
    "winding",
    "motor",
    "thermistor",
    "variable",
    "track",
    "transducer",
    "allow",
    "where",
    "access",
    "sealed",
    "moves",
    "hazard",
    "restricted",
    "face",
];

fn body<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> (Body, bool) {
    let mut body = Body { span: node.body_span, ..Body::default() };
    let mut places = Places::default();
    let mut damaged = node.damaged;
    for row in node.rows() {
        body.allows.extend(row.allows.iter().map(|a| (a.clone(), row.span)));
        damaged |= row.damaged;
        let Some(keyword) = keyword_of(row, "the body of a device", BODY_WORDS, errors) else {
            damaged |= !row.sigs.is_empty();
            continue;
        };
        match keyword {
            "pins" => {
                let (pins, hurt) = runner.read(ways!(pins), row.sigs, errors);
                damaged |= hurt;
                body.pins.extend(pins.into_iter().flatten().map(|(name, unused)| Pin { name, unused }));
            }
            "positions" => {
                let (positions, hurt) = runner.read(ways!(positions), row.sigs, errors);
                damaged |= hurt;
                body.positions.extend(positions.into_iter().flatten());
            }
            "unused" => {
                let (names, hurt) = runner.read(ways!(names), row.sigs.get(1..).unwrap_or_default(), errors);
                damaged |= hurt;
                names.into_iter().flatten().for_each(|name| places.mark_unused(&mut body.pins, name));
            }
            "grade" => {
                let pieces = runner.pieces(ways!(grade), row.sigs, errors);
                let (grade, hurt) = grade(pieces);
                damaged |= hurt;
                let mut elements = Vec::new();
                for line in row.rows() {
                    let (names, hurt) = runner.read(ways!(names), line.sigs, errors);
                    damaged |= hurt;
                    elements.extend(names.into_iter().flatten());
                }
                body.grades.extend(grade.map(|name| Grade { name, elements }));
            }
            keyword if ELEMENTS.contains(&keyword) => {
                let table = table_rows(runner, row, errors);
                let pieces = if keyword == "transducer" {
                    runner.pieces(ways!(transducer), row.sigs, errors)
                } else {
                    runner.pieces(ways!(element), row.sigs, errors)
                };
                if let Some(first) = row.sigs.first() {
                    let keyword = Name { text: keyword.into(), span: first.span };
                    let (edge, hurt) = elements::edge(pieces, keyword, table);
                    damaged |= hurt;
                    body.edges.push(edge);
                }
            }
            keyword if ATTRIBUTES.contains(&keyword) => {
                let mut pieces = runner.pieces(ways!(attributes), row.sigs, errors);
                add_attributes(&mut body.attributes, pieces.attributes());
                damaged |= pieces.finish(keyword, ATTRIBUTES);
            }
            _ => {}
        }
    }
    (body, damaged)
}

/// Where the pins of a body are, by name; only bodies with lines of `unused` ask for it.
#[derive(Default)]
struct Places {
    first: HashMap<SmolStr, usize>,
    /// How many pins are in it.
    seen: usize,
}

impl Places {
    /// Marks the first pin of this name, or adds one.
    fn mark_unused(&mut self, pins: &mut Vec<Pin>, name: Name) {
        for (at, pin) in pins.iter().enumerate().skip(self.seen) {
            step();
            self.first.entry(pin.name.text.clone()).or_insert(at);
        }
        self.seen = pins.len();
        match self.first.get(&name.text).and_then(|at| pins.get_mut(*at)) {
            Some(pin) => pin.unused = true,
            None => pins.push(Pin { name, unused: true }),
        }
    }
}

fn grade(mut pieces: Pieces<'_>) -> (Option<Name>, bool) {
    let name = named(&mut pieces, "grade");
    (name, pieces.finish("grade", &[]))
}

/// The word with which a line of a body begins, as the language spells it; a misspelt one is reported and read all the
/// same, any other line is reported.
pub(crate) fn keyword_of(
    row: &Node<'_>,
    place: &str,
    words: &'static [&'static str],
    errors: &mut Vec<SyntaxError>,
) -> Option<&'static str> {
    let first = row.sigs.first()?;
    if let Some(word) = words.iter().find(|w| **w == first.text) {
        return Some(word);
    }
    let near = crate::nearest::nearest(first.text, words.iter().copied()).filter(|_| row.sigs.len() > 1);
    errors.push(SyntaxError {
        span: first.span,
        message: format!("`{}` begins no line in {place}", first.text),
        help: Some(match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!(
                "a line here begins with {}",
                words.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(", ")
            ),
        }),
        fix: near.map(|near| (format!("write `{near}`"), first.span, near.to_owned())),
    });
    near
}
