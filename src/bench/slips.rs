//! Blunders: a reading that is not that of the test. Half of them stay while the black lead or the set-up does.

use crate::circuit::{Circuit, ControlId, ElementId, NodeId, SetUp};
use crate::index::Id;
use fastrand::Rng;

/// What goes wrong with one reading.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Slip {
    /// The red lead is on another terminal.
    Red(NodeId),
    /// The black lead is on another terminal, and stays there.
    Black(NodeId),
    /// The clamp goes around another conductor.
    Wire(ElementId),
    /// The point of the display is a place off.
    Tenfold(f64),
    /// A lead does not touch.
    Zero,
    /// A control stands elsewhere for this one reading.
    Once(SetUp),
    /// A control stands elsewhere, and stays there.
    SetUp(SetUp),
}

impl Slip {
    /// Draws a blunder: a lasting one half of the time.
    pub(super) fn draw(circuit: &Circuit, set_up: &SetUp, rng: &mut Rng) -> Self {
        let node = |rng: &mut Rng| {
            let points = circuit.node_of.len().max(1);
            circuit.node_of.iter().nth(rng.usize(0..points)).copied().unwrap_or(circuit.earth)
        };
        match rng.usize(0..8) {
            0 | 1 => Self::Black(node(rng)),
            2 | 3 => wrong(circuit, set_up, rng).map_or(Self::Zero, Self::SetUp),
            4 => Self::Red(node(rng)),
            5 => Self::Tenfold(if rng.bool() { 10.0 } else { 0.1 }),
            6 => Self::Zero,
            _ => wrong(circuit, set_up, rng).map_or(Self::Zero, Self::Once),
        }
    }

    /// The same at a clamp meter, which has no black lead: a quarter of its blunders lasts.
    pub(super) fn draw_at_clamp(circuit: &Circuit, set_up: &SetUp, rng: &mut Rng) -> Self {
        match rng.usize(0..8) {
            0..=2 => Self::Wire(ElementId::new(rng.usize(0..circuit.netlist.elements.len().max(1)))),
            3 | 4 => wrong(circuit, set_up, rng).map_or(Self::Zero, Self::SetUp),
            5 => Self::Tenfold(if rng.bool() { 10.0 } else { 0.1 }),
            6 => Self::Zero,
            _ => wrong(circuit, set_up, rng).map_or(Self::Zero, Self::Once),
        }
    }
}

/// The set-up with one control in another position.
fn wrong(circuit: &Circuit, set_up: &SetUp, rng: &mut Rng) -> Option<SetUp> {
    let controls = circuit.netlist.controls.len();
    if controls == 0 {
        return None;
    }
    let control = ControlId::new(rng.usize(0..controls));
    let positions = circuit.netlist.controls[control].positions.len();
    let now = set_up.positions.get(control).copied().unwrap_or(0);
    let step = if positions > 1 { rng.usize(1..positions) } else { return None };
    Some(set_up.clone().with(control, (now + step) % positions))
}
