//! Pass three: scenarios, expectations, exercises, readings.

use super::{Builder, Slot};
use crate::{Entity, ids::*, model::*, near::nearest, units};
use keyon_syntax::tree::{self, ItemKind, Name};
use smol_str::SmolStr;

impl Builder<'_> {
    pub(super) fn states(&mut self) {
        self.file = FileId(0);
        for (i, placed) in self.items().iter().enumerate() {
            self.item = i as u32;
            let slot = self.slots.get(i).copied().unwrap_or(Slot::None);
            match (&placed.item.kind, slot) {
                (ItemKind::Scenario(scenario), Slot::Scenario(id)) => {
                    let mut settings = Settings::default();
                    for setting in &scenario.settings {
                        self.setting(setting, &mut settings);
                    }
                    self.setups(&scenario.setups, &mut settings.changes);
                    if let Some(place) = self.c.scenarios.get_mut(id.index()) {
                        place.settings = settings;
                    }
                }
                (ItemKind::Expect(expect), _) => self.expect(expect),
                (ItemKind::Exercise(exercise), Slot::Exercise(index)) => self.exercise(index, exercise),
                (ItemKind::Readings(readings), Slot::Readings(index)) => self.readings(index, readings),
                (ItemKind::View(name), _) => {
                    let found = self.scenario_named(Some(name));
                    self.c.view = found.or(self.c.view);
                }
                _ => {}
            }
        }
        self.item = 0;
    }

    /// The scenario that `in` names.
    fn scenario_named(&mut self, name: Option<&Name>) -> Option<ScenarioId> {
        let name = name.filter(|n| !n.text.is_empty())?;
        let loc = self.place(name);
        if let Some(&id) = self.c.index.scenarios.get(&name.text) {
            self.occurs(loc, Entity::Scenario(id), false);
            self.used_scenarios.insert(id);
            return Some(id);
        }
        // One that was declared without a name may be it.
        if self.lost_name || self.junk_words.contains(&name.text) {
            return None;
        }
        let search = self.may_search();
        let known = self.c.scenarios.iter().filter(|_| search).map(|s| (s.name.as_str(), true));
        let near = crate::near::nearest(&name.text, known).map(str::to_owned);
        let list: Vec<&str> = self.c.scenarios.iter().take(8).map(|s| s.name.as_str()).collect();
        let help = match &near {
            Some(near) => format!("did you mean `{near}`?"),
            None if list.is_empty() => format!("declare it: `scenario {} {{ key run }}`", name.text),
            None => format!("the scenarios here are {}", list.join(", ")),
        };
        let problem =
            self.report("unknown-name", loc, format!("there is no scenario `{}`", name.text)).help(help);
        if let Some(near) = near {
            problem.write(near.as_str(), false);
            // Probably that one was meant: it is not unused.
            self.used_scenarios.extend(self.c.index.scenarios.get(near.as_str()));
        }
        None
    }

    fn expect(&mut self, expect: &tree::Expect) {
        let scenario = self.scenario_named(expect.scenario.as_ref());
        let mut changes = Vec::new();
        self.setups(&expect.setups, &mut changes);
        let rows = self.rows(&expect.claims);
        let loc = self.statement();
        self.c.expects.push(Expect { scenario, changes, rows, loc });
    }

    fn exercise(&mut self, index: usize, exercise: &tree::Exercise) {
        let scenario = self.scenario_named(exercise.scenario.as_ref());
        let mut changes = Vec::new();
        self.setups(&exercise.setups, &mut changes);
        let mut faults = Vec::new();
        for fault in &exercise.faults {
            let loc = self.at(fault.span);
            if let Some(changes) = self.fault(fault) {
                let said = self.text(loc).split_whitespace().collect::<Vec<_>>().join(" ");
                let words = said.strip_prefix("fault ").unwrap_or(&said);
                faults.push((changes, SmolStr::new(words), loc));
            }
        }
        let symptoms = self.rows(&exercise.symptoms);
        let (mut probes, mut probe_entities) = (Vec::new(), Vec::new());
        for name in &exercise.probes {
            if let Some(entity) = self.place_to_probe(name) {
                probes.push(self.c.name_of(entity));
                probe_entities.push(entity);
            }
        }
        let mut asks = Vec::new();
        for ask in &exercise.asks {
            let about = ask.points.iter().filter_map(|name| self.place_to_probe(name)).collect();
            if !ask.kind.as_ref().is_none_or(|kind| self.is_ask_kind(kind)) {
                continue;
            }
            asks.push(Ask {
                kind: ask.kind.as_ref().map(|k| k.text.clone()),
                text: ask.text.as_ref().map(|t| t.text.clone()),
                about,
                loc: self.at(ask.span),
            });
        }
        if let Some(place) = self.c.exercises.get_mut(index) {
            place.scenario = scenario;
            place.faults = faults;
            place.symptoms = symptoms;
            place.probes = probes;
            place.probe_entities = probe_entities;
            place.asks = asks;
            place.changes = changes;
        }
    }

    /// A device, connector or point. Of a device and a driver of one name the device is meant: that is what a lead goes to.
    fn place_to_probe(&mut self, name: &Name) -> Option<Entity> {
        let device = |_: &Circuit, entity: Entity| matches!(entity, Entity::Device(_));
        if self.may_mean(name, &device) == 1 {
            return self.resolve(name, "a device", &device);
        }
        self.anything(name)
    }

    /// Whether there are such questions; reported if not.
    fn is_ask_kind(&mut self, kind: &Name) -> bool {
        let known = ASK_KINDS.contains(&kind.text.as_str());
        if !known {
            let near = nearest(&kind.text, ASK_KINDS.map(|kind| (kind, true)));
            let help = match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => {
                    format!("there are {}; a text in quotes asks what nothing computes", ASK_KINDS.join(", "))
                }
            };
            let loc = self.place(kind);
            let problem = self
                .report("unknown-name", loc, format!("`{}` is no kind of question", kind.text))
                .help(help);
            if let Some(near) = near {
                problem.write(near, false);
            }
        }
        known
    }

    /// Anything that lies in the circuit.
    fn anything(&mut self, name: &Name) -> Option<Entity> {
        self.resolve(name, "a point, a connector, a device or a wire", &|_, entity| {
            !matches!(entity, Entity::Position(..) | Entity::Scenario(_))
        })
    }

    fn readings(&mut self, index: usize, readings: &tree::Readings) {
        let scenario = self.scenario_named(readings.scenario.as_ref());
        let mut changes = Vec::new();
        self.setups(&readings.setups, &mut changes);
        let rows = self.rows(&readings.rows);
        let accuracy = readings.accuracy.iter().filter_map(units::si).collect();
        if let Some(place) = self.c.readings.get_mut(index) {
            place.scenario = scenario;
            place.rows = rows;
            place.changes = changes;
            place.accuracy = accuracy;
        }
    }
}
