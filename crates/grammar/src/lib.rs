//! The tree-sitter grammar of `grammar/tree-sitter`, for programs in Rust and for its tests.

use tree_sitter_language::LanguageFn;

unsafe extern "C" {
    fn tree_sitter_keyon() -> *const ();
}

/// The language.
// SAFETY: the generated function takes nothing and gives a pointer to static data.
pub const LANGUAGE: LanguageFn = unsafe { LanguageFn::from_raw(tree_sitter_keyon) };
