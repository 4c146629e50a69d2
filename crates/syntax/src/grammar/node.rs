//! A statement as the layout scan left it, ready for the grammar: its tokens, its body, what stands above it.

use super::{sig::Sig, statement::HeadPiece};
use crate::{
    Span,
    tree::{Allow, Doc},
};

/// A statement with its body.
pub(crate) struct Node<'t> {
    /// The header's significant tokens, slips put right, without the braces of the body.
    pub(crate) sigs: &'t [Sig<'t>],
    /// The statements of its body.
    pub(crate) body: Option<Vec<Node<'t>>>,
    /// From `{` to `}`.
    pub(crate) body_span: Span,
    /// Doc lines above it.
    pub(crate) doc: Option<Doc>,
    /// `allow` lines above it.
    pub(crate) allows: Vec<Allow>,
    /// Header and body.
    pub(crate) span: Span,
    /// Layout or an `allow` line found damage in it.
    pub(crate) damaged: bool,
}

impl<'t> Node<'t> {
    /// Its first word.
    pub(crate) fn keyword(&self) -> &'t str {
        self.sigs.first().map_or("", |s| s.text)
    }
    /// The statements of its body, none where it has no body.
    pub(crate) fn rows(&self) -> &[Node<'t>] {
        self.body.as_deref().unwrap_or_default()
    }
}

impl Drop for Node<'_> {
    /// Bodies may be nested as deep as the text has brackets: taken apart one by one, not by recursion.
    fn drop(&mut self) {
        let mut rest = self.body.take().unwrap_or_default();
        while let Some(mut node) = rest.pop() {
            if let Some(body) = &mut node.body {
                rest.append(body);
            }
        }
    }
}

/// The pieces of a header that are no calls or parameters.
pub(crate) fn plain_pieces(head: Vec<HeadPiece>) -> (Vec<super::piece::Piece>, Vec<HeadPiece>) {
    let mut plain = Vec::new();
    let mut other = Vec::new();
    for piece in head {
        match piece {
            HeadPiece::Piece(piece) => plain.push(piece),
            other_piece => other.push(other_piece),
        }
    }
    (plain, other)
}
