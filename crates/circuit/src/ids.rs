//! Typed indices into the vectors of a [`Circuit`](crate::model::Circuit). They hold for one elaboration only.

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub struct $name(pub u32);
        impl $name {
            /// The index as a `usize`.
            pub fn index(self) -> usize { self.0 as usize }
        }
        impl From<usize> for $name {
            fn from(index: usize) -> Self { Self(index as u32) }
        }
    )*};
}

ids! {
    /// A file of one elaboration: 0 is the circuit's own, the others are its libraries.
    FileId,
    /// A node of the graph.
    PointId,
    /// An edge of the graph.
    ElementId,
    /// A device (also a lamp, a switch … at top level).
    DeviceId,
    /// A module.
    ModuleId,
    /// A wire item, with one element a stretch.
    WireId,
    /// An in-line connector.
    InlineId,
    /// An input of the truth tables.
    ControlId,
    /// A temperature, travel, pressure …
    StimulusId,
    /// A named state.
    ScenarioId,
}
