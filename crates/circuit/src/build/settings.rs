//! Settings: controls, stimuli and supplies of scenarios, `with` clauses and command lines.

use super::{Builder, bodies::MOST_POSITIONS, sensors::want_of, values::Want};
use crate::{Elaboration, Entity, ids::StimulusId, libraries, model::*, near::nearest, units};
use keyon_syntax::tree::{ItemKind, Name, Quantity, Setting};

const DUTY: Want = Want::share("a duty", "40 %").why_most("a pulse cannot be on for more than always");
const SUPPLY: Want = Want::volts("a supply's voltage", "12.6 V").to(1e4);

/// What a supply can be said to be.
const SUPPLY_STATES: [&str; 3] = ["resting", "running", "cranking"];

fn is_settable(circuit: &Circuit, entity: Entity) -> bool {
    circuit.control_of(entity).is_some()
        || circuit.stimulus_of(entity).is_some()
        || matches!(entity, Entity::Supply(_))
}

impl Builder<'_> {
    /// Adds what one setting says.
    pub(super) fn setting(&mut self, setting: &Setting, into: &mut Settings) {
        let wanted = "something that can be set (a switch, a driver, a gang, a sensor, a supply)";
        let Some(entity) = self.resolve(&setting.subject, wanted, &is_settable) else { return };
        match (&setting.position, self.c.control_of(entity)) {
            (Some(position), Some(control)) => {
                if let Some(gang) = self.gang_over(entity) {
                    let loc = self.at(setting.span);
                    let subject = &setting.subject.text;
                    let message = format!("`{subject}` is moved by gang `{gang}`, never alone");
                    self.report("impossible-value", loc, message).help(format!("set the gang: `{gang} …`"));
                    return;
                }
                let known = self.c.controls.get(control.index()).map_or(&[][..], |c| &c.positions);
                let Some(index) = known.iter().take(MOST_POSITIONS).position(|p| *p == position.text) else {
                    if !self.open_ended.contains(&setting.subject.text) {
                        self.unknown_position(position, control);
                    }
                    return;
                };
                let loc = self.place(position);
                let by_row = self.c.index.positions.get(control.index()).is_some_and(|p| p.len() > index);
                if by_row {
                    self.occurs(loc, Entity::Position(control, index), false);
                }
                let duty = setting.quantity.as_ref().and_then(|quantity| self.quantity(quantity, DUTY));
                let by_hand = self
                    .c
                    .controls
                    .get(control.index())
                    .is_some_and(|c| matches!(c.kind, ControlKind::Device(_) | ControlKind::Free));
                if let (Some(quantity), true) = (&setting.quantity, by_hand) {
                    let loc = self.at(quantity.span);
                    let message = format!("`{}` is moved by hand and cannot be pulsed", setting.subject.text);
                    self.report("impossible-value", loc, message)
                        .help("leave the duty out: only a module's stages take one");
                    return;
                }
                into.controls.push((control, index, duty));
            }
            (None, _) => self.set_value(setting, entity, into),
            (Some(position), None) if matches!(entity, Entity::Supply(_)) => {
                self.supply_state(position, entity, setting.quantity.is_some(), into);
            }
            (Some(position), None) => {
                let loc = self.place(position);
                let message = format!("`{}` has no positions: it takes a value", setting.subject.text);
                self.report("unknown-name", loc, message)
                    .help("write it like `temp 25 degC` or `battery 11 V`");
            }
        }
    }

    /// A stimulus or a supply, set to a quantity.
    fn set_value(&mut self, setting: &Setting, entity: Entity, into: &mut Settings) {
        let Some(quantity) = &setting.quantity else {
            self.no_position(setting, entity);
            return;
        };
        if let Entity::Supply(index) = entity {
            if let Some(volts) = self.quantity(quantity, SUPPLY) {
                into.supplies.push((index, volts));
            }
            return;
        }
        let Some(stimulus) = self.c.stimulus_of(entity) else {
            self.no_position(setting, entity);
            return;
        };
        let Some(kind) = self.c.stimuli.get(stimulus.index()).map(|s| s.kind) else { return };
        if let Some(value) = self.quantity(quantity, want_of(kind)) {
            self.is_within_span(stimulus, value, quantity);
            into.stimuli.push((stimulus, value));
        }
    }

    /// A value that the sensor is not described for gives a reading that nobody knows. What is usual where no span is stated
    /// binds nobody. The end of a span as it reads in another unit, rounded, is that end.
    fn is_within_span(&mut self, stimulus: StimulusId, value: f64, quantity: &Quantity) {
        let Some(s) = self.c.stimuli.get(stimulus.index()) else { return };
        let (low, high) = s.span;
        let slack = 1e-3 * (high - low).abs();
        if !s.stated || (value >= low - slack && value <= high + slack) {
            return;
        }
        let show = |v| match quantity.unit {
            Some(unit) => units::show_in(v, unit),
            None => units::show(v, want_of(s.kind).dimension),
        };
        let message = format!(
            "`{}` is described from {} to {}: what it gives at {} is not known",
            s.name,
            show(s.span.0),
            show(s.span.1),
            show(value)
        );
        let loc = self.at(quantity.span);
        self.report("impossible-value", loc, message)
            .help("take a value within the sensor's span, or widen the span if it can take more")
            .mildly();
    }

    /// A supply's volts by what the machine does: `cranking` is the low end of its range, `running` the high end,
    /// `resting` its stated volts.
    fn supply_state(&mut self, word: &Name, entity: Entity, also_volts: bool, into: &mut Settings) {
        let Entity::Supply(index) = entity else { return };
        let Some((stated, range)) = self.c.supplies.get(index).map(|s| (s.volts.nominal, s.range)) else {
            return;
        };
        let loc = self.place(word);
        let name = self.c.supplies.get(index).map(|s| s.name.clone()).unwrap_or_default();
        if also_volts {
            let message = format!("`{name}` is set to a word and to volts at once");
            self.report("impossible-value", loc, message)
                .help("keep one: `battery cranking` or `battery 11 V`");
            return;
        }
        let volts = match (word.text.as_str(), range) {
            ("resting", _) => stated,
            ("cranking", Some((low, _))) => low,
            ("running", Some((_, high))) => high,
            ("cranking" | "running", None) => {
                let message = format!("how low and how high `{name}` goes is not said: it has no range");
                self.report("impossible-value", loc, message)
                    .help("give the supply one (`range 11 .. 14.8 V`), or set its volts (`battery 11 V`)");
                return;
            }
            (other, _) => {
                let near = nearest(other, SUPPLY_STATES.map(|state| (state, true))).map(str::to_owned);
                let message =
                    format!("`{name}` cannot be `{other}`: a supply is resting, running or cranking");
                let problem = self.report("unknown-name", loc, message);
                match near {
                    Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
                    None => problem.help("say one of these, or set its volts: `battery 11 V`"),
                };
                return;
            }
        };
        into.supplies.push((index, volts));
    }

    fn no_position(&mut self, setting: &Setting, entity: Entity) {
        let loc = self.at(setting.span);
        if self.has_syntax_error(loc) {
            return;
        }
        let subject = setting.subject.text.clone();
        let Some(control) = self.c.control_of(entity).and_then(|c| self.c.controls.get(c.index())) else {
            let message = format!("`{subject}` is set to nothing: a value belongs behind it");
            self.report("unknown-name", loc, message).help("write it like `temp 25 degC`");
            return;
        };
        let list = control.positions.join(", ");
        let first = control.positions.get(1).cloned().unwrap_or_default();
        self.report("unknown-name", loc, format!("`{subject}` needs a position behind it: {list}"))
            .help(format!("write `{subject} {first}`"));
    }

    /// The gang that moves a cavity's stage.
    fn gang_over(&self, entity: Entity) -> Option<smol_str::SmolStr> {
        let Entity::Cavity(m, c, k) = entity else { return None };
        let control = self.c.cavity(m, c, k)?.control?;
        let control = self.c.controls.get(control.index())?;
        matches!(control.kind, ControlKind::Gang(..)).then(|| control.name.clone())
    }
}

/// Reads `NAME=VALUE`.
pub(crate) fn parse_setting(e: &Elaboration, text: &str) -> Result<Settings, String> {
    let Some((name, value)) = text.split_once('=').map(|(n, v)| (n.trim(), v.trim())) else {
        return Err(format!(
            "`{text}` is no setting: write NAME=VALUE, such as `left_cmd=on` or `temp=25 degC`"
        ));
    };
    let whole = format!("scenario setting {{\n  {name} {value}\n}}\n");
    let parse = keyon_syntax::parse(&whole);
    let setting = match parse.file.items.as_slice() {
        [only] => match &only.item.kind {
            ItemKind::Scenario(scenario) if scenario.settings.len() == 1 && scenario.setups.is_empty() => {
                scenario.settings.first().cloned()
            }
            _ => None,
        },
        _ => None,
    };
    let readable = parse.errors.is_empty() && !name.is_empty() && !value.is_empty();
    let Some(setting) = setting.filter(|_| readable) else {
        let said = parse.errors.first().map(|error| format!(": {}", error.message)).unwrap_or_default();
        return Err(format!(
            "`{text}` is no setting{said}; write NAME=VALUE, such as `left_cmd=on 40 %` or `temp=25 degC`"
        ));
    };
    let source = crate::Source { key: "setting".into(), text: whole.into(), parse: parse.into() };
    let loaded = [source];
    let none = libraries::Libraries::none();
    let mut b = Builder::new(&loaded, &none);
    b.c = e.circuit.clone();
    let mut settings = Settings::default();
    b.setting(&setting, &mut settings);
    match b.problems.iter().find(|problem| !problem.mild) {
        None => Ok(settings),
        Some(problem) => Err(match &problem.help {
            Some(help) => format!("{}; {help}", problem.message),
            None => problem.message.clone(),
        }),
    }
}
