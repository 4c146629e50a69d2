//! A whole text: layout, then each item by the grammar; errors put in order.

use crate::{
    Parse, Span, SyntaxError,
    grammar::{
        build, items,
        node::Node,
        run::{Runner, both},
        sig::{Sig, significant},
        sources,
    },
    layout::{
        BodyKind, ITEM_WORDS, ItemClass, ItemLayout, Layout, ProblemKind, Role, Statement, Tokens, layout,
    },
    lexer::TokenKind,
    nearest::nearest,
    tree::{Allow, Doc, File, Item, ItemKind, PlacedItem},
};
use std::sync::Arc;

/// Parses a text. Never fails: what cannot be read is an error, and the rest is there.
pub fn parse(text: &str) -> Parse {
    let layout = layout(text);
    let mut errors: Vec<Vec<SyntaxError>> = vec![Vec::new(); layout.items.len()];
    let (sigs, ranges) = all_significant(text, &layout, &mut errors);
    let runner = Runner::new();
    let mut file = File { items: Vec::with_capacity(layout.items.len()) };
    let mut all = Vec::new();
    for (index, (item, mut errors)) in layout.items.iter().zip(errors).enumerate() {
        let reader = Reader {
            text,
            layout: &layout,
            sigs: &sigs,
            ranges: &ranges,
            runner: &runner,
            base: base(&layout, item),
        };
        let tree = reader.item(index, item, &mut errors);
        let start = reader.base;
        let source = text.get(start as usize..).unwrap_or_default();
        for mut error in errors {
            build::complete(&mut error, source);
            error.span = error.span.moved(start);
            if let Some((_, span, _)) = &mut error.fix {
                *span = span.moved(start);
            }
            all.push(error);
        }
        file.items.push(PlacedItem { start, item: Arc::new(tree) });
    }
    all.sort_by_key(|e| (e.span.start, e.span.end));
    all.dedup();
    Parse { file, errors: all }
}

/// Where an item begins.
fn base(layout: &Layout, item: &ItemLayout) -> u32 {
    layout.tokens.get(item.tokens.start as usize).map_or(0, |t| t.span.start)
}

type Range = std::ops::Range<usize>;

/// The significant tokens of every statement, in one vector, and which of them each statement has.
fn all_significant<'s>(
    text: &'s str,
    layout: &Layout,
    errors: &mut [Vec<SyntaxError>],
) -> (Vec<Sig<'s>>, Vec<Range>) {
    let mut sigs = Vec::with_capacity(layout.tokens.len() / 2);
    let mut ranges = vec![0..0; layout.statements.len()];
    for (item, errors) in layout.items.iter().zip(errors) {
        let base = base(layout, item);
        let statements = item.statements.start as usize..item.statements.end as usize;
        for at in statements.clone() {
            let Some(statement) = layout.statements.get(at) else { continue };
            let slice = |tokens: Tokens| layout.tokens.get(tokens.range()).unwrap_or_default();
            let start = sigs.len();
            sigs.append(&mut significant(text, slice(statement.tokens), base, errors));
            if let (ItemClass::Word(word), 0, Role::Plain, Some(head)) =
                (item.class, statement.depth, statement.role, sigs.get_mut(start))
                && head.text != word
            {
                errors.push(respelt(head, word));
                head.text = word;
            }
            if statement.opens.is_some() && sigs.last().is_some_and(|s| s.kind == TokenKind::OpenBrace) {
                sigs.pop();
            }
            if statement.opens == Some(BodyKind::Table) {
                // What stands behind the `}` of a table is still the element's.
                let close = layout
                    .statements
                    .get(at + 1..statements.end)
                    .unwrap_or_default()
                    .iter()
                    .find(|s| s.depth <= statement.depth);
                if let Some(close) = close.filter(|c| c.role == Role::Close) {
                    let behind = significant(text, slice(close.tokens), base, errors);
                    sigs.extend(behind.into_iter().skip(1));
                }
            }
            if let Some(range) = ranges.get_mut(at) {
                *range = start..sigs.len();
            }
        }
    }
    (sigs, ranges)
}

/// An item word in capitals or misspelt: read all the same.
fn respelt(head: &Sig<'_>, word: &str) -> SyntaxError {
    let capitals = head.text.to_lowercase() == word;
    SyntaxError {
        span: head.span,
        message: if capitals {
            format!("keywords are written in small letters: `{word}`")
        } else {
            format!("`{}` begins no item", head.text)
        },
        help: Some(if capitals { format!("write `{word}`") } else { format!("did you mean `{word}`?") }),
        fix: Some((format!("write `{word}`"), head.span, word.to_owned())),
    }
}

/// Reads the items of one text.
struct Reader<'t, 'l> {
    text: &'t str,
    layout: &'l Layout,
    sigs: &'t [Sig<'t>],
    ranges: &'l [Range],
    runner: &'l Runner<'t>,
    /// Where the item begins.
    base: u32,
}

impl<'t> Reader<'t, '_> {
    fn item(&self, index: usize, item: &ItemLayout, errors: &mut Vec<SyntaxError>) -> Item {
        let first = errors.len();
        let span = self.span(item.tokens);
        let mut broken: Vec<Span> = Vec::new();
        let mut nodes = self.nodes(item, errors, &mut broken);
        let allows: Vec<Allow> = nodes.iter_mut().flat_map(|n| std::mem::take(&mut n.allows)).collect();
        let node = nodes.into_iter().find(|n| !n.sigs.is_empty());
        let statement = node.as_ref().map_or(span, |n| n.span);
        let (kind, mut damaged) = match (item.class, &node) {
            (ItemClass::Word(_), Some(node)) => items::item(self.runner, node, errors),
            (ItemClass::Stray, _) => (ItemKind::Stray, false),
            _ => (ItemKind::Junk, true),
        };
        if item.class == ItemClass::Junk {
            errors.truncate(first);
            errors.push(self.junk(item, span));
        }
        // A missing bracket explains whatever else looks wrong in its statement.
        errors.retain(|e| !broken.iter().any(|b| b.start <= e.span.start && e.span.end <= b.end));
        for problem in self.layout.problems.iter().filter(|p| p.item as usize == index) {
            damaged |= problem.kind != ProblemKind::LineEndMissing;
            errors.push(self.problem(problem.kind, problem.token));
        }
        damaged |= !broken.is_empty() || errors.iter().any(build::is_unit_error);
        Item { span, statement, doc: self.doc(item.docs), allows, damaged, kind }
    }

    /// The statements of an item as a tree of nodes; those at depth 0.
    fn nodes(
        &self,
        item: &ItemLayout,
        errors: &mut Vec<SyntaxError>,
        broken: &mut Vec<Span>,
    ) -> Vec<Node<'t>> {
        let mut stack: Vec<(Vec<Node<'t>>, Vec<Allow>)> = vec![Default::default()];
        for at in item.statements.start as usize..item.statements.end as usize {
            let Some(statement) = self.layout.statements.get(at) else { continue };
            self.close_down_to(statement.depth as usize, &mut stack);
            if statement.broken {
                broken.push(self.span(statement.tokens));
            }
            let sigs = self.ranges.get(at).and_then(|r| self.sigs.get(r.clone())).unwrap_or_default();
            match statement.role {
                Role::Close => {
                    self.end_body(statement, &mut stack);
                    continue;
                }
                Role::Allow => {
                    let pieces = self.runner.pieces(both!(allow), sigs, errors);
                    let allow = sources::allow(pieces, self.span(statement.tokens));
                    if let (Some((allow, _)), Some((_, allows))) = (allow, stack.last_mut()) {
                        allows.push(allow);
                    }
                    continue;
                }
                Role::Plain => {}
            }
            self.trailing_comma(statement, sigs, errors);
            let Some((nodes, allows)) = stack.last_mut() else { continue };
            nodes.push(Node {
                sigs,
                body: statement.opens.map(|_| Vec::new()),
                body_span: Span::default(),
                doc: self.doc(statement.docs),
                allows: std::mem::take(allows),
                span: self.span(statement.tokens),
                damaged: statement.broken,
            });
            if statement.opens.is_some() {
                if let Some(node) = nodes.last_mut() {
                    node.body_span = Span { start: node.span.end.saturating_sub(1), end: node.span.end };
                }
                stack.push(Default::default());
            }
        }
        self.close_down_to(0, &mut stack);
        let (mut nodes, allows) = stack.pop().unwrap_or_default();
        if nodes.is_empty() && !allows.is_empty() {
            nodes.push(Node {
                sigs: &[],
                body: None,
                body_span: Span::default(),
                doc: None,
                allows,
                span: Span::default(),
                damaged: false,
            });
        }
        nodes
    }

    /// Folds bodies that ended without a `}` of their own into what opened them.
    fn close_down_to(&self, depth: usize, stack: &mut Vec<(Vec<Node<'t>>, Vec<Allow>)>) {
        // A `}` stands at the depth of its opener and is folded by `end_body`.
        while stack.len() > depth + 1 && stack.len() > 1 {
            if let Some((rows, _)) = stack.pop()
                && let Some(open) = stack.last_mut().and_then(|(nodes, _)| nodes.last_mut())
            {
                let end = rows.last().map_or(open.span.end, |r| r.span.end);
                open.span.end = open.span.end.max(end);
                open.body_span.end = open.body_span.end.max(end);
                open.body = Some(rows);
            }
        }
    }

    fn end_body(&self, close: &Statement, stack: &mut [(Vec<Node<'t>>, Vec<Allow>)]) {
        // `close_down_to` has folded the rows already: what is left is the place of the `}`.
        let end = self.span(close.tokens).end;
        if let Some(open) = stack.last_mut().and_then(|(nodes, _)| nodes.last_mut()) {
            open.span.end = open.span.end.max(end);
            open.body_span.end = open.body_span.end.max(end);
        }
    }

    /// A comma at the end of a statement has nothing behind it; in lists in braces that is allowed.
    fn trailing_comma(&self, statement: &Statement, sigs: &[Sig<'t>], errors: &mut Vec<SyntaxError>) {
        let listed = matches!(
            statement.within,
            BodyKind::Inline
                | BodyKind::Scenario
                | BodyKind::Grade
                | BodyKind::Table
                | BodyKind::Expect
                | BodyKind::Readings
        );
        if let (Some(last), false, false) = (sigs.last(), listed, statement.broken)
            && last.kind == TokenKind::Comma
        {
            errors.push(SyntaxError {
                span: last.span,
                message: "nothing follows this comma".into(),
                help: Some("take the comma out, or write what belongs behind it".into()),
                fix: Some(("take the comma out".into(), last.span, String::new())),
            });
        }
    }

    /// From the first to the last of these tokens, relative to the item.
    fn span(&self, tokens: Tokens) -> Span {
        let slice = self.layout.tokens.get(tokens.range()).unwrap_or_default();
        match (slice.first(), slice.last()) {
            (Some(first), Some(last)) => Span {
                start: first.span.start.saturating_sub(self.base),
                end: last.span.end.saturating_sub(self.base),
            },
            _ => Span::default(),
        }
    }

    fn doc(&self, tokens: Tokens) -> Option<Doc> {
        if tokens.is_empty() {
            return None;
        }
        let slice = self.layout.tokens.get(tokens.range()).unwrap_or_default();
        let lines: Vec<&str> = slice
            .iter()
            .filter(|t| t.kind == TokenKind::Doc)
            .map(|t| {
                let line = t.text(self.text).trim_start_matches("##");
                line.strip_prefix(' ').unwrap_or(line).trim_end()
            })
            .collect();
        Some(Doc { text: lines.join("\n"), span: self.span(tokens) })
    }

    fn junk(&self, item: &ItemLayout, span: Span) -> SyntaxError {
        let mut tokens = self.layout.significant(item.tokens);
        let first = tokens.next();
        let text = first.map_or("", |t| t.text(self.text));
        let at =
            first.map_or(span, |t| Span { start: t.span.start - self.base, end: t.span.end - self.base });
        if text == "}" {
            return SyntaxError {
                span: at,
                message: "this `}` closes nothing".into(),
                help: Some("take it out, or write the `{` that it belongs to".into()),
                fix: Some(("take the `}` out".into(), at, String::new())),
            };
        }
        let shown: String = text.chars().take(30).collect();
        let help = match nearest(text, ITEM_WORDS) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "an item begins with a word such as `supply`, `fuse`, `wire`, `device`, `module`, `scenario`, `expect`".into(),
        };
        SyntaxError { span: at, message: format!("`{shown}` begins no item"), help: Some(help), fix: None }
    }

    fn problem(&self, kind: ProblemKind, token: u32) -> SyntaxError {
        let span = self.layout.tokens.get(token as usize).map_or_else(Span::default, |t| Span {
            start: t.span.start.saturating_sub(self.base),
            end: t.span.end.saturating_sub(self.base),
        });
        let (message, help, fix) = match kind {
            ProblemKind::OpenParen => ("this `(` has no `)`", "close it on the same line", None),
            ProblemKind::OpenBody => {
                ("this `{` has no `}`", "close the block with a `}` on a line of its own", None)
            }
            ProblemKind::TooDeep => {
                ("blocks are nested deeper than anything here needs", "a `}` may be missing further up", None)
            }
            ProblemKind::LineEndMissing => (
                "something follows this `}` on its line",
                "begin a new line behind it",
                Some((
                    "begin a new line".to_owned(),
                    Span { start: span.end, end: span.end },
                    "\n".to_owned(),
                )),
            ),
        };
        SyntaxError { span, message: message.into(), help: Some(help.into()), fix }
    }
}
