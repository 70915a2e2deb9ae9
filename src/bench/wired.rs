//! A circuit as it stands on the bench: every element with what a fault, a hand or a tolerance has made of it.

use super::draws::Draws;
use crate::circuit::{Edit, Emf, Netlist, NodeId, Primitive};
use crate::index::Id;
use crate::units::{Ohms, Volts};

/// One element.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) what: Primitive,
    /// It conducts nothing.
    pub(super) open: bool,
    /// A contact or switch that does not move.
    pub(super) stuck: Option<bool>,
}

/// All elements, the bridges after them, and where the controls stand.
#[derive(Clone, Debug)]
pub(super) struct Wired {
    pub(super) nodes: usize,
    pub(super) pieces: Vec<Piece>,
    /// How many pieces are elements of the netlist.
    pub(super) own: usize,
    pub(super) positions: Vec<usize>,
    /// Melting times of fuses against the usual, by element.
    pub(super) melting: Vec<f64>,
    /// EMF of all sources at the moment against what was drawn for them.
    pub(super) sag: f64,
}

impl Wired {
    /// A netlist with all controls at rest and its elements as drawn.
    pub(super) fn new(netlist: &Netlist, draws: &Draws) -> Self {
        let nodes = netlist.nodes.len();
        let pieces: Vec<Piece> = netlist
            .elements
            .iter()
            .enumerate()
            .map(|(index, element)| {
                let (from, to) = (element.from.position(), element.to.position());
                let mut what = element.primitive.clone();
                draws.stray(index, &mut what, true);
                // What hangs on no node of this netlist conducts nothing.
                let lost = from >= nodes || to >= nodes;
                let (from, to) = if lost { (0, 0) } else { (from, to) };
                Piece { from, to, what, open: lost, stuck: None }
            })
            .collect();
        Self {
            nodes,
            own: pieces.len(),
            pieces,
            positions: netlist.controls.iter().map(|c| c.rest).collect(),
            melting: draws.melting(netlist.elements.len()),
            sag: 1.0,
        }
    }

    /// Puts changes into the circuit: a fault, or what a hand has done. What points nowhere changes nothing.
    pub(super) fn change(&mut self, edits: &[Edit], draws: &Draws) {
        for edit in edits {
            match edit {
                Edit::Open(id) => self.with(id.position(), |piece| piece.open = true),
                Edit::Stuck(id, closed) => self.with(id.position(), |piece| piece.stuck = Some(*closed)),
                Edit::Series(id, ohms) => self.with(id.position(), |piece| lengthen(&mut piece.what, *ohms)),
                Edit::Replace(id, other) => {
                    let mut other = other.clone();
                    draws.stray(id.position(), &mut other, false);
                    self.with(id.position(), |piece| {
                        piece.what = other;
                        piece.stuck = None;
                    });
                }
                Edit::Bridge(a, b, ohms) => {
                    if let (Some(from), Some(to)) = (self.node(*a), self.node(*b)) {
                        self.add(from, to, Primitive::Resistance { ohms: *ohms });
                    }
                }
                Edit::Move { element, from_end, to } => {
                    if let Some(to) = self.node(*to) {
                        self.with(element.position(), |piece| {
                            *(if *from_end { &mut piece.from } else { &mut piece.to }) = to;
                        });
                    }
                }
            }
        }
    }

    /// Adds a whole piece between two nodes.
    pub(super) fn add(&mut self, from: usize, to: usize, what: Primitive) {
        self.pieces.push(Piece { from, to, what, open: false, stuck: None });
    }

    fn with(&mut self, index: usize, change: impl FnOnce(&mut Piece)) {
        if index < self.own
            && let Some(piece) = self.pieces.get_mut(index)
        {
            change(piece);
        }
    }

    /// The position of a node that exists.
    pub(super) fn node(&self, node: NodeId) -> Option<usize> {
        (node.position() < self.nodes).then(|| node.position())
    }

    /// Open-circuit volts of a source as the controls stand; `None`: it delivers nothing and is open.
    pub(super) fn emf(&self, emf: &Emf) -> Option<f64> {
        let volts = match emf {
            Emf::Fixed(volts) => *volts,
            Emf::By { control, volts } => {
                let position = *self.positions.get(control.position())?;
                (*volts.get(position)?)?
            }
        };
        Some(Volts::get(volts) * self.sag)
    }
}

/// A resistance in series inside an element; those without a resistance of their own have their joint in front of them.
fn lengthen(what: &mut Primitive, by: Ohms) {
    match what {
        Primitive::Resistance { ohms }
        | Primitive::Source { internal: ohms, .. }
        | Primitive::Fuse { ohms, .. }
        | Primitive::Contact { closed: ohms, .. }
        | Primitive::ConverterOutput { internal: ohms, .. }
        | Primitive::Diode { series: ohms, .. } => *ohms = *ohms + by,
        Primitive::ElectronicSwitch { on, leakage, .. } => {
            *on = *on + by;
            *leakage = *leakage + by;
        }
        Primitive::Coil { ohms, pull_in, release } => {
            // The winding needs what it always needed; across winding and joint that is more.
            let whole = *ohms + by;
            let grown = whole.get() / ohms.get().max(f64::MIN_POSITIVE);
            *pull_in = *pull_in * grown;
            *release = *release * grown;
            *ohms = whole;
        }
        Primitive::Filament { .. }
        | Primitive::Motor { .. }
        | Primitive::Power { .. }
        | Primitive::ConverterInput { .. } => {}
    }
}
