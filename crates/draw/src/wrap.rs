//! Texts that stand around a drawing, in lines no wider than it.

use crate::scene::width_of;

/// A text in lines of at most so many pixels at a size. What does not fit between two blanks stands on a line of its own.
pub fn wrap(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width_of(line, size) + width_of(" ", size) + width_of(word, size) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_hold_what_fits_and_no_word_is_lost() {
        assert_eq!(wrap("one two three", 10.0, 42.0), ["one two", "three"]);
        assert_eq!(wrap("one two three", 10.0, 41.0), ["one", "two", "three"]);
        assert_eq!(wrap("a incomprehensibility b", 10.0, 30.0), ["a", "incomprehensibility", "b"]);
        assert_eq!(wrap("  ", 10.0, 30.0), Vec::<String>::new());
    }
}
