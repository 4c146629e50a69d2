//! What an editor is answered, on fixtures that read like documents: `|` is the cursor.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod completion;
mod fixture;
mod hover;
mod navigation;
mod refactor;
mod signature;
