//! What can be done with a declaration, over its line.

use crate::View;
use keyon_syntax::{Span, tree::ItemKind};

/// What a lens does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LensKind {
    /// Hold this scenario.
    Hold(String),
    /// Show the truth table of this; of everything.
    Table(Option<String>),
    /// Draw the circuit.
    Draw,
}

/// A lens over a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lens {
    #[allow(missing_docs)]
    pub span: Span,
    #[allow(missing_docs)]
    pub title: String,
    #[allow(missing_docs)]
    pub kind: LensKind,
}

/// The lenses of the view's file, in source order.
pub fn lenses(view: &View<'_>) -> Vec<Lens> {
    let Some(source) = view.source() else { return Vec::new() };
    let shown = crate::shown(view.elaboration, view.held);
    let mut out = Vec::new();
    for placed in &source.parse.file.items {
        let mut add = |span: Span, title: &str, kind| {
            out.push(Lens { span: span.moved(placed.start), title: title.to_owned(), kind });
        };
        match &placed.item.kind {
            ItemKind::Circuit(head) => {
                add(head.name.span, "truth table", LensKind::Table(None));
                add(head.name.span, "diagram", LensKind::Draw);
            }
            ItemKind::Scenario(scenario) => {
                let name = scenario.name.text.to_string();
                let held = shown.as_deref() == Some(name.as_str());
                let title = if held { "shown" } else { "hold this scenario" };
                add(scenario.name.span, title, LensKind::Hold(name));
            }
            ItemKind::Module(module) => {
                let name = module.name.text.to_string();
                add(module.name.span, "truth table", LensKind::Table(Some(name)));
            }
            _ => {}
        }
    }
    out
}
