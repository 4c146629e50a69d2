//! The words for what the layout finds: brackets, junk, misspelt heads.

use super::trade;
use crate::{
    Span, SyntaxError,
    grammar::{sig::Sig, slips},
    layout::{ATTRIBUTE_WORDS, BODY_ONLY_WORDS, ITEM_WORDS, ItemLayout, Layout, Problem, ProblemKind},
    lexer::{Token, TokenKind},
    nearest::nearest,
    step::step,
};

/// How the message of a misspelt head begins.
pub(super) const NO_ITEM: &str = "no item begins with";

/// An item word in capitals or misspelt: read all the same.
pub(super) fn respelt(head: &Sig<'_>, word: &str) -> SyntaxError {
    let capitals = head.text.to_lowercase() == word;
    SyntaxError {
        span: head.span,
        message: if capitals {
            format!("keywords are written in small letters: `{word}`")
        } else {
            format!("{NO_ITEM} `{}`", head.text)
        },
        help: Some(if capitals { format!("write `{word}`") } else { format!("did you mean `{word}`?") }),
        fix: Some((format!("write `{word}`"), head.span, word.to_owned())),
    }
}

/// A semicolon or an invisible character outside statements, the token `at`.
pub(super) fn slip(token: Token, text: &str, layout: &Layout, at: usize) -> SyntaxError {
    // Asked of a semicolon alone: a long run of invisible characters would be looked through again and again.
    let ends = || {
        let mut behind = layout.tokens.iter().skip(at + 1);
        let next = behind.find(|t| {
            step();
            !matches!(t.kind, TokenKind::Blank | TokenKind::Comment | TokenKind::Invisible)
        });
        next.is_none_or(|t| t.kind == TokenKind::Newline)
    };
    slips::of_token(token.kind, text, token.span, token.kind == TokenKind::Lookalike && ends())
}

/// Lines that begin no item.
pub(super) fn junk(text: &str, layout: &Layout, item: &ItemLayout, base: u32) -> SyntaxError {
    let first = layout.significant(item.tokens).next();
    let word = first.map_or("", |t| t.text(text));
    let span = first.map_or_else(Span::default, |t| relative(t.span, base));
    let error =
        |message: String, help: &str, fix| SyntaxError { span, message, help: Some(help.to_owned()), fix };
    if word == "}" {
        return error(
            "this `}` closes nothing".into(),
            "take it out, or write the `{` that it belongs to",
            Some(("take the `}` out".into(), span, String::new())),
        );
    }
    let shown: String = word.chars().take(30).collect();
    if BODY_ONLY_WORDS.contains(&word) || ATTRIBUTE_WORDS.contains(&word) {
        let place = match word {
            "gang" => "the body of a module",
            "pins" | "positions" | "contact" | "changeover" | "track" | "transducer" | "grade" => {
                "the body of a device or part"
            }
            _ => "a body, or at the end of a header",
        };
        let help = trade::said(word).unwrap_or("a `}` further up may stand too early, or a `{` is missing");
        return error(format!("{NO_ITEM} `{shown}`: it stands in {place}"), help, None);
    }
    if let Some(help) = trade::said(word) {
        return error(format!("{NO_ITEM} `{shown}`"), help, None);
    }
    // Half a word: what it may become.
    let begun: Vec<&str> = ITEM_WORDS.iter().copied().filter(|item| item.starts_with(word)).collect();
    let near = match begun.as_slice() {
        [] => nearest(word, ITEM_WORDS.iter().copied()),
        [one] => Some(*one),
        [several @ .., last] => {
            let several: Vec<String> = several.iter().map(|item| format!("`{item}`")).collect();
            let help = format!("did you mean {} or `{last}`?", several.join(", "));
            return error(format!("{NO_ITEM} `{shown}`"), &help, None);
        }
    };
    match near {
        Some(near) => error(
            format!("{NO_ITEM} `{shown}`"),
            &format!("did you mean `{near}`?"),
            Some((format!("write `{near}`"), span, near.to_owned())),
        ),
        None => error(
            format!("{NO_ITEM} `{shown}`"),
            "an item begins with a word such as `supply`, `ground`, `fuse`, `wire`, `splice`, `switch`, `lamp`, `coil`, `motor`, \
             `thermistor`, `device`, `module`, `scenario`, `expect`: `keyon explain language`",
            None,
        ),
    }
}

/// A bracket that is missing.
pub(super) fn problem(problem: Problem, layout: &Layout, base: u32) -> SyntaxError {
    let span =
        layout.tokens.get(problem.token as usize).map_or_else(Span::default, |t| relative(t.span, base));
    let (message, help, fix) = match problem.kind {
        ProblemKind::OpenParen => ("this `(` has no `)`", "close it on the same line", None),
        ProblemKind::OpenBody => {
            ("this `{` has no `}`", "close the block with a `}` on a line of its own", None)
        }
        ProblemKind::BraceMissing => {
            let here = Span { start: span.end, end: span.end };
            (
                "missing here: the `{` of this block",
                "write `{` at the end of the line; the lines below it are read as the block's",
                Some(("write the `{`".to_owned(), here, " {".to_owned())),
            )
        }
        ProblemKind::BracesMissing => (
            "missing here: the `{` of this block, and its `}` below",
            "write `{` at the end of the line and `}` on a line of its own",
            None,
        ),
        ProblemKind::OpenOther => {
            ("a block begins with `{`", "write `{`", Some(("write `{`".to_owned(), span, "{".to_owned())))
        }
        ProblemKind::CloseOther => {
            ("a block ends with `}`", "write `}`", Some(("write `}`".to_owned(), span, "}".to_owned())))
        }
        ProblemKind::BraceTwice => (
            "this `{` is one too many",
            "a block begins with one `{`",
            Some(("take it out".to_owned(), span, String::new())),
        ),
        ProblemKind::CloseExtra => (
            "this `}` is one too many",
            "what stands further right below it belongs to the same block",
            Some(("take it out".to_owned(), span, String::new())),
        ),
        ProblemKind::LinesJoined => {
            let here = Span { start: span.start, end: span.start };
            let fix = ("begin a new line".to_owned(), here, "\n".to_owned());
            ("a new line has to begin here", "each item stands on a line of its own", Some(fix))
        }
        ProblemKind::LineBroken => (
            "this line goes on with the one above",
            "a statement stands on one line, unless the line ends with `,` or `->`",
            above(problem, layout, base, false),
        ),
        ProblemKind::ArrowBelow => (
            "a wire goes on in the next line behind its `->`, not before it",
            "write the `->` at the end of the line above",
            above(problem, layout, base, true),
        ),
        ProblemKind::TooDeep => {
            ("blocks are nested deeper than anything here needs", "a `}` may be missing further up", None)
        }
        ProblemKind::LineEndMissing => {
            let here = Span { start: span.start, end: span.start };
            let fix = ("begin a new line".to_owned(), here, "\n".to_owned());
            (
                "nothing may stand behind a `}` on its line",
                "begin a new line; `where`, `sealed` and the like stand before the `{`",
                Some(fix),
            )
        }
    };
    SyntaxError { span, message: message.into(), help: Some(help.into()), fix }
}

/// Joins a line to the one above where nothing but blanks stands between, or moves the arrow that it begins with up.
fn above(problem: Problem, layout: &Layout, base: u32, arrow: bool) -> Option<(String, Span, String)> {
    let first = layout.tokens.get(problem.token as usize)?;
    let before = layout.tokens.get(..problem.token as usize)?.iter().rev();
    let blank = |t: &&Token| {
        step();
        matches!(t.kind, TokenKind::Blank | TokenKind::Newline)
    };
    let last = before.clone().find(|t| !blank(t)).filter(|t| t.kind.is_significant())?;
    let end = if arrow { first.span.end } else { first.span.start };
    let between = relative(Span { start: last.span.end, end }, base);
    Some(match arrow {
        true => ("write the `->` above".into(), between, " ->\n ".into()),
        false => ("join the two lines".into(), between, "  ".into()),
    })
}

fn relative(span: Span, base: u32) -> Span {
    Span { start: span.start.saturating_sub(base), end: span.end.saturating_sub(base) }
}
