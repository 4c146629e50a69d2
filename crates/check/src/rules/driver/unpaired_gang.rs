//! Stages that should move together and do not.

use crate::{
    Context, Finding,
    facts::{modules::cavity, stages::Stage},
    fix::{edit, modules},
    words,
};
use keyon_circuit::{
    Fix,
    ids::*,
    model::{ControlKind, ElementKind, Loc, Module, Role, Way},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "unpaired-gang",
    level: Error,
    group: "driver",
    summary: "A gang of one stage, a position that leaves a stage unnamed, or a motor between a ganged stage and one that is in no gang.",
    why: "\
The two sides of a bridge move together: that is what turns a motor one way, the other way, or stops it. When one side moves alone the \
motor runs when nobody told it to, or brakes when it should run, and a table of its states has rows that the module can \
never produce.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for module in &context.circuit.modules {
        // A stage or a position of it may not have been read.
        if edit::is_damaged(context.elaboration, module) {
            continue;
        }
        gangs(context, module, out);
    }
    motors(context, out);
    Ok(())
}

fn gangs(context: &Context<'_>, module: &Module, out: &mut Vec<Finding>) {
    let place = |loc: Loc| context.facts.own_first([loc, module.loc]);
    for gang in &module.gangs {
        let name = context.circuit.controls.get(gang.control.index()).map_or("", |c| c.name.as_str());
        let stages: Vec<_> =
            gang.stages.iter().filter_map(|&at| Some(cavity(module, at)?.name.clone())).collect();
        // A wire that would have shown the other stages may not have been read.
        let unread = gang.named > 1 && context.circuit.lost_end;
        if !unread && (stages.len() < 2 || stages.len() < gang.named) {
            let message = if gang.named < 2 {
                format!(
                    "the gang `{name}` moves one stage only, {}: a gang is for stages that move together",
                    words::names(&stages)
                )
            } else {
                format!(
                    "the gang `{name}` of `{}` moves {} stages, but this circuit shows {} of them: what the others do is left out",
                    module.name,
                    gang.named,
                    stages.len()
                )
            };
            let help = if gang.named < 2 {
                "name the other stage in each of its positions, or take the gang out: a single stage is a control by itself"
            } else {
                "add the other stages to `uses` and wire them"
            };
            out.extend(place(gang.loc).map(|loc| RULE.at(loc, message).help(help)));
        }
        for (position, stage, loc) in &gang.gaps {
            let message = format!(
                "position `{position}` of the gang `{name}` does not say where `{stage}` stands: nobody can tell what the motor does there"
            );
            let name_it = modules::name_stage(context, &[*loc], stage)
                .map(|edits| edit::review(format!("let `{stage}` rest in `{position}`"), edits));
            out.extend(place(*loc).map(|loc| {
                RULE.at(loc, message)
                    .help(format!("add `{stage}` and where it goes to this position"))
                    .fixes(name_it)
            }));
        }
    }
}

/// A motor of which one side is moved by a gang and the other by a stage of its own.
fn motors(context: &Context<'_>, out: &mut Vec<Finding>) {
    let facts = context.facts;
    let bridge = |role: &Role| matches!(role, Role::Switches | Role::Drives(Way::Half));
    let stages: Vec<Stage<'_>> = facts.stages().filter(|s| bridge(&s.cavity.role)).collect();
    if stages.is_empty() {
        return;
    }
    let mut told: Vec<Loc> = Vec::new();
    for (i, e) in context.circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Winding)
    {
        let side = |point: PointId| {
            let reach = facts.wired(point);
            stages.iter().filter(|s| reach.has(s.cavity.inside)).copied().collect::<Vec<_>>()
        };
        let (from, to) = (side(e.from), side(e.to));
        let (Some(a), Some(b)) = (from.first(), to.first()) else { continue };
        let single = match (ganged(context, a), ganged(context, b)) {
            (true, false) => b,
            (false, true) => a,
            _ => continue,
        };
        let Some(place) = facts.stage_place(single).filter(|place| !told.contains(place)) else { continue };
        told.push(place);
        let other = if single.at == a.at { b } else { a };
        out.push(
            RULE.at(
                place,
                format!(
                    "`{}` lies between `{}`, which a gang moves, and `{}`, which is in no gang: one side of the bridge can move \
                     without the other",
                    words::name(context.circuit, i.into()),
                    facts.stage_name(other),
                    facts.stage_name(single)
                ),
            )
            .help("name this stage in the gang as well")
            .fixes(pair(context, other, single)),
        );
    }
}

/// Names a stage, standing where it rests, in every position of the gang that moves another.
fn pair(context: &Context<'_>, ganged: &Stage<'_>, single: &Stage<'_>) -> Option<Fix> {
    let module = context.circuit.modules.get(ganged.module.index())?;
    let gang = module.gangs.iter().find(|gang| Some(gang.control) == ganged.cavity.control)?;
    let name = context.circuit.controls.get(gang.control.index())?.name.clone();
    let edits = modules::name_stage(context, &gang.rows, &single.cavity.name)?;
    (single.module == ganged.module)
        .then(|| edit::review(format!("name `{}` in the gang `{name}`, at rest", single.cavity.name), edits))
}

fn ganged(context: &Context<'_>, stage: &Stage<'_>) -> bool {
    let control = stage.cavity.control.and_then(|c| context.circuit.controls.get(c.index()));
    control.is_some_and(|c| matches!(c.kind, ControlKind::Gang(..)))
}
