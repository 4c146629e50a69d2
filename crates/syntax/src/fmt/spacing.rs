//! How far two neighbouring tokens of a statement stand apart when no column says otherwise.

use crate::lexer::TokenKind;

/// Blanks before each token: none or one.
pub(super) fn gaps(tokens: &[(TokenKind, &str)]) -> Vec<usize> {
    let mut parens = 0usize;
    let mut out = Vec::with_capacity(tokens.len());
    let mut previous = None;
    for &(kind, _) in tokens {
        let gap = previous.is_some_and(|previous| !tight(previous, kind, parens, tokens));
        out.push(usize::from(gap));
        match kind {
            TokenKind::OpenParen => parens += 1,
            TokenKind::CloseParen => parens = parens.saturating_sub(1),
            _ => {}
        }
        previous = Some(kind);
    }
    out
}

/// Whether nothing stands between two neighbours inside so many brackets.
fn tight(previous: TokenKind, kind: TokenKind, parens: usize, tokens: &[(TokenKind, &str)]) -> bool {
    use TokenKind::*;
    match (previous, kind) {
        (OpenParen, _) | (_, CloseParen | Comma) => true,
        // `boom_valve(…)` and `part x(…)`, but `30 -> (rest …)`.
        (Word | Path, OpenParen) => true,
        // `OG/BK`, `2/0`.
        (Slash, _) | (_, Slash) => true,
        // `@2`
        (At, _) => true,
        // `ends: resistance` among a part's parameters, `device x : part` elsewhere.
        (_, Colon) => parens > 0,
        // `-20 degC`, `+10 %`: a sign.
        (Minus | Plus, Int | Dec | Exp | Glued) => true,
        // A rule's name: `fuse-over-wire`.
        (Minus, Word) | (Word, Minus) => rule_name(tokens),
        _ => false,
    }
}

/// Whether the statement is an `allow`, where a `-` joins words.
fn rule_name(tokens: &[(TokenKind, &str)]) -> bool {
    tokens.first().is_some_and(|t| t.1 == "allow")
}
