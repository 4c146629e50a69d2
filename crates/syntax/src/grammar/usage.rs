//! How each clause is written, and which units stand where: for messages.

/// How a clause is written, for a person who has begun it.
pub(crate) fn usage(clause: &str) -> Option<&'static str> {
    Some(match clause {
        "inner" => "`inner 15 mohm`",
        "range" => "`range 11.0 .. 14.8 V`",
        "negative" => "`negative G2`, the point that is its other pole",
        "limit" => "`limit 2 A`",
        "live" | "live in" => "`live in engine running`",
        "shared" | "shared by" => "`shared by level, temp`",
        "where" => "`where \"left of the tank\"`",
        "access" => "`access easy`, `access cover` or `access buried`",
        "face" => "`face 2 x 6`, rows and columns",
        "hazard" => "`hazard \"fan starts by itself\"`",
        "positions" => "`positions off, on`",
        "closed" | "closed in" | "closed when" => "`closed in run, start` or `closed when K energised`",
        "open" | "open in" | "open when" => "`open in pressed` or `open when K energised`",
        "when" => "`when K energised` behind a coil, or `in run` for a position of the switch itself",
        "cold" => "`cold 0.7 ohm`",
        "rated" => "`rated 12 V`",
        "pulls_in" => "`pulls_in 0.10 A`",
        "drops_out" => "`drops_out 0.04 A`",
        "turns_at" => "`turns_at 0.4 A`",
        "runs" => "`runs 0.8 A`",
        "at" => "`at 25 degC`",
        "beta" => "`beta 3500 K`",
        "steinhart" => "`steinhart 1.129e-3 2.341e-4 8.775e-8`, three numbers without units",
        "table" => "`table { 0 degC 7.2 kohm, 25 degC 2.5 kohm }`",
        "span" => "`span 0 .. 100 degC`",
        "nominal" => "`nominal 20 degC`",
        "drop" => "`drop 0.7 V`",
        "wiper" => "`wiper 2`, a pin",
        "travel" => "`travel 5 .. 95 %`",
        "out" => "`out 2`, a pin",
        "over" => "`over 0 .. 1000 kPa`",
        "drives" => "`drives low`, `drives high` or `drives half`",
        "switches" => "`switches { bplus, gnd }`",
        "reference" => "`reference 5 V`",
        "bus" => "`bus can_high`",
        "on" => "`on 120 mohm`",
        "pwm" => "`pwm 150 Hz`",
        "draws" => "`draws 0.2 A`",
        "pull_up" => "`pull_up 2.2 kohm to 5 V`",
        "pull_down" => "`pull_down 220 kohm`",
        "threshold" => "`threshold 2.5 V`",
        "to" => "`to gnd2`",
        "from" => "`from tap_b`",
        "uses" => "`uses A.1, A.2`",
        "as" => "`as NAME`",
        "in" => "`in SCENARIO`",
        "accuracy" => "`accuracy 0.5 %, 10 mV`",
        _ => return None,
    })
}

/// Units that fit a clause, or without one the loose value of such a statement.
pub(crate) fn units(keyword: &str, clause: Option<&str>) -> &'static [&'static str] {
    const VOLTS: &[&str] = &["V"];
    const AMPS: &[&str] = &["A"];
    const OHMS: &[&str] = &["ohm", "kohm"];
    const SMALL_OHMS: &[&str] = &["mohm", "ohm"];
    match clause {
        Some("inner" | "on") => SMALL_OHMS,
        Some("pull_up" | "pull_down" | "cold") => OHMS,
        Some("limit" | "draws" | "pulls_in" | "drops_out" | "turns_at" | "runs") => AMPS,
        Some("drop" | "threshold" | "reference") => VOLTS,
        Some("rated") => match keyword {
            "contact" | "changeover" => AMPS,
            _ => &["V", "A"],
        },
        Some("pwm") => &["Hz"],
        Some("at") => &["degC"],
        Some("beta") => &["K"],
        Some("travel") => &["%"],
        Some("over") => &["kPa", "bar"],
        Some("range") => VOLTS,
        Some("span" | "nominal") => &["degC", "%", "kPa"],
        Some(_) => &[],
        None => match keyword {
            "supply" => VOLTS,
            "fuse" | "breaker" | "link" | "elsewhere" => AMPS,
            "resistor" | "coil" | "winding" | "motor" | "track" | "thermistor" | "variable" => OHMS,
            "ground" | "contact" | "changeover" => SMALL_OHMS,
            "lamp" | "heater" => &["W", "V"],
            "wire" => &["mm2", "m"],
            "transducer" => VOLTS,
            _ => &[],
        },
    }
}
