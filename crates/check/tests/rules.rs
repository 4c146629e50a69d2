//! Every rule that the project has promised is there, in its group and at its level.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::{Level, rules};

/// Group, name, and level: E error, W warning, H hint; E/W says both.
const PROMISED: &[(&str, &str, &str)] = &[
    ("power", "no-feed-path", "E"),
    ("power", "no-return-path", "E"),
    ("power", "never-operates", "W"),
    ("power", "always-operates", "H"),
    ("power", "weak-device", "W"),
    ("power", "supply-to-ground", "E"),
    ("power", "supplies-joined", "E"),
    ("power", "unfused-feed", "W"),
    ("power", "fuse-over-wire", "E"),
    ("power", "fuse-under-load", "E/W"),
    ("power", "fuse-fed-both-sides", "W"),
    ("power", "voltage-drop", "W"),
    ("return", "undeclared-shared-return", "W"),
    ("return", "shared-return-mismatch", "W"),
    ("return", "load-on-sensor-return", "W"),
    ("return", "module-without-ground", "E"),
    ("driver", "unpaired-gang", "E"),
    ("driver", "gang-short", "E"),
    ("driver", "opposed-drivers", "E"),
    ("driver", "driver-overload", "E"),
    ("driver", "coil-without-suppression", "W"),
    ("driver", "idle-driver", "W"),
    ("driver", "pulsed-relay", "W"),
    ("driver", "reversed-suppression", "E"),
    ("signal", "signal-without-reference", "E"),
    ("signal", "reference-without-return", "E"),
    ("signal", "floating-input", "W"),
    ("signal", "signal-out-of-range", "W"),
    ("signal", "split-reference", "W"),
    ("signal", "reference-overload", "E"),
    ("signal", "reversed-sensor", "W"),
    ("sneak", "sneak-path", "W"),
    ("sneak", "chattering-relay", "E"),
    ("wiring", "double-cavity", "E"),
    ("wiring", "unconnected-pin", "W"),
    ("wiring", "bus-continuity", "W"),
    ("wiring", "lone-splice", "W"),
    ("wiring", "same-colour-neighbours", "H"),
    ("wiring", "circuit-number-clash", "W"),
    ("wiring", "thin-wire", "W"),
    ("wiring", "missing-gauge", "H"),
    ("names", "unknown-name", "E"),
    ("names", "duplicate-name", "E"),
    ("names", "unused-name", "W"),
    ("values", "wrong-dimension", "E"),
    ("values", "impossible-value", "E"),
    ("files", "syntax", "E"),
    ("files", "unused-allow", "W"),
    ("teaching", "expectation-failed", "E"),
    ("teaching", "symptom-false", "E"),
    ("teaching", "exercise-ambiguous", "W"),
    ("teaching", "readings-unexplained", "W"),
    ("return", "module-ground-offset", "W"),
    ("return", "sensor-return-to-chassis", "W"),
    ("power", "key-off-draw", "W"),
    ("power", "stall-over-fuse", "H"),
    ("power", "unprotected-length", "W"),
    ("driver", "drops-out-in-crank", "W"),
    ("driver", "contact-overload", "W"),
    ("wiring", "unused-but-wired", "W"),
    ("wiring", "cavity-conflict", "W"),
    ("wiring", "wire-conflict", "W"),
    ("teaching", "exercise-giveaway", "E"),
    ("teaching", "unsafe-probe", "E"),
    ("teaching", "ohms-on-live", "E"),
];

#[test]
fn every_promised_rule_is_there() {
    let mut wrong = Vec::new();
    for &(group, name, level) in PROMISED {
        let Some(rule) = rules::find(name) else {
            wrong.push(format!("{name} is missing"));
            continue;
        };
        let own = match rule.level() {
            Level::Error => 'E',
            Level::Warning => 'W',
            Level::Hint => 'H',
        };
        if rule.group() != group || !level.contains(own) {
            wrong.push(format!("{name} is {own} in {}, not {level} in {group}", rule.group()));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
