//! From the place of the cursor to what may stand there: one function a kind of body, one arm a kind of statement.

use super::{
    CompletionKind as Kind, List,
    context::Context,
    fresh, names,
    rows::{exercise, row, setting},
    units::{amounts, dimensions, has_unit, is_small, units},
    usual::{behind, usual},
    words,
};
use crate::View;
use keyon_circuit::Entity;

pub(super) fn decide(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    if context.quoted {
        if context.head() == Some("use") {
            list.add(Kind::File, "trade", Some("relays, switches, sensors, valves: comes with Keyon".into()));
        }
        return;
    }
    if context.number && !is_name(view, context) {
        return units(&dimensions(view, context), is_small(context), list);
    }
    if context.head() == Some("allow") {
        if context.before.len() == 1 {
            for rule in keyon_check::rules::all() {
                list.add(Kind::Rule, rule.name(), Some(rule.summary().into()));
            }
        }
        return;
    }
    match context.body() {
        None => top(view, context, list),
        Some("device") => body(view, context, list),
        // A part with connectors is a kind of module; one that is still empty may become either.
        Some("part") => {
            let module =
                names::pinout_at(view, context.start).is_some_and(|pinout| !pinout.housings.is_empty());
            if module && context.before.is_empty() {
                list.words(Kind::Keyword, words::MODULE);
            } else {
                body(view, context, list);
                if context.before.is_empty() {
                    list.words(Kind::Keyword, &["connector", "gang"]);
                }
            }
        }
        Some("module") => {
            if context.before.is_empty() {
                list.words(Kind::Keyword, words::MODULE);
            }
        }
        Some("connector") if context.bodies.len() > 1 => cavity(view, context, list),
        Some("gang") => gang(view, context, list),
        Some("scenario") => setting(view, context, &context.before, list),
        Some("expect" | "readings") => row(view, context, list),
        Some("exercise") => exercise(view, context, list),
        Some("about") if context.before.is_empty() => {
            list.words(Kind::Word, &["author", "licence", "tags", "level"]);
        }
        Some(_) => {}
    }
}

/// Behind digits that are being typed: what goes on with them, and the number with the units that it may have.
pub(super) fn amount<'t>(view: &View<'_>, context: &Context<'t>, typed: &'t str, list: &mut List) {
    if context.qualifier.is_some() {
        return;
    }
    let mut with = context.clone();
    with.before.push(typed);
    with.number = true;
    let words = with.before.as_slice();
    if words.len() < 2 || is_name(view, &with) || matches!(words, [_, _]) && context.body().is_none() {
        return;
    }
    let dimensions = dimensions(view, &with);
    if dimensions.is_empty() {
        return;
    }
    list.keep(|label| label.starts_with(typed));
    if typed.bytes().any(|b| b != b'0') {
        amounts(typed, &dimensions, is_small(context), list);
    }
}

/// Whether the number before the cursor is a name: of a wire, a pin, a cavity.
fn is_name(view: &View<'_>, context: &Context<'_>) -> bool {
    let words = context.before.as_slice();
    let last = context.last().unwrap_or_default();
    let pin = || {
        let pins = names::body_at(view, context.start).into_iter().flat_map(|body| &body.pins);
        pins.into_iter().any(|pin| pin.name.text == last)
    };
    match (context.body(), words) {
        (None, ["wire", _]) | (Some(_), [_] | ["clamp" | "pins" | "unused", ..]) => true,
        (
            Some(_),
            ["fault", "open" | "short" | "stuck", _] | ["fault", .., "in", _] | ["probes" | "ask", ..],
        ) => true,
        (Some("device" | "part"), [.., "->" | "wiper" | "out" | "rest" | "active", _]) => true,
        (Some("device" | "part"), _) => pin(),
        _ => false,
    }
}

/// Statements outside of all bodies.
fn top(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    let qualifier = context.qualifier;
    let Some(head) = context.head() else {
        if qualifier.is_none() {
            // Who begins a file begins with what it is, and what feeds it.
            let circuit = &view.elaboration.circuit;
            if circuit.loc.is_none() {
                list.words(Kind::Keyword, &["circuit"]);
            }
            if circuit.supplies.is_empty() {
                list.words(Kind::Keyword, &["supply", "ground"]);
            }
            list.words(Kind::Keyword, words::ITEMS);
        }
        return;
    };
    let words = context.before.len();
    let last = context.last().unwrap_or_default();
    let point_next = last == "->" || words > 1 && last == ",";
    match head {
        "view" => names::scenarios(view, list),
        "unused" => names::points(view, qualifier, list),
        "use" => list.add(
            Kind::File,
            "\"trade\"",
            Some("relays, switches, sensors, valves: comes with Keyon".into()),
        ),
        "control" if words > 1 && !context.has("positions") => list.words(Kind::Keyword, &["positions"]),
        // A new name stands here.
        _ if words == 1 && DECLARES.contains(&head) => fresh::names(view, head, list),
        _ if behind(Some(head), context, list) => {}
        "wire" if point_next || words == 2 => names::points(view, qualifier, list),
        "wire" if !context.has("->") => list.words(Kind::Keyword, &["->"]),
        "wire" => {
            usual(head, context, list);
            // In the order of writing: how thick, which colour, how long.
            let coloured = context.before.iter().any(|word| {
                words::COLOURS.iter().any(|(letters, _)| word.split('/').any(|part| part == *letters))
            });
            if !coloured || last == "/" {
                for (letters, name) in words::COLOURS {
                    list.add(Kind::Colour, *letters, Some((*name).into()));
                }
            }
            if !has_unit(context, &["mm2", "AWG"]) {
                list.words(Kind::Keyword, &["AWG"]);
            } else if !has_unit(context, &["m", "cm", "mm", "km", "ft", "in"]) {
                for length in ["0.5 m", "1 m", "2 m", "5 m"] {
                    list.add(Kind::Word, length, Some("length".into()));
                }
            }
            list.words(Kind::Keyword, &["at", "fitted with", "fitted without"]);
        }
        "supply" => match last {
            "negative" => names::points(view, qualifier, list),
            "in" => names::settings(view, list),
            _ if context.before.get(words.wrapping_sub(2)) == Some(&"in") => {
                names::positions(view, last, list);
            }
            "supply" => {}
            _ => {
                usual(head, context, list);
                list.words(Kind::Keyword, &["inner", "range", "negative", "limit", "live in"]);
            }
        },
        "splice" if context.has("by") => names::devices(view, list),
        "splice" => list.words(Kind::Keyword, &["shared by", "where", "access", "sealed"]),
        "ground" => list.words(Kind::Keyword, &["where", "access", "sealed"]),
        "device" => after_colon(view, context, false, list),
        "module" => after_colon(view, context, true, list),
        "part" if last == ":" => list.words(Kind::Word, words::DIMENSIONS),
        "expect" if words == 1 => list.words(Kind::Keyword, &["in"]),
        "expect" | "exercise" | "readings" if last == "in" => names::scenarios(view, list),
        "exercise" if words > 1 => list.words(Kind::Keyword, &["in"]),
        "readings" => list.words(Kind::Keyword, &["in", "accuracy"]),
        "elsewhere" => names::points(view, qualifier, list),
        "switch" if last == "closed" => list.words(Kind::Keyword, &["in"]),
        "switch" => {
            let positions = context.before.iter().position(|word| *word == "positions");
            if last == "in" || context.has("in") && last == "," {
                let from = positions.map_or(words, |at| at + 1);
                let own = context.before.iter().skip(from).take_while(|word| **word != "closed");
                for name in own.filter(|word| **word != ",") {
                    list.add(Kind::Position, *name, None);
                }
            } else if last == "," || positions == Some(words - 1) {
                // Positions are new names.
            } else if point_next {
                names::points(view, qualifier, list);
            } else if words > 1 {
                let more: &[&str] =
                    if positions.is_some() { &["closed in"] } else { &["positions", "closed in"] };
                list.words(Kind::Keyword, more);
                list.words(Kind::Keyword, &["where", "access"]);
                names::points(view, qualifier, list);
            }
        }
        "fuse" | "breaker" | "link" if words > 1 => {
            if point_next || words == 2 {
                names::points(view, qualifier, list);
                // Nobody fuses the way to ground.
                let circuit = &view.elaboration.circuit;
                list.keep(|label| !matches!(circuit.lookup(label).first(), Some(Entity::Ground(_))));
            } else if !context.has("->") {
                list.words(Kind::Keyword, &["->"]);
            } else {
                usual(head, context, list);
                list.words(Kind::Keyword, &["where", "access", "sealed"]);
            }
        }
        _ if ELEMENTS.contains(&head) && words > 1 => {
            // A point stands there: it leads on.
            let led = words == 3 && !view.elaboration.circuit.lookup(last).is_empty();
            if led {
                list.words(Kind::Keyword, &["->"]);
            }
            if !point_next {
                usual(head, context, list);
                list.words(Kind::Keyword, clauses(head));
            }
            if point_next || !context.has("->") {
                names::points(view, qualifier, list);
            }
            if !point_next {
                list.words(Kind::Keyword, &["where", "access", "moves", "hazard", "restricted"]);
            }
        }
        _ => {}
    }
}

/// Items that begin with a new name.
const DECLARES: &[&str] = &[
    "circuit",
    "supply",
    "ground",
    "splice",
    "wire",
    "fuse",
    "breaker",
    "link",
    "device",
    "part",
    "module",
    "connector",
    "scenario",
    "switch",
    "control",
    "resistor",
    "lamp",
    "heater",
    "coil",
    "winding",
    "motor",
    "thermistor",
    "variable",
    "diode",
];

const ELEMENTS: &[&str] = &[
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
];

/// The clauses of an element.
fn clauses(kind: &str) -> &'static [&'static str] {
    match kind {
        "lamp" | "heater" => &["cold"],
        "coil" => &["pulls_in", "drops_out", "rated"],
        "winding" | "motor" => &["turns_at", "rated", "runs"],
        "thermistor" => &["at", "beta", "steinhart", "table", "span", "nominal"],
        "variable" => &["span", "nominal"],
        "diode" => &["drop"],
        "track" => &["wiper", "travel", "span", "nominal"],
        "transducer" => &["out", "over", "ratio", "span", "nominal"],
        _ => &[],
    }
}

/// A device or a module: its part and the part's arguments.
fn after_colon(view: &View<'_>, context: &Context<'_>, module: bool, list: &mut List) {
    let Some(colon) = context.before.iter().position(|word| *word == ":") else {
        if context.before.len() > 1 {
            list.words(Kind::Keyword, &[":"]);
            list.words(Kind::Keyword, &["where", "access", "sealed", "moves", "hazard", "restricted"]);
        }
        return;
    };
    let part = context.before.get(colon + 1).copied();
    match (part, context.last()) {
        (None, _) => names::parts(view, module, context.qualifier, list),
        (Some(part), Some("uses")) => names::cavities_of_part(view, part, context.qualifier, list),
        (Some(part), Some(",")) if context.has("uses") => {
            names::cavities_of_part(view, part, context.qualifier, list);
        }
        (Some(part), Some("(" | ",")) => names::parameters(view, part, list),
        _ if module => list.words(Kind::Keyword, &["uses", "where", "access"]),
        _ => list.words(Kind::Keyword, &["where", "access", "sealed", "moves", "hazard", "restricted"]),
    }
}

/// The body of a device or part.
fn body(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    let Some(head) = context.head() else {
        return list.words(Kind::Keyword, words::BODY);
    };
    let body = names::body_at(view, context.start);
    let pins = |list: &mut List| {
        for pin in body.into_iter().flat_map(|body| &body.pins) {
            list.add(Kind::Point, pin.name.text.as_str(), Some("pin".into()));
        }
    };
    let coils = |list: &mut List| {
        let edges = body.into_iter().flat_map(|body| &body.edges).filter(|edge| edge.keyword.text == "coil");
        for name in edges.filter_map(|edge| edge.name.as_ref()) {
            list.add(Kind::Device, name.text.as_str(), Some("coil".into()));
        }
    };
    let last = context.last().unwrap_or_default();
    if behind(Some(head), context, list) {
        return;
    }
    let positions = context.has("closed") && context.has("in") || context.has("open") && context.has("in");
    match head {
        "pins" | "positions" | "where" | "hazard" => {}
        "access" => list.words(Kind::Word, &["easy", "cover", "buried"]),
        "contact" | "changeover" => match last {
            "when" => coils(list),
            "closed" | "open" => list.words(Kind::Keyword, &["in", "when"]),
            "in" => own_positions(body, list),
            "," if positions || head == "changeover" && context.has("in") => own_positions(body, list),
            "->" | "rest" | "active" => pins(list),
            "(" | "," => list.words(Kind::Keyword, &["rest", "active"]),
            _ if context.before.get(context.before.len().wrapping_sub(2)) == Some(&"when") => {
                list.words(Kind::Keyword, &["energised"]);
            }
            _ if !context.has("->") => pins(list),
            _ if head == "contact" => {
                list.words(Kind::Keyword, &["closed in", "closed when", "open in", "open when", "rated"])
            }
            _ => list.words(Kind::Keyword, &["when", "in", "rated"]),
        },
        "grade" => {
            let edges = body.into_iter().flat_map(|body| &body.edges);
            for name in edges.filter_map(|edge| edge.name.as_ref()) {
                list.add(Kind::Device, name.text.as_str(), None);
            }
        }
        _ => {
            let pin = body.is_some_and(|body| body.pins.iter().any(|pin| pin.name.text == last));
            if pin && !context.has("->") {
                list.words(Kind::Keyword, &["->"]);
            }
            if last != "->" {
                if context.has("->") {
                    usual(head, context, list);
                }
                list.words(Kind::Keyword, clauses(head));
            }
            if matches!(last, "->" | "wiper" | "out") || context.before.len() <= 2 || head == "unused" {
                pins(list);
            }
        }
    }
}

fn own_positions(body: Option<&keyon_syntax::tree::Body>, list: &mut List) {
    for name in body.into_iter().flat_map(|body| &body.positions) {
        list.add(Kind::Position, name.text.as_str(), None);
    }
}

/// A cavity row of a module: number, name, role, options.
fn cavity(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    let words = context.before.len();
    let own = context.before.get(1).copied().unwrap_or_default();
    let cavities = |list: &mut List| {
        let rows = names::pinout_at(view, context.start).into_iter().flat_map(|pinout| &pinout.housings);
        let names = rows.flat_map(|housing| &housing.rows).filter_map(|row| row.name.as_ref());
        for name in names.filter(|name| name.text != own) {
            list.add(Kind::Point, name.text.as_str(), None);
        }
    };
    if words > 2 && behind(None, context, list) {
        return;
    }
    match (words, context.last().unwrap_or_default()) {
        (0, _) => list.words(Kind::Keyword, &["allow"]),
        (1, _) => list.words(Kind::Word, &["unused"]),
        (2, _) => list.words(Kind::Word, words::ROLES),
        (_, "drives") => list.words(Kind::Word, &["low", "high", "half"]),
        (_, "switches") => {}
        (_, "{" | "to" | "from") => cavities(list),
        (_, ",") if context.has("switches") && !context.has("}") => cavities(list),
        (_, "by" | ",") if context.has("by") => names::devices(view, list),
        _ => list.words(Kind::Keyword, options(context.before.get(2).copied().unwrap_or_default())),
    }
}

/// The options that make sense with a role.
fn options(role: &str) -> &'static [&'static str] {
    match role {
        "feed" => &["draws"],
        "drives" => &["on", "limit", "pwm", "clamp", "to", "from"],
        "switches" => &["on", "limit", "pwm", "clamp"],
        "reference" => &["inner", "limit"],
        "return" => &["shared by", "switched", "on", "limit"],
        "senses" => &["pull_up", "pull_down", "range", "digital", "threshold"],
        _ => &[],
    }
}

/// A gang's row: a position, then stages and where they go.
fn gang(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    use keyon_syntax::tree::{Role, Way};
    let pinout = names::pinout_at(view, context.start);
    let rows = || pinout.into_iter().flat_map(|pinout| &pinout.housings).flat_map(|housing| &housing.rows);
    let row = context.before.iter().filter(|word| **word != ",").count();
    if row == 0 {
        return;
    }
    if row % 2 == 1 {
        for row in rows() {
            if let (Some(name), Some(Role::Drives { .. } | Role::Switches { .. })) = (&row.name, &row.role) {
                list.add(Kind::Point, name.text.as_str(), Some("stage".into()));
            }
        }
        return;
    }
    let stage = context.last().unwrap_or_default();
    let role = rows()
        .find(|row| row.name.as_ref().is_some_and(|name| name.text == stage))
        .and_then(|row| row.role.as_ref());
    match role {
        Some(Role::Switches { rest, other }) => {
            for place in [rest, other] {
                list.add(Kind::Position, place.text.as_str(), None);
            }
        }
        Some(Role::Drives { way: Way::Half, .. }) => list.words(Kind::Position, &["open", "low", "high"]),
        _ => list.words(Kind::Position, &["off", "on"]),
    }
}
