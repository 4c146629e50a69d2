//! What an editor is answered, on fixtures that read like documents: `|` is the cursor.

mod completion;
mod fixture;
mod hover;
mod navigation;
