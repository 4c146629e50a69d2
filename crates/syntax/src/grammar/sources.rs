//! Sources, grounds, splices, connectors, wires, fuses: from pieces to the tree.

use super::{build::Pieces, piece::Piece};
use crate::{
    Span,
    tree::{
        Allow, CircuitHead, Conductor, Elsewhere, Fuse, FuseKind, Gauge, Ground, Inline, ItemKind, Name,
        Quantity, Splice, Supply, Title, Use, Value, ValueKind, Wire,
    },
};

/// The name, or a report that it is missing.
pub(crate) fn named(p: &mut Pieces<'_>, keyword: &str) -> Option<Name> {
    let name = p.word();
    if name.is_none() {
        let what = if keyword == "view" {
            "the scenario's name".to_owned()
        } else {
            format!("the name of the {keyword}")
        };
        p.missing_at(p.head, &what, &format!("write it behind the word: `{keyword} NAME …`"));
    }
    name
}

/// A name for what has none; it can't be meant by anything.
pub(crate) fn nameless(span: Span) -> Name {
    Name { text: "".into(), span: Span { start: span.end, end: span.end } }
}

pub(crate) fn circuit(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "circuit").unwrap_or_else(|| nameless(p.head));
    let title = p.title();
    (ItemKind::Circuit(Box::new(CircuitHead { name, title })), p.finish("circuit", &[]))
}

pub(crate) fn use_(mut p: Pieces<'_>) -> Option<(ItemKind, bool)> {
    let title = p.title();
    let path = p.need(title, "the library's path", "write it in quotes: `use \"parts/spray.keyon\"`");
    let alias = p.with_name("as");
    let damaged = p.finish("use", &["as"]);
    Some((ItemKind::Use(Use { path: path?.text, alias }), damaged))
}

pub(crate) fn view(mut p: Pieces<'_>) -> Option<(ItemKind, bool)> {
    let name = named(&mut p, "view");
    let damaged = p.finish("view", &[]);
    Some((ItemKind::View(name?), damaged))
}

pub(crate) fn allow(mut p: Pieces<'_>, span: Span) -> Option<(Allow, bool)> {
    let word = p.word();
    let rule = p.need(word, "the rule's name", "write which rule: `allow voltage-drop \"reason\"`");
    let reason = p.title().map(|t| t.text);
    let damaged = p.finish("allow", &[]);
    Some((Allow { rule: rule?, reason, span }, damaged))
}

pub(crate) fn supply(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "supply").unwrap_or_else(|| nameless(p.head));
    let value = p.quantity_value();
    let item = Supply {
        name,
        title: p.title(),
        volts: p.need(value, "the supply's voltage", "for example `supply battery 12.6 V`"),
        inner: p.with("inner"),
        range: p.with_range("range"),
        negative: p.with_name("negative"),
        limit: p.with("limit"),
        live: p.pair("live"),
    };
    (
        ItemKind::Supply(Box::new(item)),
        p.finish("supply", &["inner", "range", "negative", "limit", "live in"]),
    )
}

pub(crate) fn ground(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "ground").unwrap_or_else(|| nameless(p.head));
    let item = Ground { name, title: p.title(), value: p.quantity_value(), attributes: p.attributes() };
    (ItemKind::Ground(Box::new(item)), p.finish("ground", ATTRIBUTES))
}

/// The words that attributes begin with.
pub(crate) const ATTRIBUTES: &[&str] =
    &["where", "access", "sealed", "face", "moves", "hazard", "restricted"];

pub(crate) fn splice(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "splice").unwrap_or_else(|| nameless(p.head));
    let item = Splice {
        name,
        title: p.title(),
        shared_by: p.with_names("shared").unwrap_or_default(),
        attributes: p.attributes(),
    };
    (ItemKind::Splice(Box::new(item)), p.finish("splice", &["shared by", "where", "access"]))
}

pub(crate) fn inline(mut p: Pieces<'_>, cavities: Vec<Name>, rows: usize) -> (ItemKind, bool) {
    let name = named(&mut p, "connector").unwrap_or_else(|| nameless(p.head));
    if rows == 0 {
        p.missing("the list of cavities", "for example `connector C201 \"8-way\" { 1 .. 8 }`");
    }
    let item = Inline { name, title: p.title(), cavities, attributes: p.attributes() };
    (ItemKind::Inline(Box::new(item)), p.finish("connector", ATTRIBUTES))
}

pub(crate) fn fuse(mut p: Pieces<'_>, kind: FuseKind, keyword: &str) -> (ItemKind, bool) {
    let name = named(&mut p, keyword).unwrap_or_else(|| nameless(p.head));
    let title = p.title();
    let path = p.path();
    if path.is_none() {
        p.missing("the path", &format!("say from where to where: `{keyword} F7  key.R -> S12  10 A`"));
    }
    let value = p.quantity_value();
    let rating = p.need(value, "the rating", "for example `10 A`");
    let item = Fuse { kind, name, title, path, rating, attributes: p.attributes() };
    (ItemKind::Fuse(Box::new(item)), p.finish(keyword, ATTRIBUTES))
}

pub(crate) fn elsewhere(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let title = p.title().map(|t: Title| t.text);
    let load = p.quantity_value();
    let word = p.word();
    let point =
        p.need(word, "the point where the branch leaves", "for example `elsewhere \"cab fan\" 3 A S12`");
    (ItemKind::Elsewhere(Box::new(Elsewhere { title, load, point })), p.finish("elsewhere", &[]))
}

pub(crate) fn wire(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let label = p.with_name("label");
    let title = p.title().map(Box::new);
    // Most wires have one stretch; there are many of them, so their lists are as long as they need to be.
    let count = p.count("->");
    let mut points = Vec::with_capacity(count + 1);
    points.extend(p.with_name("from"));
    let mut stretches: Vec<Conductor> = Vec::with_capacity(count);
    for piece in p.drain() {
        if let Piece::WithName("->", _, point) = piece {
            points.push(point);
            stretches.push(Conductor::default());
            continue;
        }
        if let Piece::Awg(size, span, true) = piece {
            let mended = format!("AWG {size}");
            p.errors.push(crate::SyntaxError {
                span,
                message: "a size and `AWG` have a blank between them".into(),
                help: Some(format!("write `{mended}`")),
                fix: Some((format!("write `{mended}`"), span, mended)),
            });
        }
        if let Some(stretch) = stretches.last_mut()
            && let Some((span, message, help)) = conduct(stretch, piece)
        {
            p.wrong(span, message, help);
        }
    }
    if points.len() < 2 {
        let last = points.last().or(label.as_ref()).map_or(p.head, |n| n.span);
        p.missing_at(
            last,
            "`->` and the point where the wire ends",
            "for example `wire 431 S12 -> left_valve.1`",
        );
    }
    (ItemKind::Wire(Wire { label, title, points, stretches }), p.finish("wire", &["at", "fitted with"]))
}

/// Adds what is said of a stretch; what is wrong with it, if it has that already.
fn conduct(stretch: &mut Conductor, piece: Piece) -> Option<(Span, &'static str, &'static str)> {
    const ONE: &str = "a stretch has one gauge, one colour, one length; keep the right one";
    let span = piece.span();
    let (twice, message, help) = match piece {
        Piece::Awg(size, at, _) => (
            stretch.gauge.replace(Gauge::Awg(size, at)).is_some(),
            "this stretch of wire has a second gauge",
            ONE,
        ),
        Piece::Value(value) => match &value.kind {
            ValueKind::Quantity(q) if is_area(q) => {
                let twice = stretch.gauge.replace(Gauge::Area(q.clone())).is_some();
                (twice, "this stretch of wire has a second gauge", ONE)
            }
            // What has no unit is reported as that.
            ValueKind::Quantity(q) if q.unit.is_none() => return None,
            _ => match (stretch.length.replace(value), &stretch.gauge) {
                (Some(first), None) if is_millimetres(&first) => {
                    let help = "a gauge is an area: write `mm2`";
                    return Some((first.span, "millimetres are a length, and this wire has another", help));
                }
                (first, _) => (first.is_some(), "this stretch of wire has a second length", ONE),
            },
        },
        Piece::With("at", _, Value { kind: ValueKind::Quantity(q), .. }) => {
            (stretch.at.replace(Box::new(q)).is_some(), "this stretch of wire has a second temperature", ONE)
        }
        Piece::WithName("fitted with", _, name) => (
            stretch.fitted.replace(Box::new((true, name))).is_some(),
            "`fitted` is said a second time",
            "keep one of them",
        ),
        Piece::WithName("fitted without", _, name) => (
            stretch.fitted.replace(Box::new((false, name))).is_some(),
            "`fitted` is said a second time",
            "keep one of them",
        ),
        Piece::Word(colour) => (
            stretch.colour.replace(colour).is_some(),
            "this stretch of wire has a second colour",
            "a colour and its tracer are written with a slash: `OG/BK`",
        ),
        _ => return None,
    };
    twice.then_some((span, message, help))
}

fn is_millimetres(value: &Value) -> bool {
    matches!(&value.kind, ValueKind::Quantity(q) if q.unit == Some(crate::unit::Unit::Millimetre))
}

pub(crate) fn is_area(q: &Quantity) -> bool {
    q.unit.is_some_and(|u| u.dimension() == crate::unit::Dimension::Area)
}
