//! How rules say things: lists, states, paths, quantities.

use crate::facts::setters::Fewest;
use keyon_circuit::{
    ids::*,
    model::{Circuit, ControlKind, ElementKind, FuseKind, Owner, PointKind},
};
use smol_str::{SmolStr, format_smolstr};

/// `` `a` ``, `` `b` and `c` ``.
pub(crate) fn names<S: AsRef<str>>(names: impl IntoIterator<Item = S>) -> String {
    list(names.into_iter().map(|name| format!("`{}`", name.as_ref())))
}

/// "read" of several, "reads" of one.
pub(crate) fn verb(count: usize, of_several: &str) -> String {
    if count == 1 { format!("{of_several}s") } else { of_several.to_owned() }
}

/// a, b and c.
pub(crate) fn list(items: impl IntoIterator<Item = String>) -> String {
    let mut items: Vec<String> = items.into_iter().collect();
    match items.pop() {
        None => String::new(),
        Some(last) if items.is_empty() => last,
        Some(last) => format!("{} and {last}", items.join(", ")),
    }
}

/// "with `key` in `run` and `left_cmd` on"; "with every control at rest" where none is away from it, "at all times" where
/// there is none.
pub(crate) fn with(circuit: &Circuit, away: &[(ControlId, usize)]) -> String {
    if away.is_empty() {
        return if circuit.controls.is_empty() { "at all times" } else { "with every control at rest" }
            .to_owned();
    }
    let one = |&(control, position): &(ControlId, usize)| {
        let Some(control) = circuit.controls.get(control.index()) else { return String::new() };
        let position = control.positions.get(position).map_or("", SmolStr::as_str);
        match (position, control.kind) {
            ("on" | "off" | "open", _) => format!("`{}` {position}", control.name),
            ("low" | "high", ControlKind::Stage(..)) => format!("`{}` driving {position}", control.name),
            _ => format!("`{}` in `{position}`", control.name),
        }
    };
    let shown = if away.len() > MOST + 1 { MOST } else { away.len() };
    let more = (shown < away.len()).then(|| format!("{} more controls away from rest", away.len() - shown));
    format!("with {}", list(away.iter().take(shown).map(one).chain(more)))
}

/// The same with what is turned: "with `lights` on and `dim` at 0 ohm".
pub(crate) fn with_set(circuit: &Circuit, fewest: &Fewest) -> String {
    let one = |&(stimulus, ohms): &(StimulusId, f64)| {
        let name = circuit.stimuli.get(stimulus.index()).map_or("", |s| s.name.as_str());
        format!("`{name}` at {}", quantity(ohms, "ohm"))
    };
    let set = list(fewest.set.iter().map(one));
    match (fewest.away.is_empty(), set.is_empty()) {
        (_, true) => with(circuit, &fewest.away),
        (true, false) => format!("with {set}"),
        (false, false) => format!("{} and {set}", with(circuit, &fewest.away)),
    }
}

/// Controls that a message names one by one.
const MOST: usize = 8;

/// What a person calls an element: its own name, or that of the device or the cavity it belongs to.
pub(crate) fn name(circuit: &Circuit, element: ElementId) -> SmolStr {
    let Some(e) = circuit.elements.get(element.index()) else { return SmolStr::default() };
    match e.owner {
        Owner::Device(device) => {
            let Some(device) = circuit.devices.get(device.index()) else { return e.name.clone() };
            let several =
                e.kind.is_load() && device.elements.iter().filter(|&&o| is_load(circuit, o)).nth(1).is_some();
            match (several, e.kind) {
                (false, _) => device.name.clone(),
                // The two parts of a track are one thing.
                (true, ElementKind::Track(false)) => e.name.strip_suffix(".lower").unwrap_or(&e.name).into(),
                (true, _) => e.name.clone(),
            }
        }
        Owner::Module(m, c, k) => match (circuit.modules.get(m.index()), circuit.cavity(m, c, k)) {
            (Some(module), Some(cavity)) if !cavity.name.is_empty() => {
                format_smolstr!("{}.{}", module.name, cavity.name)
            }
            _ => e.name.clone(),
        },
        Owner::Supply(i) => circuit.supplies.get(i).map_or(e.name.clone(), |s| s.name.clone()),
        Owner::Ground(i) => circuit.grounds.get(i).map_or(e.name.clone(), |g| g.name.clone()),
        Owner::Inline(_) | Owner::Wire(_) | Owner::Fuse | Owner::Elsewhere => e.name.clone(),
    }
}

/// "the diode `D1`", "the diode inside `K1`", of several there "the diode from `85` to `86` inside `K1`".
pub(crate) fn diode(circuit: &Circuit, element: ElementId) -> String {
    let plain = || format!("the diode `{}`", name(circuit, element));
    let Some(e) = circuit.elements.get(element.index()) else { return plain() };
    let Owner::Device(device) = e.owner else { return plain() };
    let Some(device) = circuit.devices.get(device.index()) else { return plain() };
    let kinds = || device.elements.iter().filter_map(|e| Some(circuit.elements.get(e.index())?.kind));
    if kinds().filter(|&kind| kind != ElementKind::Terminal).nth(1).is_none() {
        return plain();
    }
    let pin = |point: PointId| device.pins.iter().find(|pin| pin.inside == point);
    let several = kinds().filter(|&kind| kind == ElementKind::Diode).nth(1).is_some();
    match (pin(e.from), pin(e.to)) {
        (Some(from), Some(to)) if several => {
            format!("the diode from `{}` to `{}` inside `{}`", from.name, to.name, device.name)
        }
        _ => format!("the diode inside `{}`", device.name),
    }
}

fn is_load(circuit: &Circuit, element: ElementId) -> bool {
    circuit.elements.get(element.index()).is_some_and(|e| e.kind.is_load())
}

/// "wire `431`", "fuse `F7`", "switch `key`", "driver `SCU.left_cmd`".
pub(crate) fn thing(circuit: &Circuit, element: ElementId) -> String {
    let name = name(circuit, element);
    let kind = circuit.elements.get(element.index()).map(|e| e.kind);
    let relay = || {
        circuit
            .elements
            .get(element.index())
            .is_some_and(|e| matches!(e.when, keyon_circuit::model::When::Energised { .. }))
    };
    let kind = match kind {
        Some(ElementKind::Wire) => "wire",
        Some(ElementKind::Fuse(FuseKind::Fuse)) => "fuse",
        Some(ElementKind::Fuse(FuseKind::Breaker)) => "breaker",
        Some(ElementKind::Fuse(FuseKind::Link)) => "fusible link",
        Some(ElementKind::Contact) if relay() => "relay",
        Some(ElementKind::Contact) => "switch",
        Some(ElementKind::Stage) => "driver",
        Some(ElementKind::Diode) => "diode",
        Some(ElementKind::Ground) => "ground point",
        Some(ElementKind::Supply) => "supply",
        Some(ElementKind::Reference) => "reference",
        Some(ElementKind::Return) => "return",
        Some(ElementKind::Inline | ElementKind::Terminal) => "connection",
        Some(ElementKind::Lamp) => "lamp",
        Some(ElementKind::Heater) => "heater",
        _ => return format!("`{name}`"),
    };
    format!("{kind} `{name}`")
}

/// A path in trade words, each thing once: `battery - F1 - key - F7 - S12 - 431`.
pub(crate) fn path(circuit: &Circuit, start: PointId, elements: &[ElementId]) -> String {
    let mut stops: Vec<SmolStr> = Vec::new();
    let mut say = |name: SmolStr| {
        if !name.is_empty() && stops.last() != Some(&name) {
            stops.push(name);
        }
    };
    let named = |point: PointId| {
        let point = circuit.points.get(point.index())?;
        let fixed = matches!(
            point.kind,
            PointKind::Splice(_) | PointKind::Supply(_) | PointKind::Ground(_) | PointKind::Common
        );
        fixed.then(|| point.name.clone())
    };
    let mut at = start;
    if let Some(name) = named(at) {
        say(name);
    }
    for &id in elements {
        let Some(element) = circuit.elements.get(id.index()) else { continue };
        let next = if element.from == at { element.to } else { element.from };
        use ElementKind::*;
        if !matches!(element.kind, Terminal | Tie | Inline | Supply | Ground) {
            say(name(circuit, id));
        }
        if let Some(name) = named(next).filter(|_| element.kind != Ground) {
            say(name);
        }
        at = next;
    }
    stops.join(" - ")
}

/// Three digits at most, with the prefix that a person would use: `0.52 A`, `13 mA`, `4.7 kohm`.
pub(crate) fn quantity(value: f64, unit: &str) -> String {
    let size = value.abs();
    let (scale, prefix) = match unit {
        "ohm" if size >= 1e6 => (1e-6, "M"),
        "ohm" | "W" if size >= 1e3 => (1e-3, "k"),
        "A" | "V" | "ohm" if size < 0.0995 && size > 0.0 => (1e3, "m"),
        "mm2" | "m" | "A" | "V" | "W" | "ohm" => (1.0, ""),
        _ => (1.0, ""),
    };
    format!("{} {prefix}{unit}", digits(value * scale))
}

/// Three significant digits, without zeros at the end.
pub(crate) fn digits(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || !size.is_finite() {
        return if size == 0.0 { "0".to_owned() } else { value.to_string() };
    }
    let places = (2 - size.log10().floor() as i32).clamp(0, 12);
    let text = format!("{value:.*}", places as usize);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// `3.4 %`.
pub(crate) fn percent(ratio: f64) -> String {
    format!("{} %", digits((ratio * 1000.0).round() / 10.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_read_as_on_a_meter() {
        assert_eq!(quantity(0.519_2, "A"), "0.519 A");
        assert_eq!(quantity(0.012_96, "A"), "13 mA");
        assert_eq!(quantity(12.0, "V"), "12 V");
        assert_eq!(quantity(0.0, "V"), "0 V");
        assert_eq!(quantity(4700.0, "ohm"), "4.7 kohm");
        assert_eq!(quantity(123.4, "A"), "123 A");
        assert_eq!(percent(0.0312), "3.1 %");
    }

    #[test]
    fn lists_end_with_and() {
        assert_eq!(names(["a"]), "`a`");
        assert_eq!(names(["a", "b", "c"]), "`a`, `b` and `c`");
    }
}
