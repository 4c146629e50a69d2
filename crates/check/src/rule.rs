//! What a rule is.

use crate::{Finding, Level};
use keyon_circuit::Elaboration;
use keyon_solve::Cancel;

/// One rule, one file. `ALL` in `rules/mod.rs` lists them.
pub trait Rule: Sync {
    /// Kebab-case; reads well after `allow`.
    fn name(&self) -> &'static str;
    #[allow(missing_docs)]
    fn level(&self) -> Level;
    /// `power`, `return`, `driver`, `signal`, `sneak`, `wiring`, `names`, `values`, `files`, `teaching`.
    fn group(&self) -> &'static str;
    /// What it says, in a line.
    fn summary(&self) -> &'static str;
    /// Why it matters on the vehicle: a few sentences of Markdown.
    fn why(&self) -> &'static str;
    /// A whole circuit that it blames (this rule and no other error).
    fn wrong(&self) -> &'static str;
    /// The same circuit mended: no finding at all.
    fn right(&self) -> &'static str;
    /// Looks, and says what it finds.
    fn check(&self, context: &Context<'_>, out: &mut Vec<Finding>);
}

/// What a rule sees.
pub struct Context<'a> {
    #[allow(missing_docs)]
    pub elaboration: &'a Elaboration,
    #[allow(missing_docs)]
    pub cancel: &'a dyn Cancel,
}
