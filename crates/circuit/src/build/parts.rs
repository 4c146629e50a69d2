//! Parts: finding them, giving them their parameters, and checking each once for its own sake.

use super::{
    Builder, Mode,
    values::{Bound, Want},
};
use crate::{
    Entity, Occurrence, ParamInfo, PartInfo, hash::Set, ids::*, libraries::PartDef, model::*, near::nearest,
    units, value::Num,
};
use keyon_syntax::{
    Span,
    tree::{self, Name, PartKind},
    unit::Dimension,
};
use smol_str::SmolStr;

/// What was being read before a part was entered.
pub(super) struct Kept {
    file: FileId,
    item: u32,
    mode: Mode,
    env: Vec<Bound>,
}

/// A value of this dimension where a parameter has none: somewhere in the middle of what is usual.
fn middle(dimension: Option<Dimension>) -> f64 {
    match dimension {
        Some(Dimension::Resistance) => 100.0,
        Some(Dimension::Voltage) => 12.0,
        Some(Dimension::Power) => 10.0,
        Some(Dimension::Temperature) => 25.0,
        Some(Dimension::Ratio) => 0.5,
        Some(Dimension::Frequency) => 100.0,
        Some(Dimension::Pressure) => 1e5,
        Some(Dimension::Current | Dimension::Length | Dimension::Area) | None => 1.0,
    }
}

fn any(dimension: Dimension) -> Want {
    let example = match dimension {
        Dimension::Resistance => "24 ohm",
        Dimension::Current => "0.5 A",
        Dimension::Voltage => "12 V",
        Dimension::Power => "21 W",
        Dimension::Length => "2.4 m",
        Dimension::Temperature => "25 degC",
        Dimension::Ratio => "50 %",
        Dimension::Frequency => "200 Hz",
        Dimension::Pressure => "500 kPa",
        Dimension::Area => "0.75 mm2",
    };
    Want::new(dimension, units::words(dimension), example)
}

impl<'a> Builder<'a> {
    /// Reads a part's body from here on, as one of the circuit's devices.
    pub(super) fn enter_part(&mut self, def: &PartDef<'a>) -> Kept {
        let env = std::mem::take(&mut self.env);
        let kept = Kept { file: self.file, item: self.item, mode: self.mode, env };
        (self.file, self.item, self.mode) = (def.file, def.item, Mode::Instance);
        kept
    }

    /// Goes back to the item that named the part.
    pub(super) fn leave_part(&mut self, kept: Kept) {
        (self.file, self.item, self.mode, self.env) = (kept.file, kept.item, kept.mode, kept.env);
    }

    /// The part that a device or module names; reports where there is none of that kind.
    pub(super) fn find_part(&mut self, name: &Name, module: bool) -> Option<usize> {
        let libraries = self.libraries;
        let loc = self.place(name);
        let right_kind = |def: &PartDef<'_>| matches!(def.part.what, PartKind::Module(_)) == module;
        if let Some(&index) = libraries.scope.get(&name.text) {
            let def = libraries.parts.get(index)?;
            self.occurs_part(name, index);
            if let Some(info) = self.infos.get_mut(index) {
                info.used = true;
            }
            if right_kind(def) {
                return Some(index);
            }
            let (is, wanted) = if module { ("device", "device") } else { ("module", "module") };
            let message = format!("part `{}` is a kind of {is}, its body says so", name.text);
            let first = Loc { file: def.file, item: def.item, span: def.part.name.span };
            let built_in = def.built_in;
            let problem = self
                .report("unknown-name", loc, message)
                .help(format!("write `{wanted}` in place of `{}`", if module { "module" } else { "device" }));
            if !built_in {
                problem.see(first, "declared here");
            }
            return None;
        }
        if name.text.is_empty() {
            return None;
        }
        let alias = name.text.split_once('.').map(|(alias, _)| alias);
        let lost = match alias {
            Some(alias) => libraries.broken_aliases.iter().any(|broken| broken == alias),
            None => libraries.broken || self.junk_words.contains(&name.text) || self.lost_use(),
        };
        if lost {
            return None;
        }
        let candidates = libraries
            .scope
            .iter()
            .map(|(written, &index)| (written.as_str(), libraries.parts.get(index).is_some_and(right_kind)));
        let near = self.may_search().then(|| nearest(&name.text, candidates).map(str::to_owned)).flatten();
        // Probably that one was meant: it is not unused.
        let meant = near.as_ref().and_then(|near| libraries.scope.get(near.as_str()));
        if let Some(info) = meant.and_then(|&index| self.infos.get_mut(index)) {
            info.used = true;
        }
        // Else it may have been any of its kind.
        if near.is_none() {
            let of_kind = libraries.parts.iter().map(right_kind);
            for (info, _) in self.infos.iter_mut().zip(of_kind).filter(|(_, fits)| *fits) {
                info.used = true;
            }
        }
        let trade = crate::libraries::trade();
        let built_in = || {
            trade.parse.file.items.iter().any(|placed| match &placed.item.kind {
                tree::ItemKind::Part(part) => part.name.text == name.text,
                _ => false,
            })
        };
        let message = format!(
            "there is no part `{}`: what is inside this {} is not known",
            name.text,
            if module { "module" } else { "device" }
        );
        let offers = built_in();
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => {
                problem.help(format!("did you mean `{near}`?")).write(near, false);
            }
            None if offers => {
                problem.help("it is one of the built-in parts: add a line `use \"trade\"`");
            }
            None => {
                problem.help("declare it with `part`, bring its library in with `use`, or write the body here in `{ }`");
            }
        }
        None
    }

    fn occurs_part(&mut self, name: &Name, index: usize) {
        let loc = self.place(name);
        if let Some((alias, _)) = name.text.split_once('.') {
            let cut = loc.span.start + alias.len() as u32;
            let file = self.libraries.parts.get(index).map_or(FileId(0), |def| def.file);
            self.occurs(
                Loc { span: Span { start: loc.span.start, end: cut }, ..loc },
                Entity::Library(file),
                false,
            );
            self.occurs(
                Loc { span: Span { start: cut + 1, end: loc.span.end }, ..loc },
                Entity::Part(index),
                false,
            );
        } else {
            self.occurs(loc, Entity::Part(index), false);
        }
    }

    /// The parameters of a part as a call gives them. The second is false where one is missing or wrong.
    pub(super) fn bind(&mut self, index: usize, call: &tree::PartCall) -> (Vec<Bound>, bool) {
        let Some(def) = self.part(index) else { return (Vec::new(), false) };
        let params = &def.part.params;
        let mut sound = true;
        let mut given: Vec<Option<&tree::Argument>> = vec![None; params.len()];
        for argument in &call.arguments {
            let place = match &argument.name {
                Some(name) => match params.iter().position(|p| p.name.text == name.text) {
                    Some(place) => {
                        let loc = self.place(name);
                        self.occurs(loc, Entity::Param(index, place), false);
                        place
                    }
                    None => {
                        self.unknown_argument(name, def);
                        sound = false;
                        continue;
                    }
                },
                None if params.len() == 1 => 0,
                None => {
                    let loc = self.at(argument.value.span);
                    let list: Vec<&str> = params.iter().map(|p| p.name.text.as_str()).collect();
                    let (message, help) = if params.is_empty() {
                        (
                            format!("part `{}` has no parameters", def.part.name.text),
                            "take the brackets out".to_owned(),
                        )
                    } else {
                        (
                            format!(
                                "part `{}` has several parameters: say which one this is",
                                def.part.name.text
                            ),
                            format!("write one of {} and `=` before the value", list.join(", ")),
                        )
                    };
                    self.report("unknown-name", loc, message).help(help);
                    sound = false;
                    continue;
                }
            };
            if let Some(slot) = given.get_mut(place) {
                if slot.is_some() {
                    let loc = self.at(argument.value.span);
                    let name = params.get(place).map_or("", |p| p.name.text.as_str());
                    let message = format!("parameter `{name}` is given twice");
                    self.report("duplicate-name", loc, message).help("keep one of the two values");
                    continue;
                }
                *slot = Some(argument);
            }
        }
        let mut env = Vec::with_capacity(params.len());
        for (place, param) in params.iter().enumerate() {
            let dimension = units::dimension_named(&param.dimension.text);
            let stand_in = Num::exact(middle(dimension));
            let info = self.infos.get(index).and_then(|i| i.params.get(place)).and_then(|p| p.default);
            let mut bound = Bound {
                name: param.name.text.clone(),
                dimension,
                num: info.unwrap_or(stand_in),
                argument: None,
                placeholder: info.is_none(),
                used: false,
            };
            match given.get(place).copied().flatten() {
                Some(argument) => {
                    bound.argument = Some(self.at(argument.value.span));
                    let num = dimension.and_then(|d| self.num(&argument.value, any(d)));
                    bound.placeholder = num.is_none();
                    bound.num = num.unwrap_or(stand_in);
                    sound &= num.is_some();
                }
                None if param.default.is_none() && !call.part.text.is_empty() => {
                    sound = false;
                    let loc = self.at(call.span);
                    let example = dimension.map_or("24 ohm", |d| any(d).example);
                    let message = format!(
                        "part `{}` needs a value for `{}`: it has no default",
                        call.part.text, param.name.text
                    );
                    self.report("unknown-name", loc, message)
                        .help(format!("write `{}({} = {example})`", call.part.text, param.name.text));
                }
                None => {}
            }
            env.push(bound);
        }
        (env, sound)
    }

    fn unknown_argument(&mut self, name: &Name, def: &PartDef<'a>) {
        let loc = self.place(name);
        let near = nearest(&name.text, def.part.params.iter().map(|p| (p.name.text.as_str(), true)));
        let near = near.map(str::to_owned);
        let first = Loc { file: def.file, item: def.item, span: def.part.name.span };
        let list: Vec<&str> = def.part.params.iter().map(|p| p.name.text.as_str()).collect();
        let problem = self.report(
            "unknown-name",
            loc,
            format!("part `{}` has no parameter `{}`", def.part.name.text, name.text),
        );
        if !def.built_in {
            problem.see(first, "the part is declared here");
        }
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None if list.is_empty() => problem.help("it has no parameters at all"),
            None => problem.help(format!("it has {}", list.join(", "))),
        };
    }

    /// Lists the parts, and reads each once with its defaults, so that its own mistakes are found at its own place.
    pub(super) fn check_parts(&mut self) {
        self.list_parts();
        let libraries = self.libraries;
        for (index, def) in libraries.parts.iter().enumerate() {
            if !def.built_in {
                self.check_part(index, def);
            }
        }
    }

    /// Lists the parts with their defaults.
    pub(super) fn list_parts(&mut self) {
        let libraries = self.libraries;
        self.infos = libraries.parts.iter().map(|def| info(def)).collect();
        for (index, def) in libraries.parts.iter().enumerate() {
            self.read_defaults(index, def);
        }
    }

    fn read_defaults(&mut self, index: usize, def: &PartDef<'a>) {
        (self.file, self.item) = (def.file, def.item);
        self.mode = if def.built_in { Mode::Instance } else { Mode::Own };
        for (place, param) in def.part.params.iter().enumerate() {
            let dimension = units::dimension_named(&param.dimension.text);
            let default = match (dimension, &param.default) {
                (Some(dimension), Some(value)) => self.num(value, any(dimension)),
                (None, _) if !param.dimension.text.is_empty() => {
                    self.unknown_dimension(&param.dimension);
                    None
                }
                _ => None,
            };
            if let Some(info) = self.infos.get_mut(index).and_then(|i| i.params.get_mut(place)) {
                info.default = default;
            }
        }
        (self.file, self.item, self.mode) = (FileId(0), 0, Mode::Own);
    }

    fn unknown_dimension(&mut self, name: &Name) {
        let loc = self.place(name);
        if self.has_syntax_error(loc) {
            return;
        }
        let all = units::DIMENSIONS;
        let near = nearest(&name.text, all.iter().map(|(n, _)| (*n, true)));
        let list: Vec<&str> = all.iter().map(|(n, _)| *n).collect();
        let message = format!("`{}` is no dimension: it says what a parameter measures", name.text);
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None => problem.help(format!("it is one of {}", list.join(", "))),
        };
    }

    fn check_part(&mut self, index: usize, def: &PartDef<'a>) {
        let circuit = std::mem::take(&mut self.c);
        let elements = std::mem::take(&mut self.element_names);
        let repeats = std::mem::take(&mut self.repeats);
        let env = self.infos.get(index).map(|info| {
            let bound = |p: &ParamInfo| Bound {
                name: p.name.clone(),
                dimension: p.dimension,
                num: p.default.unwrap_or(Num::exact(middle(p.dimension))),
                argument: None,
                placeholder: p.default.is_none(),
                used: false,
            };
            info.params.iter().map(bound).collect()
        });
        (self.file, self.item, self.mode) = (def.file, def.item, Mode::Check(index));
        self.env = env.unwrap_or_default();
        let name = &def.part.name;
        if !name.text.is_empty() {
            self.names.push(Occurrence {
                loc: self.place(name),
                entity: Entity::Part(index),
                definition: true,
            });
        }
        let mut seen: Set<&SmolStr> = Set::default();
        for (place, param) in def.part.params.iter().enumerate() {
            let loc = self.place(&param.name);
            if !seen.insert(&param.name.text) {
                self.report_duplicate(&param.name, "a parameter", None);
            }
            if !loc.span.is_empty() {
                self.names.push(Occurrence { loc, entity: Entity::Param(index, place), definition: true });
            }
        }
        let stand_in = Name { text: name.text.clone(), span: name.span };
        let opened = def.damaged && self.open_ended.insert(name.text.clone());
        match &def.part.what {
            PartKind::Device(body) => {
                // The part's own name is not an occurrence of a device.
                self.mode = Mode::Instance;
                let id = self.add_device(&stand_in, None, &[], None);
                self.mode = Mode::Check(index);
                if let Some(id) = id {
                    self.add_pins(id, body);
                    self.connect_body(id, body);
                }
            }
            PartKind::Module(pinout) => self.check_pinout(&stand_in, pinout),
        }
        if opened {
            // A thing of the circuit may have the part's name.
            self.open_ended.remove(&name.text);
        }
        if !def.damaged {
            let first =
                |i: usize, b: &Bound| self.env.iter().position(|other| other.name == b.name) == Some(i);
            let unused: Vec<usize> = self
                .env
                .iter()
                .enumerate()
                .filter(|&(i, b)| !b.used && first(i, b))
                .map(|(i, _)| i)
                .collect();
            for param in unused.into_iter().filter_map(|i| def.part.params.get(i)) {
                let loc = self.place(&param.name);
                let message = format!(
                    "parameter `{}` is used nowhere in this part: giving it changes nothing",
                    param.name.text
                );
                self.report("unused-name", loc, message)
                    .help("put it in place of a value, or take it out of the brackets");
            }
        }
        self.pending_coils.clear();
        self.pending_shares.clear();
        self.c = circuit;
        self.element_names = elements;
        self.repeats = repeats;
        self.device_parts.clear();
        self.env = Vec::new();
        (self.file, self.item, self.mode) = (FileId(0), 0, Mode::Own);
    }
}

fn info(def: &PartDef<'_>) -> PartInfo {
    let part = def.part;
    let at = |span| Loc { file: def.file, item: def.item, span };
    let params = part
        .params
        .iter()
        .map(|p| ParamInfo {
            name: p.name.text.clone(),
            dimension: units::dimension_named(&p.dimension.text),
            default: None,
            loc: at(p.name.span),
        })
        .collect();
    let (pins, cavities) = match &part.what {
        PartKind::Device(body) => (body.pins.iter().map(|p| p.name.text.clone()).collect(), Vec::new()),
        PartKind::Module(pinout) => {
            let rows = pinout.housings.iter().flat_map(|h| h.rows.iter().map(move |row| (h, row)));
            let row = |(h, row): (&tree::Housing, &tree::CavityRow)| {
                (h.name.text.clone(), row.cavity.text.clone(), row.name.as_ref().map(|n| n.text.clone()))
            };
            (Vec::new(), rows.map(row).collect())
        }
    };
    PartInfo {
        name: part.name.text.clone(),
        title: part.title.as_ref().map(|t| t.text.text.clone()),
        loc: at(part.name.span),
        params,
        pins,
        cavities,
        module: matches!(part.what, PartKind::Module(_)),
        built_in: def.built_in,
        used: false,
    }
}
