//! Figures and names as a person reads them. The figures are those of every other output.

use keyon_circuit::{
    ids::ElementId,
    model::{Circuit, ElementKind, Owner},
};
use keyon_present::{figure, path::element_word};

/// Volts as a meter shows them.
pub(crate) fn volts(volts: f64) -> String {
    format!("{} V", figure::volts(volts))
}

/// A drop along a path.
pub(crate) fn drop(drop: f64) -> String {
    if drop.abs() < 0.9995 { format!("{} mV", figure::fixed(drop * 1e3, 0)) } else { volts(drop) }
}

/// Amps; small ones in milliamps and microamps.
pub(crate) fn amps(amps: f64) -> String {
    let size = amps.abs();
    if (0.5e-6..0.9995e-3).contains(&size) {
        format!("{} \u{b5}A", trimmed(amps * 1e6, 1))
    } else if (0.9995e-3..0.0995).contains(&size) {
        format!("{} mA", trimmed(amps * 1e3, 1))
    } else {
        format!("{} A", figure::amps(amps))
    }
}

/// A number with up to so many decimals, without idle zeros.
pub(crate) fn trimmed(value: f64, decimals: usize) -> String {
    let text = figure::fixed(value, decimals);
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').into()
}

/// What loses voltage or stands in the way, as one says it; `None` for the contacts of pins, which nobody names.
pub(crate) fn element(circuit: &Circuit, id: ElementId) -> Option<String> {
    let element = circuit.elements.get(id.index())?;
    let module = match element.owner {
        Owner::Module(module, connector, cavity) => {
            let cavity = circuit.cavity(module, connector, cavity);
            circuit
                .modules
                .get(module.index())
                .map(|module| (module.name.as_str(), cavity.map_or("", |c| &c.name)))
        }
        _ => None,
    };
    match (element.kind, element.owner, module) {
        (ElementKind::Terminal | ElementKind::Tie, ..) => None,
        (ElementKind::Stage, _, Some((module, cavity))) => Some(format!("{module} driver {cavity}")),
        (ElementKind::Reference, _, Some((module, _))) => Some(format!("{module} reference")),
        (ElementKind::Rail, _, Some((module, _))) => Some(format!("{module} pull-up voltage")),
        (ElementKind::Return, _, Some((module, _))) => Some(format!("{module} return")),
        (ElementKind::PullUp, _, Some((module, cavity))) => Some(format!("{module} pull-up {cavity}")),
        (ElementKind::PullDown, _, Some((module, cavity))) => Some(format!("{module} pull-down {cavity}")),
        (_, Owner::Supply(supply), _) => circuit.supplies.get(supply).map(|supply| supply.name.to_string()),
        (_, Owner::Ground(ground), _) => circuit.grounds.get(ground).map(|ground| ground.name.to_string()),
        (_, Owner::Inline(inline), _) => {
            circuit.inlines.get(inline.index()).map(|inline| inline.name.to_string())
        }
        _ => Some(element_word(circuit, id)).filter(|word| !word.is_empty()),
    }
}

/// Text that Markdown leaves as it is within a table cell.
pub(crate) fn cell(text: &str) -> String {
    text.replace('|', "\\|").replace(['\n', '\r'], " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures() {
        assert_eq!([12.5596, 0.1082, 0.00004, -5.0].map(volts), ["12.56 V", "0.108 V", "0.00 V", "-5.00 V"]);
        assert_eq!([0.0317, 12.45, 0.0].map(drop), ["32 mV", "12.45 V", "0 mV"]);
        assert_eq!(
            [0.5188, 7.9, 0.0053, 1.26e-6, 0.0].map(amps),
            ["0.519 A", "7.90 A", "5.3 mA", "1.3 \u{b5}A", "0 A"]
        );
        assert_eq!(trimmed(-0.0001, 2), "0");
    }
}
