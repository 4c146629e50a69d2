//! What a file says of itself: its title, the libraries it uses, its controls and variants.

use super::{Name, Text, Title};

/// `circuit NAME "title"`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct CircuitHead {
    pub name: Name,
    pub title: Option<Title>,
}

/// `use "path" [as NAME]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Use {
    pub path: Text,
    pub alias: Option<Name>,
}

/// `about { key value, … }`: kept, not read.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct About {
    pub rows: Vec<(Name, Vec<Text>)>,
}

/// `control NAME ["title"] positions …`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct ControlItem {
    pub name: Name,
    pub title: Option<Title>,
    pub positions: Vec<Name>,
}

/// `variant NAME ["title"]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Variant {
    pub name: Name,
    pub title: Option<Title>,
}
