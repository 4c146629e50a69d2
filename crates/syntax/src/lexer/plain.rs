//! Most tokens of most files are a few ASCII characters of which the first tells nearly all. These are cut here by
//! hand; whatever could be anything else is left to the lexer that is made from the regular expressions, which
//! decides. Both agree wherever this one answers: the tests compare them on every text they can think of.

use super::TokenKind;

/// What a byte can be in a plain token.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Class {
    /// Begins or goes on a word.
    Letter,
    Digit,
    Blank,
    /// Not ASCII: the next character may belong to the token or not.
    Beyond,
    Rest,
}

const CLASSES: [Class; 256] = {
    let mut classes = [Class::Rest; 256];
    let mut byte = 0;
    while byte < 256 {
        classes[byte] = match byte as u8 {
            b'a'..=b'z' | b'A'..=b'Z' | b'_' => Class::Letter,
            b'0'..=b'9' => Class::Digit,
            b' ' | b'\t' => Class::Blank,
            0x80.. => Class::Beyond,
            _ => Class::Rest,
        };
        byte += 1;
    }
    classes
};

/// The class of the byte at `at`; behind the end nothing goes on.
fn class(bytes: &[u8], at: usize) -> Class {
    bytes.get(at).map_or(Class::Rest, |&byte| CLASSES[usize::from(byte)])
}

/// The token that begins at `at` and where it ends, if it is a plain one. `at` is where a token begins.
pub(super) fn token(bytes: &[u8], at: usize) -> Option<(TokenKind, usize)> {
    match class(bytes, at) {
        Class::Letter => word(bytes, at),
        Class::Digit => number(bytes, at),
        Class::Blank => blank(bytes, at),
        Class::Beyond => None,
        Class::Rest => mark(bytes, at),
    }
}

/// Where letters and digits end that go on at `at`.
fn letters_end(bytes: &[u8], mut at: usize) -> usize {
    while matches!(class(bytes, at), Class::Letter | Class::Digit) {
        at += 1;
    }
    at
}

/// Where digits end that go on at `at`.
fn digits_end(bytes: &[u8], mut at: usize) -> usize {
    while class(bytes, at) == Class::Digit {
        at += 1;
    }
    at
}

/// `SCU`, `SCU.A.4`
fn word(bytes: &[u8], at: usize) -> Option<(TokenKind, usize)> {
    let mut kind = TokenKind::Word;
    let mut end = letters_end(bytes, at + 1);
    loop {
        if class(bytes, end) == Class::Beyond {
            return None;
        }
        if bytes.get(end) != Some(&b'.') {
            return Some((kind, end));
        }
        match class(bytes, end + 1) {
            Class::Letter | Class::Digit => end = letters_end(bytes, end + 2),
            Class::Beyond => return None,
            // A dot that joins nothing is no part of the word.
            _ => return Some((kind, end)),
        }
        kind = TokenKind::Path;
    }
}

/// `12`, `0.75`, and the `11` of `11..14`
fn number(bytes: &[u8], at: usize) -> Option<(TokenKind, usize)> {
    let end = digits_end(bytes, at + 1);
    match class(bytes, end) {
        Class::Letter | Class::Beyond => return None,
        _ if bytes.get(end) != Some(&b'.') => return Some((TokenKind::Int, end)),
        _ => {}
    }
    if bytes.get(end + 1) == Some(&b'.') {
        return Some((TokenKind::Int, end));
    }
    let behind = digits_end(bytes, end + 1);
    // `5.` and `1.5.0` are slips, `0.75mm2` and `1.5e3` numbers of other kinds.
    let whole = behind > end + 1 && !matches!(class(bytes, behind), Class::Letter | Class::Beyond);
    let slip = bytes.get(behind) == Some(&b'.') && bytes.get(behind + 1) != Some(&b'.');
    (whole && !slip).then_some((TokenKind::Dec, behind))
}

fn blank(bytes: &[u8], at: usize) -> Option<(TokenKind, usize)> {
    let mut end = at + 1;
    while class(bytes, end) == Class::Blank {
        end += 1;
    }
    (class(bytes, end) != Class::Beyond).then_some((TokenKind::Blank, end))
}

/// A line's end, a comment, a text, a sign.
fn mark(bytes: &[u8], at: usize) -> Option<(TokenKind, usize)> {
    let next = bytes.get(at + 1);
    let (kind, length) = match bytes.get(at)? {
        b'\n' => (TokenKind::Newline, 1),
        b'\r' if next == Some(&b'\n') => (TokenKind::Newline, 2),
        b'#' => return Some(comment(bytes, at)),
        b'"' => return text(bytes, at),
        b'-' if next == Some(&b'>') => (TokenKind::Arrow, 2),
        b'.' if next == Some(&b'.') => (TokenKind::Dots, 2),
        b'%' => (TokenKind::Percent, 1),
        b':' => (TokenKind::Colon, 1),
        b'=' if next != Some(&b'>') => (TokenKind::Equals, 1),
        b',' => (TokenKind::Comma, 1),
        b'(' => (TokenKind::OpenParen, 1),
        b')' => (TokenKind::CloseParen, 1),
        b'{' => (TokenKind::OpenBrace, 1),
        b'}' => (TokenKind::CloseBrace, 1),
        b'/' => (TokenKind::Slash, 1),
        _ => return None,
    };
    Some((kind, at + length))
}

/// From a `#` to the line's end.
fn comment(bytes: &[u8], at: usize) -> (TokenKind, usize) {
    let rest = bytes.get(at..).unwrap_or_default();
    let end = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r')).unwrap_or(rest.len());
    let doc = rest.get(1) == Some(&b'#') && rest.get(2) != Some(&b'#');
    (if doc { TokenKind::Doc } else { TokenKind::Comment }, at + end)
}

/// A text without anything in it that needs a second look.
fn text(bytes: &[u8], at: usize) -> Option<(TokenKind, usize)> {
    let rest = bytes.get(at + 1..)?;
    let end = rest.iter().position(|byte| matches!(byte, b'"' | b'\\' | b'\n' | b'\r'))?;
    (rest.get(end) == Some(&b'"')).then_some((TokenKind::Text, at + end + 2))
}
