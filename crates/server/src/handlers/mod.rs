//! One file a method, named after it: each turns parameters into a question for the core, and the core's answer into
//! the protocol's types. They run on workers.

pub(crate) mod code_action;
pub(crate) mod completion;
pub(crate) mod definition;
pub(crate) mod document_highlight;
pub(crate) mod document_symbol;
pub(crate) mod execute_command;
pub(crate) mod folding_range;
pub(crate) mod formatting;
pub(crate) mod hover;
pub(crate) mod inlay_hint;
pub(crate) mod references;
