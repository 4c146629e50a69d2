//! The one place where byte offsets and editor positions meet.
//!
//! Editors count lines from 0 and columns in code units of the encoding that was agreed on. A line ends with LF, CRLF or
//! a lone CR; a position beyond a line's end is its end.

use keyon_syntax::Span;
use tower_lsp::lsp_types::{Position, PositionEncodingKind, Range};

/// What a column counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(crate) enum Encoding {
    /// Bytes.
    Utf8,
    /// Code units of UTF-16: what every client knows.
    #[default]
    Utf16,
    /// Unicode scalar values.
    Utf32,
}

impl Encoding {
    /// The one to use with a client that offers these, in its order of preference: bytes where it can, as they
    /// cost nothing; UTF-16 where it says nothing.
    pub(crate) fn negotiate(offered: Option<&[PositionEncodingKind]>) -> Self {
        let offers = offered.unwrap_or_default();
        if offers.contains(&PositionEncodingKind::UTF8) {
            Self::Utf8
        } else if offers.contains(&PositionEncodingKind::UTF32)
            && !offers.contains(&PositionEncodingKind::UTF16)
        {
            Self::Utf32
        } else {
            Self::Utf16
        }
    }

    /// Its name in the protocol.
    pub(crate) fn kind(self) -> PositionEncodingKind {
        match self {
            Self::Utf8 => PositionEncodingKind::UTF8,
            Self::Utf16 => PositionEncodingKind::UTF16,
            Self::Utf32 => PositionEncodingKind::UTF32,
        }
    }

    /// How many columns a character takes.
    fn width(self, c: char) -> usize {
        match self {
            Self::Utf8 => c.len_utf8(),
            Self::Utf16 => c.len_utf16(),
            Self::Utf32 => 1,
        }
    }
}

/// Where the lines of a text begin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Lines {
    starts: Vec<u32>,
}

impl Lines {
    /// Scans a text.
    pub(crate) fn new(text: &str) -> Self {
        let mut starts = vec![0];
        starts.extend(starts_in(text, 0, text.len()));
        Self { starts }
    }

    /// The lines after the bytes `start .. end` of the text were replaced by what stands at `start .. new_end` of `text`. Only
    /// what lies about the edit is scanned.
    pub(crate) fn edited(&self, text: &str, start: u32, end: u32, new_end: u32) -> Self {
        // A line end is told by its own byte and the next one: that of the line before may have become another.
        let first = self.starts.partition_point(|&line| line < start).max(1);
        let after = self.starts.partition_point(|&line| line <= end);
        let from = self.starts.get(first - 1).copied().unwrap_or(0) as usize;
        let mut starts = Vec::with_capacity(self.starts.len() + 1);
        starts.extend_from_slice(self.starts.get(..first).unwrap_or_default());
        starts.extend(starts_in(text, from, new_end as usize));
        let moved = |line: &u32| line.wrapping_sub(end).wrapping_add(new_end);
        starts.extend(self.starts.iter().skip(after).map(moved));
        Self { starts }
    }

    /// Number of lines; a text without a line end has one.
    pub(crate) fn count(&self) -> usize {
        self.starts.len()
    }

    /// A line's text without its end, and where it begins.
    fn line<'t>(&self, text: &'t str, line: usize) -> Option<(usize, &'t str)> {
        let start = *self.starts.get(line)? as usize;
        let end = self.starts.get(line + 1).map_or(text.len(), |&end| end as usize);
        let line = text.get(start..end)?;
        let line = line.strip_suffix('\n').unwrap_or(line);
        Some((start, line.strip_suffix('\r').unwrap_or(line)))
    }

    /// The position of a byte offset. Offsets beyond the text or within a character move left to the nearest place.
    pub(crate) fn position(&self, text: &str, offset: u32, encoding: Encoding) -> Position {
        let line = self.starts.partition_point(|&start| start <= offset).saturating_sub(1);
        let Some((start, content)) = self.line(text, line) else { return Position::default() };
        let within = (offset as usize).saturating_sub(start).min(content.len());
        if content.get(..within).is_some_and(str::is_ascii) {
            return Position::new(line as u32, within as u32);
        }
        let column: usize = content
            .char_indices()
            .take_while(|&(at, c)| at + c.len_utf8() <= within)
            .map(|(_, c)| encoding.width(c))
            .sum();
        Position::new(line as u32, column as u32)
    }

    /// The range of a span.
    pub(crate) fn range(&self, text: &str, span: Span, encoding: Encoding) -> Range {
        Range::new(self.position(text, span.start, encoding), self.position(text, span.end, encoding))
    }

    /// The byte offset of a position. `None` if there is no such line, or the column lies within a character.
    /// The line after the last one counts as the text's end, since clients name it to mean just that.
    pub(crate) fn offset(&self, text: &str, position: Position, encoding: Encoding) -> Option<u32> {
        let line = position.line as usize;
        if line == self.count() && position.character == 0 {
            return Some(text.len() as u32);
        }
        let (start, content) = self.line(text, line)?;
        let mut left = position.character as usize;
        for (at, c) in content.char_indices() {
            if left == 0 {
                return Some((start + at) as u32);
            }
            left = left.checked_sub(encoding.width(c))?;
        }
        Some((start + content.len()) as u32)
    }

    /// The nearest byte offset of any position: for questions, where a guess does no harm.
    pub(crate) fn nearest(&self, text: &str, position: Position, encoding: Encoding) -> u32 {
        let Some((start, content)) = self.line(text, position.line as usize) else {
            return text.len() as u32;
        };
        let mut left = position.character as usize;
        for (at, c) in content.char_indices() {
            let width = encoding.width(c);
            if left < width {
                return (start + at) as u32;
            }
            left -= width;
        }
        (start + content.len()) as u32
    }
}

/// Positions of many offsets, of which each is mostly in the line of the one before or in the next.
pub(crate) struct Walk<'a> {
    lines: &'a Lines,
    text: &'a str,
    encoding: Encoding,
    /// The line of the last offset, and the bytes from its beginning to that of the next.
    line: usize,
    bytes: std::ops::Range<usize>,
    /// How long it is without its end, if in it a column is a byte.
    plain: Option<usize>,
}

impl<'a> Walk<'a> {
    pub(crate) fn new(lines: &'a Lines, text: &'a str, encoding: Encoding) -> Self {
        Self { lines, text, encoding, line: 0, bytes: 0..0, plain: None }
    }

    /// As [`Lines::position`].
    pub(crate) fn position(&mut self, offset: u32) -> Position {
        if !self.bytes.contains(&(offset as usize)) {
            self.seek(offset);
        }
        match self.plain {
            Some(length) => {
                let within = (offset as usize).saturating_sub(self.bytes.start).min(length);
                Position::new(self.line as u32, within as u32)
            }
            None => self.lines.position(self.text, offset, self.encoding),
        }
    }

    /// As [`Lines::range`].
    pub(crate) fn range(&mut self, span: Span) -> Range {
        Range::new(self.position(span.start), self.position(span.end))
    }

    /// Goes to the line of an offset.
    fn seek(&mut self, offset: u32) {
        let starts = &self.lines.starts;
        let begins = |line: usize| starts.get(line).is_none_or(|&start| start > offset);
        let next = self.line + 1;
        self.line = if !begins(next) && begins(next + 1) {
            next
        } else {
            starts.partition_point(|&start| start <= offset).saturating_sub(1)
        };
        let end = starts.get(self.line + 1).map_or(usize::MAX, |&end| end as usize);
        let line = self.lines.line(self.text, self.line);
        self.bytes = line.map_or(0..0, |(start, _)| start..end);
        self.plain = line.filter(|(_, content)| content.is_ascii()).map(|(_, content)| content.len());
    }
}

/// Where lines begin of which the end before stands in these bytes.
fn starts_in(text: &str, from: usize, to: usize) -> impl Iterator<Item = u32> {
    let bytes = text.as_bytes();
    let within = bytes.get(from..to).unwrap_or_default();
    within.iter().enumerate().filter_map(move |(at, &byte)| {
        let ends = byte == b'\n' || byte == b'\r' && bytes.get(from + at + 1) != Some(&b'\n');
        ends.then_some((from + at) as u32 + 1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ALL: [Encoding; 3] = [Encoding::Utf8, Encoding::Utf16, Encoding::Utf32];

    #[test]
    fn who_walks_comes_to_the_same_positions() {
        let text = "a b\n\n\u{3a9}\u{1f50c}b c\r\nnext\rlast line\n";
        let lines = Lines::new(text);
        for encoding in ALL {
            let mut walk = Walk::new(&lines, text, encoding);
            let there_and_back = (0..60).chain((0..60).rev()).chain([3, 40, 3, 17, 60, 0]);
            for offset in there_and_back {
                assert_eq!(walk.position(offset), lines.position(text, offset, encoding), "{offset}");
            }
        }
    }

    #[test]
    fn columns_count_what_was_agreed() {
        let text = "a\u{3a9}\u{1f50c}b\r\nnext";
        let lines = Lines::new(text);
        let b = text.find('b').unwrap() as u32;
        assert_eq!(lines.position(text, b, Encoding::Utf8), Position::new(0, 7));
        assert_eq!(lines.position(text, b, Encoding::Utf16), Position::new(0, 4));
        assert_eq!(lines.position(text, b, Encoding::Utf32), Position::new(0, 3));
        let n = text.find('n').unwrap() as u32;
        for encoding in ALL {
            assert_eq!(lines.position(text, n, encoding), Position::new(1, 0));
        }
    }

    #[test]
    fn every_kind_of_line_end() {
        let text = "a\r\nb\rc\nd";
        let lines = Lines::new(text);
        assert_eq!(lines.count(), 4);
        for (line, c) in ["a", "b", "c", "d"].into_iter().enumerate() {
            let at = text.find(c).unwrap() as u32;
            assert_eq!(lines.position(text, at, Encoding::Utf16), Position::new(line as u32, 0));
            assert_eq!(lines.offset(text, Position::new(line as u32, 0), Encoding::Utf16), Some(at));
        }
        assert_eq!(lines.position(text, 2, Encoding::Utf16), Position::new(0, 1), "between CR and LF");
        assert_eq!(lines.offset(text, Position::new(0, 99), Encoding::Utf16), Some(1), "beyond the line");
        assert_eq!(
            lines.offset(text, Position::new(4, 0), Encoding::Utf16),
            Some(8),
            "the line after the last"
        );
        assert_eq!(lines.offset(text, Position::new(5, 0), Encoding::Utf16), None);
        assert_eq!(lines.offset(text, Position::new(4, 1), Encoding::Utf16), None);
    }

    #[test]
    fn within_a_character_is_nowhere() {
        let text = "\u{1f50c}x";
        let lines = Lines::new(text);
        assert_eq!(lines.offset(text, Position::new(0, 1), Encoding::Utf16), None);
        assert_eq!(lines.nearest(text, Position::new(0, 1), Encoding::Utf16), 0);
        assert_eq!(lines.offset(text, Position::new(0, 2), Encoding::Utf16), Some(4));
        assert_eq!(lines.offset(text, Position::new(0, 3), Encoding::Utf8), None);
    }

    #[test]
    fn negotiates() {
        let [utf8, utf16, utf32] = ALL.map(Encoding::kind);
        assert_eq!(Encoding::negotiate(None), Encoding::Utf16);
        assert_eq!(Encoding::negotiate(Some(std::slice::from_ref(&utf16))), Encoding::Utf16);
        assert_eq!(Encoding::negotiate(Some(&[utf16.clone(), utf8])), Encoding::Utf8);
        assert_eq!(Encoding::negotiate(Some(std::slice::from_ref(&utf32))), Encoding::Utf32);
        assert_eq!(Encoding::negotiate(Some(&[utf32, utf16])), Encoding::Utf16);
    }

    proptest! {
        #[test]
        fn an_edit_leaves_the_lines_right(
            text in "[ab\r\n]{0,20}", new in "[ab\r\n]{0,6}", a in 0usize..21, b in 0usize..21,
        ) {
            let (a, b) = (a.min(text.len()), b.min(text.len()));
            let (start, end) = (a.min(b), a.max(b));
            let after = [&text[..start], &new, &text[end..]].concat();
            let edited = Lines::new(&text).edited(&after, start as u32, end as u32, (start + new.len()) as u32);
            prop_assert_eq!(edited, Lines::new(&after));
        }

        #[test]
        fn there_and_back(text in "[ab\u{3a9}\u{1f50c}\u{301}\r\n\t]{0,40}") {
            let lines = Lines::new(&text);
            for (at, _) in text.char_indices().chain([(text.len(), ' ')]) {
                for encoding in ALL {
                    let position = lines.position(&text, at as u32, encoding);
                    let back = lines.offset(&text, position, encoding);
                    let within_crlf = at > 0 && text.as_bytes()[at - 1] == b'\r' && text.as_bytes().get(at) == Some(&b'\n');
                    prop_assert_eq!(back, Some(at as u32 - u32::from(within_crlf)));
                    prop_assert_eq!(lines.nearest(&text, position, encoding), at as u32 - u32::from(within_crlf));
                }
            }
        }
    }
}
