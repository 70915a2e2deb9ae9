//! The inner elements of a kind: which primitive each is, its amounts still in figures of the kind.

use super::Amount;

/// An inner element of a kind, between two terminals or inner nodes (by name).
#[derive(Clone, Debug, PartialEq)]
pub struct ElementSpec {
    /// Key, unique in the kind (`coil`, `contact`).
    pub key: String,
    /// Terminal or inner node where current enters.
    pub from: String,
    /// Terminal or inner node where it leaves.
    pub to: String,
    /// What it is.
    pub primitive: PrimitiveSpec,
}

/// The electrical behaviour with its amounts still in figures.
#[derive(Clone, Debug, PartialEq)]
pub enum PrimitiveSpec {
    /// EMF (one, or one per position of the kind's own control, `None` = open), internal ohms, limit in amps.
    Source {
        /// Volts, one or one by position.
        emf: Vec<Option<Amount>>,
        /// Ohms.
        internal: Amount,
        /// Amps.
        limit: Option<Amount>,
    },
    /// Ohms.
    Resistance(Amount),
    /// A conductor: ohms from its size, length and temperature by the table named, or from its own ohms figure.
    Conductor(ConductorSpec),
    /// Hot ohms, nominal volts.
    Filament {
        /// Ohms at nominal voltage.
        hot: Amount,
        /// Nominal volts.
        nominal: Amount,
    },
    /// Winding ohms, running ohms, start volts, stop volts.
    Motor {
        /// Ohms.
        winding: Amount,
        /// Ohms.
        running: Amount,
        /// Volts.
        start: Amount,
        /// Volts.
        stop: Amount,
    },
    /// Watts, cut-off volts, leakage ohms.
    Power {
        /// Watts.
        watts: Amount,
        /// Volts.
        cut_off: Amount,
        /// Ohms.
        leakage: Amount,
        /// Polarity matters.
        polarised: bool,
    },
    /// Ohms while whole, rating in amps, gate by name of a table, reset word.
    Fuse {
        /// Ohms; by table of rating when the kind names one.
        ohms: Amount,
        /// Amps.
        rating: Amount,
        /// `(multiple, seconds)`.
        gate: Vec<(f64, f64)>,
        /// How it closes again.
        reset: Reset,
    },
    /// Ohms, pull-in volts, release volts.
    Coil {
        /// Ohms.
        ohms: Amount,
        /// Volts.
        pull_in: Amount,
        /// Volts.
        release: Amount,
    },
    /// A contact moved by coils of the same kind, or by the kind's own control.
    Contact {
        /// Ohms.
        closed: Amount,
        /// What moves it.
        drive: DriveSpec,
    },
    /// An electronic switch.
    ElectronicSwitch {
        /// Ohms.
        on: Amount,
        /// Ohms.
        leakage: Amount,
        /// Amps.
        trip: Option<Amount>,
        /// 0..1
        on_share: f64,
        /// What commands it.
        drive: DriveSpec,
    },
    /// Forward volts, series ohms.
    Diode {
        /// Volts.
        forward: Amount,
        /// Ohms.
        series: Amount,
    },
    /// Input side of a converter.
    ConverterInput {
        /// Key of the output element.
        output: String,
        /// 0..1
        efficiency: f64,
        /// Volts.
        cut_off: Amount,
        /// Ohms.
        idle: Amount,
        /// Key of the enabling coil.
        enable: Option<String>,
    },
    /// Output side of a converter.
    ConverterOutput {
        /// Volts.
        emf: Amount,
        /// Ohms.
        internal: Amount,
        /// Amps.
        limit: Option<Amount>,
        /// Key of the input element.
        input: String,
    },
}

/// How an opened fuse or breaker closes again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reset {
    /// Never: a new fuse is fitted.
    Never,
    /// By a person's hand.
    ByHand,
    /// By itself once cool: it cycles while the overload lasts (a person hears or sees it).
    ByItself,
    /// Once the circuit is dead.
    WhenDead,
}

/// What moves a contact, by keys of the same kind.
#[derive(Clone, Debug, PartialEq)]
pub enum DriveSpec {
    /// Closed in these positions of the kind's own control.
    Positions(Vec<String>),
    /// Made (or, at rest, broken) by any of these coils.
    Coils {
        /// Keys of coil elements.
        coils: Vec<String>,
        /// A break contact.
        closed_at_rest: bool,
    },
    /// Latching.
    Latch {
        /// Key of the closing coil.
        set: String,
        /// Key of the opening coil.
        reset: String,
    },
    /// Stepping.
    Step {
        /// Key of the coil.
        coil: String,
    },
}

/// How a conductor gets its resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct ConductorSpec {
    /// Figure keys of size and length; the ohms follow from the conductor table.
    pub size: String,
    /// Length.
    pub length: String,
    /// Names of the tables (mm² to Ω/km): the first that has a row for this very size, else the first one interpolated.
    pub tables: Vec<String>,
}
