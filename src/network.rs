//! Solves a netlist: islands, stamping, factorization, state iteration, low-rank edits, instruments, sensitivities.
//!
//! It deliberately knows no parts, kinds or probabilities.

use crate::circuit::{Edit, ElementId, Netlist, NodeId, SetUp};
use crate::units::{Amps, Ohms, Volts};

/// A netlist made ready to be solved many times, each time with other edits.
pub struct Network<'n> {
    netlist: &'n Netlist,
}

/// What outlives a set-up: blown fuses, tripped breakers, latches, relays that hold.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Memory {}

/// One way in which a set-up can end (a race of fuses has several).
pub struct Branch<'n> {
    /// Its probability; those of one `enter` sum to 1.
    pub weight: f64,
    /// The operating point.
    pub state: Operating<'n>,
}

/// A solved operating point.
pub struct Operating<'n> {
    _n: std::marker::PhantomData<&'n ()>,
}

/// The part of a circuit that cannot be solved, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsolvable {
    /// Its nodes.
    pub nodes: Vec<NodeId>,
    /// In words.
    pub why: String,
}

/// How an element stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElementState {
    /// Linear, or nothing to say.
    Plain,
    /// A coil pulled in (`true`) or released.
    Coil(bool),
    /// A contact or electronic switch closed or open.
    Contact(bool),
    /// A fuse whole or blown / a breaker in or tripped.
    Fuse(bool),
    /// A diode conducting or not.
    Diode(bool),
    /// A motor turning or not.
    Motor(bool),
    /// A power element or converter on, or off / cut out.
    Power(bool),
    /// A source in its current limit (`true`).
    Source(bool),
}

/// An instrument between two probe points; the reading is that of the network with it attached.
#[derive(Clone, Debug, PartialEq)]
pub enum Instrument {
    /// A voltmeter of this input resistance.
    Voltmeter(Ohms),
    /// A filament test lamp: hot resistance at nominal voltage.
    TestLamp {
        /// Hot ohms.
        hot: Ohms,
        /// Nominal volts.
        nominal: Volts,
    },
    /// An LED tester: lights either way round.
    LedTester {
        /// Forward volts.
        forward: Volts,
        /// Series ohms.
        series: Ohms,
    },
}

/// What an instrument meets.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Voltage red minus black with the instrument attached.
    pub volts: Volts,
    /// Current through the instrument from red to black.
    pub amps: Amps,
    /// Nothing but the instrument joins the two points: an open line, no exact number.
    pub floating: bool,
    /// The state did not settle (chatter): the reading jumps.
    pub unsteady: bool,
}

impl<'n> Network<'n> {
    /// Prepares a netlist.
    pub fn new(netlist: &'n Netlist) -> Self {
        Self { netlist }
    }
    /// The netlist.
    pub fn netlist(&self) -> &'n Netlist {
        self.netlist
    }
    /// The memory of a circuit never used: fuses whole, latches open.
    pub fn fresh(&self) -> Memory {
        todo!()
    }
    /// Enters `set_up` with `edits` in force: all controls at rest first, then one control after the other in file order.
    pub fn enter(
        &self,
        _edits: &[Edit],
        _before: &Memory,
        _set_up: &SetUp,
    ) -> Result<Vec<Branch<'n>>, Unsolvable> {
        todo!()
    }
    /// What `instrument` meets between `red` and `black`.
    pub fn measure(
        &self,
        _state: &Operating<'n>,
        _instrument: &Instrument,
        _red: NodeId,
        _black: NodeId,
    ) -> Result<Measured, Unsolvable> {
        todo!()
    }
}

impl Operating<'_> {
    /// Voltage of `a` against `b`; `None` when nothing joins them.
    pub fn voltage(&self, _a: NodeId, _b: NodeId) -> Option<Volts> {
        todo!()
    }
    /// Current through an element, from `from` to `to`.
    pub fn current(&self, _element: ElementId) -> Amps {
        todo!()
    }
    /// Voltage across an element (`from` minus `to`); zero across a floating one.
    pub fn drop(&self, _element: ElementId) -> Volts {
        todo!()
    }
    /// How an element stands.
    pub fn state(&self, _element: ElementId) -> ElementState {
        todo!()
    }
    /// Elements that chatter; empty when the state settled.
    pub fn chatter(&self) -> &[ElementId] {
        todo!()
    }
    /// What outlives this set-up.
    pub fn memory(&self) -> &Memory {
        todo!()
    }
}
