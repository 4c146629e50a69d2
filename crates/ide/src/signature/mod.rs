//! What a part takes while its values are written, and what a statement is made of while it is.

mod forms;
mod statement;

use crate::{
    View,
    completion::{context::Context, words},
};
use keyon_circuit::units::base_unit;

/// A part's parameters or what stands in a statement, and which of it is being written.
#[derive(Clone, Debug, PartialEq)]
pub struct Signature {
    /// `boom_valve(coil: resistance = 24 ohm)`, `fuse NAME FROM -> TO RATING`
    pub label: String,
    /// The part's title, or what the statement says.
    pub title: Option<String>,
    #[allow(missing_docs)]
    pub params: Vec<Param>,
    /// The one that is being written.
    pub active: Option<usize>,
}

/// Something that is to be filled in.
#[derive(Clone, Debug, PartialEq)]
pub struct Param {
    /// Its bytes in the label.
    pub range: std::ops::Range<usize>,
    /// What it is.
    pub about: Option<&'static str>,
}

/// The signature at an offset: of a part inside the brackets of its use, elsewhere of the statement. Of a statement that is complete
/// only where `asked` says that somebody wants to know what else it may have.
pub fn signature(view: &View<'_>, offset: u32, asked: bool) -> Option<Signature> {
    of_part(view, offset).or_else(|| of_statement(view, offset, asked))
}

/// What stands in the statement at an offset.
fn of_statement(view: &View<'_>, offset: u32, asked: bool) -> Option<Signature> {
    let context = Context::at(view.text(), offset)?;
    let before = context.before.as_slice();
    // What comes before the form: the word itself, of a cavity its row.
    let known = |forms: &[forms::Form], at: usize| {
        let head = before.get(at)?;
        forms.iter().copied().find(|(word, _)| word == head)
    };
    let (shown, (head, form), done) = match context.body() {
        None => ("", known(forms::ITEMS, 0)?, 1),
        Some("device" | "part") => ("", known(forms::BODY, 0)?, 1),
        Some("module") => ("", known(forms::MODULE, 0)?, 1),
        Some("connector") if context.bodies.len() > 1 => ("CAVITY NAME ", known(forms::CAVITIES, 2)?, 3),
        Some("scenario") => ("", known(forms::SETUPS, 0)?, 1),
        Some("expect" | "readings") => {
            let named = before.first().is_some_and(|name| !view.elaboration.circuit.lookup(name).is_empty());
            let form = known(forms::READINGS, 0).filter(|_| !named);
            ("", form.or_else(|| known(forms::SETUPS, 0))?, 1)
        }
        Some("exercise") => ("", known(forms::EXERCISE, 0).or_else(|| known(forms::SETUPS, 0))?, 1),
        Some(_) => return None,
    };
    let rest = before.get(done..).unwrap_or_default();
    let active = statement::active(form, rest, context.quoted, asked)?;
    let label = format!("{shown}{head} {form}");
    let params = statement::params(form, shown.len() + head.len() + 1);
    Some(Signature { label, title: words::help(head).map(str::to_owned), params, active: Some(active) })
}

/// What a part takes, inside the brackets of its use.
fn of_part(view: &View<'_>, offset: u32) -> Option<Signature> {
    let before = view.text().get(..offset as usize)?;
    let line_start = before.rfind(['\n', '\r']).map_or(0, |at| at + 1);
    let line = before.get(line_start..)?;
    let open = line.rfind('(')?;
    let inside = line.get(open + 1..)?;
    if inside.contains(')') {
        return None;
    }
    let head = line.get(..open)?.trim_end();
    let name: &str = head.rsplit(|c: char| !(c.is_alphanumeric() || c == '_' || c == '.')).next()?;
    let name = name.rsplit('.').next()?;
    let part = view.elaboration.parts.iter().find(|part| part.name == name)?;
    let mut label = format!("{name}(");
    let mut params = Vec::new();
    for (i, param) in part.params.iter().enumerate() {
        if i > 0 {
            label.push_str(", ");
        }
        let start = label.len();
        label.push_str(&param.name);
        if let Some(dimension) = param.dimension {
            label.push_str(&format!(": {}", word(dimension)));
            if let Some(default) = param.default {
                label.push_str(&format!(" = {} {}", number(default.nominal), base_unit(dimension)));
            }
        }
        params.push(Param { range: start..label.len(), about: None });
    }
    label.push(')');
    // By its name where one is written, else by its place.
    let current = inside.rsplit(',').next().unwrap_or("");
    let named = current.split('=').next().map(str::trim).filter(|_| current.contains('='));
    let active = match named {
        Some(name) => part.params.iter().position(|p| p.name == name),
        None => Some(inside.matches(',').count()),
    };
    Some(Signature {
        label,
        title: part.title.clone(),
        params,
        active: active.filter(|&a| a < part.params.len()),
    })
}

fn number(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The word that a parameter's dimension is declared with.
fn word(dimension: keyon_syntax::unit::Dimension) -> String {
    format!("{dimension:?}").to_lowercase()
}
