//! A file's contents as a tree. Straight from the syntax, so that it works in a file full of errors.

use crate::View;
use keyon_syntax::{
    Span,
    tree::{self, ItemKind, Name, Title},
};

/// What a symbol is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum SymbolKind {
    Circuit,
    Library,
    Source,
    Ground,
    Splice,
    Wire,
    Fuse,
    Device,
    Element,
    Pin,
    Module,
    Part,
    Connector,
    Control,
    Position,
    Scenario,
    /// `expect`, `exercise`, `readings`.
    Claims,
}

/// A thing that a file declares.
#[derive(Clone, Debug, PartialEq)]
pub struct Symbol {
    /// As written.
    pub name: String,
    /// Its title, or what it is.
    pub detail: Option<String>,
    #[allow(missing_docs)]
    pub kind: SymbolKind,
    /// The whole declaration.
    pub span: Span,
    /// Its name.
    pub name_span: Span,
    /// What lies within.
    pub children: Vec<Symbol>,
}

/// The symbols of the view's file, in source order.
pub fn symbols(view: &View<'_>) -> Vec<Symbol> {
    view.source().map_or_else(Vec::new, symbols_of)
}

/// Whether a file is a circuit, and not a library.
pub fn is_circuit(source: &keyon_circuit::Source) -> bool {
    source.parse.file.items.iter().any(|placed| matches!(placed.item.kind, ItemKind::Circuit(_)))
}

/// The symbols of a file, in source order.
pub fn symbols_of(source: &keyon_circuit::Source) -> Vec<Symbol> {
    let mut symbols = Vec::new();
    for placed in &source.parse.file.items {
        if let Some(mut symbol) = symbol(&placed.item) {
            shift(&mut symbol, placed.start);
            symbols.push(symbol);
        }
    }
    symbols
}

/// From spans within the item to absolute ones.
fn shift(symbol: &mut Symbol, by: u32) {
    symbol.span = symbol.span.moved(by);
    symbol.name_span = symbol.name_span.moved(by);
    for child in &mut symbol.children {
        shift(child, by);
    }
}

fn symbol(item: &tree::Item) -> Option<Symbol> {
    use SymbolKind::*;
    let of = |kind, name: &Name, detail: Option<String>, children| Symbol {
        name: name.text.to_string(),
        detail,
        kind,
        // The selection has to lie within the whole, also where a damaged item is shorter than it claims.
        span: item.span.to(name.span),
        name_span: name.span,
        children,
    };
    let simple = |kind, name: &Name, title: &Option<Title>, word: &str| {
        of(kind, name, Some(words(title, word)), Vec::new())
    };
    Some(match &item.kind {
        ItemKind::Circuit(head) => simple(Circuit, &head.name, &head.title, "circuit"),
        ItemKind::Use(library) => {
            let name = Name { text: library.path.text.as_str().into(), span: library.path.span };
            of(Library, &name, Some("library".into()), Vec::new())
        }
        ItemKind::Supply(supply) => simple(Source, &supply.name, &supply.title, "supply"),
        ItemKind::Ground(ground) => simple(Ground, &ground.name, &ground.title, "ground"),
        ItemKind::Splice(splice) => simple(Splice, &splice.name, &splice.title, "splice"),
        ItemKind::Inline(inline) => {
            let children = inline.cavities.iter().map(|name| leaf(Pin, name, None, name.span)).collect();
            of(Connector, &inline.name, Some(words(&inline.title, "in-line connector")), children)
        }
        ItemKind::Wire(wire) => {
            let route: Vec<_> = wire.points.iter().map(|point| point.text.as_str()).collect();
            let route = route.join(" -> ");
            match (&wire.label, wire.points.first()) {
                (Some(label), _) => of(Wire, label, Some(route), Vec::new()),
                (None, Some(first)) => {
                    let name = Name { text: route.as_str().into(), span: first.span };
                    of(Wire, &name, Some("wire".into()), Vec::new())
                }
                (None, None) => return None,
            }
        }
        ItemKind::Fuse(fuse) => {
            let word = match fuse.kind {
                tree::FuseKind::Fuse => "fuse",
                tree::FuseKind::Breaker => "breaker",
                tree::FuseKind::Link => "link",
            };
            simple(Fuse, &fuse.name, &fuse.title, word)
        }
        ItemKind::Element(element) => simple(Device, &element.name, &element.title, &element.keyword.text),
        ItemKind::Switch(switch) => {
            let children = positions(&switch.positions);
            of(Device, &switch.name, Some(words(&switch.title, "switch")), children)
        }
        ItemKind::Device(device) => {
            let (word, children) = match &device.what {
                tree::DeviceKind::Call(call) => (call.part.text.to_string(), Vec::new()),
                tree::DeviceKind::Body(body) => ("device".into(), inside(body)),
                tree::DeviceKind::Missing => ("device".into(), Vec::new()),
            };
            of(Device, &device.name, Some(words(&device.title, &word)), children)
        }
        ItemKind::Part(part) => {
            let children = match &part.what {
                tree::PartKind::Device(body) => inside(body),
                tree::PartKind::Module(pinout) => housings(pinout),
            };
            of(Part, &part.name, Some(words(&part.title, "part")), children)
        }
        ItemKind::Module(module) => {
            let (word, children) = match &module.what {
                tree::ModuleKind::Call { call, .. } => (call.part.text.to_string(), Vec::new()),
                tree::ModuleKind::Body(pinout) => ("module".into(), housings(pinout)),
                tree::ModuleKind::Missing => ("module".into(), Vec::new()),
            };
            of(Module, &module.name, Some(words(&module.title, &word)), children)
        }
        ItemKind::Control(control) => {
            let children = positions(&control.positions);
            of(Control, &control.name, Some(words(&control.title, "control")), children)
        }
        ItemKind::Variant(variant) => simple(Scenario, &variant.name, &variant.title, "variant"),
        ItemKind::Scenario(scenario) => simple(Scenario, &scenario.name, &scenario.title, "scenario"),
        ItemKind::Expect(expect) => {
            let scenario = expect.scenario.as_ref()?;
            let name = Name { text: format!("expect in {}", scenario.text).into(), span: scenario.span };
            of(Claims, &name, Some(format!("{} rows", expect.claims.len())), Vec::new())
        }
        ItemKind::Exercise(exercise) => simple(Claims, &exercise.name, &exercise.title, "exercise"),
        ItemKind::Readings(readings) => simple(
            Claims,
            readings.name.as_ref().or(readings.scenario.as_ref())?,
            &readings.title,
            "readings",
        ),
        ItemKind::View(_)
        | ItemKind::Spare(_)
        | ItemKind::Elsewhere(_)
        | ItemKind::About(_)
        | ItemKind::Stray
        | ItemKind::Junk => return None,
    })
}

fn words(title: &Option<Title>, word: &str) -> String {
    title.as_ref().map_or_else(|| word.to_owned(), |title| title.text.text.clone())
}

fn leaf(kind: SymbolKind, name: &Name, detail: Option<String>, span: Span) -> Symbol {
    Symbol {
        name: name.text.to_string(),
        detail,
        kind,
        span: span.to(name.span),
        name_span: name.span,
        children: Vec::new(),
    }
}

fn positions(names: &[Name]) -> Vec<Symbol> {
    names.iter().map(|name| leaf(SymbolKind::Position, name, None, name.span)).collect()
}

fn inside(body: &tree::Body) -> Vec<Symbol> {
    let pins =
        body.pins.iter().map(|pin| leaf(SymbolKind::Pin, &pin.name, Some("pin".into()), pin.name.span));
    let elements = body.edges.iter().filter_map(|edge| {
        let name = edge.name.as_ref()?;
        Some(leaf(SymbolKind::Element, name, Some(edge.keyword.text.to_string()), edge.span))
    });
    pins.chain(positions(&body.positions)).chain(elements).collect()
}

fn housings(pinout: &tree::Pinout) -> Vec<Symbol> {
    let mut children = Vec::new();
    for housing in &pinout.housings {
        let rows = housing.rows.iter().map(|row| {
            let name = row.name.as_ref().map_or("unused", |name| name.text.as_str());
            leaf(SymbolKind::Pin, &row.cavity, Some(name.to_owned()), row.span)
        });
        children.push(Symbol {
            children: rows.collect(),
            ..leaf(
                SymbolKind::Connector,
                &housing.name,
                Some(words(&housing.title, "connector")),
                housing.span,
            )
        });
    }
    for gang in &pinout.gangs {
        let rows = gang.rows.iter().map(|row| leaf(SymbolKind::Position, &row.position, None, row.span));
        children.push(Symbol {
            children: rows.collect(),
            ..leaf(SymbolKind::Control, &gang.name, Some(words(&gang.title, "gang")), gang.span)
        });
    }
    children.sort_by_key(|child| child.span.start);
    children
}
