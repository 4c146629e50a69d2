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
    p.need(name, &format!("the name of the {keyword}"), &format!("give it a name: `{keyword} NAME …`"))
}

/// A name for what has none; it can't be meant by anything.
pub(crate) fn nameless(span: Span) -> Name {
    Name { text: "".into(), span: Span { start: span.end, end: span.end } }
}

pub(crate) fn circuit(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "circuit").unwrap_or_else(|| nameless(p.span));
    let title = p.title();
    (ItemKind::Circuit(CircuitHead { name, title }), p.finish("circuit", &[]))
}

pub(crate) fn use_(mut p: Pieces<'_>) -> Option<(ItemKind, bool)> {
    let title = p.title();
    let path = p.need(title, "the library's path", "write it in quotes: `use \"parts/spray.keyon\"`")?.text;
    let alias = p.with_name("as");
    Some((ItemKind::Use(Use { path, alias }), p.finish("use", &["as"])))
}

pub(crate) fn view(mut p: Pieces<'_>) -> Option<(ItemKind, bool)> {
    let name = named(&mut p, "view")?;
    Some((ItemKind::View(name), p.finish("view", &[])))
}

pub(crate) fn allow(mut p: Pieces<'_>, span: Span) -> Option<(Allow, bool)> {
    let word = p.word();
    let rule = p.need(word, "the rule's name", "write which rule: `allow voltage-drop \"reason\"`")?;
    let reason = p.title().map(|t| t.text);
    Some((Allow { rule, reason, span }, p.finish("allow", &[])))
}

pub(crate) fn supply(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "supply").unwrap_or_else(|| nameless(p.span));
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
    (ItemKind::Supply(item), p.finish("supply", &["inner", "range", "negative", "limit", "live in"]))
}

pub(crate) fn ground(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "ground").unwrap_or_else(|| nameless(p.span));
    let item = Ground { name, title: p.title(), value: p.quantity_value(), attributes: p.attributes() };
    (ItemKind::Ground(item), p.finish("ground", ATTRIBUTES))
}

/// The words that attributes begin with.
pub(crate) const ATTRIBUTES: &[&str] =
    &["where", "access", "sealed", "face", "moves", "hazard", "restricted"];

pub(crate) fn splice(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "splice").unwrap_or_else(|| nameless(p.span));
    let item = Splice {
        name,
        title: p.title(),
        shared_by: p.with_names("shared").unwrap_or_default(),
        attributes: p.attributes(),
    };
    (ItemKind::Splice(item), p.finish("splice", &["shared by", "where", "access"]))
}

pub(crate) fn inline(mut p: Pieces<'_>, cavities: Vec<Name>) -> (ItemKind, bool) {
    let name = named(&mut p, "connector").unwrap_or_else(|| nameless(p.span));
    if cavities.is_empty() {
        p.missing("the list of cavities", "for example `connector C201 \"8-way\" { 1 .. 8 }`");
    }
    let item = Inline { name, title: p.title(), cavities, attributes: p.attributes() };
    (ItemKind::Inline(item), p.finish("connector", ATTRIBUTES))
}

pub(crate) fn fuse(mut p: Pieces<'_>, kind: FuseKind, keyword: &str) -> (ItemKind, bool) {
    let name = named(&mut p, keyword).unwrap_or_else(|| nameless(p.span));
    let title = p.title();
    let path = p.path();
    let path =
        p.need(path, "the path", &format!("say from where to where: `{keyword} F7  key.R -> S12  10 A`"));
    let value = p.quantity_value();
    let rating = p.need(value, "the rating", "for example `10 A`");
    let item = Fuse { kind, name, title, path, rating, attributes: p.attributes() };
    (ItemKind::Fuse(item), p.finish(keyword, ATTRIBUTES))
}

pub(crate) fn elsewhere(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let title = p.title().map(|t: Title| t.text);
    let load = p.quantity_value();
    let word = p.word();
    let point =
        p.need(word, "the point where the branch leaves", "for example `elsewhere \"cab fan\" 3 A S12`");
    (ItemKind::Elsewhere(Elsewhere { title, load, point }), p.finish("elsewhere", &[]))
}

pub(crate) fn wire(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let label = p.with_name("label");
    let title = p.title();
    let mut points = Vec::new();
    points.extend(p.with_name("from"));
    let mut stretches: Vec<Conductor> = Vec::new();
    let mut doubled: Option<(Span, &str)> = None;
    let mut twice = |span: Span, what, was: bool| {
        if was && doubled.is_none() {
            doubled = Some((span, what));
        }
    };
    while let Some(piece) = p.pick(|piece| Some(piece.clone())) {
        if let Piece::WithName("->", _, point) = piece {
            points.push(point);
            stretches.push(Conductor::default());
            continue;
        }
        let Some(stretch) = stretches.last_mut() else {
            // Something before the first arrow: the grammar allows nothing there, so that the error is out already.
            continue;
        };
        let span = piece.span();
        match piece {
            Piece::Awg(size, at) => {
                twice(span, "gauge", stretch.gauge.replace(Gauge::Awg(size, at)).is_some())
            }
            Piece::Value(value) => match &value.kind {
                ValueKind::Quantity(q) if is_area(q) => {
                    twice(span, "gauge", stretch.gauge.replace(Gauge::Area(q.clone())).is_some());
                }
                _ => twice(span, "length", stretch.length.replace(value).is_some()),
            },
            Piece::With("at", _, Value { kind: ValueKind::Quantity(q), .. }) => {
                twice(span, "temperature", stretch.at.replace(q).is_some());
            }
            Piece::WithName("fitted with", _, name) => stretch.fitted = Some((true, name)),
            Piece::WithName("fitted without", _, name) => stretch.fitted = Some((false, name)),
            Piece::Word(colour) => twice(span, "colour", stretch.colour.replace(colour).is_some()),
            _ => {}
        }
    }
    if points.len() < 2 {
        p.missing("`->` and the point where the wire ends", "for example `wire 431 S12 -> left_valve.1`");
    }
    if let (Some((span, what)), false) = (doubled, p.damaged) {
        p.damaged = true;
        p.errors.push(crate::SyntaxError {
            span,
            message: format!("this stretch of wire has a second {what}"),
            help: Some("a stretch has one gauge, one colour, one length; keep the right one".into()),
            fix: None,
        });
    }
    let damaged = p.damaged;
    (ItemKind::Wire(Wire { label, title, points, stretches }), damaged)
}

fn is_area(q: &Quantity) -> bool {
    q.unit.is_some_and(|u| u.dimension() == crate::unit::Dimension::Area)
}
