//! The circuit as a drawing beside the text.

use crate::{View, shown};
use keyon_present::{Drawn, View as Looked};

/// How it is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Look {
    Plain,
    Colours,
    State,
}

/// The drawing as SVG; of the circuit of `about` alone, where that is a name. Where it is tappable each wire says the name of
/// its point as `data-at`.
pub fn drawing(view: &View<'_>, look: Look, about: Option<&str>, tappable: bool) -> String {
    let circuit = &view.elaboration.circuit;
    let (state, name) = shown::state(view);
    let solution = view.solve(&state);
    let starts = about.map_or_else(Vec::new, |name| circuit.lookup(name));
    let only = if starts.is_empty() { Vec::new() } else { keyon_present::things_about(circuit, &starts) };
    let subject = if look == Look::State { name } else { String::new() };
    let drawn = Drawn { only, subject, tappable, ..Drawn::default() };
    let looked = match look {
        Look::Plain => Looked::Plain,
        Look::Colours => Looked::Insulation,
        Look::State => Looked::State(&solution),
    };
    keyon_present::drawing_svg(circuit, looked, &drawn)
}
