//! Set-ups: one position of each control, and what was unplugged, pulled or bridged for the test.

use super::{ByHand, Edit};
use crate::id_type;
use crate::index::{Id, IdVec};
use crate::install::PartId;
use std::ops::{Index, IndexMut};
use std::sync::Arc;

id_type! {
    /// Something that a person can set.
    ControlId;
}

/// A control and its positions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Control {
    /// The name on the panel.
    pub name: String,
    /// Names of its positions; the first is the rest position unless `rest` says otherwise.
    pub positions: Vec<String>,
    /// The rest position (0-based).
    pub rest: usize,
}

/// One position of each control (0-based, in file order), and the interventions of the test.
#[derive(Clone, Debug, PartialEq)]
pub struct SetUp {
    /// Position of each control.
    pub positions: Positions,
    /// What was changed by hand for this set-up: a wire cut, a connector unplugged, a fuse pulled.
    pub interventions: Vec<Edit>,
    /// What was done to which part for it, ascending; `interventions` hold it as changes of the circuit.
    pub by_hand: Vec<(PartId, ByHand)>,
    /// `true`: entered from all controls at rest; `false`: straight from the set-up before.
    pub from_rest: bool,
}

/// The position of each control (0-based), in file order. Copies share one list until one of them is changed: a large install
/// has many controls, and a set-up stands in every test.
#[derive(Clone, Debug)]
pub struct Positions(Arc<[usize]>);

impl Positions {
    /// The position of a control, if there is such a control.
    pub fn get(&self, control: ControlId) -> Option<&usize> {
        self.0.get(control.position())
    }
    /// All positions in order.
    pub fn iter(&self) -> std::slice::Iter<'_, usize> {
        self.0.iter()
    }
    /// How many controls there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }
    /// Whether there is no control.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    /// All positions in order.
    pub fn as_slice(&self) -> &[usize] {
        &self.0
    }
}

impl PartialEq for Positions {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0) || self.0 == other.0
    }
}

impl FromIterator<usize> for Positions {
    fn from_iter<It: IntoIterator<Item = usize>>(iter: It) -> Self {
        Self(iter.into_iter().collect())
    }
}

impl Index<ControlId> for Positions {
    type Output = usize;
    fn index(&self, control: ControlId) -> &usize {
        &self.0[control.position()]
    }
}

impl IndexMut<ControlId> for Positions {
    fn index_mut(&mut self, control: ControlId) -> &mut usize {
        &mut Arc::make_mut(&mut self.0)[control.position()]
    }
}

impl SetUp {
    /// All controls at rest, nothing unplugged.
    pub fn at_rest(controls: &IdVec<ControlId, Control>) -> Self {
        Self {
            positions: controls.iter().map(|c| c.rest).collect(),
            interventions: Vec::new(),
            by_hand: Vec::new(),
            from_rest: true,
        }
    }

    /// The same with `control` in `position`.
    #[must_use]
    pub fn with(mut self, control: ControlId, position: usize) -> Self {
        if control.position() < self.positions.len() {
            self.positions[control] = position;
        }
        self
    }
}
