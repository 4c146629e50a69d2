//! The circuit as a petgraph graph, for whoever wants its algorithms.

use crate::{ids::*, model::Circuit};
use petgraph::graph::{NodeIndex, UnGraph};

impl Circuit {
    /// Points are nodes and elements are edges, in source order and with the same indices; an edge keeps its
    /// `from` as the source. Neighbours come newest first, as petgraph has it: sort what leaves.
    pub fn graph(&self) -> UnGraph<PointId, ElementId> {
        let mut graph = UnGraph::with_capacity(self.points.len(), self.elements.len());
        for point in 0..self.points.len() {
            graph.add_node(PointId::from(point));
        }
        for (id, element) in self.elements.iter().enumerate() {
            let node = |point: PointId| NodeIndex::new(point.index());
            graph.add_edge(node(element.from), node(element.to), ElementId::from(id));
        }
        graph
    }
}
