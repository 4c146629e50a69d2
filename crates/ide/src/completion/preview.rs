//! What the list tells of the item that is looked at: what a word means and how it is written, or what a named thing
//! carries or does in the state that is shown. Asked for one item at a time, since it may have to be computed.

use super::{
    CompletionKind as Kind,
    templates::{plain, template},
    words,
};
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
