//! The controls of a module: gangs, and the stages that no gang moves.

use super::{Builder, bodies::MOST_POSITIONS, cavities::Inside, shown::RowId, values::Want};
use crate::{Entity, hash::Map, ids::*, index::Entities, joined::dotted, model::*, near::nearest};
use keyon_syntax::{
    tree::{self, Name, Way},
    unit::Dimension,
};
use smol_str::SmolStr;

pub(super) const PWM: Want =
    Want::new(Dimension::Frequency, "the frequency of the pulse", "200 Hz").above(0.0);

/// What moves a stage: where its control sends it, a place a position.
#[derive(Clone, Debug)]
pub(super) struct Moved {
    /// `None`: it cannot be moved, and stands in the place of the only position.
    pub(super) control: Option<ControlId>,
    pub(super) places: Vec<usize>,
}

impl Moved {
    /// When the stage stands in this place.
    pub(super) fn when(&self, place: usize) -> When {
        let mut positions = 0u64;
        for (position, _) in self.places.iter().enumerate().take(64).filter(|(_, p)| **p == place) {
            positions |= 1 << position;
        }
        match self.control {
            Some(control) => When::In { control, positions },
            None if positions & 1 == 1 => When::Always,
            None => When::Never,
        }
    }
}

/// The places of a stage, the one at rest first; `None` for what is no stage.
fn places(role: &tree::Role) -> Option<Vec<SmolStr>> {
    let words = |list: &[&'static str]| Some(list.iter().map(|w| SmolStr::new_static(w)).collect());
    match role {
        tree::Role::Drives { way: Way::Low | Way::High, .. } | tree::Role::Return { switched: true } => {
            words(&["off", "on"])
        }
        tree::Role::Drives { way: Way::Half, .. } => words(&["open", "low", "high"]),
        tree::Role::Switches { rest, other } => Some(vec![rest.text.clone(), other.text.clone()]),
        _ => None,
    }
}

/// A gang before its control is made.
struct Plan<'a> {
    gang: &'a tree::Gang,
    positions: Vec<SmolStr>,
    position_locs: Vec<Loc>,
    row_locs: Vec<Loc>,
    /// Stages in the order in which they are first named, with their place in each position.
    stages: Vec<(RowId, Vec<Option<usize>>)>,
    /// Positions in which a name is not known: what they leave out may be what was meant by it.
    unread: Vec<usize>,
}

impl<'a> Builder<'a> {
    /// Makes the controls of a module in source order; says what moves each stage that is shown.
    pub(super) fn module_controls(&mut self, inside: &Inside<'a>) -> Map<RowId, Moved> {
        let plans: Vec<Plan<'a>> = inside.pinout.gangs.iter().map(|gang| self.plan(inside, gang)).collect();
        // Each stage belongs to the first gang that names it.
        let mut gang_of: Map<RowId, usize> = Map::default();
        for (g, plan) in plans.iter().enumerate() {
            for (row, _) in &plan.stages {
                if let Some(&first) = gang_of.get(row) {
                    let first = plans.get(first).map(|p| p.gang.name.text.clone()).unwrap_or_default();
                    self.stage_in_two_gangs(inside, *row, plan.gang, &first);
                } else {
                    gang_of.insert(*row, g);
                }
            }
        }
        // In source order: where each control is declared.
        let mut order: Vec<(u32, Result<usize, RowId>)> = Vec::new();
        for (g, plan) in plans.iter().enumerate() {
            if plan
                .stages
                .iter()
                .any(|(row, _)| inside.cavities.contains_key(row) && gang_of.get(row) == Some(&g))
            {
                order.push((plan.gang.span.start, Ok(g)));
            }
        }
        for &row in inside.cavities.keys() {
            let is_stage = inside.row(row).and_then(|r| r.role.as_ref()).and_then(places).is_some();
            if is_stage && !gang_of.contains_key(&row) {
                order.push((inside.row(row).map_or(0, |r| r.span.start), Err(row)));
            }
        }
        order.sort_unstable_by_key(|(start, which)| (*start, *which));
        let mut moved: Map<RowId, Moved> = Map::default();
        for (_, which) in order {
            match which {
                Ok(g) => {
                    let Some(plan) = plans.get(g) else { continue };
                    self.add_gang(inside, plan, g, &gang_of, &mut moved);
                }
                Err(row) => self.add_stage_control(inside, row, &mut moved),
            }
        }
        moved
    }

    fn add_stage_control(&mut self, inside: &Inside<'a>, id: RowId, moved: &mut Map<RowId, Moved>) {
        let (Some(row), Some(&(c, k))) = (inside.row(id), inside.cavities.get(&id)) else { return };
        let Some(role) = row.role.as_ref() else { return };
        let Some(positions) = places(role) else { return };
        let kind = match role {
            tree::Role::Return { .. } => ControlKind::Return(inside.id, c, k),
            _ => ControlKind::Stage(inside.id, c, k),
        };
        let pwm = self.num_of(row.options.pwm.as_ref(), PWM);
        let name = row.name.as_ref().map_or(&row.cavity, |n| n);
        let loc = self.place(name);
        let count = positions.len();
        let control = self.add_control(
            Control {
                name: name.text.clone(),
                qualified: dotted(&inside.name, &name.text),
                title: None,
                kind,
                positions,
                pwm: pwm.map(|f| f.nominal),
                loc,
            },
            Vec::new(),
        );
        if let Some(cavity) = self.cavity_mut(inside.id, c, k) {
            cavity.control = control;
        }
        moved.insert(id, Moved { control, places: (0..count).collect() });
    }

    fn plan(&mut self, inside: &Inside<'a>, gang: &'a tree::Gang) -> Plan<'a> {
        let mut plan = Plan {
            gang,
            positions: Vec::new(),
            position_locs: Vec::new(),
            row_locs: Vec::new(),
            stages: Vec::new(),
            unread: Vec::new(),
        };
        let mut index_of: Map<RowId, usize> = Map::default();
        for row in &gang.rows {
            let loc = self.place(&row.position);
            if let Some(first) = plan.positions.iter().position(|p| *p == row.position.text) {
                let first = plan.position_locs.get(first).copied();
                self.report_duplicate(&row.position, "a position", first);
                continue;
            }
            if plan.positions.len() == MOST_POSITIONS {
                self.report(
                    "impossible-value",
                    loc,
                    format!("more than {MOST_POSITIONS} positions are not worked out"),
                )
                .help("split the gang into two");
                break;
            }
            let position = plan.positions.len();
            plan.positions.push(row.position.text.clone());
            plan.position_locs.push(loc);
            plan.row_locs.push(self.at(row.span));
            for (stage, place) in &row.sets {
                let Some((id, chosen)) = self.read_set(inside, stage, place) else {
                    plan.unread.push(position);
                    continue;
                };
                let at = *index_of.entry(id).or_insert_with(|| {
                    plan.stages.push((id, Vec::new()));
                    plan.stages.len() - 1
                });
                let Some((_, list)) = plan.stages.get_mut(at) else { continue };
                list.resize(list.len().max(position + 1), None);
                match list.get_mut(position) {
                    Some(slot @ None) => *slot = Some(chosen),
                    _ => {
                        let loc = self.place(stage);
                        let message = format!("`{}` is set twice in this position", stage.text);
                        self.report("duplicate-name", loc, message).help("keep one of the two");
                    }
                }
            }
        }
        let count = plan.positions.len();
        for (_, list) in &mut plan.stages {
            list.resize(count, None);
        }
        if count < 2 && !self.has_syntax_error(self.at(gang.span)) {
            let loc = self.place(&gang.name);
            let message = format!("gang `{}` has fewer than two positions: it moves nothing", gang.name.text);
            self.report("impossible-value", loc, message)
                .help("write a line for each position, the one at rest first");
        }
        plan
    }

    /// One stage and where it goes; the place 0 is the one at rest.
    fn read_set(&mut self, inside: &Inside<'a>, stage: &'a Name, place: &'a Name) -> Option<(RowId, usize)> {
        let known = inside.rows.get(stage.text.as_str()).copied();
        let role = known.and_then(|id| inside.row(id)).and_then(|row| row.role.as_ref());
        let list = role.and_then(places);
        let (Some(id), Some(list)) = (known, list) else {
            self.unknown_stage(inside, stage, known);
            return None;
        };
        if let Some(&(c, k)) = inside.cavities.get(&id) {
            let loc = self.place(stage);
            self.occurs(loc, Entity::Cavity(inside.id, c, k), false);
        }
        let wanted = &place.text;
        // A half bridge may be sent to the feed or the ground that it names.
        let by_node = match role {
            Some(tree::Role::Drives { way: Way::Half, to, from }) => {
                let to = to.as_ref().map(|n| &n.text).or(inside.first_ground_name.as_ref());
                let from = from.as_ref().map(|n| &n.text).or(inside.first_feed_name.as_ref());
                (to == Some(wanted)).then_some(1).or((from == Some(wanted)).then_some(2))
            }
            _ => None,
        };
        let found = list.iter().position(|p| p == wanted).or(by_node);
        if found.is_none() {
            let near = nearest(wanted, list.iter().map(|p| (p.as_str(), true))).map(str::to_owned);
            let loc = self.place(place);
            let message = format!("`{}` cannot go to `{wanted}`", stage.text);
            let words = list.join(", ");
            let problem = self.report("unknown-name", loc, message);
            match near {
                Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
                None => problem.help(format!("it can go to {words}")),
            };
        } else if matches!(role, Some(tree::Role::Switches { .. }))
            && let Some(&(c, k)) = inside.rows.get(wanted.as_str()).and_then(|row| inside.cavities.get(row))
        {
            let loc = self.place(place);
            self.occurs(loc, Entity::Cavity(inside.id, c, k), false);
        }
        Some((id, found?))
    }

    fn unknown_stage(&mut self, inside: &Inside<'a>, stage: &Name, known: Option<RowId>) {
        if stage.text.is_empty() {
            return;
        }
        let loc = self.place(stage);
        let search = self.may_search();
        let is_stage =
            |id: RowId| inside.row(id).and_then(|row| row.role.as_ref()).and_then(places).is_some();
        let mut names: Vec<(&str, bool)> =
            inside.rows.iter().filter(|_| search).map(|(name, &id)| (*name, is_stage(id))).collect();
        names.sort_unstable();
        let near = nearest(&stage.text, names.iter().copied().filter(|(_, stage)| *stage)).map(str::to_owned);
        let message = match known {
            Some(_) => format!("`{}` is no stage: a gang moves drivers and switches", stage.text),
            None => format!("`{}` has no stage `{}`", inside.name, stage.text),
        };
        let damaged = self.open_ended.contains(&inside.name);
        if damaged {
            return;
        }
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None => problem.help("name a cavity with `drives` or `switches`, and then where it goes"),
        };
    }

    fn stage_in_two_gangs(&mut self, inside: &Inside<'a>, row: RowId, gang: &tree::Gang, first: &SmolStr) {
        let name = inside.row(row).and_then(|r| r.name.as_ref()).map(|n| n.text.clone()).unwrap_or_default();
        let sets = gang.rows.iter().flat_map(|r| &r.sets);
        let place =
            sets.map(|(stage, _)| stage).find(|stage| stage.text == name).map_or(gang.span, |n| n.span);
        let loc = self.at(place);
        self.report("duplicate-name", loc, format!("`{name}` is already moved by gang `{first}`"))
            .help("leave a stage to one gang, or make one gang of the two");
    }

    fn add_gang(
        &mut self,
        inside: &Inside<'a>,
        plan: &Plan<'a>,
        g: usize,
        gang_of: &Map<RowId, usize>,
        moved: &mut Map<RowId, Moved>,
    ) {
        let gang = plan.gang;
        // Pulsed as the gang says, else as one of its stages says.
        let of_stage = plan.stages.iter().find_map(|(row, _)| inside.row(*row)?.options.pwm.as_ref());
        let pwm = self.num_of(gang.pwm.as_ref().or(of_stage), PWM);
        let loc = self.place(&gang.name);
        let index = self.c.modules.get(inside.id.index()).map_or(0, |m| m.gangs.len());
        let qualified = dotted(&inside.name, &gang.name.text);
        let control = self.add_control(
            Control {
                name: gang.name.text.clone(),
                qualified: qualified.clone(),
                title: Self::title(gang.title.as_ref()),
                kind: ControlKind::Gang(inside.id, index),
                positions: plan.positions.clone(),
                pwm: pwm.map(|f| f.nominal),
                loc,
            },
            plan.position_locs.clone(),
        );
        if let Some(control) = control {
            match self.c.index.things.get(&qualified).copied() {
                Some(first) => {
                    let what = super::report::a_kind(&self.c, first);
                    let first = self.named_at(first);
                    self.report_duplicate(&gang.name, &format!("{what} of this module"), first);
                }
                None if !gang.name.text.is_empty() => {
                    self.c.index.things.insert(qualified, Entity::Control(control));
                    Entities::add(&mut self.c.index.inner, gang.name.text.clone(), Entity::Control(control));
                }
                None => {}
            }
            self.occurs(loc, Entity::Control(control), true);
        }
        let own: Vec<_> = plan.stages.iter().filter(|(row, _)| gang_of.get(row) == Some(&g)).collect();
        let mut gaps = Vec::new();
        let mut stages = Vec::new();
        for (row, list) in &own {
            let name =
                inside.row(*row).and_then(|r| r.name.as_ref()).map(|n| n.text.clone()).unwrap_or_default();
            for (position, place) in list.iter().enumerate() {
                if let (None, Some(word), Some(&row)) =
                    (place, plan.positions.get(position), plan.row_locs.get(position))
                    && !plan.unread.contains(&position)
                {
                    gaps.push((word.clone(), name.clone(), row));
                }
            }
            // A stage that a position does not name rests there.
            let places = list.iter().map(|place| place.unwrap_or(0)).collect();
            moved.insert(*row, Moved { control, places });
            if let Some(&(c, k)) = inside.cavities.get(row) {
                stages.push((c, k));
                if let Some(cavity) = self.cavity_mut(inside.id, c, k) {
                    cavity.control = control;
                }
            }
        }
        let Some(control) = control else { return };
        if let Some(module) = self.c.modules.get_mut(inside.id.index()) {
            module.gangs.push(Gang {
                control,
                stages,
                named: own.len(),
                gaps,
                rows: plan.row_locs.clone(),
                loc,
            });
        }
    }
}
