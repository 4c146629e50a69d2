//! What may be written next. Works on the text before the cursor, so that a half-typed line is no obstacle, and takes
//! its names from the rest of the file, which is whole.

pub(crate) mod context;
mod decide;
mod fresh;
mod names;
pub(crate) mod preview;
mod rows;
pub(crate) mod templates;
mod units;
mod usual;
pub(crate) mod words;

pub use preview::preview;

use crate::View;
use context::Context;
use keyon_syntax::Span;

/// What a completion is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum CompletionKind {
    Keyword,
    Point,
    Device,
    Part,
    Unit,
    Colour,
    Control,
    Position,
    Rule,
    Scenario,
    Parameter,
    File,
    /// A word of a small fixed set: a role, a state, a dimension.
    Word,
}

/// Something that may be written at the cursor.
#[derive(Clone, Debug, PartialEq)]
pub struct Completion {
    /// What the list shows.
    pub label: String,
    #[allow(missing_docs)]
    pub kind: CompletionKind,
    /// A few words beside it.
    pub detail: Option<String>,
    /// Its full name, `pump.1` where the list shows `1`: see [`preview`].
    pub name: String,
    /// What is written …
    pub insert: String,
    /// … in place of this.
    pub replace: Span,
    /// How a line that begins with it is written, what is to be filled in between `‹` and `›`.
    pub template: Option<&'static str>,
}

/// The completions at an offset, the likeliest first.
pub fn complete(view: &View<'_>, offset: u32) -> Vec<Completion> {
    let Some(context) = Context::at(view.text(), offset) else { return Vec::new() };
    let prefix = context.qualifier.map_or_else(String::new, |owner| format!("{owner}."));
    let mut list = List { items: Vec::new(), replace: context.replace, prefix };
    decide::decide(view, &context, &mut list);
    let typed = view.text().get(context.replace.start as usize..offset as usize).unwrap_or_default();
    if !typed.is_empty() && typed.bytes().all(|b| b.is_ascii_digit()) {
        decide::amount(view, &context, typed, &mut list);
    }
    // A clause is written once, and nothing leads back to where it comes from.
    let written = |item: &Completion| match item.kind {
        CompletionKind::Keyword => {
            let first = item.label.split(' ').next().unwrap_or_default();
            first != "->" && context.before.len() > 1 && context.has(first)
        }
        CompletionKind::Point => {
            let own = context.before.get(1).filter(|_| context.head() != Some("wire"));
            let own =
                own.and_then(|own| item.name.strip_prefix(own)).is_some_and(|rest| rest.starts_with('.'));
            // What is being typed is an unknown name itself.
            let half = item.label == typed && view.elaboration.circuit.lookup(&item.name).is_empty();
            half || context.body().is_none() && (own || context.has(&item.name))
        }
        _ => false,
    };
    list.items.retain(|item| !written(item));
    let mut seen = std::collections::HashSet::new();
    list.items.retain(|item| {
        // Of an amount that is usual the unit says nothing new.
        let kind = if item.kind == CompletionKind::Unit { CompletionKind::Word } else { item.kind };
        seen.insert((item.label.clone(), kind))
    });
    if context.before.is_empty() && !context.quoted {
        for item in list.items.iter_mut().filter(|item| item.kind == CompletionKind::Keyword) {
            item.template = templates::template_in(context.body(), &item.label);
        }
    }
    list.items
}

/// Completions as they are gathered.
pub(crate) struct List {
    items: Vec<Completion>,
    replace: Span,
    /// `pump.` behind a device's name.
    prefix: String,
}

impl List {
    fn add(&mut self, kind: CompletionKind, label: impl Into<String>, detail: Option<String>) {
        let label = label.into();
        let insert = label.clone();
        self.items.push(Completion {
            label,
            kind,
            detail,
            name: format!("{}{insert}", self.prefix),
            insert,
            replace: self.replace,
            template: None,
        });
    }

    /// Keeps those whose labels fit.
    fn keep(&mut self, fits: impl Fn(&str) -> bool) {
        self.items.retain(|item| fits(&item.label));
    }

    /// Words of the language, with what they mean.
    fn words(&mut self, kind: CompletionKind, words: &[&str]) {
        for word in words {
            let help = words::help(word).map(str::to_owned);
            // Several words that belong together are explained by the first.
            let help = help.or_else(|| words::help(word.split(' ').next()?).map(str::to_owned));
            self.add(kind, *word, help);
        }
    }
}
