//! One item: its statements as a tree of nodes, read by the grammar.

use super::{message, statement::Sigs};
use crate::{
    Span, SyntaxError,
    grammar::{
        items,
        node::Node,
        quick::whole_wire,
        run::{Runner, ways},
        sig::Sig,
        sources,
    },
    layout::{
        BodyKind, ItemClass, ItemLayout, Layout, Problem, ProblemKind, Role, Statement, Tokens, known_word,
    },
    lexer::TokenKind,
    nearest::nearest,
    step::{step, steps},
    tree::{Allow, Doc, Item, ItemKind},
};

/// Of a comma at the end of a statement: what it parts from what was there may have been lost.
const NOTHING_FOLLOWS: &str = "nothing follows this comma";

/// A sound wire of the common form.
pub(super) fn lone_wire(text: &str, layout: &Layout, item: &ItemLayout) -> Option<Item> {
    let statement = layout.statements.get(item.statements.start as usize)?;
    let lone = item.statements.len() == 1 && statement.role == Role::Plain && statement.opens.is_none();
    if item.class != ItemClass::Word("wire") || !lone || statement.broken {
        return None;
    }
    let base = super::base(layout, item);
    let tokens = layout.tokens.get(statement.tokens.range())?;
    Some(Item {
        span: span(layout, base, item.tokens),
        statement: span(layout, base, statement.tokens),
        doc: doc(text, layout, base, item.docs).map(Box::new),
        allows: Vec::new(),
        damaged: false,
        kind: ItemKind::Wire(whole_wire(text, tokens, base).ok()?),
    })
}

/// From the first to the last of these tokens, relative to the item.
fn span(layout: &Layout, base: u32, tokens: Tokens) -> Span {
    let slice = layout.tokens.get(tokens.range()).unwrap_or_default();
    match (slice.first(), slice.last()) {
        (Some(first), Some(last)) => {
            Span { start: first.span.start.saturating_sub(base), end: last.span.end.saturating_sub(base) }
        }
        _ => Span::default(),
    }
}

fn doc(text: &str, layout: &Layout, base: u32, tokens: Tokens) -> Option<Doc> {
    if tokens.is_empty() {
        return None;
    }
    let slice = layout.tokens.get(tokens.range()).unwrap_or_default();
    let lines: Vec<&str> = slice
        .iter()
        .filter(|t| t.kind == TokenKind::Doc)
        .map(|t| {
            let line = t.text(text).trim_start_matches("##");
            line.strip_prefix(' ').unwrap_or(line).trim_end()
        })
        .collect();
    Some(Doc { text: lines.join("\n"), span: span(layout, base, tokens) })
}

/// Reads one item.
pub(super) struct Reader<'t, 'l> {
    text: &'l str,
    layout: &'l Layout,
    sigs: &'t Sigs<'t>,
    runner: &'l Runner<'t>,
    /// Where the item begins.
    base: u32,
    /// The number of its first statement.
    first: usize,
}

impl<'t, 'l> Reader<'t, 'l> {
    pub(super) fn new(
        text: &'l str,
        layout: &'l Layout,
        sigs: &'t Sigs<'t>,
        runner: &'l Runner<'t>,
        item: &ItemLayout,
    ) -> Self {
        let first = item.statements.start as usize;
        Self { text, layout, sigs, runner, base: super::base(layout, item), first }
    }

    /// The item and its errors, with places relative to its first byte. `problems` are those of the layout in it.
    pub(super) fn item(&self, item: &ItemLayout, problems: &[Problem]) -> (Item, Vec<SyntaxError>) {
        let mut errors: Vec<SyntaxError> = Vec::new();
        let span = self.span(item.tokens);
        let mut broken: Vec<Span> = Vec::new();
        let (node, allows) = match self.lone(item, &mut errors, &mut broken) {
            Some(node) => (Some(node), Vec::new()),
            None => {
                let mut nodes = self.nodes(item, &mut errors, &mut broken);
                let allows = nodes.iter_mut().flat_map(|n| std::mem::take(&mut n.allows)).collect();
                (nodes.into_iter().find(|n| !n.sigs.is_empty()), allows)
            }
        };
        let statement = node.as_ref().map_or(span, |n| n.span);
        let (kind, mut damaged) = match (item.class, &node) {
            (ItemClass::Word(_), Some(node)) => items::item(self.runner, node, &mut errors),
            (ItemClass::Stray, _) => (ItemKind::Stray, false),
            _ => (ItemKind::Junk, true),
        };
        // A missing bracket explains whatever else looks wrong in its statement.
        if !broken.is_empty() {
            steps(errors.len());
            let before = |e: &SyntaxError| broken.partition_point(|b| b.end < e.span.end);
            errors.retain(|e| broken.get(before(e)).is_none_or(|b| e.span.start < b.start));
            damaged = true;
        }
        damaged |= errors.iter().any(|e| e.fix.is_none() || e.message == NOTHING_FOLLOWS);
        // The comma that is one too many is the one that does not fit.
        let mut commas: Vec<u32> =
            errors.iter().filter(|e| e.message == NOTHING_FOLLOWS).map(|e| e.span.start).collect();
        if !commas.is_empty() {
            commas.sort_unstable();
            steps(errors.len());
            errors.retain(|e| e.message == NOTHING_FOLLOWS || commas.binary_search(&e.span.start).is_err());
        }
        damaged |= self.swallows(item);
        let slips = self.sigs.errors();
        let explained = self.explained(item, problems);
        let is_explained = |e: &SyntaxError| {
            let before = explained.partition_point(|t| t.end <= e.span.start);
            explained.get(before).is_some_and(|t| t.start <= e.span.start)
        };
        if !explained.is_empty() && errors.iter().any(is_explained) {
            errors.retain(|e| !is_explained(e));
            damaged = true;
        }
        steps(slips.len() + problems.len() + errors.len());
        let misspelt = slips.iter().any(|e| e.message.starts_with(message::NO_ITEM));
        if misspelt && errors.iter().any(|e| e.fix.is_none()) {
            // Not what its first word looked like.
            errors.clear();
        }
        errors.extend_from_slice(slips);
        let behind = problems.iter().find(|p| p.kind == ProblemKind::LineEndMissing);
        if item.class == ItemClass::Junk {
            errors.clear();
            if behind.is_none() {
                errors.push(message::junk(self.text, self.layout, item, self.base));
            }
        }
        let deep = problems.iter().find(|p| p.kind == ProblemKind::TooDeep);
        if let Some(deep) = deep {
            errors.clear();
            errors.push(message::problem(*deep, self.layout, self.base));
            damaged = true;
        } else {
            damaged |= problems.iter().any(|p| !p.kind.is_plain());
            // A text without its closing quote may have taken the brace with it.
            let swallowed = |p: &&Problem| {
                let token = self.layout.tokens.get(p.token as usize);
                let open = token.is_some_and(|t| t.kind == TokenKind::OpenText);
                open && matches!(p.kind, ProblemKind::BraceMissing | ProblemKind::BracesMissing)
            };
            let told = problems.iter().filter(|p| !swallowed(p));
            errors.extend(told.map(|p| message::problem(*p, self.layout, self.base)));
        }
        (Item { span, statement, doc: self.doc(item.docs).map(Box::new), allows, damaged, kind }, errors)
    }

    /// Whether a text without its closing quote took more than a title with it.
    fn swallows(&self, item: &ItemLayout) -> bool {
        if self.sigs.errors().is_empty() {
            return false;
        }
        let open = self.layout.significant(item.tokens).filter(|t| {
            step();
            t.kind == TokenKind::OpenText
        });
        let mut texts = open.map(|t| t.text(self.text));
        texts.any(|text| {
            steps(text.len());
            text.contains(" positions ") || text.contains("->") || text.contains(" : ")
        })
    }

    /// The statements in which one slip explains whatever else looks wrong: a text without its closing quote, which takes
    /// the rest of its line with it, and a broken line.
    fn explained(&self, item: &ItemLayout, problems: &[Problem]) -> Vec<Span> {
        let breaks = |p: &&Problem| matches!(p.kind, ProblemKind::LineBroken | ProblemKind::ArrowBelow);
        let mut broken: Vec<u32> = problems.iter().filter(breaks).map(|p| p.token).collect();
        if self.sigs.errors().is_empty() && broken.is_empty() {
            return Vec::new();
        }
        broken.sort_unstable();
        let statements = item.statements.start as usize..item.statements.end as usize;
        let all = self.layout.statements.get(statements).unwrap_or_default();
        let open = |s: &&Statement| {
            step();
            let next = broken.partition_point(|at| *at < s.tokens.start);
            broken.get(next).is_some_and(|at| *at < s.tokens.end)
                || self.layout.significant(s.tokens).any(|t| t.kind == TokenKind::OpenText)
        };
        all.iter().filter(open).map(|s| self.span(s.tokens)).collect()
    }

    /// The only statement of an item without a body, as most items are.
    fn lone(
        &self,
        item: &ItemLayout,
        errors: &mut Vec<SyntaxError>,
        broken: &mut Vec<Span>,
    ) -> Option<Node<'t>> {
        let statement = self.layout.statements.get(self.first)?;
        let sigs = self.sigs.of(0);
        let lone = item.statements.len() == 1 && statement.role == Role::Plain && statement.opens.is_none();
        if !lone || sigs.is_empty() {
            return None;
        }
        if statement.broken {
            broken.push(self.span(statement.tokens));
        }
        self.trailing_comma(statement, sigs, errors);
        Some(self.node(statement, sigs, Vec::new()))
    }

    fn node(&self, statement: &Statement, sigs: &'t [Sig<'t>], allows: Vec<Allow>) -> Node<'t> {
        Node {
            sigs,
            body: statement.opens.map(|_| Vec::new()),
            body_span: Span::default(),
            doc: self.doc(statement.docs),
            allows,
            span: self.span(statement.tokens),
            damaged: statement.broken,
        }
    }

    /// The statements of an item as a tree of nodes; those at depth 0.
    fn nodes(
        &self,
        item: &ItemLayout,
        errors: &mut Vec<SyntaxError>,
        broken: &mut Vec<Span>,
    ) -> Vec<Node<'t>> {
        let mut stack: Vec<(Vec<Node<'t>>, Vec<Allow>)> = vec![Default::default()];
        // How deep the last line stood that begins an item of its own: what lies in its block goes with it.
        let mut foreign: Option<u32> = None;
        for at in item.statements.start as usize..item.statements.end as usize {
            step();
            let Some(statement) = self.layout.statements.get(at) else { continue };
            self.close_down_to(statement.depth as usize, &mut stack);
            if statement.broken {
                broken.push(self.span(statement.tokens));
            }
            let sigs = self.sigs.of(at - self.first);
            if statement.role == Role::Foreign {
                if foreign.is_none() {
                    errors.push(self.pasted(statement, sigs));
                }
                foreign = Some(statement.depth);
                if statement.opens.is_some() {
                    if let Some((nodes, _)) = stack.last_mut() {
                        nodes.push(self.node(statement, &[], Vec::new()));
                    }
                    stack.push(Default::default());
                }
                continue;
            }
            if foreign.is_some_and(|depth| statement.depth <= depth && statement.role != Role::Close) {
                foreign = None;
            }
            match statement.role {
                Role::Foreign => continue,
                Role::Close => {
                    self.end_body(statement, &mut stack);
                    continue;
                }
                Role::Allow => {
                    let pieces = self.runner.pieces(ways!(allow), sigs, errors);
                    let allow = sources::allow(pieces, self.span(statement.tokens));
                    if let (Some((allow, _)), Some((_, allows))) = (allow, stack.last_mut()) {
                        allows.push(allow);
                    }
                    continue;
                }
                Role::Plain => {}
            }
            self.trailing_comma(statement, sigs, errors);
            self.needless_body(statement, sigs, errors);
            let Some((nodes, allows)) = stack.last_mut() else { continue };
            nodes.push(self.node(statement, sigs, std::mem::take(allows)));
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
            step();
            if let Some((mut rows, _)) = stack.pop()
                && let Some(open) = stack.last_mut().and_then(|(nodes, _)| nodes.last_mut())
            {
                let end = rows.last().map_or(open.span.end, |r| r.span.end);
                open.span.end = open.span.end.max(end);
                open.body_span.end = open.body_span.end.max(end);
                // Nothing but what begins an item of its own is without tokens.
                rows.retain(|row| !row.sigs.is_empty());
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

    /// A line that begins an item of its own in the middle of a block.
    fn pasted(&self, statement: &Statement, sigs: &[Sig<'t>]) -> SyntaxError {
        let first = sigs.first();
        SyntaxError {
            span: first.map_or_else(|| self.span(statement.tokens), |s| s.span),
            message: format!(
                "`{}` begins an item of its own, and it stands in the middle of a block",
                first.map_or("", |s| s.text)
            ),
            help: Some(
                "move this line out, above or below the block; or close the block before it with a `}`"
                    .into(),
            ),
            fix: None,
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
                message: NOTHING_FOLLOWS.into(),
                help: Some("take the comma out, or write what belongs behind it".into()),
                fix: Some(("take the comma out".into(), last.span, String::new())),
            });
        }
    }

    /// A `{` in a statement that takes none.
    fn needless_body(&self, statement: &Statement, sigs: &[Sig<'t>], errors: &mut Vec<SyntaxError>) {
        let word = sigs.first().map_or("", |s| s.text);
        // A misspelt `connector` has a body all the same.
        let misspelt = || nearest(word, ["connector", "gang", "grade"]).is_some();
        // A word that begins no line in this body is reported as that.
        let owner = matches!(statement.within, BodyKind::Module | BodyKind::Device | BodyKind::Part);
        if owner && !word.is_empty() && known_word(word).is_none() {
            return;
        }
        if statement.opens == Some(BodyKind::Other) && !(statement.depth > 0 && misspelt()) {
            let end = self.span(statement.tokens).end;
            let message = if word.is_empty() {
                "a line begins with no `{`".to_owned()
            } else {
                format!("a line that begins with `{word}` has no `{{ … }}` here")
            };
            errors.push(SyntaxError {
                span: Span { start: end.saturating_sub(1), end },
                message,
                help: Some("take the block out, or mend the word that the line begins with".into()),
                fix: None,
            });
        }
    }

    fn span(&self, tokens: Tokens) -> Span {
        span(self.layout, self.base, tokens)
    }

    fn doc(&self, tokens: Tokens) -> Option<Doc> {
        doc(self.text, self.layout, self.base, tokens)
    }
}
