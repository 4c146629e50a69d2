//! One file a method, named after it: each turns parameters into a question for the core, and the core's answer into
//! the protocol's types. They run on workers.

pub(crate) mod call_hierarchy;
pub(crate) mod code_action;
pub(crate) mod code_lens;
pub(crate) mod completion;
pub(crate) mod definition;
pub(crate) mod diagnostic;
pub(crate) mod document_color;
pub(crate) mod document_highlight;
pub(crate) mod document_link;
pub(crate) mod document_symbol;
mod elsewhere;
pub(crate) mod execute_command;
pub(crate) mod folding_range;
pub(crate) mod formatting;
pub(crate) mod hover;
pub(crate) mod inlay_hint;
pub(crate) mod linked_editing_range;
pub(crate) mod range_formatting;
pub(crate) mod references;
pub(crate) mod rename;
pub(crate) mod selection_range;
pub(crate) mod semantic_tokens;
pub(crate) mod signature_help;
pub(crate) mod type_definition;
pub(crate) mod will_rename_files;
pub(crate) mod workspace_symbol;
