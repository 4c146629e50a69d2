//! Lines and columns of a text for people and for JSON: both from 1, columns count characters.

use keyon_syntax::line::{Encoding, LineIndex};

/// Where the lines of a text begin.
#[derive(Clone, Debug)]
pub struct Lines(LineIndex);

impl Lines {
    #[allow(missing_docs)]
    pub fn new(text: &str) -> Self {
        Self(LineIndex::new(text))
    }

    /// Line and column, from 1, of a byte of the text. Past the end it is the end's place; one inside a character
    /// counts as the character's first; a byte order mark is no column.
    pub fn place(&self, text: &str, byte: usize) -> (usize, usize) {
        let byte = u32::try_from(byte).unwrap_or(u32::MAX);
        let at = self.0.position(text, byte, Encoding::Utf32);
        (at.line as usize + 1, at.column as usize + 1)
    }

    /// The bytes of a line (from 1) without its end mark and without a byte order mark.
    pub fn range(&self, line: usize) -> std::ops::Range<usize> {
        self.0.span(u32::try_from(line.saturating_sub(1)).unwrap_or(u32::MAX)).range()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_line_ends_count_once_and_columns_count_characters() {
        let text = "ä°b\r\nc\rd\n\ne";
        let lines = Lines::new(text);
        let at = |needle: &str| lines.place(text, text.find(needle).unwrap());
        assert_eq!(at("b"), (1, 3));
        assert_eq!(at("c"), (2, 1));
        assert_eq!(at("d"), (3, 1));
        assert_eq!(at("e"), (5, 1));
        assert_eq!(lines.place(text, 1), (1, 1));
        assert_eq!(lines.place(text, 999), (5, 2));
        assert_eq!(text.get(lines.range(1)), Some("ä°b"));
        assert_eq!(text.get(lines.range(9)), Some(""));
    }

    #[test]
    fn a_byte_order_mark_is_no_column() {
        let text = "\u{feff}ab";
        assert_eq!(Lines::new(text).place(text, 4), (1, 2));
        assert_eq!(Lines::new(text).place(text, 0), (1, 1));
    }
}
