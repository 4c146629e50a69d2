//! A quantity of another kind than the place takes. Found by elaboration.

crate::rule::rule! {
    name: "wrong-dimension",
    level: Error,
    group: "values",
    summary: "A quantity of the wrong kind: volts where ohms belong.",
    why: "\
A value of the wrong kind cannot be computed with, and a guess would put a wrong figure on a worksheet. The element is \
left out of the computation until it is mended.",
}
