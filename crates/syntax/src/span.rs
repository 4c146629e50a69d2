//! Byte ranges.

/// A half-open range of bytes. Inside an [`Item`](crate::tree::Item) spans are relative to the item's first byte,
/// so that an edit elsewhere leaves an item's tree untouched; tokens and errors of a whole file are absolute.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The range `start .. end`.
    pub fn new(start: usize, end: usize) -> Self {
        Self { start: start as u32, end: end as u32 }
    }
    /// Both ranges and what lies between them.
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }
    /// The same range, moved to the right by `by` bytes.
    #[must_use]
    pub fn moved(self, by: u32) -> Self {
        Self { start: self.start + by, end: self.end + by }
    }
    /// Number of bytes.
    pub fn len(self) -> usize {
        (self.end - self.start) as usize
    }
    /// Whether no byte lies in it.
    pub fn is_empty(self) -> bool {
        self.start == self.end
    }
    /// Whether `offset` lies in it or directly at its end (as a cursor does).
    pub fn touches(self, offset: u32) -> bool {
        self.start <= offset && offset <= self.end
    }
    /// As a range of `usize`, to slice a text with.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
}

impl std::fmt::Debug for Span {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}..{}", self.start, self.end)
    }
}
