//! Nodes, elements and controls: a circuit as data.

use super::{Control, ControlId, Element, ElementId, NodeId};
use crate::index::IdVec;

/// One piece of metal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Node {
    /// A name for messages and exports.
    pub name: String,
}

/// A circuit: what stands between which nodes, and what a person can set.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Netlist {
    /// All nodes.
    pub nodes: IdVec<NodeId, Node>,
    /// All elements.
    pub elements: IdVec<ElementId, Element>,
    /// All controls.
    pub controls: IdVec<ControlId, Control>,
}
