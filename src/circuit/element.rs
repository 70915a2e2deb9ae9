//! The primitive elements: all that the network solver can solve. Every kind of part is data that composes them.

use super::ControlId;
pub use crate::knowledge::Reset;

use crate::id_type;
use crate::units::{Amps, Ohms, Volts, Watts};

id_type! {
    /// A node: one piece of metal, ideal joins already merged.
    NodeId;
    /// A primitive element of a netlist.
    ElementId;
}

/// A two-terminal primitive between two nodes. The current counts positive from `from` to `to` through it.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Unique name: the part's id, a dot, the element's key (`K1.coil`), or the bare part id.
    pub name: String,
    /// The node where a positive current enters; the plus pole of a source.
    pub from: NodeId,
    /// The node where a positive current leaves; the minus pole of a source.
    pub to: NodeId,
    /// What it is.
    pub primitive: Primitive,
}

impl Primitive {
    /// A source with this share of its volts; `None` for everything else.
    pub fn supplying(&self, share: f64) -> Option<Self> {
        let mut primitive = self.clone();
        let Self::Source { emf, .. } = &mut primitive else { return None };
        match emf {
            Emf::Fixed(volts) => *volts = *volts * share,
            Emf::By { volts, .. } => volts.iter_mut().flatten().for_each(|volts| *volts = *volts * share),
        }
        Some(primitive)
    }
}

/// The behaviour of an element (engine design, section 1).
#[derive(Clone, Debug, PartialEq)]
pub enum Primitive {
    /// EMF behind an internal resistance; with a `limit` it holds that current once overloaded.
    Source {
        /// The open-circuit voltage, plus at `from`.
        emf: Emf,
        /// Internal resistance, above zero.
        internal: Ohms,
        /// The largest current that it delivers.
        limit: Option<Amps>,
    },
    /// A plain resistance above zero: wires, joints, frames, resistive loads, leaks.
    Resistance {
        /// Its value.
        ohms: Ohms,
    },
    /// A tungsten filament: `R = hot * max(0.1, (|V| / nominal)^0.45)`.
    Filament {
        /// Resistance at nominal voltage.
        hot: Ohms,
        /// Nominal voltage.
        nominal: Volts,
    },
    /// A DC motor: its winding alone while at rest or stalled, the running equivalent once turning.
    Motor {
        /// Resistance at rest and stalled.
        winding: Ohms,
        /// Equivalent resistance while it turns (nominal volts / running amps).
        running: Ohms,
        /// It starts when this much stands across the winding at rest.
        start: Volts,
        /// It stops when less than this stands across it while it turns.
        stop: Volts,
    },
    /// A constant power above its cut-off voltage, a leakage resistance below it.
    Power {
        /// Power drawn while on.
        watts: Watts,
        /// Below this voltage it is off.
        cut_off: Volts,
        /// What it leaks while off.
        leakage: Ohms,
        /// It draws nothing when reversed (`true`: polarity matters).
        polarised: bool,
    },
    /// A fuse or breaker: a resistance while whole, open once its time-current gate is outlasted.
    Fuse {
        /// Resistance while whole.
        ohms: Ohms,
        /// Rated current.
        rating: Amps,
        /// How long it stands which overload.
        gate: FuseGate,
        /// How it closes again.
        reset: Reset,
    },
    /// A relay coil: a resistance that senses the size of the voltage across it.
    Coil {
        /// Resistance.
        ohms: Ohms,
        /// It pulls in at this voltage or more.
        pull_in: Volts,
        /// It lets go below this voltage.
        release: Volts,
    },
    /// A contact: a closed resistance or nothing.
    Contact {
        /// Resistance while closed.
        closed: Ohms,
        /// What moves it.
        drive: Drive,
    },
    /// An electronic switch: on-resistance, leakage when off.
    ElectronicSwitch {
        /// Resistance while on.
        on: Ohms,
        /// Leakage resistance while off.
        leakage: Ohms,
        /// Over-current at which it switches itself off until it is commanded off.
        trip: Option<Amps>,
        /// Share of the time that it conducts while on (1 = steady); a meter reads the mean.
        on_share: f64,
        /// What commands it.
        drive: Drive,
    },
    /// The input side of a converter: draws its output power over the efficiency, above its cut-off.
    ConverterInput {
        /// The output side.
        output: ElementId,
        /// Output power over input power, above 0, at most 1.
        efficiency: f64,
        /// Below this input voltage it is off.
        cut_off: Volts,
        /// What it draws besides (and while off).
        idle: Ohms,
        /// The coil-like enable input that must be pulled in; `None`: always enabled.
        enable: Option<ElementId>,
    },
    /// The output side of a converter: a source while its input side is on, open otherwise.
    ConverterOutput {
        /// Output voltage without load.
        emf: Volts,
        /// Output resistance.
        internal: Ohms,
        /// The largest current that it delivers.
        limit: Option<Amps>,
        /// The input side.
        input: ElementId,
    },
    /// Open below its forward voltage, forward voltage and a series resistance above; conducts from `from` to `to`.
    Diode {
        /// Forward voltage.
        forward: Volts,
        /// Resistance above it.
        series: Ohms,
    },
}

/// The open-circuit voltage of a source.
#[derive(Clone, Debug, PartialEq)]
pub enum Emf {
    /// Always the same.
    Fixed(Volts),
    /// One value for each position of a control (an alternator and its engine).
    By {
        /// The control.
        control: ControlId,
        /// EMF by position; `None`: delivers nothing and is open.
        volts: Vec<Option<Volts>>,
    },
}

/// What moves a contact or commands an electronic switch.
#[derive(Clone, Debug, PartialEq)]
pub enum Drive {
    /// Closed while `control` stands in one of `positions`.
    Control {
        /// The control.
        control: ControlId,
        /// Its positions (0-based) in which the contact is closed.
        positions: Vec<usize>,
    },
    /// Moved while any of `coils` is pulled in.
    Coils {
        /// The coils.
        coils: Vec<ElementId>,
        /// Whether it is closed while none is pulled in (a break contact).
        closed_at_rest: bool,
    },
    /// Stays where the coil that was energised last has put it.
    Latch {
        /// Closes it.
        set: ElementId,
        /// Opens it.
        reset: ElementId,
    },
    /// Changes state each time its coil pulls in.
    Step {
        /// The coil.
        coil: ElementId,
    },
}

/// Time-current gate of a fuse: mean melting time at multiples of the rating, both ascending in the multiple.
/// Below the first multiple it holds for ever; between points the time is interpolated in log-log.
#[derive(Clone, Debug, PartialEq)]
pub struct FuseGate {
    /// `(multiple of rating, seconds)`.
    pub points: Vec<(f64, f64)>,
}

impl FuseGate {
    /// Melting time in seconds at `multiple` times the rating; `None` while it holds.
    pub fn melting_seconds(&self, multiple: f64) -> Option<f64> {
        let (first, _) = *self.points.first()?;
        if multiple < first {
            return None;
        }
        let above = self.points.iter().position(|(m, _)| *m > multiple);
        match above {
            None => self.points.last().map(|(m, s)| s * (m / multiple).powi(2)),
            Some(i) => {
                let ((m0, s0), (m1, s1)) = (self.points[i - 1], self.points[i]);
                let share = (multiple / m0).ln() / (m1 / m0).ln();
                Some((s0.ln() + share * (s1 / s0).ln()).exp())
            }
        }
    }
}
