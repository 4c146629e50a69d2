//! Figures and names as a person reads them.

use keyon_circuit::{
    ids::ElementId,
    model::{Circuit, ElementKind, Owner},
};

/// Volts as a meter shows them; small ones in millivolts.
pub(crate) fn volts(volts: f64) -> String {
    let millivolts = volts * 1e3;
    if millivolts.abs() < 0.5 {
        "0.00 V".into()
    } else if millivolts.abs() < 9.95 {
        format!("{} mV", trimmed(millivolts, 1))
    } else {
        format!("{volts:.2} V")
    }
}

/// A drop along a path.
pub(crate) fn drop(volts: f64) -> String {
    if volts.abs() < 1.0 { format!("{:.0} mV", volts * 1e3) } else { format!("{volts:.2} V") }
}

/// Amps.
pub(crate) fn amps(amps: f64) -> String {
    let size = amps.abs();
    if size < 0.5e-6 {
        "0 A".into()
    } else if size < 0.9995e-3 {
        format!("{} \u{b5}A", trimmed(amps * 1e6, 1))
    } else if size < 0.0995 {
        format!("{} mA", trimmed(amps * 1e3, 1))
    } else {
        format!("{} A", trimmed(amps, 3))
    }
}

/// A number with up to so many decimals, without idle zeros.
pub(crate) fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if !text.contains('.') {
        return text;
    }
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// An element on a path, as one says it: `F7`, `431`, `left_valve`, `SCU`; `None` for the contacts of pins, which
/// nobody names.
pub(crate) fn element(circuit: &Circuit, id: ElementId) -> Option<String> {
    let element = circuit.elements.get(id.index())?;
    let name = |name: &str| Some(name.to_owned());
    match element.kind {
        ElementKind::Terminal | ElementKind::Tie => None,
        ElementKind::Inline => match element.owner {
            Owner::Inline(inline) => circuit.inlines.get(inline.index()).map(|inline| inline.name.to_string()),
            _ => name(&element.name),
        },
        ElementKind::Stage => match element.owner {
            Owner::Module(module, connector, cavity) => {
                let cavity = circuit.cavity(module, connector, cavity)?;
                let module = circuit.modules.get(module.index())?;
                Some(format!("{} driver {}", module.name, cavity.name))
            }
            _ => name(&element.name),
        },
        ElementKind::Reference | ElementKind::Rail | ElementKind::Return | ElementKind::Draw => {
            match element.owner {
                Owner::Module(module, ..) => {
                    let module = &circuit.modules.get(module.index())?.name;
                    Some(match element.kind {
                        ElementKind::Reference => format!("{module} reference"),
                        ElementKind::Return => format!("{module} return"),
                        ElementKind::Draw => format!("{module} itself"),
                        _ => format!("{module} pull-up voltage"),
                    })
                }
                _ => name(&element.name),
            }
        }
        ElementKind::PullUp => Some(format!("pull-up {}", element.name)),
        ElementKind::PullDown => Some(format!("pull-down {}", element.name)),
        _ => match element.owner {
            Owner::Device(device) => {
                let device = circuit.devices.get(device.index())?;
                // A device of one element is that element.
                match device.elements.as_slice() {
                    [_] => name(&device.name),
                    _ => name(&element.name),
                }
            }
            Owner::Supply(supply) => circuit.supplies.get(supply).map(|supply| supply.name.to_string()),
            Owner::Ground(ground) => circuit.grounds.get(ground).map(|ground| ground.name.to_string()),
            _ => name(&element.name),
        },
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
        assert_eq!([12.5596, 0.1082, 0.00004, 0.0042, -5.0].map(volts), ["12.56 V", "0.11 V", "0.00 V", "4.2 mV", "-5.00 V"]);
        assert_eq!([0.0317, 12.45, 0.0].map(drop), ["32 mV", "12.45 V", "0 mV"]);
        assert_eq!([0.5188, 7.9, 0.0053, 1.26e-6, 0.0].map(amps), ["0.519 A", "7.9 A", "5.3 mA", "1.3 \u{b5}A", "0 A"]);
        assert_eq!(trimmed(-0.0001, 2), "0");
    }
}
