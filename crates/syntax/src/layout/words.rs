//! Which words begin items and statements, and which bodies they open.

/// The kinds of body, after the first word of the statement that opens it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BodyKind {
    /// No body: the file itself.
    File,
    /// Pins, positions and elements of a device.
    Device,
    /// The same of a part, or connectors and gangs.
    Part,
    /// Connectors and gangs of a module.
    Module,
    /// The cavity rows of a module's connector.
    Housing,
    /// The cavity list of an in-line connector.
    Inline,
    /// The positions of a gang.
    Gang,
    /// Settings and set-ups.
    Scenario,
    /// Claims.
    Expect,
    /// Faults, symptoms, questions.
    Exercise,
    /// Readings.
    Readings,
    /// The rows of a thermistor's table. What stands behind its `}` still belongs to the statement.
    Table,
    /// The elements of a grade.
    Grade,
    /// Facts about the file.
    About,
    /// A `{` where no body belongs.
    Other,
}

/// The words that begin an item.
pub const ITEM_WORDS: [&str; 34] = [
    "circuit",
    "use",
    "supply",
    "ground",
    "splice",
    "connector",
    "wire",
    "fuse",
    "breaker",
    "link",
    "resistor",
    "lamp",
    "heater",
    "coil",
    "winding",
    "thermistor",
    "variable",
    "diode",
    "device",
    "part",
    "module",
    "scenario",
    "expect",
    "exercise",
    "readings",
    "view",
    "allow",
    "unused",
    "switch",
    "motor",
    "about",
    "control",
    "variant",
    "elsewhere",
];

/// The words that begin an element, in a body and (but for the last four) at top level.
pub const ELEMENT_WORDS: [&str; 13] = [
    "resistor",
    "lamp",
    "heater",
    "coil",
    "winding",
    "motor",
    "thermistor",
    "variable",
    "diode",
    "track",
    "transducer",
    "contact",
    "changeover",
];

/// Words that begin a statement in a body only.
pub const BODY_ONLY_WORDS: [&str; 8] =
    ["pins", "positions", "contact", "changeover", "track", "transducer", "gang", "grade"];

/// Words of place and danger that are lines of their own in a body. They are heads only with what must follow
/// them, since pins, positions and devices may well have such names.
pub const ATTRIBUTE_WORDS: [&str; 7] = ["where", "access", "sealed", "face", "moves", "hazard", "restricted"];

/// What a cavity of a module may be, by the first word of it; `unused` apart.
pub(crate) const ROLE_WORDS: [&str; 8] =
    ["feed", "ground", "drives", "switches", "reference", "return", "senses", "bus"];

/// The letters of colours (IEC 60757): a wire's colour sooner than a point's name.
pub const COLOUR_LETTERS: [&str; 14] =
    ["BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR"];

/// Whether `word` begins an item.
pub fn is_item_word(word: &str) -> bool {
    matches!(known_exactly(word), Some((_, true)))
}

/// The word as the language spells it, if it begins an item, a statement of a body, or is an attribute word;
/// capitals are forgiven.
pub(crate) fn known_word(text: &str) -> Option<&'static str> {
    match known_exactly(text) {
        Some((word, _)) => Some(word),
        None if text.len() <= 10 && text.bytes().any(|b| b.is_ascii_uppercase()) => {
            known_exactly(&text.to_ascii_lowercase()).map(|(word, _)| word)
        }
        None => None,
    }
}

macro_rules! words {
    ($text:expr, items: $($item:literal)*, others: $($other:literal)*) => {
        match $text {
            $($item => Some(($item, true)),)*
            $($other => Some(($other, false)),)*
            _ => None,
        }
    };
}

/// The same word, and whether it begins an item. A `match`, since each line of a file comes here.
fn known_exactly(text: &str) -> Option<(&'static str, bool)> {
    words!(text,
        items: "circuit" "use" "supply" "ground" "splice" "connector" "wire" "fuse" "breaker" "link" "resistor" "lamp"
            "heater" "coil" "winding" "thermistor" "variable" "diode" "device" "part" "module" "scenario" "expect"
            "exercise" "readings" "view" "allow" "unused" "switch" "motor" "about" "control" "variant" "elsewhere",
        others: "pins" "positions" "contact" "changeover" "track" "transducer" "gang" "grade"
            "where" "access" "sealed" "face" "moves" "hazard" "restricted"
    )
}

/// Whether `word` can begin a statement of such a body, and not only as the name in a row.
pub(crate) fn can_head(body: BodyKind, word: &str) -> bool {
    let general = word == "allow" || ATTRIBUTE_WORDS.contains(&word);
    let element = || {
        ELEMENT_WORDS.contains(&word) || matches!(word, "pins" | "positions" | "unused" | "grade") || general
    };
    match body {
        BodyKind::Device => element(),
        BodyKind::Part => element() || matches!(word, "connector" | "gang"),
        BodyKind::Module => matches!(word, "connector" | "gang") || general,
        BodyKind::Housing => general,
        BodyKind::Expect | BodyKind::Readings => word == "lamp",
        BodyKind::File => is_item_word(word),
        _ => false,
    }
}

/// The body that a `{` opens in a statement with this first word, inside `within`, after the token `last`.
pub(crate) fn body_of(within: BodyKind, first: &str, last: &str) -> BodyKind {
    let thermistor = first == "thermistor" && last == "table";
    match (within, first) {
        (BodyKind::File | BodyKind::Device | BodyKind::Part, _) if thermistor => BodyKind::Table,
        (BodyKind::File, "device") => BodyKind::Device,
        (BodyKind::File, "part") => BodyKind::Part,
        (BodyKind::File, "module") => BodyKind::Module,
        (BodyKind::File, "connector") => BodyKind::Inline,
        (BodyKind::File, "scenario") => BodyKind::Scenario,
        (BodyKind::File, "expect") => BodyKind::Expect,
        (BodyKind::File, "exercise") => BodyKind::Exercise,
        (BodyKind::File, "readings") => BodyKind::Readings,
        (BodyKind::File, "about") => BodyKind::About,
        (BodyKind::Module | BodyKind::Part, "connector") => BodyKind::Housing,
        (BodyKind::Module | BodyKind::Part, "gang") => BodyKind::Gang,
        (BodyKind::Device | BodyKind::Part, "grade") => BodyKind::Grade,
        _ => BodyKind::Other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lists_and_the_match_agree() {
        for word in ITEM_WORDS {
            assert_eq!(known_exactly(word), Some((word, true)));
        }
        for word in BODY_ONLY_WORDS.into_iter().chain(ATTRIBUTE_WORDS) {
            assert_eq!(known_exactly(word), Some((word, false)));
        }
        assert_eq!(known_word("Wire"), Some("wire"));
        assert_eq!(known_word("WIRES"), None);
    }
}
