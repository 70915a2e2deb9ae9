//! The electrical description of an install: named nodes, primitive elements between them, the controls
//! that a person can set, and every change (set-up, intervention, fault) as an edit of it.
//!
//! It deliberately does not know how a circuit is solved.

mod build;
mod by_hand;
mod edit;
mod element;
mod expand;
mod export;
mod faults;
mod netlist;
mod set_up;

pub use by_hand::{ByHand, Jumper, Move};
pub use edit::{DEAD_SHORT, Edit, Effect};
pub use element::{Drive, Element, ElementId, Emf, FuseGate, NodeId, Primitive, Reset};
pub use expand::{Circuit, Incomplete, Inner, Sighted};
pub use export::{Export, edited};
pub use faults::PossibleFault;
pub use netlist::{Netlist, Node};
pub use set_up::{Control, ControlId, Positions, SetUp};
