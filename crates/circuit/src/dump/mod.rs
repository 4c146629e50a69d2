//! A circuit as text, for snapshots and for finding out why something is not as it should be.

mod laws;

use crate::{
    ids::*,
    model::*,
    units::{self, show},
};
use keyon_syntax::unit::Dimension;
use laws::{dimension_of, law};
use std::fmt::{self, Write};

/// The whole circuit, readable, without places in the text.
pub fn dump(circuit: &Circuit) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = Dump { c: circuit, out: &mut out }.all();
    out
}

struct Dump<'a> {
    c: &'a Circuit,
    out: &'a mut String,
}

impl<'a> Dump<'a> {
    fn all(&mut self) -> fmt::Result {
        let c = self.c;
        writeln!(self.out, "circuit {}{}", c.name, title(c.title.as_deref()))?;
        for element in &c.elements {
            self.element(element)?;
        }
        for splice in &c.splices {
            let legs: Vec<&str> = splice.legs.iter().map(|&e| self.element_name(e)).collect();
            write!(self.out, "splice {}{}", splice.name, title(splice.title.as_deref()))?;
            attributes(self.out, &splice.attributes)?;
            write!(self.out, ": {}", legs.join(", "))?;
            self.shared(splice.shared_by.as_deref())?;
            writeln!(self.out)?;
        }
        for inline in &c.inlines {
            write!(self.out, "connector {}{}", inline.name, title(inline.title.as_deref()))?;
            attributes(self.out, &inline.attributes)?;
            writeln!(self.out)?;
            for cavity in &inline.cavities {
                let landings: Vec<&str> = cavity.landings.iter().map(|&e| self.element_name(e)).collect();
                writeln!(self.out, "  {}: {}", cavity.name, landings.join(", "))?;
            }
        }
        for wire in &c.wires {
            self.wire(wire)?;
        }
        for device in &c.devices {
            self.device(device)?;
        }
        for module in &c.modules {
            self.module(module)?;
        }
        for control in &c.controls {
            write!(
                self.out,
                "control {}{}: {}",
                control.name,
                title(control.title.as_deref()),
                control.positions.join(", ")
            )?;
            if let Some(hertz) = control.pwm {
                write!(self.out, ", pwm {}", show(hertz, Dimension::Frequency))?;
            }
            let kind = match control.kind {
                ControlKind::Device(_) => "device",
                ControlKind::Stage(..) => "stage",
                ControlKind::Gang(..) => "gang",
                ControlKind::Return(..) => "return",
                ControlKind::Free => "free",
            };
            writeln!(self.out, " ({kind})")?;
        }
        for stimulus in &c.stimuli {
            let of = dimension_of(stimulus.kind);
            let (low, high) = stimulus.span;
            let nominal = stimulus.nominal;
            writeln!(
                self.out,
                "stimulus {}: {} in {} .. {} of {}",
                stimulus.name,
                show(nominal, of),
                show(low, of),
                show(high, of),
                self.element_name(stimulus.element)
            )?;
        }
        self.states()?;
        if !c.tainted.is_empty() {
            let names: Vec<&str> = c.tainted.iter().map(|&p| self.point(p)).collect();
            writeln!(self.out, "tainted: {}", names.join(", "))?;
        }
        if !c.beside.is_empty() {
            let names: Vec<&str> = c.beside.iter().map(|&p| self.point(p)).collect();
            writeln!(self.out, "beside {}", names.join(" "))?;
        }
        if c.lost_end {
            writeln!(self.out, "lost end")?;
        }
        Ok(())
    }

    fn states(&mut self) -> fmt::Result {
        let c = self.c;
        for scenario in &c.scenarios {
            write!(self.out, "scenario {}{}:", scenario.name, title(scenario.title.as_deref()))?;
            self.settings(&scenario.settings)?;
            if !scenario.actions.is_empty() {
                write!(self.out, " do {}", scenario.actions.join("; "))?;
            }
            writeln!(self.out)?;
        }
        if let Some(view) = c.view.and_then(|v| c.scenarios.get(v.index())) {
            writeln!(self.out, "view {}", view.name)?;
        }
        for expect in &c.expects {
            write!(self.out, "expect in {}", self.scenario(expect.scenario))?;
            self.changes(&expect.changes)?;
            writeln!(self.out)?;
            self.rows(&expect.rows)?;
        }
        for exercise in &c.exercises {
            write!(
                self.out,
                "exercise {}{} in {}",
                exercise.name,
                title(exercise.title.as_deref()),
                self.scenario(exercise.scenario)
            )?;
            self.changes(&exercise.changes)?;
            writeln!(self.out)?;
            for (changes, words, _) in &exercise.faults {
                write!(self.out, "  fault {words}:")?;
                self.changes(changes)?;
                writeln!(self.out)?;
            }
            self.rows(&exercise.symptoms)?;
            if !exercise.probes.is_empty() {
                writeln!(self.out, "  probes {}", exercise.probes.join(", "))?;
            }
            for ask in &exercise.asks {
                let about: Vec<_> = ask.about.iter().map(|&e| c.name_of(e)).collect();
                let kind = ask.kind.as_deref().unwrap_or_default();
                writeln!(
                    self.out,
                    "  ask {kind}{} {}",
                    ask.text.as_deref().unwrap_or_default(),
                    about.join(", ")
                )?;
            }
        }
        for readings in &c.readings {
            let name = readings.name.as_deref().unwrap_or("-");
            write!(
                self.out,
                "readings {name}{} in {}",
                title(readings.title.as_deref()),
                self.scenario(readings.scenario)
            )?;
            for &(value, dimension) in &readings.accuracy {
                write!(self.out, " accuracy {}", show(value, dimension))?;
            }
            self.changes(&readings.changes)?;
            writeln!(self.out)?;
            self.rows(&readings.rows)?;
        }
        for (key, values) in &c.about {
            writeln!(self.out, "about {key}: {}", values.join(", "))?;
        }
        Ok(())
    }

    fn element(&mut self, e: &Element) -> fmt::Result {
        let kind = format!("{:?}", e.kind).to_lowercase();
        write!(self.out, "{kind} {}: {} -> {}", e.name, self.point(e.from), self.point(e.to))?;
        law(self.out, &e.law)?;
        if let Law::Transducer { feed, .. } = e.law {
            write!(self.out, " fed at {}", self.point(feed))?;
        }
        if let Some(rating) = e.rating {
            write!(self.out, ", rated {}", rating.show(Dimension::Current))?;
        }
        match e.when {
            When::Always => {}
            When::Never => write!(self.out, ", never")?,
            When::In { control, positions } => {
                let control = self.c.controls.get(control.index());
                let names = control.map(|c| {
                    let on = c.positions.iter().enumerate().filter(|(i, _)| positions >> i & 1 == 1);
                    on.map(|(_, p)| p.as_str()).collect::<Vec<_>>().join("|")
                });
                write!(self.out, ", in {} {}", control.map_or("?", |c| &c.name), names.unwrap_or_default())?;
            }
            When::Energised { coil, open } => {
                write!(
                    self.out,
                    ", {} when {}",
                    if open { "open" } else { "closed" },
                    self.element_name(coil)
                )?;
            }
        }
        if let Some(module) = e.alive.and_then(|m| self.c.modules.get(m.index())) {
            write!(self.out, ", while {} lives", module.name)?;
        }
        writeln!(self.out)
    }

    fn wire(&mut self, wire: &Wire) -> fmt::Result {
        write!(self.out, "wire {}{}:", wire.name, title(wire.title.as_deref()))?;
        for (i, s) in wire.stretches.iter().enumerate() {
            let words = [s.gauge.as_deref().map(str::to_owned), s.colour.as_deref().map(str::to_owned)];
            let length = s.length.map(|l| l.show(Dimension::Length));
            let words: Vec<String> = words.into_iter().flatten().chain(length).collect();
            write!(
                self.out,
                "{} {} [{}]",
                if i > 0 { "," } else { "" },
                self.element_name(s.element),
                words.join(" ")
            )?;
        }
        writeln!(self.out)
    }

    fn device(&mut self, device: &Device) -> fmt::Result {
        let part = device.part.as_ref().map(|p| format!(" : {}", p.name)).unwrap_or_default();
        let bare = if device.bare { " (bare)" } else { "" };
        write!(self.out, "device {}{}{part}{bare}", device.name, title(device.title.as_deref()))?;
        attributes(self.out, &device.attributes)?;
        writeln!(self.out)?;
        for pin in &device.pins {
            let landings: Vec<&str> = pin.landings.iter().map(|&e| self.element_name(e)).collect();
            let unused = if pin.unused.is_some() { " unused" } else { "" };
            writeln!(self.out, "  {}{unused}: {}", pin.name, landings.join(", "))?;
        }
        for (name, elements) in &device.grades {
            let elements: Vec<&str> = elements.iter().map(|&e| self.element_name(e)).collect();
            writeln!(self.out, "  grade {name}: {}", elements.join(", "))?;
        }
        Ok(())
    }

    fn module(&mut self, module: &Module) -> fmt::Result {
        let part = module.part.as_ref().map(|p| format!(" : {}", p.name)).unwrap_or_default();
        write!(self.out, "module {}{}{part}", module.name, title(module.title.as_deref()))?;
        attributes(self.out, &module.attributes)?;
        writeln!(self.out)?;
        for connector in &module.connectors {
            write!(self.out, "  connector {}{}", connector.name, title(connector.title.as_deref()))?;
            attributes(self.out, &connector.attributes)?;
            writeln!(self.out)?;
            for k in &connector.cavities {
                write!(self.out, "    {} {} {}", k.number, k.name, crate::entity::role_words(&k.role))?;
                if let Some(limit) = k.limit {
                    write!(self.out, " limit {}", limit.show(Dimension::Current))?;
                }
                if k.clamp {
                    write!(self.out, " clamp")?;
                }
                if let Some((low, high)) = k.range {
                    write!(
                        self.out,
                        " range {} .. {}",
                        show(low, Dimension::Voltage),
                        show(high, Dimension::Voltage)
                    )?;
                }
                if let Some(threshold) = k.threshold {
                    write!(self.out, " threshold {}", show(threshold, Dimension::Voltage))?;
                }
                if k.unused.is_some() {
                    write!(self.out, " unused")?;
                }
                let landings: Vec<&str> = k.landings.iter().map(|&e| self.element_name(e)).collect();
                write!(self.out, ": {}", landings.join(", "))?;
                self.shared(k.shared_by.as_ref().map(|(list, _)| list.as_slice()))?;
                writeln!(self.out)?;
            }
        }
        for gang in &module.gangs {
            let control = self.c.controls.get(gang.control.index()).map_or("?", |c| &c.name);
            let stages: Vec<_> = gang
                .stages
                .iter()
                .filter_map(|&(c, k)| module.connectors.get(c)?.cavities.get(k))
                .map(|k| k.name.as_str())
                .collect();
            write!(self.out, "  gang {control}: {} of {}", stages.join(", "), gang.named)?;
            for (position, stage, _) in &gang.gaps {
                write!(self.out, ", {position} leaves {stage}")?;
            }
            writeln!(self.out)?;
        }
        Ok(())
    }

    fn shared(&mut self, list: Option<&[DeviceOrModule]>) -> fmt::Result {
        let Some(list) = list else { return Ok(()) };
        let name = |&sharer: &DeviceOrModule| match sharer {
            DeviceOrModule::Device(d) => self.c.devices.get(d.index()).map_or("?", |d| d.name.as_str()),
            DeviceOrModule::Module(m) => self.c.modules.get(m.index()).map_or("?", |m| m.name.as_str()),
        };
        let names: Vec<&str> = list.iter().map(name).collect();
        write!(self.out, " shared by {}", names.join(", "))
    }

    fn settings(&mut self, settings: &Settings) -> fmt::Result {
        for &(control, position, duty) in &settings.controls {
            let control = self.c.controls.get(control.index());
            let position = control.and_then(|c| c.positions.get(position)).map_or("?", |p| p);
            write!(self.out, " {} {position}", control.map_or("?", |c| &c.name))?;
            if let Some(duty) = duty {
                write!(self.out, " {}", show(duty, Dimension::Ratio))?;
            }
        }
        for &(stimulus, value) in &settings.stimuli {
            if let Some(stimulus) = self.c.stimuli.get(stimulus.index()) {
                write!(self.out, " {} {}", stimulus.name, show(value, dimension_of(stimulus.kind)))?;
            }
        }
        for &(supply, volts) in &settings.supplies {
            let name = self.c.supplies.get(supply).map_or("?", |s| &s.name);
            write!(self.out, " {name} {}", show(volts, Dimension::Voltage))?;
        }
        self.changes(&settings.changes)
    }

    fn changes(&mut self, changes: &[Change]) -> fmt::Result {
        for change in changes {
            match change {
                Change::Open(e) => write!(self.out, " open {}", self.element_name(*e))?,
                Change::Add { from, to, law: added } => {
                    write!(self.out, " add {} -> {}", self.point(*from), self.point(*to))?;
                    law(self.out, added)?;
                }
                Change::Replace(e, with) => {
                    write!(self.out, " replace {}", self.element_name(*e))?;
                    law(self.out, with)?;
                }
                Change::Stuck(e, on) => {
                    write!(self.out, " stuck {} {}", self.element_name(*e), if *on { "on" } else { "off" })?;
                }
                Change::Drift(e, by) => {
                    write!(self.out, " drift {} by {}", self.element_name(*e), units::number(*by))?
                }
            }
        }
        Ok(())
    }

    fn rows(&mut self, rows: &[Row]) -> fmt::Result {
        for row in rows {
            let probe = match row.probe {
                Probe::Point(p) => self.point(p).to_owned(),
                Probe::Input(m, c, k) => {
                    format!("input {}", self.c.name_of(crate::Entity::Cavity(m, c, k)))
                }
                Probe::Device(d) => {
                    format!("device {}", self.c.devices.get(d.index()).map_or("?", |d| &d.name))
                }
                Probe::Element(e) => format!("element {}", self.element_name(e)),
                Probe::Across(a, b) => format!("{} to {}", self.point(a), self.point(b)),
                Probe::Ohms(a, b) => format!("ohms {} to {}", self.point(a), self.point(b)),
                Probe::Clamp(e) => format!("clamp {}", self.element_name(e)),
                Probe::Lamp(a, b) => format!("lamp {} to {}", self.point(a), self.point(b)),
            };
            let says = match &row.assertion {
                Assertion::Below(v, d) => format!("below {}", show(*v, *d)),
                Assertion::Above(v, d) => format!("above {}", show(*v, *d)),
                Assertion::Between(a, b, d) => format!("{} .. {}", show(*a, *d), show(*b, *d)),
                Assertion::Is(v, d) => show(*v, *d),
                Assertion::State(word) => word.to_string(),
            };
            write!(self.out, "  {probe}: {says}")?;
            self.settings(&row.settings)?;
            writeln!(self.out)?;
        }
        Ok(())
    }

    fn scenario(&self, id: Option<ScenarioId>) -> &'a str {
        id.and_then(|id| self.c.scenarios.get(id.index())).map_or("?", |s| &s.name)
    }

    fn point(&self, point: PointId) -> &'a str {
        self.c.points.get(point.index()).map_or("?", |p| &p.name)
    }

    fn element_name(&self, element: ElementId) -> &'a str {
        self.c.elements.get(element.index()).map_or("?", |e| &e.name)
    }
}

fn title(title: Option<&str>) -> String {
    title.map(|t| format!(" \"{t}\"")).unwrap_or_default()
}

fn attributes(out: &mut String, a: &Attributes) -> fmt::Result {
    if let Some(place) = &a.place {
        write!(out, " where \"{place}\"")?;
    }
    if let Some(access) = &a.access {
        write!(out, " access {access}")?;
    }
    if let Some((rows, columns)) = a.face {
        write!(out, " face {rows} x {columns}")?;
    }
    for (word, said) in [("sealed", a.sealed), ("moves", a.moves), ("restricted", a.restricted)] {
        if said {
            write!(out, " {word}")?;
        }
    }
    for hazard in &a.hazards {
        write!(out, " hazard \"{hazard}\"")?;
    }
    Ok(())
}
