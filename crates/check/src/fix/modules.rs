//! Edits of modules: what stands in a cavity's row, what a gang's positions say.

use super::edit::{self, Edit};
use crate::Context;
use keyon_circuit::model::Loc;
use keyon_syntax::tree::{CavityRow, Pinout, Role, Way};
use smol_str::SmolStr;

/// The pinout in the item at a place.
pub(crate) fn pinout<'a>(context: &Context<'a>, loc: Loc) -> Option<&'a Pinout> {
    edit::item(context.elaboration, loc)?.kind.pinout()
}

/// The row of a stage by its name.
pub(crate) fn row<'a>(pinout: &'a Pinout, name: &str) -> Option<&'a CavityRow> {
    let rows = pinout.housings.iter().flat_map(|h| &h.rows);
    rows.into_iter().find(|row| row.name.as_ref().is_some_and(|n| n.text == name))
}

/// Where a stage stands at rest, as a gang's position says it.
pub(crate) fn rest_place(row: &CavityRow) -> Option<SmolStr> {
    Some(match row.role.as_ref()? {
        Role::Switches { rest, .. } => rest.text.clone(),
        Role::Drives { way: Way::Half, .. } => "open".into(),
        Role::Drives { .. } => "off".into(),
        _ => return None,
    })
}

/// Names a stage, standing where it rests, in these positions of a gang.
pub(crate) fn name_stage(context: &Context<'_>, positions: &[Loc], stage: &str) -> Option<Vec<Edit>> {
    let pinout = pinout(context, *positions.first()?)?;
    let place = rest_place(row(pinout, stage)?)?;
    Some(positions.iter().map(|&row| edit::behind(row, format!("  {stage} {place}"))).collect())
}

/// Says in a row or at a splice who shares it.
pub(crate) fn shared_by(loc: Loc, sharers: &[SmolStr]) -> Edit {
    let names = sharers.iter().map(SmolStr::as_str).collect::<Vec<_>>().join(", ");
    edit::behind(loc, format!("  shared by {names}"))
}
