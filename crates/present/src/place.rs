//! Lines and columns of a text for people and for JSON: both from 1, columns count characters.

/// Where the lines of a text begin. Lines end with a line feed, a carriage return, or both.
#[derive(Clone, Debug)]
pub struct Lines {
    starts: Vec<usize>,
}

impl Lines {
    #[allow(missing_docs)]
    pub fn new(text: &str) -> Self {
        let bytes = text.as_bytes();
        let mut starts = vec![0];
        for (index, &byte) in bytes.iter().enumerate() {
            if byte == b'\n' || (byte == b'\r' && bytes.get(index + 1) != Some(&b'\n')) {
                starts.push(index + 1);
            }
        }
        Self { starts }
    }

    /// Line and column, from 1, of a byte; one inside a character counts as the character's first.
    pub fn place(&self, text: &str, byte: usize) -> (usize, usize) {
        let byte = floor(text, byte);
        let line = self.starts.partition_point(|&start| start <= byte).max(1);
        let start = self.starts.get(line - 1).copied().unwrap_or(0);
        let column = text.get(start..byte).map_or(0, |before| before.chars().count());
        // A byte order mark is no column.
        let mark = usize::from(line == 1 && byte > 0 && text.starts_with('\u{feff}'));
        (line, column + 1 - mark)
    }

    /// The bytes of a line (from 1) without its end.
    pub fn line<'a>(&self, text: &'a str, line: usize) -> &'a str {
        let start = line.checked_sub(1).and_then(|l| self.starts.get(l)).copied().unwrap_or(text.len());
        let end = self.starts.get(line).copied().unwrap_or(text.len());
        text.get(start..end).unwrap_or("").trim_end_matches(['\r', '\n'])
    }

    /// First byte of a line (from 1).
    pub fn start(&self, line: usize) -> usize {
        line.checked_sub(1).and_then(|l| self.starts.get(l)).copied().unwrap_or(0)
    }
}

/// The last character boundary at or before a byte, inside the text.
pub fn floor(text: &str, byte: usize) -> usize {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    byte
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
        assert_eq!(lines.line(text, 1), "ä°b");
        assert_eq!(lines.line(text, 9), "");
    }

    #[test]
    fn a_byte_order_mark_is_no_column() {
        let text = "\u{feff}ab";
        assert_eq!(Lines::new(text).place(text, 4), (1, 2));
        assert_eq!(Lines::new(text).place(text, 0), (1, 1));
    }
}
