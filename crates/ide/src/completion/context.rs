//! Where the cursor stands: in which bodies, in which statement, behind which words.

use keyon_syntax::{
    Span,
    lexer::{Token, TokenKind, tokens},
};

/// Where the cursor stands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Context<'t> {
    /// The first words of the statements whose bodies are open, the outermost first, each with its other words.
    pub(crate) bodies: Vec<Vec<&'t str>>,
    /// The words and signs of the statement before what is being typed.
    pub(crate) before: Vec<&'t str>,
    /// The part of a path before the last dot of what is being typed.
    pub(crate) qualifier: Option<&'t str>,
    /// A number that is glued to what is being typed, or stands right before it.
    pub(crate) number: bool,
    /// Within quotes.
    pub(crate) quoted: bool,
    /// What the completion replaces: the word up to the cursor, and what of it lies behind.
    pub(crate) replace: Span,
    /// Where the outermost open statement begins.
    pub(crate) start: u32,
}

/// Words that begin an item in column 0 whatever was left open above.
const ITEMS: &[&str] = &[
    "circuit",
    "use",
    "supply",
    "ground",
    "splice",
    "wire",
    "fuse",
    "breaker",
    "link",
    "device",
    "part",
    "module",
    "scenario",
    "expect",
    "exercise",
    "readings",
    "view",
    "switch",
    "motor",
    "about",
    "control",
    "variant",
    "elsewhere",
];

impl<'t> Context<'t> {
    /// `None` in a comment, where nothing is to be completed.
    pub(crate) fn at(text: &'t str, offset: u32) -> Option<Self> {
        let before = text.get(..offset as usize)?;
        let inside = |c: &char| c.is_alphanumeric() || matches!(c, '_' | '\u{b0}' | '\u{b2}' | '\u{b3}');
        let mut all = tokens(before);
        // A text that is being written has the blanks behind its last word behind it.
        let quoted = match all.iter().rev().find(|token| token.kind != TokenKind::Blank) {
            Some(token) if matches!(token.kind, TokenKind::Comment | TokenKind::Doc) => return None,
            Some(token) => token.kind == TokenKind::OpenText,
            None => false,
        };
        // What is being typed: letters and digits up to the cursor, with hyphens where a rule is named.
        let rule = line_of(before).trim_start().starts_with("allow ");
        let typed_from = |text: &str| {
            let word = text.chars().rev().take_while(|c| inside(c) || rule && *c == '-');
            text.len() - word.map(char::len_utf8).sum::<usize>()
        };
        let mut start = if quoted { before.rfind('"').map_or(0, |at| at + 1) } else { typed_from(before) };
        // A blank is missing before anything could follow, and who breaks the line here wants no word; behind a number's point stand digits.
        if !quoted && start == before.len() {
            let behind =
                before.strip_suffix('.').map(|number| number.trim_end_matches(|c: char| c.is_ascii_digit()));
            let of_number = behind
                .is_some_and(|rest| rest.len() + 1 < before.len() && rest.ends_with(char::is_whitespace));
            if before.ends_with(['"', '{', '}', ')']) || of_number {
                return None;
            }
        }
        let after = text.get(offset as usize..)?;
        let tail: usize = after.chars().take_while(|c| inside(c) && !quoted).map(char::len_utf8).sum();
        let mut qualifier = None;
        let mut number = false;
        let mut cut = start;
        if !quoted {
            if let Some(path) = before.get(..start).and_then(|text| text.strip_suffix('.')) {
                let from = path.len()
                    - path
                        .chars()
                        .rev()
                        .take_while(|c| inside(c) || *c == '.')
                        .map(char::len_utf8)
                        .sum::<usize>();
                let head = path.get(from..).unwrap_or_default();
                // `0.75mm` is a number and a unit, `SCU.A` a path.
                if !head.is_empty() && head.bytes().all(|b| b.is_ascii_digit()) {
                    number = true;
                    let word = before.get(start..).unwrap_or_default();
                    start += word.bytes().take_while(u8::is_ascii_digit).count();
                } else {
                    qualifier = Some(head).filter(|head| !head.is_empty());
                }
                cut = from;
            } else {
                let word = before.get(start..).unwrap_or_default();
                let digits = word.bytes().take_while(u8::is_ascii_digit).count();
                if digits > 0 && digits < word.len() {
                    number = true;
                    start += digits;
                }
            }
        }
        let cut = if quoted { cut.saturating_sub(1) } else { cut };
        all.retain(|token| (token.span.end as usize) <= cut);
        let (bodies, statement, begin) = scan(before, &all);
        let number = number
            // No unit has an owner: what stands behind a dot is a name.
            || qualifier.is_none()
                && statement.last().is_some_and(|token| {
                matches!(token.kind, TokenKind::Int | TokenKind::Dec | TokenKind::Exp)
                    && before.get(token.span.end as usize..start).is_some_and(|gap| !gap.is_empty())
            });
        let mut words: Vec<_> = statement.iter().map(|token| token.text(text)).collect();
        if number && cut < start && !quoted {
            words.extend(before.get(cut..start));
        }
        let replace = Span::new(start, offset as usize + tail);
        Some(Self { bodies, before: words, qualifier, number, quoted, replace, start: begin })
    }

    /// The first word of the statement whose body is innermost.
    pub(crate) fn body(&self) -> Option<&'t str> {
        self.bodies.last().and_then(|words| words.first().copied())
    }

    /// The first word of the statement.
    pub(crate) fn head(&self) -> Option<&'t str> {
        self.before.first().copied()
    }

    /// The last word or sign before what is being typed.
    pub(crate) fn last(&self) -> Option<&'t str> {
        self.before.last().copied()
    }

    /// The last word before the number that is being given a unit.
    pub(crate) fn before_number(&self) -> Option<&'t str> {
        self.before.len().checked_sub(2).and_then(|at| self.before.get(at).copied())
    }

    /// Whether a word stands in the statement.
    pub(crate) fn has(&self, word: &str) -> bool {
        self.before.contains(&word)
    }
}

fn line_of(text: &str) -> &str {
    text.get(text.rfind(['\n', '\r']).map_or(0, |at| at + 1)..).unwrap_or_default()
}

type Scan<'t> = (Vec<Vec<&'t str>>, Vec<Token>, u32);

/// The open bodies and the open statement at the end of the tokens, and where the outermost of them begins.
fn scan<'t>(text: &'t str, all: &[Token]) -> Scan<'t> {
    let mut bodies: Vec<(Vec<&'t str>, u32)> = Vec::new();
    let mut statement: Vec<Token> = Vec::new();
    let mut parens = 0usize;
    let mut sets = 0usize;
    let mut fresh_line = true;
    let mut column_zero = true;
    for token in all {
        let word = token.text(text);
        match token.kind {
            TokenKind::Newline => {
                let goes_on = matches!(
                    statement.last().map(|last| last.kind),
                    Some(TokenKind::Arrow | TokenKind::Comma)
                ) || parens > 0;
                if !goes_on {
                    statement.clear();
                }
                (fresh_line, column_zero) = (true, true);
                continue;
            }
            TokenKind::Blank | TokenKind::Comment | TokenKind::Doc | TokenKind::Invisible => {
                column_zero = false;
                continue;
            }
            _ => {}
        }
        if fresh_line && column_zero && ITEMS.contains(&word) {
            bodies.clear();
            statement.clear();
            (parens, sets) = (0, 0);
        }
        (fresh_line, column_zero) = (false, false);
        match token.kind {
            TokenKind::OpenParen => parens += 1,
            TokenKind::CloseParen => parens = parens.saturating_sub(1),
            TokenKind::OpenBrace => {
                // `switches { a, b }` and `table { … }` are parts of a statement, not bodies.
                let last = statement.last().map(|last| last.text(text));
                if matches!(last, Some("switches" | "table")) || sets > 0 {
                    sets += 1;
                } else {
                    let begin = statement.first().map_or(token.span.start, |first| first.span.start);
                    bodies.push((statement.iter().map(|token| token.text(text)).collect(), begin));
                    statement.clear();
                    continue;
                }
            }
            TokenKind::CloseBrace => {
                if sets > 0 {
                    sets -= 1;
                } else {
                    bodies.pop();
                    statement.clear();
                    continue;
                }
            }
            // In a scenario's braces a comma ends a setting as well as a line does.
            TokenKind::Comma if parens == 0 && sets == 0 && ends_setting(&bodies, &statement, text) => {
                statement.clear();
                continue;
            }
            _ => {}
        }
        statement.push(*token);
    }
    let begin = bodies.first().map(|(_, begin)| *begin);
    let begin = begin.or_else(|| statement.first().map(|token| token.span.start));
    (bodies.into_iter().map(|(words, _)| words).collect(), statement, begin.unwrap_or(text.len() as u32))
}

/// Whether a comma ends a row of the innermost body.
fn ends_setting(bodies: &[(Vec<&str>, u32)], statement: &[Token], text: &str) -> bool {
    let body = bodies.last().and_then(|(words, _)| words.first().copied());
    let first = statement.first().map(|token| token.text(text));
    matches!(body, Some("scenario")) && first != Some("do")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(marked: &str) -> String {
        let offset = marked.find('|').unwrap_or(marked.len());
        let text = marked.replacen('|', "", 1);
        let Some(context) = Context::at(&text, offset as u32) else { return "nothing".into() };
        let bodies: Vec<_> = context.bodies.iter().map(|body| body.join(" ")).collect();
        format!(
            "[{}] {:?}{}{}{} replaces {:?}",
            bodies.join(" / "),
            context.before.join(" "),
            context.qualifier.map(|q| format!(" in {q}")).unwrap_or_default(),
            if context.number { " number" } else { "" },
            if context.quoted { " quoted" } else { "" },
            &text[context.replace.range()],
        )
    }

    #[test]
    fn contexts() {
        let cases = [
            "wire 430  S12 -> mid|_v",
            "wire 430  S12 -> SCU.A.|",
            "wire 430  S12 ->\n   SC|",
            "wire 430 S12 -> a.1 0.75m|",
            "wire 430 S12 -> a.1 0.75 |",
            "wire 43|",
            "supply b 12.6 |",
            "supply b 12|",
            "supply b 12V |",
            "allow no-feed|",
            "device a : valve(coil = 22 oh|",
            "module SCU \"x\" {\n  connector A {\n    4 cmd dri|",
            "module SCU {\n connector A {\n 1 a switches { b, c }\n }\n ga|",
            "module SCU {\n connector A {\n 1 a switches { b, |",
            "scenario s { key run, le|",
            "scenario s {\n key run\n left_cmd |",
            "expect in s {\n a.1 about 5 V +- 1 |",
            "part p {\n pins 1, 2\n\nwire 4 |",
            "use \"par|",
            "# remark |",
            "supply b \"Deck |",
            "",
        ];
        let shown: Vec<_> =
            cases.iter().map(|case| format!("{}\n  {}", case.replace('\n', "\\n"), at(case))).collect();
        insta::assert_snapshot!(shown.join("\n"));
    }
}
