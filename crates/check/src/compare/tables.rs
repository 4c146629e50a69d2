//! Truth tables of two versions: every position of the controls in which a device does something else.

use keyon_circuit::{
    ids::*,
    model::{Circuit, Control},
};
use keyon_solve::{Cancel, Cancelled, State, Table, TableGroup, TableRow};
use smol_str::SmolStr;
use std::collections::{BTreeMap, BTreeSet};

/// Pairs of rows of one device that are looked at: beyond, its tables are not compared.
const MOST_PAIRS: usize = 1 << 22;

/// What differs between truth tables.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tables {
    /// In the order of the new circuit.
    pub cells: Vec<CellChange>,
    /// Devices with loads that only one version has, `true` for the new one.
    pub devices: Vec<(SmolStr, bool)>,
    /// Devices of which some positions could not be compared: there are too many.
    pub cut: Vec<SmolStr>,
}

/// A device that does something else in some position of the controls.
#[derive(Clone, Debug, PartialEq)]
pub struct CellChange {
    #[allow(missing_docs)]
    pub device: SmolStr,
    /// Control and position; controls that do not matter are left out.
    pub when: Vec<(SmolStr, SmolStr)>,
    #[allow(missing_docs)]
    pub old: SmolStr,
    #[allow(missing_docs)]
    pub new: SmolStr,
}

pub(super) fn changes(old: &Circuit, new: &Circuit, cancel: &dyn Cancel) -> Result<Tables, Cancelled> {
    let table = |circuit: &Circuit| {
        let rest = State::rest(circuit);
        keyon_solve::table(circuit, &rest, &[], &[], &[], cancel)
    };
    let (before, after) = (table(old)?, table(new)?);
    let (known, now) = (columns(old, &before), columns(new, &after));
    let mut out = Tables::default();
    for (group, column, name) in ordered(new, &after) {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        match known.get(&name) {
            Some(&(other, at)) => {
                let pair = Pair { old, new, before: other, after: group };
                pair.compare(&name, at, column, &mut out);
            }
            None => out.devices.push((name, true)),
        }
    }
    let gone = ordered(old, &before).into_iter().filter(|(.., name)| !now.contains_key(name));
    out.devices.extend(gone.map(|(.., name)| (name, false)));
    Ok(out)
}

/// Every device's group and column, by its name.
fn columns<'a>(circuit: &Circuit, table: &'a Table) -> BTreeMap<SmolStr, (&'a TableGroup, usize)> {
    ordered(circuit, table).into_iter().map(|(group, column, name)| (name, (group, column))).collect()
}

/// The same in the circuit's order.
fn ordered<'a>(circuit: &Circuit, table: &'a Table) -> Vec<(&'a TableGroup, usize, SmolStr)> {
    let mut all: Vec<(DeviceId, &TableGroup, usize)> = Vec::new();
    for group in &table.groups {
        all.extend(group.devices.iter().enumerate().map(|(column, &device)| (device, group, column)));
    }
    all.sort_by_key(|(device, ..)| *device);
    let named = all.into_iter().filter_map(|(device, group, column)| {
        Some((group, column, circuit.devices.get(device.index())?.name.clone()))
    });
    named.collect()
}

/// The groups of one device in both versions.
struct Pair<'a> {
    old: &'a Circuit,
    new: &'a Circuit,
    before: &'a TableGroup,
    after: &'a TableGroup,
}

impl Pair<'_> {
    fn compare(&self, name: &SmolStr, old_column: usize, new_column: usize, out: &mut Tables) {
        if self.before.rows.len().saturating_mul(self.after.rows.len()) > MOST_PAIRS {
            out.cut.push(name.clone());
            return;
        }
        if self.before.cut.is_some() || self.after.cut.is_some() {
            out.cut.push(name.clone());
        }
        // Rows may be joined otherwise: whatever positions two rows have in common is compared once.
        let mut told: BTreeSet<Vec<(SmolStr, SmolStr)>> = BTreeSet::new();
        for new_row in &self.after.rows {
            for old_row in &self.before.rows {
                let (Some(old), Some(new)) =
                    (old_row.devices.get(old_column), new_row.devices.get(new_column))
                else {
                    continue;
                };
                if old == new {
                    continue;
                }
                let Some(when) = self.meet(old_row, new_row) else { continue };
                if told.insert(when.clone()) {
                    out.cells.push(CellChange {
                        device: name.clone(),
                        when,
                        old: old.clone(),
                        new: new.clone(),
                    });
                }
            }
        }
    }

    /// The positions for which both rows stand, if there are any. A control that one version does not have, or that does
    /// not matter to it, is free there.
    fn meet(&self, old: &TableRow, new: &TableRow) -> Option<Vec<(SmolStr, SmolStr)>> {
        let mut when = positions(self.new, self.after, new);
        for (control, position) in positions(self.old, self.before, old) {
            match when.iter().find(|(name, _)| *name == control) {
                Some((_, other)) if *other != position => return None,
                Some(_) => {}
                None => when.push((control, position)),
            }
        }
        Some(when)
    }
}

/// Control and position of a row, by name.
fn positions(circuit: &Circuit, group: &TableGroup, row: &TableRow) -> Vec<(SmolStr, SmolStr)> {
    let control = |id: &ControlId| -> Option<&Control> { circuit.controls.get(id.index()) };
    let held = group.controls.iter().zip(&row.when).filter_map(|(id, position)| {
        let control = control(id)?;
        Some((control.name.clone(), control.positions.get((*position)?)?.clone()))
    });
    held.collect()
}
