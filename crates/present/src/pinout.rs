//! The pin-out of a module, a connector or a device: what is in each cavity, where its wire leads, and what it reads.

use crate::{
    cautions, figure,
    grid::{Column, Grid},
    state::{reading_cell, window_mark},
};
use keyon_circuit::{Entity, entity::role_words, ids::*, model::*};
use keyon_solve::{Bands, Cancel, Cancelled, NodeState, Reading, Solution, State, solve, windows};
use std::collections::{BTreeSet, VecDeque};

/// A state that readings are given in.
#[derive(Clone, Debug)]
pub struct PinoutState {
    /// Heads its column.
    pub name: String,
    #[allow(missing_docs)]
    pub state: State,
}

/// What is asked of a pin-out.
#[derive(Clone, Debug, Default)]
pub struct Pinout {
    #[allow(missing_docs)]
    pub states: Vec<PinoutState>,
    /// Also what the harness side reads with the connector off.
    pub unplugged: bool,
    /// Lowest and highest of every reading.
    pub windows: Option<Bands>,
}

/// A place that a reading is taken at.
#[derive(Clone, Debug)]
struct Place {
    number: String,
    name: String,
    role: String,
    point: PointId,
    /// What opens when it is unplugged.
    joint: ElementId,
}

/// The table, and what stands above and below it.
#[derive(Clone, Debug)]
pub struct PinoutTable {
    /// `SCU A  12-way grey, wire side`.
    pub title: String,
    #[allow(missing_docs)]
    pub grid: Grid,
    /// What the marks mean, what is assumed, cautions.
    pub notes: Vec<String>,
}

/// The pin-outs of what an entity has connectors of: a table for each connector.
///
/// # Errors
/// When `cancel` asks for it.
pub fn pinout(
    circuit: &Circuit,
    subject: Entity,
    wanted: &Pinout,
    cancel: &dyn Cancel,
) -> Result<Vec<PinoutTable>, Cancelled> {
    let mut tables = Vec::new();
    match subject {
        Entity::Module(m) => {
            let count = circuit.modules.get(m.index()).map_or(0, |m| m.connectors.len());
            for c in 0..count {
                tables.push(connector(circuit, m, c, wanted, cancel)?);
            }
        }
        Entity::Connector(m, c) | Entity::Cavity(m, c, _) => {
            tables.push(connector(circuit, m, c, wanted, cancel)?);
        }
        Entity::Device(d) => {
            if let Some(device) = circuit.devices.get(d.index()) {
                let title = heading(&device.name, device.title.as_deref());
                let places = device.pins.iter().map(|pin| Place {
                    number: pin.name.to_string(),
                    name: String::new(),
                    role: String::new(),
                    point: pin.outside,
                    joint: pin.terminal,
                });
                tables.push(table(circuit, title, &places.collect::<Vec<_>>(), wanted, cancel)?);
            }
        }
        Entity::Inline(i) | Entity::InlineCavity(i, _) => {
            if let Some(inline) = circuit.inlines.get(i.index()) {
                let title = heading(&inline.name, inline.title.as_deref());
                // Both halves: unplugged, each reads for itself.
                let places = inline.cavities.iter().flat_map(|cavity| {
                    [("a", cavity.a), ("b", cavity.b)].map(|(half, point)| Place {
                        number: format!("{}.{half}", cavity.name),
                        name: String::new(),
                        role: IN_LINE.to_owned(),
                        point,
                        joint: cavity.joint,
                    })
                });
                tables.push(table(circuit, title, &places.collect::<Vec<_>>(), wanted, cancel)?);
            }
        }
        _ => {}
    }
    even_out(&mut tables);
    Ok(tables)
}

/// Tables of one module have the same columns.
fn even_out(tables: &mut [PinoutTable]) {
    let last = |t: &PinoutTable| t.grid.columns.last().is_some_and(|c| c.title == CAUTION);
    if tables.iter().any(last) {
        for table in tables.iter_mut().filter(|t| !last(t)) {
            table.grid.columns.push(Column::words(CAUTION));
            table.grid.rows.iter_mut().for_each(|row| row.push(String::new()));
        }
    }
}

/// The role of a way through an in-line connector.
const IN_LINE: &str = "in line";
/// Heads the column of cautions.
const CAUTION: &str = "caution";

fn heading(name: &str, title: Option<&str>) -> String {
    title.map_or_else(|| name.to_owned(), |title| format!("{name}  {title}"))
}

fn connector(
    circuit: &Circuit,
    module: ModuleId,
    index: usize,
    wanted: &Pinout,
    cancel: &dyn Cancel,
) -> Result<PinoutTable, Cancelled> {
    let module = circuit.modules.get(module.index());
    let connector = module.and_then(|m| m.connectors.get(index));
    let (Some(module), Some(connector)) = (module, connector) else {
        return table(circuit, String::new(), &[], wanted, cancel);
    };
    let name = match connector.name.as_str() {
        "" => module.name.to_string(),
        name => format!("{} {name}", module.name),
    };
    let places = connector.cavities.iter().map(|cavity| Place {
        number: cavity.number.to_string(),
        name: cavity.name.to_string(),
        role: role_text(cavity),
        point: cavity.outside,
        joint: cavity.terminal,
    });
    table(circuit, heading(&name, connector.title.as_deref()), &places.collect::<Vec<_>>(), wanted, cancel)
}

fn role_text(cavity: &Cavity) -> String {
    let words = role_words(&cavity.role);
    match &cavity.role {
        Role::Reference { volts } => format!("{words} {} V", figure::volts(volts.nominal)),
        _ => words.to_owned(),
    }
}

fn table(
    circuit: &Circuit,
    title: String,
    places: &[Place],
    wanted: &Pinout,
    cancel: &dyn Cancel,
) -> Result<PinoutTable, Cancelled> {
    // Only modules have roles, and then names too.
    let roles = places.iter().any(|p| !p.role.is_empty());
    let named = roles && places.iter().any(|p| p.role != IN_LINE);
    let mut columns = vec![Column::key("cavity")];
    if named {
        columns.push(Column::key("name"));
    }
    columns.extend(["wire", "colour", "gauge", "leads to"].map(Column::words));
    if roles {
        columns.push(Column::words("role"));
    }
    let mut grid = Grid { columns, rows: Vec::new() };
    for place in places {
        let mut row = vec![place.number.clone()];
        if named {
            row.push(place.name.clone());
        }
        // Of an in-line connector each half leads its own way.
        let joint = (place.role == IN_LINE).then_some(place.joint);
        row.extend(wire_cells(circuit, place.point, joint));
        if roles {
            row.push(place.role.clone());
        }
        grid.rows.push(row);
    }
    let mut notes = Notes::default();
    let mut first = None;
    for PinoutState { name, state } in &wanted.states {
        let solution = solve(circuit, state);
        readings(circuit, name, state, &solution, places, wanted, &mut grid, &mut notes, cancel)?;
        if wanted.unplugged {
            let mut off = state.clone();
            off.changes.extend(places.iter().map(|p| Change::Open(p.joint)));
            let solution = solve(circuit, &off);
            let name = format!("{name}, unplugged");
            readings(circuit, &name, &off, &solution, places, wanted, &mut grid, &mut notes, cancel)?;
        }
        first.get_or_insert(solution);
    }
    let mut all = notes.lines();
    if let Some(solution) = &first {
        let column = care(circuit, places, solution);
        if column.iter().any(|cell| !cell.is_empty()) {
            grid.columns.push(Column::words(CAUTION));
            for (row, cell) in grid.rows.iter_mut().zip(column) {
                row.push(cell);
            }
        }
    }
    all.push(assumptions(circuit, wanted));
    Ok(PinoutTable { title: format!("{title}, seen from the wire side"), grid, notes: all })
}

/// Number, colour, gauge of the wires in a cavity, and where they lead.
fn wire_cells(circuit: &Circuit, point: PointId, closed: Option<ElementId>) -> [String; 4] {
    let (mut numbers, mut colours, mut gauges) = (Vec::new(), Vec::new(), Vec::new());
    for wire in &circuit.wires {
        for stretch in &wire.stretches {
            let Some(element) = circuit.elements.get(stretch.element.index()) else { continue };
            if element.from != point && element.to != point {
                continue;
            }
            numbers.extend(wire.numbered.then(|| wire.name.to_string()));
            colours.extend(stretch.colour.as_ref().map(ToString::to_string));
            gauges.extend(stretch.gauge.as_ref().map(|g| g.trim_end().to_owned()));
        }
    }
    [numbers.join(", "), colours.join(", "), gauges.join(", "), leads(circuit, point, closed)]
}

/// Where the loom leads from a point: through splices and in-line connectors to pins, fuses, grounds, supplies. In-line cavities
/// that lie before the first splice are named: the loom parts there.
pub fn leads_to(circuit: &Circuit, start: PointId) -> String {
    leads(circuit, start, None)
}

/// The same, not on through `closed`.
fn leads(circuit: &Circuit, start: PointId, closed: Option<ElementId>) -> String {
    let closed = closed.and_then(|e| circuit.elements.get(e.index()));
    let mut seen = BTreeSet::from([start]);
    let mut queue = VecDeque::from([start]);
    let (mut ends, mut fuses, mut first_splice) = (Vec::new(), Vec::new(), None);
    let mut inlines: Vec<String> = Vec::new();
    while let Some(at) = queue.pop_front() {
        let passes = |e: &&Element| !closed.is_some_and(|closed| std::ptr::eq(*e, closed));
        for element in circuit.elements.iter().filter(|e| e.from == at || e.to == at).filter(passes) {
            let other = if element.from == at { element.to } else { element.from };
            match element.kind {
                ElementKind::Fuse(_) => {
                    let rating = element.rating.map(|r| format!(" {} A", figure::short(r.nominal, 3)));
                    fuses.push(format!("{}{}", element.name, rating.unwrap_or_default()));
                }
                ElementKind::Wire | ElementKind::Inline | ElementKind::Tie if seen.insert(other) => {
                    let Some(point) = circuit.points.get(other.index()) else { continue };
                    match point.kind {
                        PointKind::Splice(_) => {
                            first_splice.get_or_insert_with(|| point.name.to_string());
                            queue.push_back(other);
                        }
                        PointKind::InlineSide(i, c, _) => {
                            let cavity =
                                circuit.inlines.get(i.index()).and_then(|i| Some((i, i.cavities.get(c)?)));
                            let name = cavity.map(|(i, cavity)| format!("{}.{}", i.name, cavity.name));
                            if let Some(name) =
                                name.filter(|n| first_splice.is_none() && !inlines.contains(n))
                            {
                                inlines.push(name);
                            }
                            queue.push_back(other);
                        }
                        PointKind::Pin(..) => {
                            ends.push(point.name.to_string());
                            // What hangs on the same pin belongs to it.
                            queue.push_back(other);
                        }
                        _ => ends.push(point.name.to_string()),
                    }
                }
                _ => {}
            }
        }
    }
    fuses.dedup();
    let ends = if fuses.is_empty() { shortened(&ends, 4) } else { shortened(&fuses, 3) };
    let there = match first_splice {
        Some(splice) if !ends.is_empty() => format!("{splice} ({ends})"),
        Some(splice) => splice,
        None => ends,
    };
    match inlines.is_empty() {
        true => there,
        false => format!("{} to {there}", inlines.join(", ")),
    }
}

fn shortened(names: &[String], most: usize) -> String {
    let more = names.len().saturating_sub(most);
    let shown = names.iter().take(most).cloned().collect::<Vec<_>>().join(", ");
    if more > 0 { format!("{shown} and {more} more") } else { shown }
}

/// What the marks in the cells mean, said once.
#[derive(Debug, Default)]
struct Notes {
    through_load: bool,
    floats: bool,
    sampled: bool,
}

impl Notes {
    fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if self.through_load {
            lines.push(
                "* through a load or a module's pull-up, no current: the return is off or open".to_owned(),
            );
        }
        if self.floats {
            lines.push("floats: joined to nothing; a meter shows about 0 V".to_owned());
        }
        if self.sampled {
            lines.push("~ found by sampling; every other bound is proved".to_owned());
        }
        lines
    }
}

#[allow(clippy::too_many_arguments)]
fn readings(
    circuit: &Circuit,
    name: &str,
    state: &State,
    solution: &Solution,
    places: &[Place],
    wanted: &Pinout,
    grid: &mut Grid,
    notes: &mut Notes,
    cancel: &dyn Cancel,
) -> Result<(), Cancelled> {
    let bounds = match wanted.windows {
        Some(bands) => {
            let all: Vec<Reading> = places.iter().map(|p| Reading::Volts(p.point)).collect();
            Some(windows(circuit, state, &all, bands, cancel)?)
        }
        None => None,
    };
    grid.columns.push(Column::figures(name));
    for (i, (row, place)) in grid.rows.iter_mut().zip(places).enumerate() {
        let index = place.point.index();
        let node = solution.node_states.get(index).copied().unwrap_or(NodeState::Open);
        let mut cell = reading_cell(solution, place.point);
        notes.through_load |= cell.ends_with('*');
        notes.floats |= cell == "floats";
        if let Some(window) = bounds.as_ref().and_then(|b| b.get(i)).and_then(Option::as_ref) {
            let mark = window_mark(window);
            notes.sampled |= !mark.is_empty();
            if node != NodeState::Open {
                cell =
                    format!("{cell} ({} .. {}{mark})", figure::volts(window.low), figure::volts(window.high));
            }
        }
        row.push(cell);
    }
    Ok(())
}

/// The gravest caution of each place, in the states asked for.
fn care(circuit: &Circuit, places: &[Place], first: &Solution) -> Vec<String> {
    let each = places.iter().map(|place| {
        if cautions::landings(circuit, place.point).is_empty() {
            return String::new();
        }
        let all = cautions::at_point(circuit, first, place.point);
        let said = all.iter().find(|c| c.starts_with("Not from") || c.starts_with("Meter only"));
        said.map_or_else(String::new, |c| c.trim_end_matches('.').to_owned())
    });
    each.collect()
}

/// What the readings stand on.
fn assumptions(circuit: &Circuit, wanted: &Pinout) -> String {
    let supplies =
        circuit.supplies.iter().map(|s| format!("{} {} V", s.name, figure::volts(s.volts.nominal)));
    let supplies = supplies.collect::<Vec<_>>().join(", ");
    let readings = if wanted.states.is_empty() {
        String::new()
    } else {
        format!("Volts with a 10 MΩ meter, black lead on the common ground; {supplies}. ")
    };
    format!("{readings}Computed; the maker's data wins.")
}

/// The tables as text, each with its title and notes.
pub fn pinout_text(tables: &[PinoutTable], width: usize) -> String {
    let each = tables.iter().map(|table| {
        let mut grid = table.grid.clone();
        let mut notes = table.notes.clone();
        // Long words make a wide column: they stand below.
        if grid.columns.last().is_some_and(|c| c.title == CAUTION) {
            grid.columns.pop();
            let mut said: Vec<(String, Vec<String>)> = Vec::new();
            for row in &mut grid.rows {
                let caution = row.pop().unwrap_or_default();
                let place = row.first().cloned().unwrap_or_default();
                match said.iter_mut().find(|(words, _)| *words == caution) {
                    _ if caution.is_empty() => {}
                    Some((_, places)) => places.push(place),
                    None => said.push((caution, vec![place])),
                }
            }
            let lines = said.into_iter().map(|(words, places)| format!("{}: {words}", places.join(", ")));
            notes.splice(0..0, lines);
        }
        let mut out = format!("{}\n\n{}", table.title, grid.text(width));
        for note in &notes {
            out.push_str(&format!("\n{}", crate::grid::wrap(note, width, 2)));
        }
        out.trim_end().to_owned() + "\n"
    });
    each.collect::<Vec<_>>().join("\n")
}

/// The same as Markdown.
pub fn pinout_markdown(tables: &[PinoutTable]) -> String {
    let each = tables.iter().map(|table| {
        let notes: Vec<String> = table.notes.iter().map(|n| crate::grid::escape_markdown(n)).collect();
        format!(
            "### {}\n\n{}\n{}\n",
            crate::grid::escape_markdown(&table.title),
            table.grid.markdown(),
            notes.join("  \n")
        )
    });
    each.collect::<Vec<_>>().join("\n")
}

/// The same as CSV: a first column names the connector.
pub fn pinout_csv(tables: &[PinoutTable]) -> String {
    let mut out = String::new();
    for (i, table) in tables.iter().enumerate() {
        let name = table.title.split(", seen").next().unwrap_or_default().to_owned();
        let mut grid = table.grid.clone();
        grid.columns.insert(0, Column::key("connector"));
        for row in &mut grid.rows {
            row.insert(0, name.clone());
        }
        let text = grid.csv();
        // The titles once.
        out.push_str(if i == 0 { &text } else { text.split_once('\n').map_or("", |(_, rows)| rows) });
    }
    out
}

/// The same as HTML: a figure each, for a page of one's own.
pub fn pinout_html(tables: &[PinoutTable]) -> String {
    let each = tables.iter().map(|table| {
        let notes: Vec<String> =
            table.notes.iter().map(|n| format!("<p>{}</p>\n", crate::grid::escape_html(n))).collect();
        format!(
            "<section class=\"pinout\">\n<h3>{}</h3>\n{}{}</section>\n",
            crate::grid::escape_html(&table.title),
            table.grid.html(),
            notes.concat()
        )
    });
    each.collect()
}
