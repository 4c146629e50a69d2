//! Which words of a text are heads: where an item or a statement of a body begins (2c of the grammar).

use super::{
    ITEM_WORDS, ItemClass,
    scan::Scan,
    words::{is_item_word, known_word},
};
use crate::{lexer::TokenKind, nearest::nearest, step::step};

impl Scan<'_> {
    /// The lower-case head word at a line's first token, if it is a head (2c).
    pub(super) fn head(&self, at: u32) -> Option<&'static str> {
        let token = self.tokens.get(at as usize)?;
        if token.kind != TokenKind::Word {
            return None;
        }
        let word = known_word(token.text(self.source))?;
        if self.frames.is_empty() && self.current.as_ref().is_none_or(|c| c.parens == 0) && is_item_word(word)
        {
            return Some(word);
        }
        let mut next = at as usize + 1;
        let (follower, end) = loop {
            step();
            let token = self.tokens.get(next)?;
            match token.kind {
                TokenKind::Blank | TokenKind::Invisible => next += 1,
                _ => break (token, next + 1),
            }
        };
        let fits = match word {
            "where" | "hazard" => matches!(follower.kind, TokenKind::Text | TokenKind::OpenText),
            "face" => matches!(follower.kind, TokenKind::Int | TokenKind::Glued),
            "access" => follower.kind == TokenKind::Word && self.line_ends(end),
            _ => matches!(
                follower.kind,
                TokenKind::Word
                    | TokenKind::Path
                    | TokenKind::Int
                    | TokenKind::Dec
                    | TokenKind::Exp
                    | TokenKind::Glued
                    | TokenKind::DigitPath
                    | TokenKind::Text
                    | TokenKind::OpenText
            ),
        };
        fits.then_some(word)
    }

    /// `allow left feed` is a cavity, `allow rule-name` and `allow rule "why"` are not.
    pub(super) fn two_words_follow(&self, at: u32) -> bool {
        let mut kinds = self.tokens.iter().skip(at as usize + 1).map(|t| t.kind).filter(|kind| {
            step();
            *kind != TokenKind::Blank
        });
        kinds.next() == Some(TokenKind::Word) && kinds.next() == Some(TokenKind::Word)
    }

    pub(super) fn line_ends(&self, mut next: usize) -> bool {
        while let Some(token) = self.tokens.get(next) {
            step();
            match token.kind {
                TokenKind::Newline => return true,
                TokenKind::Blank | TokenKind::Comment | TokenKind::Invisible => next += 1,
                _ => return false,
            }
        }
        true
    }

    /// What an item is that begins with this word, the token `at`.
    pub(super) fn item_class(&self, at: u32, text: &str) -> ItemClass {
        match known_word(text) {
            Some("allow") => return ItemClass::Stray,
            Some(word) if is_item_word(word) => return ItemClass::Word(word),
            Some(_) => return ItemClass::Junk,
            None => {}
        }
        // A slip of the pen in the keyword of what otherwise looks like an item.
        let next = self.tokens.iter().skip(at as usize + 1).find(|t| t.kind != TokenKind::Blank);
        let looks_like_one = next.is_some_and(|t| {
            matches!(
                t.kind,
                TokenKind::Word
                    | TokenKind::Path
                    | TokenKind::Int
                    | TokenKind::Glued
                    | TokenKind::Exp
                    | TokenKind::Text
            )
        });
        match nearest(text, ITEM_WORDS) {
            Some("allow") if looks_like_one => ItemClass::Stray,
            Some(word) if looks_like_one => ItemClass::Word(word),
            _ => ItemClass::Junk,
        }
    }
}
