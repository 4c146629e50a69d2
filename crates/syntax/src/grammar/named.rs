//! Where a statement's name stands. No word is reserved, so the place alone tells a name from the beginning of a clause.

use super::sig::Sig;
use crate::lexer::TokenKind as T;

/// The kinds of statement with a name behind their keyword.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Named {
    /// An item, a connector, a gang: the word behind the keyword, unless a path begins with it.
    Header,
    /// An element in a body, where the name may be left out: the word before its path.
    Edge,
    /// `exercise NAME in SCENARIO`, `readings in SCENARIO`: `in` is a name only before another one.
    Block,
}

impl Named {
    /// Whether the first of these tokens, which follow the keyword, is the name.
    pub(crate) fn is_name(self, ahead: [Option<&Sig<'_>>; 3]) -> bool {
        let [Some(first), second, third] = ahead else { return false };
        let kind = |s: Option<&Sig<'_>>| s.map(|s| s.kind);
        if first.kind != T::Word || kind(second) == Some(T::Arrow) {
            return false;
        }
        match self {
            Self::Header => true,
            Self::Edge => {
                matches!(kind(second), Some(T::Word | T::Int | T::Glued | T::Exp | T::Path))
                    && kind(third) == Some(T::Arrow)
            }
            Self::Block => {
                let is_in = second.is_some_and(|s| s.text == "in");
                let more = matches!(kind(third), Some(T::Word | T::Path));
                first.text != "in" || kind(second) == Some(T::Text) || (is_in && more)
            }
        }
    }
}
