//! Lines and columns for people and editors; everywhere else places are byte offsets.
//!
//! A line ends with `\r\n`, `\n` or a lone `\r`. A byte order mark at the very start takes no column, since editors hide
//! it. All conversions are total: what lies outside the text is moved to its nearest place, what lies inside a
//! character to its start.

use crate::Span;

/// What a column counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Encoding {
    /// Bytes.
    Utf8,
    /// UTF-16 code units, what an editor counts if it says nothing else.
    #[default]
    Utf16,
    /// Characters, what a person counts.
    Utf32,
}

impl Encoding {
    /// How much of a line a character takes.
    fn width(self, c: char) -> u32 {
        (match self {
            Self::Utf8 => c.len_utf8(),
            Self::Utf16 => c.len_utf16(),
            Self::Utf32 => 1,
        }) as u32
    }
}

/// A line and a column, both from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Position {
    #[allow(missing_docs)]
    pub line: u32,
    /// In units of the [`Encoding`] that was asked for.
    pub column: u32,
}

/// Where the lines of a text are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineIndex {
    lines: Vec<Line>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Line {
    /// First byte (of the first line: behind the byte order mark).
    start: u32,
    /// One past the last byte before the line's end mark.
    end: u32,
    /// One character a byte: columns are the same in all encodings.
    ascii: bool,
}

impl LineIndex {
    /// Reads a text once.
    pub fn new(text: &str) -> Self {
        let bytes = text.as_bytes();
        let mut lines = Vec::with_capacity(bytes.len() / 40 + 1);
        let mut start = if text.starts_with('\u{FEFF}') { '\u{FEFF}'.len_utf8() } else { 0 };
        // Most texts are ASCII throughout, and are looked through once for that.
        let all_ascii = bytes.is_ascii();
        let mut push = |start: usize, end: usize| {
            let ascii = all_ascii || bytes.get(start..end).is_some_and(<[u8]>::is_ascii);
            lines.push(Line { start: start as u32, end: end as u32, ascii });
        };
        for at in memchr::memchr2_iter(b'\n', b'\r', bytes) {
            // Of `\r\n` the first byte ends the line.
            if at < start {
                continue;
            }
            push(start, at);
            let crlf = bytes.get(at..at + 2) == Some(b"\r\n");
            start = at + 1 + usize::from(crlf);
        }
        push(start, bytes.len());
        Self { lines }
    }

    /// How many lines there are: one more than line ends.
    pub fn count(&self) -> u32 {
        self.lines.len() as u32
    }

    /// The line in which an offset lies; its end mark belongs to it.
    pub fn line(&self, offset: u32) -> u32 {
        self.lines.partition_point(|line| line.start <= offset).saturating_sub(1) as u32
    }

    /// A line's bytes without its end mark; past the last line the empty place at the end of the text.
    pub fn span(&self, line: u32) -> Span {
        match (self.lines.get(line as usize), self.lines.last()) {
            (Some(line), _) => Span { start: line.start, end: line.end },
            (None, last) => {
                let end = last.map_or(0, |l| l.end);
                Span { start: end, end }
            }
        }
    }

    /// Line and column of a byte offset in the text that was indexed.
    pub fn position(&self, text: &str, offset: u32, encoding: Encoding) -> Position {
        let number = self.line(offset);
        let Some(line) = self.lines.get(number as usize) else { return Position::default() };
        let offset = offset.clamp(line.start, line.end);
        let column = if line.ascii {
            offset - line.start
        } else {
            let part = text.get(line.start as usize..line.end as usize).unwrap_or_default();
            let inside = (offset - line.start) as usize;
            let whole = part.char_indices().take_while(|(at, c)| at + c.len_utf8() <= inside);
            whole.map(|(_, c)| encoding.width(c)).sum()
        };
        Position { line: number, column }
    }

    /// Byte offset of a line and column, moved into the text where there is no such place.
    pub fn offset(&self, text: &str, position: Position, encoding: Encoding) -> u32 {
        match self.lines.get(position.line as usize) {
            Some(line) => in_line(text, *line, position.column, encoding).0,
            None => self.lines.last().map_or(0, |line| line.end),
        }
    }

    /// The same, or `None` where the text has no such place: a line or a column past the end, or the middle of a
    /// character. One line past the last, column 0, is the end of the text, as editors say it.
    pub fn exact_offset(&self, text: &str, position: Position, encoding: Encoding) -> Option<u32> {
        let Some(line) = self.lines.get(position.line as usize) else {
            let end = position.line == self.count() && position.column == 0;
            return end.then(|| self.lines.last().map_or(0, |line| line.end));
        };
        let (offset, exact) = in_line(text, *line, position.column, encoding);
        exact.then_some(offset)
    }
}

/// The offset of a column, and whether there is exactly such a place.
fn in_line(text: &str, line: Line, column: u32, encoding: Encoding) -> (u32, bool) {
    if line.ascii {
        let offset = line.start.saturating_add(column);
        return (offset.min(line.end), offset <= line.end);
    }
    let part = text.get(line.start as usize..line.end as usize).unwrap_or_default();
    let mut left = column;
    for (at, c) in part.char_indices() {
        let width = encoding.width(c);
        if left < width {
            return (line.start + at as u32, left == 0);
        }
        left -= width;
    }
    (line.end, left == 0)
}

#[cfg(test)]
mod tests {
    use super::{Encoding, LineIndex, Position};
    use proptest::prelude::*;

    const ALL: [Encoding; 3] = [Encoding::Utf8, Encoding::Utf16, Encoding::Utf32];

    fn at(line: u32, column: u32) -> Position {
        Position { line, column }
    }

    #[test]
    fn columns_in_three_encodings() {
        let text = "a\r\näö𝄞z\rx\n";
        let index = LineIndex::new(text);
        assert_eq!(index.count(), 4);
        let z = text.find('z').unwrap() as u32;
        assert_eq!(ALL.map(|e| index.position(text, z, e).column), [8, 4, 3]);
        assert_eq!(ALL.map(|e| index.offset(text, at(1, 4), e)), [7, z, z + 1]);
        // Inside the clef, and inside its surrogate pair.
        assert_eq!(ALL.map(|e| index.position(text, 9, e)), [at(1, 4), at(1, 2), at(1, 2)]);
        assert_eq!(index.offset(text, at(1, 3), Encoding::Utf16), 7);
        assert_eq!(index.exact_offset(text, at(1, 3), Encoding::Utf16), None);
        assert_eq!(index.exact_offset(text, at(1, 2), Encoding::Utf16), Some(7));
    }

    #[test]
    fn line_ends_belong_to_their_line() {
        let text = "ab\r\nc\rd\n";
        let index = LineIndex::new(text);
        let lines: Vec<u32> = (0..=text.len() as u32).map(|o| index.line(o)).collect();
        assert_eq!(lines, [0, 0, 0, 0, 1, 1, 2, 2, 3]);
        // Between \r and \n is the end of the line.
        assert_eq!(index.position(text, 3, Encoding::Utf8), at(0, 2));
        assert_eq!(index.offset(text, at(0, 99), Encoding::Utf8), 2);
        assert_eq!(index.exact_offset(text, at(0, 3), Encoding::Utf8), None);
        assert_eq!(index.offset(text, at(99, 5), Encoding::Utf8), 8);
        assert_eq!(index.exact_offset(text, at(4, 0), Encoding::Utf8), Some(8));
        assert_eq!(index.exact_offset(text, at(5, 0), Encoding::Utf8), None);
    }

    #[test]
    fn a_byte_order_mark_takes_no_column() {
        let text = "\u{FEFF}wire";
        let index = LineIndex::new(text);
        for encoding in ALL {
            assert_eq!(index.position(text, 0, encoding), at(0, 0));
            assert_eq!(index.position(text, 2, encoding), at(0, 0));
            assert_eq!(index.position(text, 4, encoding), at(0, 1));
            assert_eq!(index.offset(text, at(0, 0), encoding), 3);
        }
        assert_eq!(LineIndex::new("").position("", 7, Encoding::Utf16), at(0, 0));
    }

    proptest! {
        #[test]
        fn there_and_back(text in "[a\\r\\nä𝄞\u{FEFF}]{0,20}", beyond in 0u32..5) {
            let index = LineIndex::new(&text);
            for encoding in ALL {
                for offset in 0..=text.len() as u32 + beyond {
                    let position = index.position(&text, offset, encoding);
                    let back = index.offset(&text, position, encoding);
                    prop_assert!(text.is_char_boundary(back as usize));
                    prop_assert_eq!(index.position(&text, back, encoding), position);
                    prop_assert_eq!(index.exact_offset(&text, position, encoding), Some(back));
                }
                for line in 0..6 {
                    for column in 0..12 {
                        let offset = index.offset(&text, at(line, column), encoding);
                        prop_assert!(text.is_char_boundary(offset as usize));
                    }
                }
            }
        }
    }
}
