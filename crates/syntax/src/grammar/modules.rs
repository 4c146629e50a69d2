//! Modules: connectors, cavities, gangs.

use super::{
    bodies::{add_attributes, keyword_of},
    build::Pieces,
    node::Node,
    run::{Runner, ways},
    sources::{ATTRIBUTES, named, nameless},
};
use crate::{
    SyntaxError,
    layout::ROLE_WORDS,
    tree::{CavityRow, Gang, GangRow, Housing, Options, Pinout, PullTo, Role, Way},
};

pub(crate) fn pinout<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    errors: &mut Vec<SyntaxError>,
) -> (Pinout, bool) {
    let mut out = Pinout { span: node.body_span, ..Pinout::default() };
    let mut damaged = node.damaged;
    for row in node.rows() {
        out.allows.extend(row.allows.iter().map(|a| (a.clone(), row.span)));
        damaged |= row.damaged;
        let Some(keyword) = keyword_of(row, "the body of a module", MODULE_WORDS, errors) else {
            damaged |= !row.sigs.is_empty();
            continue;
        };
        match keyword {
            "connector" => {
                let (housing, hurt) = housing(runner, row, &mut out, errors);
                damaged |= hurt;
                out.housings.push(housing);
            }
            "gang" => {
                let (gang, hurt) = gang(runner, row, errors);
                damaged |= hurt;
                out.gangs.push(gang);
            }
            keyword if ATTRIBUTES.contains(&keyword) => {
                let mut pieces = runner.pieces(ways!(attributes), row.sigs, errors);
                add_attributes(&mut out.attributes, pieces.attributes());
                damaged |= pieces.finish(keyword, ATTRIBUTES);
            }
            _ => {}
        }
    }
    (out, damaged)
}

const MODULE_WORDS: &[&str] =
    &["connector", "gang", "allow", "where", "access", "sealed", "moves", "hazard", "restricted", "face"];

fn housing<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    pinout: &mut Pinout,
    errors: &mut Vec<SyntaxError>,
) -> (Housing, bool) {
    let mut pieces = runner.pieces(ways!(housing), node.sigs, errors);
    // A connector may be called `1`.
    let word = pieces.word();
    let name = pieces
        .need(word, "the name of the connector", "for example `connector A \"12-way\" { … }`")
        .unwrap_or_else(|| nameless(pieces.head));
    let title = pieces.title();
    let mut attributes = pieces.attributes();
    if node.body.is_none() {
        pieces.missing("the connector's cavities", "a block `{ … }` with one line a cavity");
    }
    let mut damaged = pieces.finish("connector", ATTRIBUTES) | node.damaged;
    let mut rows = Vec::new();
    for row in node.rows() {
        pinout.allows.extend(row.allows.iter().map(|a| (a.clone(), row.span)));
        damaged |= row.damaged;
        // `sealed` and the like are lines of the connector only where no role follows.
        let keyword = row.keyword();
        let attribute = ATTRIBUTES.contains(&keyword) && !looks_like_cavity(row);
        if attribute {
            let mut pieces = runner.pieces(ways!(attributes), row.sigs, errors);
            add_attributes(&mut attributes, pieces.attributes());
            damaged |= pieces.finish(keyword, ATTRIBUTES);
        } else if (keyword != "allow" || row.sigs.len() > 2) && !row.sigs.is_empty() {
            let (cavity, hurt) = cavity(runner.pieces(ways!(cavity), row.sigs, errors), row);
            damaged |= hurt;
            rows.extend(cavity);
        }
    }
    (Housing { name, title, doc: node.doc.clone(), rows, attributes, span: node.span }, damaged)
}

fn looks_like_cavity(row: &Node<'_>) -> bool {
    row.sigs.iter().skip(1).take(2).any(|s| s.text == "unused" || ROLE_WORDS.contains(&s.text))
}

const OPTIONS: &[&str] = &[
    "on",
    "limit",
    "pwm",
    "clamp",
    "inner",
    "draws",
    "pull_up",
    "pull_down",
    "threshold",
    "range",
    "shared by",
    "switched",
    "digital",
    "feed",
    "ground",
    "drives",
    "switches",
    "reference",
    "return",
    "senses",
    "bus",
    "unused",
];

fn cavity(mut p: Pieces<'_>, row: &Node<'_>) -> (Option<CavityRow>, bool) {
    let number = p.with_name("cavity");
    let Some(number) = p.need(number, "the cavity's number", "for example `4 left_cmd drives low`") else {
        return (None, p.finish("cavity", OPTIONS));
    };
    let name = p.with_name("name");
    let role = role(&mut p);
    let role = if name.is_none() && matches!(role, Some(Role::Unused)) {
        role
    } else if name.is_none() {
        p.missing("the cavity's name and role", "for example `4 left_cmd drives low`, or `4 unused`");
        role
    } else if role.is_none() && p.words() == 0 {
        p.missing("the cavity's role", "`feed`, `ground`, `drives low`, `switches { X, Y }`, `reference 5 V`, `return`, `senses`, `bus NAME`");
        None
    } else if role.is_none() {
        // The word that stands for the role is reported as left over, with the nearest role.
        None
    } else {
        role
    };
    let options = options(&mut p);
    let out = CavityRow { cavity: number, name, role, options, doc: row.doc.clone(), span: row.span };
    let damaged = p.finish("cavity", OPTIONS);
    (Some(out), damaged)
}

fn role(p: &mut Pieces<'_>) -> Option<Role> {
    if p.flag("feed").is_some() {
        return Some(Role::Feed);
    }
    if p.flag("ground").is_some() {
        return Some(Role::Ground);
    }
    if let Some(way) = p.with_name("drives") {
        let way = match way.text.as_str() {
            "low" => Way::Low,
            "high" => Way::High,
            _ => Way::Half,
        };
        return Some(Role::Drives { way, to: p.with_name("to"), from: p.with_name("from") });
    }
    if let Some((rest, other)) = p.pair("switches") {
        return Some(Role::Switches { rest, other });
    }
    if let Some(volts) = p.with("reference") {
        return Some(Role::Reference { volts: Some(volts) });
    }
    if p.flag("return").is_some() {
        return Some(Role::Return { switched: p.flag("switched").is_some() });
    }
    if p.flag("senses").is_some() {
        return Some(Role::Senses { digital: p.flag("digital").is_some() });
    }
    if let Some(name) = p.with_name("bus") {
        return Some(Role::Bus { name, value: p.quantity_value() });
    }
    if p.has("name") { None } else { p.flag("unused").map(|_| Role::Unused) }
}

fn options(p: &mut Pieces<'_>) -> Options {
    Options {
        on: p.with("on"),
        limit: p.with("limit"),
        pwm: p.with("pwm"),
        clamp: p.flag("clamp"),
        inner: p.with("inner"),
        draws: p.with("draws"),
        pull_up: p.pull_up().map(|(value, to)| match to {
            Ok(volts) => (value, PullTo::Volts(volts)),
            Err(name) => (value, PullTo::Pin(name)),
        }),
        pull_down: p.with("pull_down"),
        threshold: p.with("threshold"),
        range: p.with_range("range"),
        shared_by: p.with_names("shared"),
    }
}

fn gang<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> (Gang, bool) {
    let mut pieces = runner.pieces(ways!(gang), node.sigs, errors);
    let name = named(&mut pieces, "gang").unwrap_or_else(|| nameless(pieces.head));
    let title = pieces.title();
    let pwm = pieces.with("pwm");
    if node.body.is_none() {
        pieces.missing(
            "the gang's positions",
            "a block `{ … }` with one line a position: `stop  flap_a gnd  flap_b gnd`",
        );
    }
    let mut damaged = pieces.finish("gang", &["pwm"]) | node.damaged;
    let mut rows = Vec::new();
    for row in node.rows() {
        damaged |= row.damaged;
        if row.sigs.is_empty() {
            continue;
        }
        let (names, hurt) = runner.read(ways!(gang_row), row.sigs, errors);
        damaged |= hurt;
        let mut names = names.unwrap_or_default().into_iter();
        let Some(position) = names.next() else { continue };
        let mut sets = Vec::new();
        while let Some(stage) = names.next() {
            match names.next() {
                Some(place) => sets.push((stage, place)),
                None if hurt => {}
                None => {
                    damaged = true;
                    errors.push(SyntaxError {
                        span: stage.span,
                        message: format!(
                            "where `{}` goes in position `{}` is missing here",
                            stage.text, position.text
                        ),
                        help: Some(
                            "a position names stage and place in turn: `open  flap_a bplus  flap_b gnd`"
                                .into(),
                        ),
                        fix: None,
                    });
                }
            }
        }
        rows.push(GangRow { position, sets, span: row.span });
    }
    (Gang { name, title, doc: node.doc.clone(), pwm, rows, span: node.span }, damaged)
}
