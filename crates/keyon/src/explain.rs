//! `keyon explain`.

use crate::{
    args::ExplainArgs,
    output::{self, Failure, Outcome},
};
use keyon_check::rules;

pub(crate) fn run(args: &ExplainArgs) -> Result<Outcome, Failure> {
    if args.all {
        output::print(&keyon_check::manual())?;
        return Ok(Outcome::Sound);
    }
    let Some(name) = &args.rule else {
        output::print(&list())?;
        return Ok(Outcome::Sound);
    };
    match keyon_check::explain(name).or_else(|| keyon_ide::topic(name)) {
        Some(page) => {
            output::print(&page)?;
            Ok(Outcome::Sound)
        }
        None => {
            let near = keyon_ide::nearest_topic(name);
            Err(Failure::Message(match rules::nearest(name).or(near) {
                Some(nearest) => format!("no rule or word is called `{name}`: did you mean `{nearest}`?"),
                None => format!(
                    "no rule or word is called `{name}`: `keyon explain` lists the rules, `keyon explain language` the words"
                ),
            }))
        }
    }
}

/// All rules by group, each with its level and what it says.
fn list() -> String {
    let mut groups: Vec<(&str, Vec<&keyon_check::Rule>)> = Vec::new();
    for rule in rules::all() {
        match groups.iter_mut().find(|(group, _)| *group == rule.group()) {
            Some((_, list)) => list.push(rule),
            None => groups.push((rule.group(), vec![rule])),
        }
    }
    let wide = rules::all().map(|rule| rule.name().len()).max().unwrap_or(0);
    let mut out = String::new();
    for (group, rules) in groups {
        out.push_str(&format!("{group}\n"));
        for rule in rules {
            let lead = format!("  {:wide$}  {:7}  ", rule.name(), rule.level().words());
            let words =
                keyon_present::grid::wrap(rule.summary(), 100usize.saturating_sub(lead.len()).max(30), 0);
            out.push_str(&lead);
            out.push_str(&words.replace('\n', &format!("\n{}", " ".repeat(lead.len()))));
            out.push('\n');
        }
        out.push('\n');
    }
    out.push_str(
        "`keyon explain RULE` says why a rule matters and shows a wrong and a right circuit; `keyon explain language` shows how \
         circuits are written.\n",
    );
    out
}
