//! `allow RULE "reason"`: silences a rule at one place (decision 15).

use crate::{Finding, fix::edit, rule::Rule, rules};
use keyon_circuit::{Elaboration, ids::FileId, model::Loc};
use keyon_syntax::{
    Span,
    tree::{Allow, DeviceKind, Item, ItemKind, ModuleKind, PartKind},
};
use std::{collections::BTreeMap, ops::Range};

const RULE: &Rule = &rules::files::unused_allow::RULE;

/// Rules whose findings come from laying files side by side.
const ACROSS_FILES: [&str; 2] =
    [rules::wiring::cavity_conflict::RULE.name, rules::wiring::wire_conflict::RULE.name];

/// Whether an `allow` may silence it: text that cannot be read, and a useless `allow`, it may not.
pub(crate) fn can_be_allowed(rule: &str) -> bool {
    rule != "syntax" && rule != "unused-allow"
}

/// An `allow` and what it covers.
pub(crate) struct Cover<'a> {
    allow: &'a Allow,
    file: FileId,
    item: u32,
    /// `None`: the whole item.
    span: Option<Span>,
    used: bool,
}

impl Cover<'_> {
    fn covers(&self, rule: &str, at: Loc) -> bool {
        rule == self.allow.rule.text
            && (at.file, at.item) == (self.file, self.item)
            && self.span.is_none_or(|span| {
                span.start <= at.span.start && at.span.start < span.end.max(span.start + 1)
            })
    }
}

/// Every `allow` of an elaboration, by the item on which it stands.
pub(crate) struct Allows<'a> {
    covers: Vec<Cover<'a>>,
    /// Where the covers of an item begin and end: they follow one another.
    items: BTreeMap<(FileId, u32), Range<usize>>,
}

impl<'a> Allows<'a> {
    pub(crate) fn new(elaboration: &'a Elaboration) -> Self {
        let covers = covers(elaboration);
        let mut items: BTreeMap<(FileId, u32), Range<usize>> = BTreeMap::new();
        for (index, cover) in covers.iter().enumerate() {
            items.entry((cover.file, cover.item)).or_insert(index..index).end = index + 1;
        }
        Self { covers, items }
    }

    /// The one that silences a rule at a place.
    fn find(&mut self, rule: &str, at: Loc) -> Option<&mut Cover<'a>> {
        let range = self.items.get(&(at.file, at.item))?.clone();
        self.covers.get_mut(range)?.iter_mut().find(|cover| cover.covers(rule, at))
    }

    /// Whether one silences a rule at a place.
    pub(crate) fn cover(&mut self, rule: &str, at: Loc) -> bool {
        self.find(rule, at).is_some()
    }
}

/// Takes out the findings that an `allow` covers.
pub(crate) fn silence<'a>(elaboration: &'a Elaboration, findings: &mut Vec<Finding>) -> Allows<'a> {
    let mut allows = Allows::new(elaboration);
    findings.retain(|finding| {
        if !can_be_allowed(finding.rule) {
            return true;
        }
        match allows.find(finding.rule, finding.loc) {
            Some(cover) => {
                cover.used = true;
                false
            }
            None => true,
        }
    });
    allows
}

/// Takes out the findings that an `allow` covers, and reports every `allow` that has no reason or silences nothing.
/// `off` are rules that the settings turn off in a file: an `allow` for one is there for others.
pub(crate) fn apply(
    elaboration: &Elaboration,
    off: &dyn Fn(FileId, &str) -> bool,
    findings: &mut Vec<Finding>,
) {
    let allows = silence(elaboration, findings);
    // What an error elsewhere holds back may be just what this `allow` is for.
    let held_back = elaboration.circuit.lost_end
        || !elaboration.circuit.tainted.is_empty()
        || !elaboration.circuit.beside.is_empty();
    for cover in allows.covers {
        if cover.file == FileId(0) {
            let rule = cover.allow.rule.text.as_str();
            // What other files say against this one is not known here.
            let unknown = held_back || ACROSS_FILES.contains(&rule) || off(cover.file, rule);
            findings.extend(judge(elaboration, &cover, unknown));
        }
    }
}

fn judge(elaboration: &Elaboration, cover: &Cover<'_>, unknown: bool) -> Option<Finding> {
    let name = cover.allow.rule.text.as_str();
    let place = |span| Loc { file: cover.file, item: cover.item, span };
    let at = place(cover.allow.rule.span);
    let line = place(cover.allow.span);
    let remove = |mut finding: Finding| {
        let edit = edit::remove(elaboration, line);
        finding.fixes.extend(edit.map(|edit| edit::safe("remove this `allow`", vec![edit])));
        finding
    };
    if rules::find(name).is_none() {
        let mut finding = RULE.at(at, format!("there is no rule `{name}`, so this `allow` silences nothing"));
        return Some(match rules::nearest(name) {
            Some(near) => finding
                .help(format!("did you mean `{near}`?"))
                .fix(edit::review(format!("write `{near}`"), vec![(at, near.to_owned())])),
            None => {
                finding.help = Some("`keyon explain` lists the rules".to_owned());
                finding
            }
        });
    }
    if !can_be_allowed(name) {
        return Some(remove(
            RULE.at(at, format!("`{name}` cannot be silenced")).help("mend what it reports"),
        ));
    }
    if !cover.used && !elaboration.library && !unknown {
        return Some(remove(
            RULE.at(at, format!("nothing here breaks `{name}`, so this `allow` silences nothing; it would hide a later mistake"))
                .help("remove it"),
        ));
    }
    if cover.allow.reason.as_ref().is_none_or(|reason| reason.text.trim().is_empty()) {
        return Some(
            RULE.at(at, format!("this `allow {name}` gives no reason; whoever reads the circuit later cannot tell a decision from an oversight"))
                .help(format!("say why: `allow {name} \"…\"`")),
        );
    }
    None
}

fn covers(elaboration: &Elaboration) -> Vec<Cover<'_>> {
    let mut covers = Vec::new();
    for (file, source) in elaboration.files.iter().enumerate() {
        for (index, placed) in source.parse.file.items.iter().enumerate() {
            let cover =
                |allow, span| Cover { allow, file: file.into(), item: index as u32, span, used: false };
            // The nearer one first: it is the one that is meant.
            covers.extend(inner(&placed.item).iter().map(|(allow, span)| cover(allow, Some(*span))));
            covers.extend(placed.item.allows.iter().map(|allow| cover(allow, None)));
        }
    }
    covers
}

fn inner(item: &Item) -> &[(Allow, Span)] {
    match &item.kind {
        ItemKind::Device(device) => match &device.what {
            DeviceKind::Body(body) => &body.allows,
            _ => &[],
        },
        ItemKind::Part(part) => match &part.what {
            PartKind::Device(body) => &body.allows,
            PartKind::Module(pinout) => &pinout.allows,
        },
        ItemKind::Module(module) => match &module.what {
            ModuleKind::Body(pinout) => &pinout.allows,
            _ => &[],
        },
        _ => &[],
    }
}
