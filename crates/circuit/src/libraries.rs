//! `use`: the files of an elaboration, and which parts the circuit can name.

use crate::{Problem, Source, World, hash::Map, ids::FileId, model::Loc, near::nearest};
use keyon_syntax::tree::{self, ItemKind};
use smol_str::{SmolStr, format_smolstr};
use std::sync::{Arc, OnceLock};

/// The name by which the built-in parts are used.
pub(crate) const TRADE: &str = "trade";

/// The text of the built-in parts, which `use "trade"` brings.
pub const TRADE_TEXT: &str = include_str!("trade.keyon");

/// The built-in parts, parsed once.
pub(crate) fn trade() -> &'static Source {
    static SOURCE: OnceLock<Source> = OnceLock::new();
    SOURCE.get_or_init(|| Source {
        key: SmolStr::new_static(TRADE),
        text: Arc::from(TRADE_TEXT),
        parse: Arc::new(keyon_syntax::parse(TRADE_TEXT)),
    })
}

/// A `use` line and the file it leads to.
struct Link {
    from: FileId,
    item: u32,
    to: Option<FileId>,
}

/// All files, and what was wrong with finding them.
pub(crate) struct Loaded {
    pub(crate) files: Vec<Source>,
    links: Vec<Link>,
    problems: Vec<Problem>,
}

/// A part of some file.
pub(crate) struct PartDef<'a> {
    pub(crate) file: FileId,
    pub(crate) item: u32,
    pub(crate) part: &'a tree::Part,
    pub(crate) damaged: bool,
    pub(crate) built_in: bool,
}

/// The parts of all files, and those that file 0 can name.
pub(crate) struct Libraries<'a> {
    pub(crate) parts: Vec<PartDef<'a>>,
    /// By the name that file 0 has to write.
    pub(crate) scope: Map<SmolStr, usize>,
    /// A library without an alias is missing or damaged: unknown parts may be its.
    pub(crate) broken: bool,
    /// Aliases whose library is missing or damaged.
    pub(crate) broken_aliases: Vec<SmolStr>,
    /// What each `use` of file 0 leads to: item and file.
    pub(crate) uses: Vec<(u32, FileId)>,
}

fn uses(source: &Source) -> impl Iterator<Item = (u32, &tree::Use)> {
    source.parse.file.items.iter().enumerate().filter_map(|(i, placed)| match &placed.item.kind {
        ItemKind::Use(used) => Some((i as u32, used)),
        _ => None,
    })
}

/// Whether the file has something that only a circuit has.
pub(crate) fn is_circuit(source: &Source) -> bool {
    source.parse.file.items.iter().any(|placed| {
        !matches!(
            placed.item.kind,
            ItemKind::Part(_) | ItemKind::Use(_) | ItemKind::About(_) | ItemKind::Stray | ItemKind::Junk
        )
    })
}

/// The name on the first `circuit` line; `circuit` where there is none.
pub(crate) fn circuit_name(source: &Source) -> SmolStr {
    let heads = source.parse.file.items.iter().find_map(|placed| match &placed.item.kind {
        ItemKind::Circuit(head) if !head.name.text.is_empty() => Some(head.name.text.clone()),
        _ => None,
    });
    heads.unwrap_or(SmolStr::new_static("circuit"))
}

/// Loads a file and, level by level, all that it uses.
pub(crate) fn load(world: &dyn World, source: &Source) -> Loaded {
    let mut all = Loaded { files: vec![source.clone()], links: Vec::new(), problems: Vec::new() };
    let mut known: Map<SmolStr, FileId> = Map::default();
    known.insert(source.key.clone(), FileId(0));
    let mut built_in = Vec::new();
    let mut next = 0;
    while let Some(file) = all.files.get(next).cloned() {
        let from = FileId::from(next);
        for (item, used) in uses(&file) {
            let loc = Loc { file: from, item, span: used.path.span };
            if used.path.text == TRADE {
                built_in.push(all.links.len());
                all.links.push(Link { from, item, to: None });
                continue;
            }
            let to = world.library(&file.key, &used.path.text).map(|library| {
                *known.entry(library.key.clone()).or_insert_with(|| {
                    all.files.push(library);
                    FileId::from(all.files.len() - 1)
                })
            });
            if to.is_none() {
                let mut problem = Problem::new(
                    "unknown-name",
                    loc,
                    format!("there is no file `{}`: its parts are missing here", used.path.text),
                );
                let near = world
                    .near(&file.key, &used.path.text)
                    .or_else(|| nearest(&used.path.text, [(TRADE, true)]).map(str::to_owned));
                match near {
                    Some(near) => {
                        problem.help(format!("did you mean \"{near}\"?")).write(format!("\"{near}\""), false);
                    }
                    None => {
                        problem.help("paths are relative to the file that uses them");
                    }
                }
                all.problems.push(problem);
            }
            all.links.push(Link { from, item, to });
        }
        next += 1;
    }
    if !built_in.is_empty() {
        let id = FileId::from(all.files.len());
        all.files.push(trade().clone());
        for link in built_in {
            if let Some(link) = all.links.get_mut(link) {
                link.to = Some(id);
            }
        }
    }
    all.find_cycles();
    all
}

impl Loaded {
    fn used(&self, link: &Link) -> Option<&tree::Use> {
        match &self.files.get(link.from.index())?.parse.file.items.get(link.item as usize)?.item.kind {
            ItemKind::Use(used) => Some(used),
            _ => None,
        }
    }

    fn loc(&self, link: &Link) -> Option<Loc> {
        Some(Loc { file: link.from, item: link.item, span: self.used(link)?.path.span })
    }

    /// Depth first from file 0, on a stack of our own: a link to a file that is still open closes a cycle.
    fn find_cycles(&mut self) {
        let mut out: Vec<Vec<usize>> = vec![Vec::new(); self.files.len()];
        for (i, link) in self.links.iter().enumerate() {
            if let Some(out) = out.get_mut(link.from.index()) {
                out.push(i);
            }
        }
        #[derive(Clone, Copy, PartialEq)]
        enum Mark {
            New,
            Open,
            Done,
        }
        let mut marks = vec![Mark::New; self.files.len()];
        // The open files: each with the link that led there and the next of its own links.
        let mut stack: Vec<(FileId, Option<usize>, usize)> = vec![(FileId(0), None, 0)];
        let mut found = Vec::new();
        while let Some((file, _, next)) = stack.last_mut() {
            let file = *file;
            if let Some(mark) = marks.get_mut(file.index()) {
                *mark = Mark::Open;
            }
            let Some(&link) = out.get(file.index()).and_then(|out| out.get(*next)) else {
                if let Some(mark) = marks.get_mut(file.index()) {
                    *mark = Mark::Done;
                }
                stack.pop();
                continue;
            };
            *next += 1;
            let Some(to) = self.links.get(link).and_then(|link| link.to) else { continue };
            match marks.get(to.index()) {
                Some(Mark::New) => stack.push((to, Some(link), 0)),
                Some(Mark::Open) => {
                    // The link by which the cycle leaves the file it comes back to.
                    let at = stack.iter().position(|(file, ..)| *file == to).unwrap_or(0);
                    let first = stack.get(at + 1).and_then(|(_, via, _)| *via);
                    found.push((link, first));
                }
                _ => {}
            }
        }
        for (link, first) in found {
            let Some((loc, used)) = self.links.get(link).and_then(|l| Some((self.loc(l)?, self.used(l)?)))
            else {
                continue;
            };
            let path = &used.path.text;
            let message = match first {
                None => format!("this file uses itself: `{path}` is the file that this line stands in"),
                Some(_) => format!("`{path}` uses this file in turn: a ring of libraries has no first one"),
            };
            let mut problem = Problem::new("library-cycle", loc, message);
            problem.help("take this line out, or move the parts that both need to a third file");
            if let Some(first) = first.and_then(|f| self.links.get(f)).and_then(|f| self.loc(f)) {
                problem.see(first, "the ring begins here");
            }
            self.problems.push(problem);
        }
    }
}

impl<'a> Libraries<'a> {
    /// Without any file.
    pub(crate) fn none() -> Self {
        Self {
            parts: Vec::new(),
            scope: Map::default(),
            broken: false,
            broken_aliases: Vec::new(),
            uses: Vec::new(),
        }
    }

    /// Collects the parts, and what file 0 can name.
    pub(crate) fn new(loaded: &'a Loaded) -> (Self, Vec<Problem>) {
        let mut problems = loaded.problems.clone();
        let mut all = Self::none();
        let built_in = trade().key.clone();
        let mut of_file: Vec<std::ops::Range<usize>> = Vec::with_capacity(loaded.files.len());
        for (f, source) in loaded.files.iter().enumerate() {
            let first = all.parts.len();
            let built_in = f > 0 && source.key == built_in && f + 1 == loaded.files.len();
            for (i, placed) in source.parse.file.items.iter().enumerate() {
                if let ItemKind::Part(part) = &placed.item.kind {
                    let (file, item) = (FileId::from(f), i as u32);
                    all.parts.push(PartDef { file, item, part, damaged: placed.item.damaged, built_in });
                }
            }
            of_file.push(first..all.parts.len());
        }
        all.enter(loaded, &of_file, FileId(0), None, &mut problems);
        let mut aliases: Map<SmolStr, Loc> = Map::default();
        for link in loaded.links.iter().filter(|link| link.from == FileId(0)) {
            let (Some(used), Some(loc)) = (loaded.used(link), loaded.loc(link)) else { continue };
            if let Some(to) = link.to {
                all.uses.push((link.item, to));
                if to != FileId(0) && loaded.files.get(to.index()).is_some_and(is_circuit) {
                    let mut problem = Problem::new(
                        "syntax",
                        loc,
                        format!("`{}` is a whole circuit, not a library of parts", used.path.text),
                    );
                    problem.help("move its parts to a file of their own, and use that in both");
                    problems.push(problem);
                }
            }
            let Some(alias) = &used.alias else { continue };
            let place = Loc { span: alias.span, ..loc };
            if let Some(&first) = aliases.get(&alias.text) {
                let message = format!("`{}` already stands for another library", alias.text);
                let mut problem = Problem::new("duplicate-name", place, message);
                problem
                    .see(first, "the first one is here")
                    .help("give this library another name behind `as`");
                problems.push(problem);
                continue;
            }
            aliases.insert(alias.text.clone(), place);
            match link.to {
                Some(to) => all.enter(loaded, &of_file, to, Some(&alias.text), &mut problems),
                None => all.broken_aliases.push(alias.text.clone()),
            }
        }
        (all, problems)
    }

    /// Brings the parts of a file, and of what it uses without an alias, into the scope of file 0.
    fn enter(
        &mut self,
        loaded: &Loaded,
        of_file: &[std::ops::Range<usize>],
        start: FileId,
        alias: Option<&SmolStr>,
        problems: &mut Vec<Problem>,
    ) {
        let mut seen = vec![false; loaded.files.len()];
        let mut queue: Vec<(FileId, Option<Loc>)> = vec![(start, None)];
        let mut next = 0;
        while let Some(&(file, via)) = queue.get(next) {
            next += 1;
            match seen.get_mut(file.index()) {
                Some(seen) if !*seen => *seen = true,
                _ => continue,
            }
            self.note_damage(loaded, file, alias);
            for index in of_file.get(file.index()).cloned().unwrap_or_default() {
                self.name_part(index, via, alias, problems);
            }
            for link in loaded.links.iter().filter(|link| link.from == file) {
                if loaded.used(link).is_none_or(|used| used.alias.is_some()) {
                    continue;
                }
                match link.to {
                    Some(to) => queue.push((to, loaded.loc(link))),
                    None => self.mark_broken(alias),
                }
            }
        }
    }

    fn mark_broken(&mut self, alias: Option<&SmolStr>) {
        match alias {
            Some(alias) => self.broken_aliases.push(alias.clone()),
            None => self.broken = true,
        }
    }

    /// A part whose name could not be read makes every unknown part its possible victim.
    fn note_damage(&mut self, loaded: &Loaded, file: FileId, alias: Option<&SmolStr>) {
        let Some(source) = loaded.files.get(file.index()) else { return };
        let lost = source.parse.file.items.iter().any(|placed| match &placed.item.kind {
            // In the circuit's own file the words of such lines are known one by one; a `use` brings unknown ones.
            ItemKind::Junk => {
                let text = source.text.get(placed.start as usize..).unwrap_or_default();
                file != FileId(0) || text.starts_with("use ")
            }
            ItemKind::Part(part) => part.name.text.is_empty(),
            ItemKind::Use(_) => placed.item.damaged,
            _ => false,
        });
        if lost {
            self.mark_broken(alias);
        }
    }

    fn name_part(
        &mut self,
        index: usize,
        via: Option<Loc>,
        alias: Option<&SmolStr>,
        problems: &mut Vec<Problem>,
    ) {
        let Some(def) = self.parts.get(index) else { return };
        let name = &def.part.name;
        if name.text.is_empty() {
            return;
        }
        let written =
            alias.map_or_else(|| name.text.clone(), |alias| format_smolstr!("{alias}.{}", name.text));
        let here = Loc { file: def.file, item: def.item, span: name.span };
        let Some(&first) = self.scope.get(&written) else {
            self.scope.insert(written, index);
            return;
        };
        let Some(other) = self.parts.get(first) else { return };
        let there = Loc { file: other.file, item: other.item, span: other.part.name.span };
        let mut problem = if other.file == def.file {
            let message = format!("part `{}` is declared twice in this file", name.text);
            Problem::new("duplicate-name", here, message)
        } else {
            // At whichever of the two the circuit's own file says last.
            let loc = match via {
                Some(via) if via.file != there.file || via > there => via,
                _ => there,
            };
            let message =
                format!("two parts named `{}` meet here: devices cannot tell which is meant", name.text);
            let mut problem = Problem::new("duplicate-name", loc, message);
            if loc != here {
                problem.see(here, format!("one `{}` is declared here", name.text));
            }
            problem.help("use one of the libraries with `as NAME` and write `NAME.` before its parts");
            problem
        };
        if problem.loc != there {
            problem.see(there, format!("the first `{}` is declared here", name.text));
        }
        problems.push(problem);
    }

    /// The parts that a file can name, sorted by the name that it has to write.
    pub(crate) fn scope_of(&self, file: FileId) -> Vec<(SmolStr, usize)> {
        if file != FileId(0) {
            return Vec::new();
        }
        let mut all: Vec<_> = self.scope.iter().map(|(name, &index)| (name.clone(), index)).collect();
        all.sort();
        all
    }
}
