//! An element of which the one word is a name: its value is missing.

use super::Builder;
use crate::near::nearest;
use keyon_syntax::tree::{Edge, Law, Name, Value, ValueKind};

/// A value of an element, what it is with its article, and how one may be written.
type Wanted<'e> = (&'e mut Option<Value>, &'static str, &'static str);

fn wanted(law: &mut Law) -> Option<Wanted<'_>> {
    match law {
        Law::Resistor { ohms } => Some((ohms, "a resistor needs its resistance", "470 ohm")),
        Law::Coil { ohms, .. } => Some((ohms, "a coil needs its resistance", "80 ohm")),
        Law::Winding { ohms, .. } => Some((ohms, "a winding needs its resistance", "6 ohm")),
        _ => None,
    }
}

impl Builder<'_> {
    /// `coil K 86 -> 85`: a lone word is the value (decision 2), but here it means none, and is near none. Then it was to be the
    /// name, under which contacts ask for it, and the value was forgotten. That is reported; the element with its name is given
    /// back.
    pub(super) fn named_without_value(&mut self, edge: &Edge) -> Option<Edge> {
        let path = edge.path.as_ref().filter(|_| edge.name.is_none())?;
        let mut named = edge.clone();
        let (value, needs, example) = wanted(&mut named.law)?;
        let Some(ValueKind::Parameter(word)) = value.as_ref().map(|value| &value.kind) else { return None };
        let word: Name = word.clone();
        let known = |b: &Self| b.env.iter().any(|bound| bound.name == word.text);
        if known(self) || nearest(&word.text, self.env.iter().map(|b| (b.name.as_str(), true))).is_some() {
            return None;
        }
        *value = None;
        let keyword = &edge.keyword.text;
        let loc = self.place(&word);
        let message = format!("{needs}, and this one has none: `{}` is but its name", word.text);
        let help = format!(
            "write it behind: `{keyword} {} {} -> {} {example}`",
            word.text, path.from.text, path.to.text
        );
        self.report("syntax", loc, message).help(help);
        named.name = Some(word);
        Some(named)
    }
}
