//! What the list tells of the item that is looked at: what a word means and how it is written, or what a named thing
//! carries or does in the state that is shown. Asked for one item at a time, since it may have to be computed.

use super::{CompletionKind as Kind, words};
use crate::{View, explain, hover};
use keyon_circuit::Entity;
use keyon_solve::Cancelled;

/// Markdown about a completion, by its kind and full name.
///
/// # Errors
/// When the view's `cancel` asks for it.
pub fn preview(view: &View<'_>, kind: Kind, name: &str) -> Result<Option<String>, Cancelled> {
    match kind {
        Kind::Rule => Ok(explain::summary(name)),
        Kind::Keyword | Kind::Word => {
            let help = words::help(name).or_else(|| words::help(name.split(' ').next()?));
            let example = template(name).map(|t| format!("```keyon\n{}\n```", plain(t)));
            let parts: Vec<String> = help.map(str::to_owned).into_iter().chain(example).collect();
            Ok((!parts.is_empty()).then(|| parts.join("\n\n")))
        }
        Kind::Unit | Kind::Colour | Kind::File => Ok(None),
        Kind::Part => match view.elaboration.parts.iter().position(|part| part.name == name) {
            Some(part) => hover::entity(view, Entity::Part(part)).map(Some),
            None => Ok(None),
        },
        _ => match view.elaboration.circuit.lookup(name).first() {
            Some(&entity) => hover::entity(view, entity).map(Some),
            None => Ok(None),
        },
    }
}

/// How an item is written, what is to be filled in between `‹` and `›`.
pub fn template(word: &str) -> Option<&'static str> {
    TEMPLATES.iter().find(|(name, _)| *name == word).map(|(_, text)| *text)
}

/// A template with its examples filled in.
pub(crate) fn plain(template: &str) -> String {
    template.replace(['‹', '›'], "")
}

const TEMPLATES: &[(&str, &str)] = &[
    ("wire", "wire ‹10›  ‹S1› -> ‹lamp.1›  ‹0.75 mm2›  ‹RD›  ‹1.2 m›"),
    ("fuse", "fuse ‹F1›  ‹battery› -> ‹S1›  ‹10 A›"),
    ("splice", "splice ‹S1›"),
    ("ground", "ground ‹G1›  \"‹frame stud›\""),
    ("supply", "supply ‹battery›  ‹12.6 V›  inner ‹15 mohm›"),
    ("lamp", "lamp ‹work_lamp›  ‹10 W› ‹12 V›"),
    ("switch", "switch ‹arm›  \"‹Lamp switch›\""),
    ("resistor", "resistor ‹R1›  ‹470 ohm›"),
    ("heater", "heater ‹plug›  ‹180 W› ‹12 V›"),
    ("coil", "coil ‹valve›  ‹24 ohm›  rated ‹12 V›"),
    ("winding", "winding ‹fan›  ‹0.6 ohm›  turns_at ‹2 A›"),
    ("thermistor", "thermistor ‹probe›  ‹2.5 kohm› at ‹25 degC›  beta ‹3500 K›"),
    ("diode", "diode ‹D1›  ‹S1› -> ‹S2›  drop ‹0.7 V›"),
    ("device", "device ‹valve›  \"‹Valve›\" : ‹part›"),
    (
        "module",
        "module ‹CU›  \"‹Control unit›\" {\n  connector A \"‹3-way›\" {\n    1  plus      feed\n    2  gnd       ground\n    3  ‹lamp_out›  drives low  on ‹120 mohm›  limit ‹2 A›\n  }\n}",
    ),
    ("connector", "connector ‹C1›  \"‹At the bulkhead›\" { ‹1, 2› }"),
    ("scenario", "scenario ‹working› { ‹key on› }"),
    ("expect", "expect in ‹working› {\n  ‹lamp›  ‹operates›\n}"),
    (
        "exercise",
        "exercise ‹dead_lamp›  \"‹The lamp stays dark›\" in ‹working› {\n  fault   open ‹11›\n  symptom ‹lamp› rests\n  probes  ‹lamp›\n  ask     volts ‹lamp›.1\n}",
    ),
    ("use", "use \"‹trade›\""),
    ("circuit", "circuit ‹my_lamp›  \"‹My lamp›\""),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Each template by itself, in a circuit, is read without a syntax error.
    #[test]
    fn templates_are_written_as_the_language_has_it() {
        for (word, text) in TEMPLATES {
            let text = plain(text);
            let text = if *word == "circuit" { text } else { format!("circuit c\n{text}\n") };
            let parse = keyon_syntax::parse(&text);
            assert!(parse.errors.is_empty(), "{word}: {:?}", parse.errors);
        }
    }
}
