//! Characters to tokens. Blanks and comments are tokens too, and so is what no token fits: tokens tile the text.

mod plain;

use crate::{Span, step::step};
use logos::Logos;

/// A token: what it is and where (absolute).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: TokenKind,
    /// Absolute place.
    pub span: Span,
}

impl Token {
    /// What was written.
    pub fn text(self, source: &str) -> &str {
        source.get(self.span.range()).unwrap_or_default()
    }
}

/// The kinds of token, in the grammar's words (section 1 of `grammar/keyon.ebnf`).
#[derive(Logos, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TokenKind {
    /// Spaces, tabs, hard spaces, a byte order mark.
    #[regex(r"[\t \u{A0}\u{1680}\u{2000}-\u{200A}\u{202F}\u{205F}\u{3000}\u{FEFF}]+")]
    Blank,
    /// `\r\n`, `\n` or a lone `\r`.
    #[regex(r"\r\n|\n|\r")]
    Newline,
    /// A `##` line that stands first on its line.
    #[regex(r"##", priority = 10)]
    #[regex(r"##[^#\r\n][^\r\n]*", priority = 10, allow_greedy = true)]
    Doc,
    /// Any other comment.
    #[regex(r"#[^\r\n]*", priority = 2, allow_greedy = true)]
    Comment,
    /// Text in quotes.
    #[regex(r#""(?:[^"\\\r\n]|\\[^\r\n])*""#)]
    Text,
    /// `->`
    #[token("->")]
    Arrow,
    /// `..`
    #[token("..")]
    Dots,
    /// `+-`, `±`, `+/-`
    #[regex(r"\+-|±|\+/-")]
    PlusMinus,
    /// Words with dots between: `SCU.A.4`, `K4.87a`.
    #[regex(r"[\p{L}_][\p{L}\p{M}0-9_]*(?:\.[\p{L}0-9_][\p{L}\p{M}0-9_]*)+")]
    Path,
    /// A name, a keyword, a unit, a colour: the place decides.
    #[regex(r"[\p{L}_°℃℉][\p{L}\p{M}0-9_°℃℉²³]*", priority = 4)]
    Word,
    /// `1.129e-3`
    #[regex(r"[0-9]+(?:\.[0-9]+)?[eE][+-]?[0-9]+", priority = 9)]
    Exp,
    /// `0.75`
    #[regex(r"[0-9]+\.[0-9]+")]
    Dec,
    /// `12`
    #[regex(r"[0-9]+")]
    Int,
    /// A number and letters without a blank: `87a`, `12V`, `0.75mm2`.
    #[regex(r"[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?[\p{L}_°℃℉][\p{L}\p{M}0-9_°℃℉²³]*", priority = 6)]
    Glued,
    /// A path that begins with a digit: `431a.2`.
    #[regex(r"[0-9]+[\p{L}_][\p{L}\p{M}0-9_]*(?:\.[\p{L}0-9_][\p{L}\p{M}0-9_]*)+", priority = 8)]
    DigitPath,
    /// `-`
    #[token("-")]
    Minus,
    /// `+`
    #[token("+")]
    Plus,
    /// `%`
    #[token("%")]
    Percent,
    /// `:`
    #[token(":")]
    Colon,
    /// `=`
    #[token("=")]
    Equals,
    /// `,`
    #[token(",")]
    Comma,
    /// `/`
    #[token("/")]
    Slash,
    /// `(`
    #[token("(")]
    OpenParen,
    /// `)`
    #[token(")")]
    CloseParen,
    /// `{`
    #[token("{")]
    OpenBrace,
    /// `}`
    #[token("}")]
    CloseBrace,
    /// `@`
    #[token("@")]
    At,
    /// A quote without its partner, to the end of the line or to a `{` that ends it.
    #[regex(r#""(?:[^"\\\r\n]|\\[^\r\n])*\\?"#, priority = 1)]
    OpenText,
    /// `1.5.0`, `.5`, `5.`
    #[regex(r"[0-9]+\.[0-9]+(?:\.[0-9]+)+")]
    #[regex(r"\.[0-9]+")]
    BadNumber,
    /// What a word processor makes of `->`, `"…"`, `..`, `-`; and `;`. See [`stands_for`].
    #[regex(r#"[“”„«»‘’‚][^“”„«»‘’‚"\r\n]*[“”„«»‘’]"#, priority = 12)]
    #[regex(r"[→⟶⇒➔]|[–—−]>|-->|=>", priority = 12)]
    #[regex(r"[“”„«»‘’‚…–—−;]", priority = 11)]
    Lookalike,
    /// Zero-width and direction marks, soft hyphens.
    #[regex(r"[\u{200B}-\u{200F}\u{202A}-\u{202E}\u{2060}-\u{2064}\u{2066}-\u{2069}\u{AD}]+")]
    Invisible,
    /// Anything else; a run of it is one token.
    Other,
}

impl TokenKind {
    /// Whether it is neither blank, comment, invisible nor a line's end.
    pub fn is_significant(self) -> bool {
        !matches!(self, Self::Blank | Self::Newline | Self::Doc | Self::Comment | Self::Invisible)
    }
    /// Whether it is always an error.
    pub fn is_error(self) -> bool {
        matches!(self, Self::OpenText | Self::BadNumber | Self::Lookalike | Self::Invisible | Self::Other)
    }
}

/// What a [`TokenKind::Lookalike`] was meant to be; [`TokenKind::Newline`] for `;`.
pub fn stands_for(text: &str) -> TokenKind {
    let mut chars = text.chars();
    match (chars.next(), chars.next_back()) {
        (Some(';'), _) => TokenKind::Newline,
        (Some('…'), _) => TokenKind::Dots,
        (Some('→' | '⟶' | '⇒' | '➔'), _) | (_, Some('>')) => TokenKind::Arrow,
        (Some('–' | '—' | '−'), _) => TokenKind::Minus,
        (_, Some(_)) => TokenKind::Text,
        _ => TokenKind::OpenText,
    }
}

/// Cuts a text into tokens that tile it. Never fails; texts beyond 4 GiB are cut off.
pub fn tokens(source: &str) -> Vec<Token> {
    tokens_in(source, Vec::new())
}

/// The same, in a list that is needed no more.
pub(crate) fn tokens_in(source: &str, mut out: Vec<Token>) -> Vec<Token> {
    out.clear();
    // A line of a circuit file has some 40 bytes and 17 tokens.
    out.reserve(source.len() / 2 + 4);
    lex_into(source, plain::token, &mut out);
    out
}

/// Lexes a text; `plain` is a short way to the token at a place, where there is one.
fn lex_into(source: &str, plain: impl Fn(&[u8], usize) -> Option<(TokenKind, usize)>, out: &mut Vec<Token>) {
    let mut lexer = TokenKind::lexer(source);
    let mut line_is_bare = true;
    let mut at = 0;
    while at < source.len() {
        step();
        let (mut kind, end) = plain(source.as_bytes(), at).unwrap_or_else(|| {
            lexer.bump(at - lexer.span().end);
            let kind = lexer.next().and_then(Result::ok).unwrap_or(TokenKind::Other);
            (kind, lexer.span().end)
        });
        let range = at..end;
        at = end;
        let mut span = Span::new(range.start, range.end);
        match kind {
            TokenKind::Newline => line_is_bare = true,
            TokenKind::Blank => {}
            TokenKind::Doc => {
                if !line_is_bare {
                    kind = TokenKind::Comment;
                }
            }
            TokenKind::OpenText => {
                line_is_bare = false;
                // The `{` that ends the line still opens the body.
                let text = source.get(range.clone()).unwrap_or_default();
                let kept = text.trim_end();
                let kept = kept.strip_suffix('{').map_or(kept, str::trim_end);
                span.end = span.start + kept.len().max(1) as u32;
                let mut at = span.end as usize;
                out.push(Token { kind, span });
                for (i, c) in text.char_indices().skip_while(|(i, _)| *i < kept.len().max(1)) {
                    step();
                    let end = range.start + i + c.len_utf8();
                    if c == '{' {
                        push_blank(out, at, range.start + i);
                        out.push(Token { kind: TokenKind::OpenBrace, span: Span::new(range.start + i, end) });
                        at = end;
                    }
                }
                push_blank(out, at, range.end);
                continue;
            }
            TokenKind::Other => {
                line_is_bare = false;
                if let Some(last) = out.last_mut() {
                    // `5.` is a slip, no number and a dot.
                    if last.span.end == span.start
                        && last.kind == TokenKind::Int
                        && source.get(range.clone()) == Some(".")
                    {
                        last.kind = TokenKind::BadNumber;
                        last.span.end = span.end;
                        continue;
                    }
                    if last.span.end == span.start && last.kind == TokenKind::Other {
                        last.span.end = span.end;
                        continue;
                    }
                }
            }
            _ => line_is_bare = false,
        }
        out.push(Token { kind, span });
    }
}

fn push_blank(out: &mut Vec<Token>, start: usize, end: usize) {
    if start < end {
        out.push(Token { kind: TokenKind::Blank, span: Span::new(start, end) });
    }
}

#[cfg(test)]
mod tests {
    use super::{TokenKind, tokens};
    use proptest::prelude::*;

    fn show(source: &str) -> String {
        tokens(source)
            .iter()
            .filter(|t| t.kind != TokenKind::Blank)
            .map(|t| format!("{:?} {:?}", t.kind, t.text(source)))
            .collect::<Vec<_>>()
            .join("\n")
    }

    /// Tokens tile the text, and those cut by hand are what the regular expressions make of it.
    fn assert_tiles(source: &str) {
        let mut by_expressions = Vec::new();
        super::lex_into(source, |_, _| None, &mut by_expressions);
        assert_eq!(tokens(source), by_expressions, "{source:?}");
        let mut at = 0;
        for token in tokens(source) {
            assert_eq!(token.span.start, at, "gap or overlap in {source:?}");
            assert!(token.span.end > token.span.start, "empty token in {source:?}");
            assert!(source.get(token.span.range()).is_some(), "cut character in {source:?}");
            at = token.span.end;
        }
        assert_eq!(at as usize, source.len());
    }

    #[test]
    fn the_place_of_a_digit_decides() {
        insta::assert_snapshot!(show("wire 431a SCU.A.4 -> K4.87a 0.75mm2 12 V 87a 431a.2 431.10 1.129e-3 5e3 2e 20°C mm²"), @r#"
        Word "wire"
        Glued "431a"
        Path "SCU.A.4"
        Arrow "->"
        Path "K4.87a"
        Glued "0.75mm2"
        Int "12"
        Word "V"
        Glued "87a"
        DigitPath "431a.2"
        Dec "431.10"
        Exp "1.129e-3"
        Exp "5e3"
        Glued "2e"
        Glued "20°C"
        Word "mm²"
        "#);
    }

    #[test]
    fn ranges_and_bad_numbers() {
        insta::assert_snapshot!(show("11.0..14.8 5..8 .5 5. 1.5.0 5.V S12. ±5 +/-5 +-5"), @r#"
        Dec "11.0"
        Dots ".."
        Dec "14.8"
        Int "5"
        Dots ".."
        Int "8"
        BadNumber ".5"
        BadNumber "5."
        BadNumber "1.5.0"
        BadNumber "5."
        Word "V"
        Word "S12"
        Other "."
        PlusMinus "±"
        Int "5"
        PlusMinus "+/-"
        Int "5"
        PlusMinus "+-"
        Int "5"
        "#);
    }

    #[test]
    fn quotes_without_partner_stop_at_the_brace_or_the_line() {
        insta::assert_snapshot!(show("connector A \"12-way {  \n \"a \\\" b\" \"open \\\r\n“curly” ‘x’ → – − … ; –> => ”"), @r#"
        Word "connector"
        Word "A"
        OpenText "\"12-way"
        OpenBrace "{"
        Newline "\n"
        Text "\"a \\\" b\""
        OpenText "\"open \\"
        Newline "\r\n"
        Lookalike "“curly”"
        Lookalike "‘x’"
        Lookalike "→"
        Lookalike "–"
        Lookalike "−"
        Lookalike "…"
        Lookalike ";"
        Lookalike "–>"
        Lookalike "=>"
        Lookalike "”"
        "#);
    }

    #[test]
    fn docs_stand_first_on_their_line() {
        insta::assert_snapshot!(show("## doc\n  ##\n### ruler\n#c\nwire ## not a doc\n##x"), @r####"
        Doc "## doc"
        Newline "\n"
        Doc "##"
        Newline "\n"
        Comment "### ruler"
        Newline "\n"
        Comment "#c"
        Newline "\n"
        Word "wire"
        Comment "## not a doc"
        Newline "\n"
        Doc "##x"
        "####);
    }

    #[test]
    fn a_megabyte_in_one_token_does_not_overflow_the_stack() {
        for c in ["a", "1", " ", "#", "?", "é", "."] {
            assert_tiles(&c.repeat(1_000_000 / c.len()));
        }
        assert_tiles(&format!("\"{}", "\\\"".repeat(500_000)));
    }

    #[test]
    fn a_token_that_does_not_come_to_an_end_is_not_looked_for_again_and_again() {
        // Quadratic lexing would take minutes here.
        for c in ["“", "–", "-", "1.", "a.", "\u{200B}", "‘a"] {
            assert_tiles(&c.repeat(100_000));
        }
    }

    proptest! {
        #[test]
        fn tokens_tile_any_text(source in "\\PC*") {
            assert_tiles(&source);
        }
        #[test]
        fn tokens_tile_texts_of_our_plain_characters(source in "[aE_15.. \"#\n-]{0,12}") {
            assert_tiles(&source);
        }
        #[test]
        fn tokens_tile_texts_of_our_characters(source in "[a1._\"\\\\{}#\\r\\n \u{FEFF}–>=+/±→“”5e°²,;.-]{0,60}") {
            assert_tiles(&source);
        }
    }
}
