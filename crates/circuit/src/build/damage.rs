//! What could not be read: so that consequences are told from causes.

use super::{Builder, Slot};
use crate::{
    Entity,
    hash::Set,
    ids::{ModuleId, PointId},
    model::*,
};
use keyon_syntax::{
    lexer::{self, TokenKind},
    tree::{self, Item, ItemKind},
};
use smol_str::SmolStr;
use std::collections::BTreeMap;

impl Builder<'_> {
    /// Before names are known: which things are open-ended, which words were lost.
    pub(super) fn read_damage(&mut self) {
        let items = self.items();
        for (i, placed) in items.iter().enumerate() {
            self.item = i as u32;
            let item: &Item = &placed.item;
            if matches!(item.kind, ItemKind::Junk) {
                self.read_junk(item);
                self.lose(item);
                continue;
            }
            if !item.damaged {
                continue;
            }
            let nameless = item.kind.name().is_some_and(|name| name.text.is_empty());
            self.lost_name |= nameless;
            match &item.kind {
                ItemKind::Device(_)
                | ItemKind::Module(_)
                | ItemKind::Inline(_)
                | ItemKind::Control(_)
                | ItemKind::Switch(_) => {
                    self.read_pasted(item);
                    // Arrows in its body join its own pins.
                    if nameless {
                        self.unread = true;
                        self.read_junk(item);
                    } else {
                        self.open_ended.extend(item.kind.name().map(|name| name.text.clone()));
                        if matches!(item.kind, ItemKind::Module(_)) {
                            // A cavity in a row that was not read is told by no other name.
                            self.lost_cavities = true;
                            self.read_junk(item);
                        }
                    }
                }
                ItemKind::Supply(_)
                | ItemKind::Ground(_)
                | ItemKind::Splice(_)
                | ItemKind::Element(_)
                | ItemKind::Fuse(_)
                    if nameless =>
                {
                    self.read_junk(item);
                    self.lose(item);
                }
                ItemKind::Fuse(fuse) if fuse.path.is_none() => self.lost_in.push(i as u32),
                ItemKind::Wire(wire) if self.has_lost_end(item, wire) => {
                    self.lost_in.push(i as u32);
                    // Its number means nothing either.
                    self.read_junk(item);
                }
                ItemKind::Element(element) if self.has_lost_path(item, element) => {
                    self.lost_in.push(i as u32)
                }
                ItemKind::Elsewhere(elsewhere) if elsewhere.point.is_none() => self.lost_in.push(i as u32),
                _ => {}
            }
        }
    }

    /// Whether a wire leads, or led on, to something that was not read.
    fn has_lost_end(&self, item: &Item, wire: &tree::Wire) -> bool {
        let text = self.text(self.at(item.span));
        let arrows = lexer::tokens(text).iter().filter(|token| token.kind == TokenKind::Arrow).count();
        wire.points.len() < 2 || arrows >= wire.points.len()
    }

    /// Whether an element of its own says from where to where, and that was not read.
    fn has_lost_path(&self, item: &Item, element: &tree::TopElement) -> bool {
        let text = self.text(self.at(item.span));
        element.path.is_none() && lexer::tokens(text).iter().any(|token| token.kind == TokenKind::Arrow)
    }

    /// Whether a line that was to bring parts into scope was not read: it is not known which.
    pub(super) fn lost_use(&self) -> bool {
        let Some(file) = self.files.get(self.file.index()) else { return false };
        let lost = file
            .parse
            .file
            .items
            .iter()
            .filter(|placed| matches!(placed.item.kind, ItemKind::Junk | ItemKind::Stray));
        let mut texts = lost.filter_map(|placed| file.text.get(placed.item.span.moved(placed.start).range()));
        texts.any(|text| text.starts_with("use"))
    }

    fn says_live(&self, item: &Item) -> bool {
        let text = self.text(self.at(item.span));
        lexer::tokens(text).iter().any(|token| token.text(text) == "live")
    }

    /// A statement that was not read may have joined any two points, but only if an arrow stands in it.
    fn lose(&mut self, item: &Item) {
        self.unread = true;
        let text = self.text(self.at(item.span));
        if lexer::tokens(text).iter().any(|token| token.kind == TokenKind::Arrow) {
            self.lost_in.push(self.item);
        }
    }

    /// The volts that a supply was meant to have which says none that can be read: those of a number without its unit, else
    /// those for which most of this file's loads are rated. So that what hangs on it is not called weak, or overfed.
    pub(super) fn likely_volts(&self, written: Option<&tree::Value>) -> f64 {
        if let Some(tree::ValueKind::Quantity(quantity)) = written.map(|value| &value.kind)
            && quantity.unit.is_none()
            && (1.0..=1000.0).contains(&quantity.number)
        {
            return quantity.number;
        }
        let text = self.files.get(self.file.index()).map_or("", |source| &source.text);
        let blank = |kind| matches!(kind, TokenKind::Blank);
        let words = lexer::tokens(text).into_iter().filter(|token| !blank(token.kind));
        let words: Vec<&str> = words.map(|token| token.text(text)).collect();
        let mut counts: BTreeMap<u64, usize> = BTreeMap::new();
        for three in words.windows(3) {
            let [before, number, unit] = three else { continue };
            // `rated 24 V`, `21 W 24 V`: where the value before is written apart or together.
            let rated = *before == "rated" || before.ends_with('W');
            let (number, unit) = match number.strip_suffix('V') {
                Some(number) => (number, "V"),
                None => (*number, *unit),
            };
            if rated
                && unit == "V"
                && let Ok(volts) = number.parse::<f64>()
            {
                *counts.entry((volts * 1e3) as u64).or_default() += 1;
            }
        }
        let most = counts.into_iter().max_by_key(|&(_, count)| count);
        most.map_or(12.0, |(millivolts, _)| millivolts as f64 / 1e3)
    }

    /// Keeps the words of a text that begins no item: what they would have declared is not known.
    fn read_junk(&mut self, item: &Item) {
        let text = self.text(self.at(item.span));
        let words = text.split(|c: char| !(c.is_alphanumeric() || c == '_')).filter(|w| !w.is_empty());
        self.junk_words.extend(words.map(SmolStr::new));
    }

    /// Keeps the words of lines at the margin of an item with a block: they begin items of their own.
    fn read_pasted(&mut self, item: &Item) {
        for line in pasted(self.text(self.at(item.span))) {
            let words = line.split(|c: char| !(c.is_alphanumeric() || c == '_')).filter(|w| !w.is_empty());
            self.junk_words.extend(words.map(SmolStr::new));
        }
    }

    /// Taints the cavities of a module in whose rows alone something is damaged. False where more is.
    fn taint_rows(&mut self, id: ModuleId, pinout: &'_ tree::Pinout, start: u32, item: &Item) -> bool {
        let Some(source) = self.files.get(self.file.index()) else { return false };
        let all = item.span.moved(start);
        let errors = &source.parse.errors;
        let first = errors.partition_point(|error| error.span.start < all.start);
        let errors = errors.get(first..).unwrap_or_default().iter().take_while(|e| e.span.start < all.end);
        let rows: Vec<&tree::CavityRow> = pinout.housings.iter().flat_map(|h| &h.rows).collect();
        let mut hurt: Vec<&tree::CavityRow> = Vec::new();
        let mut strange = false;
        for error in errors {
            let line = source.text.get(..error.span.start as usize).unwrap_or_default();
            if error.span.start > all.start && (line.is_empty() || line.ends_with(['\n', '\r'])) {
                // A line that was pasted into it is none of its own.
                strange = true;
                continue;
            }
            let before = rows.partition_point(|row| row.span.moved(start).start <= error.span.start);
            let row = before.checked_sub(1).and_then(|at| rows.get(at));
            match row.filter(|row| row.span.moved(start).end >= error.span.end) {
                Some(row) => hurt.push(row),
                None => return false,
            }
        }
        let Some(module) = self.c.modules.get(id.index()) else { return false };
        // One that was not read may be the feed or the ground that is not there.
        let powered = !module.feeds.is_empty() && !module.grounds.is_empty();
        if (hurt.is_empty() && !strange) || (!powered && hurt.iter().any(|row| row.role.is_none())) {
            return false;
        }
        let cavities = module.connectors.iter().flat_map(|c| &c.cavities);
        let of_row = |c: &&Cavity| hurt.iter().any(|row| self.at(row.span) == c.loc);
        let points: Vec<PointId> = cavities.filter(of_row).flat_map(|c| [c.outside, c.inside]).collect();
        for point in points {
            self.taint(point);
        }
        true
    }

    /// What a text that begins no item names: it may have been a word about that.
    fn taint_named(&mut self, text: &str) {
        for token in lexer::tokens(text) {
            let known = self.c.index.things.get(token.text(text)).copied();
            // All stand on supplies and grounds: they say too little.
            let known = known.filter(|e| !matches!(e, Entity::Supply(_) | Entity::Ground(_)));
            match known.map(|entity| (entity, self.c.point_of(entity))) {
                Some((_, Some(point))) => self.taint_net(point),
                Some((entity, None)) => self.taint_thing(entity),
                None => {}
            }
        }
    }

    /// When everything is there: points that damaged items touch.
    pub(super) fn taint_damaged(&mut self) {
        for (i, placed) in self.read_items() {
            if !placed.item.damaged {
                continue;
            }
            self.item = i as u32;
            if matches!(placed.item.kind, ItemKind::Device(_) | ItemKind::Module(_) | ItemKind::Inline(_)) {
                for line in pasted(self.text(self.at(placed.item.span))) {
                    self.taint_named(line);
                }
            }
            if matches!(placed.item.kind, ItemKind::Junk) {
                self.taint_named(self.text(self.at(placed.item.span)));
                continue;
            }
            if let (ItemKind::Module(module), Some(&Slot::Module(id))) =
                (&placed.item.kind, self.slots.get(i))
                && let tree::ModuleKind::Body(pinout) = &module.what
                && self.taint_rows(id, pinout, placed.start, &placed.item)
            {
                continue;
            }
            let entity = match self.slots.get(i) {
                Some(&Slot::Device(d)) => Some(Entity::Device(d)),
                Some(&Slot::Module(m)) => Some(Entity::Module(m)),
                Some(&Slot::Inline(i)) => Some(Entity::Inline(i)),
                Some(&Slot::Supply(i)) => Some(Entity::Supply(i)),
                Some(&Slot::Ground(i)) => Some(Entity::Ground(i)),
                // All that may be lost of it is who shares it.
                Some(&Slot::Splice(i)) if self.text(self.at(placed.item.span)).contains("shar") => {
                    Some(Entity::Splice(i))
                }
                _ => None,
            };
            if let Some(entity) = entity {
                self.taint_thing(entity);
            }
            let ends: Vec<_> = match &placed.item.kind {
                // When it is live could not be read.
                ItemKind::Supply(supply) if supply.live.is_none() && self.says_live(&placed.item) => {
                    if let Some(&Slot::Supply(index)) = self.slots.get(i)
                        && let Some(element) = self.c.supplies.get(index).map(|s| s.element)
                    {
                        self.taint_fed_by(element);
                    }
                    Vec::new()
                }
                ItemKind::Fuse(fuse) => {
                    let element = match self.slots.get(i) {
                        Some(&Slot::Fuse(index)) => self.c.fuses.get(index).map(|f| f.element),
                        _ => None,
                    };
                    // Where its path was read, it joins what it joins, whatever it is rated.
                    let whole = fuse
                        .path
                        .as_ref()
                        .is_some_and(|path| !path.from.text.is_empty() && !path.to.text.is_empty());
                    let element = element.filter(|_| !whole);
                    let element = element.and_then(|e| self.c.elements.get(e.index()));
                    element.map(|e| vec![e.from, e.to]).unwrap_or_default()
                }
                _ => Vec::new(),
            };
            for point in ends {
                self.taint_net(point);
                // The other side of an in-line cavity, and what lies behind a pin, hang on it.
                if let Some(PointKind::InlineSide(inline, c, _)) =
                    self.c.points.get(point.index()).map(|p| p.kind)
                    && let Some(cavity) = self.c.inlines.get(inline.index()).and_then(|i| i.cavities.get(c))
                {
                    let (a, b) = (cavity.a, cavity.b);
                    self.taint(a);
                    self.taint(b);
                }
            }
        }
        self.find_lost_ends();
        if !self.missed.is_empty() {
            self.taint_missed();
        }
    }

    /// How many ends of each statement with a path were not read: those of which no name in it speaks.
    fn find_lost_ends(&mut self) {
        for item in std::mem::take(&mut self.lost_in) {
            self.unread = true;
            let span = self.items().get(item as usize).map(|placed| placed.item.span);
            self.item = item;
            let text = self.text(self.at(span.unwrap_or_default()));
            let mut known = 0;
            for token in lexer::tokens(text).iter().skip(1) {
                if !matches!(token.kind, TokenKind::Word | TokenKind::Path) {
                    continue;
                }
                let Some(&entity) = self.c.index.things.get(token.text(text)) else { continue };
                if matches!(entity, Entity::Fuse(_)) {
                    continue;
                }
                known += 1;
                match self.c.point_of(entity) {
                    Some(point) => self.beside(point),
                    None => self.missed.push(entity),
                }
            }
            // A chain has an end more than arrows.
            let arrows = lexer::tokens(text).iter().filter(|token| token.kind == TokenKind::Arrow).count();
            let lost = (arrows + 1).max(2).saturating_sub(known).min(2);
            self.c.lost_end |= lost > 0;
            self.c.lost_ends.extend(std::iter::repeat_n(item, lost));
        }
        self.item = 0;
    }

    /// A wire that names a pin which its thing does not have was meant for another one there.
    fn taint_missed(&mut self) {
        let within: Set<PointId> =
            self.missed.iter().filter_map(|&thing| self.points_of(thing)).flatten().collect();
        for point in self.c.loose_ends().into_iter().filter(|point| within.contains(point)) {
            self.taint_net(point);
        }
    }
}

/// The lines of an item with a block that begin at the margin and close nothing: pasted ones.
fn pasted(text: &str) -> impl Iterator<Item = &str> {
    text.lines().skip(1).filter(|line| line.starts_with(|c: char| c.is_alphanumeric()))
}
