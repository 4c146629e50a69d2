//! The body of a device or a module, made a part: what comes twice is written once.

use super::{Refactor, free};
use crate::{View, format::newline, place::item_at};
use keyon_syntax::{
    Span, lexer,
    tree::{DeviceKind, ItemKind, ModuleKind, Name, PlacedItem, Title},
};

pub(super) fn part(view: &View<'_>, offset: u32) -> Option<Refactor> {
    let placed = item_at(view, offset)?;
    let found = inline(view, placed)?;
    // Only from its head: deep in a module's rows nobody means the whole of it.
    if offset > found.open + placed.start {
        return None;
    }
    let name = found.name.text.as_str();
    let first = format!("{}_part", name.to_lowercase());
    let part = free(view, std::iter::once(first.clone()).chain((2..1000).map(|n| format!("{first}{n}"))))?;
    let body = found.body(view, placed);
    let title = found.title(view, placed);
    let newline = newline(view.text());
    let head = if title.is_empty() { String::new() } else { format!(" {title}") };
    let declaration = format!("part {part}{head} {body}{newline}{newline}");
    let at = Span { start: placed.start, end: placed.start };
    let mut edits = vec![(at, declaration), found.call(view, placed, &part)];
    let mut others = Vec::new();
    for other in view.source()?.parse.file.items.iter().filter(|other| !std::ptr::eq(*other, placed)) {
        let Some(same) = inline(view, other).filter(|same| same.module == found.module) else { continue };
        if same.body(view, other) == body {
            others.push(same.name.text.to_string());
            edits.push(same.call(view, other, &part));
        }
    }
    let also = if others.is_empty() { String::new() } else { format!(", also for {}", others.join(", ")) };
    edits.sort_by_key(|(span, _)| span.start);
    Some(Refactor { title: format!("make the body of {name} a part{also}"), extracts: true, edits })
}

/// An item with a body of its own; offsets are the item's.
struct Inline<'a> {
    module: bool,
    name: &'a Name,
    title: Option<&'a Title>,
    /// Where its `{` stands.
    open: u32,
    /// For a module: the cavities that stay.
    uses: Vec<String>,
}

fn inline<'a>(view: &View<'_>, placed: &'a PlacedItem) -> Option<Inline<'a>> {
    if placed.item.damaged {
        return None;
    }
    let (module, name, title) = match &placed.item.kind {
        ItemKind::Device(device) if matches!(device.what, DeviceKind::Body(_)) => {
            (false, &device.name, device.title.as_ref())
        }
        ItemKind::Module(module) if matches!(module.what, ModuleKind::Body(_)) => {
            (true, &module.name, module.title.as_ref())
        }
        _ => return None,
    };
    let mut uses = Vec::new();
    if let ItemKind::Module(module) = &placed.item.kind
        && let ModuleKind::Body(pinout) = &module.what
    {
        for housing in &pinout.housings {
            // `1.4` would be read as a number: there the cavity goes by its name.
            let numbered = housing.name.text.starts_with(|c: char| c.is_ascii_digit());
            for row in &housing.rows {
                let name = row.name.as_ref().filter(|_| numbered).map(|name| name.text.to_string());
                let path = || format!("{}.{}", housing.name.text, row.cavity.text);
                uses.extend(name.or_else(|| (!numbered).then(path)));
            }
        }
    }
    let from = title.map_or(name.span.end, end);
    let text = view.text().get(placed.item.statement.moved(placed.start).range())?;
    let from = from - placed.item.statement.start;
    // By tokens: the attributes in front of a body hold texts, and a comment may stand there.
    let tokens = lexer::tokens(text.get(from as usize..)?);
    let open = tokens.iter().find(|token| token.kind == lexer::TokenKind::OpenBrace)?;
    let open = placed.item.statement.start + from + open.span.start;
    Some(Inline { module, name, title, open, uses })
}

impl Inline<'_> {
    fn body<'v>(&self, view: &View<'v>, placed: &PlacedItem) -> &'v str {
        let end = placed.item.statement.end;
        view.text()
            .get(Span { start: self.open, end }.moved(placed.start).range())
            .unwrap_or_default()
            .trim_end()
    }

    fn title<'v>(&self, view: &View<'v>, placed: &PlacedItem) -> &'v str {
        let span = self
            .title
            .map(|title| Span { start: title.text.span.start, end: end(title) }.moved(placed.start));
        span.and_then(|span| view.text().get(span.range())).unwrap_or_default()
    }

    /// Its body replaced by a call of the part, which stands before the attributes.
    fn call(&self, view: &View<'_>, placed: &PlacedItem, part: &str) -> (Span, String) {
        let head_end = self.title.map_or(self.name.span.end, end);
        let uses =
            if self.uses.is_empty() { String::new() } else { format!(" uses {}", self.uses.join(", ")) };
        let between = Span { start: head_end, end: self.open }.moved(placed.start);
        let between = view.text().get(between.range()).unwrap_or_default().trim_end();
        let span = Span { start: head_end, end: placed.item.statement.end };
        (span.moved(placed.start), format!(" : {part}{uses}{between}"))
    }
}

/// Where a title ends, with its translations.
fn end(title: &Title) -> u32 {
    title.others.last().map_or(title.text.span.end, |(_, text)| text.span.end)
}
