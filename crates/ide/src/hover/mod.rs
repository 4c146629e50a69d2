//! What stands under the cursor: what it is, what it carries or does in the state that is shown and in every state that
//! matters, why, and what to take care of there.

mod element;
mod machine;
mod point;
mod quantity;
mod sensor;
mod written;

use crate::{
    View,
    place::{doc, end_of_path, item_at, name_at},
    shown,
};
use keyon_circuit::{Entity, model::PointKind};
use keyon_solve::{Cancelled, Memory, Solution};
use keyon_syntax::Span;
use std::sync::Arc;

/// Something to show, and the text that it is about.
#[derive(Clone, Debug, PartialEq)]
pub struct Hover {
    #[allow(missing_docs)]
    pub span: Span,
    /// What to show.
    pub markdown: String,
}

/// What stands at an offset.
///
/// # Errors
/// When the view's `cancel` asks for it.
pub fn hover(view: &View<'_>, offset: u32) -> Result<Option<Hover>, Cancelled> {
    if let Some(hover) = rule(view, offset) {
        return Ok(Some(hover));
    }
    // A path answers as a whole, wherever in it the cursor is: `left_valve.2` is asked for what the pin reads.
    if let Some((occurrence, span)) = name_at(view, offset).map(|found| end_of_path(view, found)) {
        let markdown = entity(view, occurrence.entity)?;
        return Ok(Some(Hover { span, markdown }));
    }
    Ok(quantity::at(view, offset).or_else(|| written::keyword(view, offset)))
}

/// The rule that an `allow` names.
fn rule(view: &View<'_>, offset: u32) -> Option<Hover> {
    let placed = item_at(view, offset)?;
    let mut allows = placed.item.allows.clone();
    use keyon_syntax::tree::{DeviceKind, ItemKind, ModuleKind, PartKind};
    let inner = match &placed.item.kind {
        ItemKind::Device(device) => match &device.what {
            DeviceKind::Body(body) => Some(&body.allows),
            _ => None,
        },
        ItemKind::Module(module) => match &module.what {
            ModuleKind::Body(pinout) => Some(&pinout.allows),
            _ => None,
        },
        ItemKind::Part(part) => match &part.what {
            PartKind::Device(body) => Some(&body.allows),
            PartKind::Module(pinout) => Some(&pinout.allows),
        },
        _ => None,
    };
    allows.extend(inner.into_iter().flatten().map(|(allow, _)| allow.clone()));
    let name = allows.into_iter().map(|allow| allow.rule);
    let name = name.into_iter().find(|rule| rule.span.moved(placed.start).touches(offset))?;
    let markdown = crate::explain::summary(&name.text)?;
    Some(Hover { span: name.span.moved(placed.start), markdown })
}

/// One entity.
pub(crate) fn entity(view: &View<'_>, entity: Entity) -> Result<String, Cancelled> {
    // What one paragraph has solved the next need not.
    let own = Memory::default();
    let memory = view.memory.unwrap_or(&own);
    let said = page_of(&View { memory: Some(memory), ..*view }, entity);
    memory.tidy(&view.elaboration.circuit);
    said
}

fn page_of(view: &View<'_>, entity: Entity) -> Result<String, Cancelled> {
    let circuit = &view.elaboration.circuit;
    let mut page = Page::new(view, entity);
    match entity {
        Entity::Point(id) if circuit.points.get(id.index()).is_some_and(|p| p.kind == PointKind::Common) => {
            page.say("All supplies are measured against it, unless they name another negative pole.");
        }
        Entity::Point(point) => point::page(view, &mut page, point)?,
        Entity::Supply(_) | Entity::Ground(_) | Entity::Splice(_) | Entity::InlineCavity(..) => {
            if let Some(point) = circuit.point_of(entity) {
                point::page(view, &mut page, point)?;
            }
        }
        Entity::Cavity(module, connector, cavity) => {
            machine::cavity(view, &mut page, module, connector, cavity)?;
        }
        Entity::Device(device) => machine::device(view, &mut page, device)?,
        Entity::Module(module) => machine::module(view, &mut page, module)?,
        Entity::Connector(module, connector) => machine::connector(view, &mut page, module, connector),
        Entity::Inline(inline) => machine::inline(view, &mut page, inline),
        Entity::Control(control) => machine::control(view, &mut page, control)?,
        Entity::Position(control, position) => machine::position(view, &mut page, control, position),
        Entity::Wire(wire) => element::wire(view, &mut page, wire)?,
        Entity::Element(id) | Entity::Fuse(id) => element::page(view, &mut page, id)?,
        Entity::Stimulus(stimulus) => written::stimulus(view, &mut page, stimulus),
        Entity::Scenario(scenario) => written::scenario(view, &mut page, scenario),
        Entity::Part(part) => written::part(view, &mut page, part),
        Entity::Param(part, param) => written::param(view, &mut page, part, param),
        Entity::Exercise(_) | Entity::Readings(_) | Entity::Inside(..) | Entity::Library(_) => {}
    }
    Ok(page.text)
}

/// A page of Markdown that begins with what the thing is.
struct Page {
    text: String,
}

impl Page {
    fn new(view: &View<'_>, entity: Entity) -> Self {
        let mut page = Self { text: String::new() };
        let description = view.elaboration.describe(entity);
        // The name is what stands out; the rest of the heading is in plain type.
        page.say(&match description
            .split_once('`')
            .and_then(|(kind, rest)| Some((kind, rest.split_once('`')?)))
        {
            Some((kind, (name, rest))) => {
                let rest = if rest.starts_with(", of ") { rest.trim_start_matches(',') } else { rest };
                format!("**{name}** \u{b7} {}{rest}", kind.trim_end())
            }
            None => format!("**{description}**"),
        });
        if let Some(doc) = doc(view, entity) {
            page.say(&doc);
        }
        page
    }

    /// A paragraph.
    fn say(&mut self, paragraph: &str) {
        if paragraph.trim().is_empty() {
            return;
        }
        if !self.text.is_empty() {
            self.text.push_str("\n\n");
        }
        self.text.push_str(paragraph.trim_end());
    }

    /// Several lines, each its own.
    fn list(&mut self, lines: impl IntoIterator<Item = String>) {
        let lines: Vec<_> = lines.into_iter().map(|line| format!("- {line}")).collect();
        self.say(&lines.join("\n"));
    }
}

/// The state that is shown, solved, and how to call it.
fn now(view: &View<'_>) -> (Arc<Solution>, String) {
    let (state, name) = shown::state(view);
    let solution = view.solve(&state);
    let name = if name == "at rest" { name } else { format!("in {name}") };
    (solution, name)
}

/// The first letter as a capital.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}
