//! Entries to lines: indentation, columns, comments at the ends of lines.

use super::{
    cells::{self, Block, Cell},
    entries::{Entry, EntryKind, Statement, Word},
    spacing,
};
use crate::{
    Span,
    step::{step, steps},
};

/// A line as it is to be written.
pub(super) struct Line<'a> {
    /// Empty lines before it.
    pub(super) blank_before: bool,
    /// Blanks at its beginning; `None` where they are part of the first piece.
    pub(super) indent: Option<usize>,
    /// In order.
    pub(super) pieces: Vec<Piece<'a>>,
}

/// A token, a comment, or a stretch that is kept.
pub(super) struct Piece<'a> {
    /// Blanks before it, in its line.
    pub(super) gap: usize,
    /// Where it comes from.
    pub(super) span: Span,
    /// What is written.
    pub(super) text: &'a str,
}

const STEP: usize = 2;
/// How much further in a line stands that goes on with a statement: past the lines of the statement's body.
const CONTINUED: usize = 4;
/// Least blanks before a comment at the end of a line.
const COMMENT_GAP: usize = 2;
/// A line longer than this pushes no comments but its own: one endless line would make all of its block as long.
const LONG: usize = 1000;

/// A statement of one line, until its block is complete.
struct Row<'a> {
    line: Line<'a>,
    cells: Vec<Cell>,
    trailing: Option<Span>,
}

/// Lays the entries out.
pub(super) fn lines<'a>(text: &'a str, entries: Vec<Entry<'a>>) -> Vec<Line<'a>> {
    let mut out: Vec<Line<'a>> = Vec::with_capacity(entries.len());
    let mut block: (Block, usize, Vec<Row<'a>>) = (Block::ALONE, 0, Vec::new());
    // A body's first line and a file's have no empty line before them.
    let mut fresh = true;
    for entry in entries {
        let blank_before = entry.blank_before && !fresh;
        fresh = matches!(&entry.kind, EntryKind::Statement(s) if s.opens);
        match entry.kind {
            EntryKind::Kept(span) => {
                flush(text, &mut block.2, &mut out);
                let kept = text.get(span.range()).unwrap_or_default();
                out.push(Line {
                    blank_before,
                    indent: None,
                    pieces: vec![Piece { gap: 0, span, text: kept }],
                });
            }
            EntryKind::Comment { span, depth } => {
                flush(text, &mut block.2, &mut out);
                out.push(Line {
                    blank_before,
                    indent: Some(depth * STEP),
                    pieces: vec![piece(text, 0, span)],
                });
            }
            EntryKind::Statement(mut statement) => {
                steps(statement.words.len());
                let found = cells::cells(&mut statement);
                let straight = statement.words.iter().all(|w| !w.break_before && w.comments.is_empty());
                let joins = found.block != Block::ALONE
                    && (found.block, statement.depth) == (block.0, block.1)
                    && !blank_before
                    && !block.2.is_empty();
                if !joins {
                    flush(text, &mut block.2, &mut out);
                }
                if !straight {
                    broken(text, statement, &found.cells, blank_before, &mut out);
                    continue;
                }
                (block.0, block.1) = (found.block, statement.depth);
                block.2.push(row(statement, found.cells, blank_before));
            }
        }
    }
    flush(text, &mut block.2, &mut out);
    out
}

fn piece(text: &str, gap: usize, span: Span) -> Piece<'_> {
    let written = text.get(span.range()).unwrap_or_default();
    Piece { gap, span, text: written.trim_end() }
}

fn gaps<'a>(words: &[Word<'a>], cells: &[Cell]) -> Vec<Piece<'a>> {
    let tokens: Vec<_> = words.iter().map(|w| (w.kind, w.text)).collect();
    let gaps = spacing::gaps(&tokens);
    let mut pieces: Vec<Piece<'a>> =
        words.iter().zip(gaps).map(|(w, gap)| Piece { gap, span: w.span, text: w.text }).collect();
    for cell in cells {
        if let Some(piece) = pieces.get_mut(cell.at) {
            piece.gap = cell.gap;
        }
    }
    pieces
}

fn row<'a>(statement: Statement<'a>, cells: Vec<Cell>, blank_before: bool) -> Row<'a> {
    let pieces = gaps(&statement.words, &cells);
    let line = Line { blank_before, indent: Some(statement.depth * STEP), pieces };
    Row { line, cells, trailing: statement.trailing }
}

/// A statement over several lines: nothing is aligned with it.
fn broken<'a>(
    text: &'a str,
    statement: Statement<'a>,
    cells: &[Cell],
    blank_before: bool,
    out: &mut Vec<Line<'a>>,
) {
    let indent = statement.depth * STEP;
    let mut line = Line { blank_before, indent: Some(indent), pieces: Vec::new() };
    let begin = |indent: usize| Line { blank_before: false, indent: Some(indent), pieces: Vec::new() };
    for (word, mut piece_of_word) in statement.words.iter().zip(gaps(&statement.words, cells)) {
        for &(span, own_line) in &word.comments {
            step();
            if own_line {
                out.push(std::mem::replace(&mut line, begin(indent + CONTINUED)));
            }
            line.pieces.push(piece(text, if own_line { 0 } else { COMMENT_GAP }, span));
        }
        if word.break_before {
            let further = if matches!(word.text, ")" | "{") { indent } else { indent + CONTINUED };
            out.push(std::mem::replace(&mut line, begin(further)));
            piece_of_word.gap = 0;
        }
        line.pieces.push(piece_of_word);
    }
    if let Some(span) = statement.trailing {
        line.pieces.push(piece(text, COMMENT_GAP, span));
    }
    out.push(line);
}

/// Aligns the rows of a block and hands them over.
fn flush<'a>(text: &'a str, rows: &mut Vec<Row<'a>>, out: &mut Vec<Line<'a>>) {
    steps(rows.len());
    let ends = align(rows);
    let commented = |(row, &end): (&Row<'_>, &usize)| row.trailing.filter(|_| end <= LONG).map(|_| end);
    let column = rows.iter().zip(&ends).filter_map(commented).max().unwrap_or(0) + COMMENT_GAP;
    for (mut row, end) in rows.drain(..).zip(ends) {
        row.line
            .pieces
            .extend(row.trailing.map(|span| piece(text, column.max(end + COMMENT_GAP) - end, span)));
        out.push(row.line);
    }
}

/// Where a row stands while its block is aligned.
#[derive(Clone, Copy, Default)]
struct Progress {
    /// The number of its next cell.
    next: usize,
    /// Where that cell would begin by itself; after the last one, where the line ends.
    at: usize,
    /// The cell before it is too wide to push others.
    wide: bool,
}

/// Widens the gaps so that cells of one column and key begin at the same place. Returns the rows' ends.
fn align(rows: &mut [Row<'_>]) -> Vec<usize> {
    let mut members: Vec<(u16, u32, usize)> = Vec::new();
    for (i, row) in rows.iter().enumerate() {
        members.extend(row.cells.iter().map(|c| (c.column, c.key, i)));
    }
    members.sort_unstable();
    let mut progress: Vec<Progress> =
        rows.iter().map(|row| Progress { at: natural(row, 0, 0), ..Progress::default() }).collect();
    for group in members.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        let own = group.iter().filter_map(|&(_, _, i)| progress.get(i));
        let place = own.filter(|p| !p.wide).map(|p| p.at).max().unwrap_or(0);
        for &(_, _, i) in group {
            step();
            let (Some(row), Some(p)) = (rows.get_mut(i), progress.get_mut(i)) else { continue };
            let Some(cell) = row.cells.get(p.next).copied() else { continue };
            let begins = p.at.max(place);
            if let Some(piece) = row.line.pieces.get_mut(cell.at) {
                piece.gap += begins - p.at;
            }
            let at = natural(row, p.next + 1, begins);
            let gap = row.cells.get(p.next + 1).map_or(0, |c| c.gap);
            // Once pushed out of its column, a row stays out of the way of the others.
            let pushed = begins > place;
            *p = Progress {
                next: p.next + 1,
                at,
                wide: pushed || at.saturating_sub(begins + gap) > cell.limit,
            };
        }
    }
    progress.iter().map(|p| p.at).collect()
}

/// Where the row's cell number `index` would begin, if the one before it begins at `from`; for the first, counted from
/// the line's first word; after the last, where the line ends.
fn natural(row: &Row<'_>, index: usize, from: usize) -> usize {
    let first = index.checked_sub(1).and_then(|i| row.cells.get(i)).map_or(0, |c| c.at);
    let last = row.cells.get(index).map_or(row.line.pieces.len(), |c| c.at);
    let mut at = from;
    for (i, piece) in row.line.pieces.iter().enumerate().take(last).skip(first) {
        step();
        at += if i == first { 0 } else { piece.gap } + width(piece.text);
    }
    at + row.cells.get(index).map_or(0, |c| c.gap)
}

/// Characters; marks that stand over another are counted, as the grammar counts columns.
fn width(text: &str) -> usize {
    text.chars().count()
}
