//! A `##` line that describes nothing.

use crate::{Context, Finding, report::place};
use keyon_circuit::{Fix, ids::FileId};
use keyon_solve::Cancelled;
use keyon_syntax::{
    Span,
    lexer::{Token, TokenKind, tokens},
};

crate::rule::rule! {
    name: "stray-doc",
    level: Hint,
    group: "files",
    summary: "A `##` line belongs to nothing: a blank line, a closing bracket or the end of the file follows it.",
    why: "\
What stands in `##` right above a thing is its description: hover, tables and exports show it. With a blank line between, it describes nothing, and whoever \
wrote it will look for it in vain. `#` is for remarks that belong to no thing.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let file = FileId(0);
    let Some(source) = context.elaboration.files.first() else { return Ok(()) };
    if !source.text.contains("##") {
        return Ok(());
    }
    let tokens = tokens(&source.text);
    let mut at = 0;
    while let Some(token) = tokens.get(at) {
        if token.kind != TokenKind::Doc {
            at += 1;
            continue;
        }
        let (lines, next) = block(&tokens, at);
        at = next;
        let (Some(&first), Some(&last)) = (lines.first(), lines.last()) else { continue };
        if !ends(&tokens, next) {
            continue;
        }
        let here = place(context.elaboration, file, Span { start: first.start, end: last.end });
        // One `#` less makes it a remark.
        let one_less = |line: &Span| {
            let mark = Span { start: line.start, end: line.start + 1 };
            (place(context.elaboration, file, mark), String::new())
        };
        out.push(
            RULE.at(here, "this `##` describes nothing: nothing stands right below it")
                .help("put it right above what it describes, without a blank line, or make it a remark with `#`")
                .fix(Fix {
                    title: "make it a plain `#` remark".into(),
                    edits: lines.iter().map(one_less).collect(),
                    safe: true,
                }),
        );
    }
    Ok(())
}

/// The lines of a block of `##`, and the place of the token after the line break that ends it.
fn block(tokens: &[Token], mut at: usize) -> (Vec<Span>, usize) {
    let mut lines = Vec::new();
    while let Some(token) = tokens.get(at).filter(|t| t.kind == TokenKind::Doc) {
        lines.push(token.span);
        at += 1;
        if tokens.get(at).is_some_and(|t| t.kind == TokenKind::Newline) {
            at += 1;
        }
        let blank = tokens.get(at).is_some_and(|t| t.kind == TokenKind::Blank);
        if blank && tokens.get(at + 1).is_some_and(|t| t.kind == TokenKind::Doc) {
            at += 1;
        }
    }
    (lines, at)
}

/// Whether nothing stands on the line that begins here, or what stands there closes something.
fn ends(tokens: &[Token], at: usize) -> bool {
    let seen = tokens
        .get(at..)
        .unwrap_or_default()
        .iter()
        .find(|t| !matches!(t.kind, TokenKind::Blank | TokenKind::Invisible));
    seen.is_none_or(|t| matches!(t.kind, TokenKind::Newline | TokenKind::CloseBrace))
}
