//! Changes of a netlist: faults, interventions and instruments all enter as lists of edits.

use super::{ElementId, NodeId, Primitive};
use crate::units::Ohms;

/// One change of a netlist. A list of edits is applied in order, with one exception: an element that is opened stays
/// open, also when it is replaced afterwards, so that two faults of one part add up whatever their order.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// The element conducts nothing, whatever else is done to it.
    Open(ElementId),
    /// The element is another one (wrong value, weak source, dead source).
    Replace(ElementId, Primitive),
    /// A resistance in series inside the element. Meaningful for `Resistance`, `Contact`, `Fuse`, `Source`, `Coil`,
    /// `ElectronicSwitch`, `Diode`: their own resistance grows by it. A coil's thresholds stay those of its winding.
    Series(ElementId, Ohms),
    /// A resistance between two nodes: leak, short to ground, short across a part.
    Bridge(NodeId, NodeId, Ohms),
    /// A contact or electronic switch that no longer follows its drive (`true`: closed).
    Stuck(ElementId, bool),
    /// One end of an element is on another node: a crossed core, the neighbouring terminal.
    Move {
        /// The element.
        element: ElementId,
        /// Which end (`true`: its `from`).
        from_end: bool,
        /// Where it is now.
        to: NodeId,
    },
}

/// What a fault mode does, with its severity still open (ohms, for the soft ones).
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// The elements are open.
    Open(Vec<ElementId>),
    /// Series resistance of the severity in an element.
    Series(ElementId),
    /// A leak of the severity between two nodes (to ground, or between neighbours).
    Leak(NodeId, NodeId),
    /// A dead short between two nodes.
    Short(NodeId, NodeId),
    /// A contact stuck (`true`: closed); several that move together.
    Stuck(Vec<(ElementId, bool)>),
    /// Another primitive in its place (wrong value, dead or weak source).
    Value(Vec<(ElementId, Primitive)>),
    /// Ends that have changed places: `(element, from_end, new node)`.
    Swapped(Vec<(ElementId, bool, NodeId)>),
}

/// Resistance of a dead short: a bolted metal-to-metal touch.
pub const DEAD_SHORT: Ohms = Ohms::new(1e-3);

impl Effect {
    /// The edits of this effect at `severity` (ignored by the hard effects).
    pub fn edits(&self, severity: Ohms) -> Vec<Edit> {
        match self {
            Self::Open(elements) => elements.iter().map(|e| Edit::Open(*e)).collect(),
            Self::Series(element) => vec![Edit::Series(*element, severity)],
            Self::Leak(a, b) => vec![Edit::Bridge(*a, *b, severity)],
            Self::Short(a, b) => vec![Edit::Bridge(*a, *b, DEAD_SHORT)],
            Self::Stuck(contacts) => contacts.iter().map(|(e, c)| Edit::Stuck(*e, *c)).collect(),
            Self::Value(values) => values.iter().map(|(e, p)| Edit::Replace(*e, p.clone())).collect(),
            Self::Swapped(ends) => ends
                .iter()
                .map(|(element, from_end, to)| Edit::Move { element: *element, from_end: *from_end, to: *to })
                .collect(),
        }
    }
}
