//! Parsing on behalf of documents: what did not change is not read again, and a bug costs one tree, not the session.

use keyon_circuit::Source;
use keyon_syntax::{Edit, Parse};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The tree of `text`, built on the last one where there is one.
pub(crate) fn parse(last: Option<&Source>, text: &str) -> Parse {
    let again = || match last {
        Some(last) => keyon_syntax::reparse(&last.parse, &last.text, text, difference(&last.text, text)),
        None => keyon_syntax::parse(text),
    };
    // Whatever goes wrong in building on the last tree, the whole text is still there.
    catch_unwind(AssertUnwindSafe(again))
        .or_else(|_| catch_unwind(AssertUnwindSafe(|| keyon_syntax::parse(text))))
        .unwrap_or_default()
}

/// Bytes that are compared at once: texts are long and mostly the same.
const BLOCK: usize = 64;

/// How many of these are the same from the first on.
fn common<'t>(a: impl Iterator<Item = &'t [u8]>, b: impl Iterator<Item = &'t [u8]>) -> usize {
    a.zip(b).take_while(|(a, b)| a == b).count()
}

/// The one edit that makes `new` of `old`: what lies between their common beginning and end. Cheaper and safer than to
/// keep account of the edits that came in between.
fn difference(old: &str, new: &str) -> Edit {
    let (a, b) = (old.as_bytes(), new.as_bytes());
    let mut start = common(a.chunks(BLOCK), b.chunks(BLOCK)) * BLOCK;
    let most = a.len().min(b.len());
    start = start.min(most);
    start += a[start..].iter().zip(&b[start..]).take_while(|(a, b)| a == b).count();
    while !(old.is_char_boundary(start) && new.is_char_boundary(start)) {
        start -= 1;
    }
    let rest = most - start;
    let mut tail = (common(a.rchunks(BLOCK), b.rchunks(BLOCK)) * BLOCK).min(rest);
    let behind = a[..a.len() - tail].iter().rev().zip(b[..b.len() - tail].iter().rev());
    tail += behind.take(rest - tail).take_while(|(a, b)| a == b).count();
    while !(old.is_char_boundary(a.len() - tail) && new.is_char_boundary(b.len() - tail)) {
        tail -= 1;
    }
    Edit { start: start as u32, old_end: (a.len() - tail) as u32, new_end: (b.len() - tail) as u32 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_difference_makes_one_of_the_other(
            old in "[a\u{e4}\u{e5}\u{1f50c}]{0,8}", new in "[a\u{e4}\u{e5}\u{1f50c}]{0,8}", around in 0usize..200,
        ) {
            let around = "ab".repeat(around);
            let (old, new) = (format!("{around}{old}{around}"), format!("{around}{new}{around}"));
            let edit = difference(&old, &new);
            let mut text = old.clone();
            text.replace_range(edit.start as usize..edit.old_end as usize, &new[edit.start as usize..edit.new_end as usize]);
            prop_assert_eq!(text, new);
        }
    }
}
