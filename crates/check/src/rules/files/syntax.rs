//! Text that cannot be read. Found by the parser.

crate::rule::rule! {
    name: "syntax",
    level: Error,
    group: "files",
    summary: "The text does not fit the grammar here; the message says what was expected.",
    why: "\
What cannot be read is not checked: a circuit with a line missing is another circuit. Only the item in which the \
mistake stands is left out; everything else is read as usual, and what follows from the gap is not reported.",
}
