//! What a part takes, while its values are written.

use crate::View;
use keyon_circuit::units::base_unit;

/// A part's parameters, and the one that is being written.
#[derive(Clone, Debug, PartialEq)]
pub struct Signature {
    /// `boom_valve(coil: resistance = 24 ohm)`
    pub label: String,
    /// The part's title.
    pub title: Option<String>,
    /// The bytes of each parameter in the label.
    pub params: Vec<std::ops::Range<usize>>,
    #[allow(missing_docs)]
    pub active: Option<usize>,
}

/// The signature at an offset: inside the brackets of a part's use.
pub fn signature(view: &View<'_>, offset: u32) -> Option<Signature> {
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
        params.push(start..label.len());
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
