//! Pass one, of what is said of states: the names of scenarios, exercises and readings.

use super::{Builder, Slot};
use crate::{Entity, ids::*, model::*};
use keyon_syntax::{Span, tree};

impl Builder<'_> {
    pub(super) fn declare_exercise(&mut self, exercise: &tree::Exercise) -> Slot {
        let name = &exercise.name;
        if name.text.is_empty() {
            return Slot::None;
        }
        if let Some(first) = self.c.index.exercises.get(&name.text).copied() {
            let first = self.c.exercises.get(first).map(|e| e.loc);
            self.report_duplicate(name, "an exercise", first);
            return Slot::None;
        }
        let index = self.c.exercises.len();
        let loc = self.place(name);
        self.c.index.exercises.insert(name.text.clone(), index);
        self.c.exercises.push(Exercise {
            name: name.text.clone(),
            title: Self::title(exercise.title.as_ref()),
            scenario: None,
            faults: Vec::new(),
            symptoms: Vec::new(),
            probes: Vec::new(),
            probe_entities: Vec::new(),
            asks: Vec::new(),
            changes: Vec::new(),
            loc,
        });
        self.occurs(loc, Entity::Exercise(index), true);
        Slot::Exercise(index)
    }

    pub(super) fn declare_scenario(&mut self, scenario: &tree::Scenario) -> Slot {
        let name = &scenario.name;
        if name.text.is_empty() {
            return Slot::None;
        }
        if let Some(first) = self.c.index.scenarios.get(&name.text).copied() {
            let first = self.c.scenarios.get(first.index()).map(|s| s.loc);
            self.report_duplicate(name, "a scenario", first);
            return Slot::None;
        }
        let id = ScenarioId::from(self.c.scenarios.len());
        let loc = self.place(name);
        self.c.index.scenarios.insert(name.text.clone(), id);
        self.c.scenarios.push(Scenario {
            name: name.text.clone(),
            title: Self::title(scenario.title.as_ref()),
            settings: Settings::default(),
            actions: scenario.actions.iter().map(|a| a.text.clone()).collect(),
            loc,
        });
        self.occurs(loc, Entity::Scenario(id), true);
        Slot::Scenario(id)
    }

    pub(super) fn declare_readings(&mut self, readings: &tree::Readings) -> Slot {
        let index = self.c.readings.len();
        let name = readings.name.as_ref().filter(|name| !name.text.is_empty());
        if let Some(name) = name {
            if let Some(first) = self.c.index.readings.get(&name.text).copied() {
                let first = self.c.readings.get(first).map(|r| r.loc);
                self.report_duplicate(name, "a set of readings", first);
            } else {
                self.c.index.readings.insert(name.text.clone(), index);
            }
            let loc = self.place(name);
            self.occurs(loc, Entity::Readings(index), true);
        }
        let statement = self.items().get(self.item as usize).map_or(Span::default(), |p| p.item.statement);
        let loc = name.map_or_else(|| self.at(statement), |name| self.place(name));
        self.c.readings.push(Readings {
            name: name.map(|n| n.text.clone()),
            title: Self::title(readings.title.as_ref()),
            scenario: None,
            rows: Vec::new(),
            changes: Vec::new(),
            accuracy: Vec::new(),
            loc,
        });
        Slot::Readings(index)
    }
}
