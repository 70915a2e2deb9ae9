//! The resolved form of a part kind: what `knowledge/parts/*.yaml` and an install's own `kinds:` become.

use super::{Caution, LookupTable, TerminalWord, Tolerances, WordTable};
use crate::id_type;
use crate::index::IdVec;
use crate::units::Volts;
use std::collections::BTreeMap;

id_type! {
    /// A kind of part.
    KindId;
}

/// All that is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Knowledge {
    /// All kinds of part.
    pub kinds: IdVec<KindId, Kind>,
    /// Lookup tables by name.
    pub tables: BTreeMap<String, LookupTable>,
    /// Words for what people see, by name of the table.
    pub words: BTreeMap<String, WordTable>,
    /// Cautions by key.
    pub cautions: BTreeMap<String, Caution>,
    /// Meanings of terminal numbers.
    pub terminals: BTreeMap<String, TerminalWord>,
    /// How far healthy things and meters stray.
    pub tolerances: Tolerances,
}

/// A kind of part.
#[derive(Clone, Debug, PartialEq)]
pub struct Kind {
    /// The name that an install file uses (`blade fuse`, `filament lamp`), lower case.
    pub name: String,
    /// Other names that mean the same.
    pub aliases: Vec<String>,
    /// What part it plays in a system.
    pub role: Role,
    /// Its terminals in order.
    pub terminals: Vec<Terminal>,
    /// Its terminals come from the install (`pins:` of a connector, `cores:` of a cable): each named pin `p`
    /// becomes the terminals of the template, and `elements`/`modes` are repeated for each pin.
    pub per_pin: bool,
    /// The path that a bare mention in a run takes: indices of `terminals` (in, out); `None`: a path must be written.
    pub through: Option<(usize, usize)>,
    /// Figures that an install may give, with their defaults.
    pub figures: Vec<Figure>,
    /// Inner elements.
    pub elements: Vec<ElementSpec>,
    /// Positions of the control that it offers (first = rest); empty: none.
    pub positions: Vec<String>,
    /// The control springs back when let go.
    pub momentary: bool,
    /// What it is and how it behaves, one sentence.
    pub about: String,
    /// Failure modes.
    pub modes: Vec<Mode>,
    /// What a person can see, hear or feel of it.
    pub sight: Option<Sight>,
    /// Where it can be probed (`open`: needs the place opened; `sealed`: cannot; `free`: nothing to open).
    pub access: String,
    /// Cautions, by key of `knowledge/cautions.yaml`.
    pub cautions: Vec<String>,
}

/// What part a kind plays; the only thing that code may ask of a kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Delivers.
    Supply,
    /// Opens on over-current.
    Protection,
    /// A person or a medium sets it.
    Control,
    /// Switched by something electrical.
    Switching,
    /// Consumes; what complaints are about.
    Load,
    /// Shows a state by light.
    Indicator,
    /// A stretch of conductor: wire, core, frame, strap.
    Conductor,
    /// A place where conductors meet: plug, crimp, joint, earth point.
    Joint,
    /// Anything else: diode, resistor.
    Component,
}

/// A terminal of a kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Terminal {
    /// As marked (`30`, `+`, `a`).
    pub name: String,
    /// What it is in words.
    pub meaning: String,
}

/// Units that a figure may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// V
    Volts,
    /// A
    Amps,
    /// Ω
    Ohms,
    /// W
    Watts,
    /// m
    Metres,
    /// mm² (AWG is converted)
    SquareMillimetres,
    /// a bare number or per cent
    Ratio,
}

/// A figure that an install may give.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Key (`watts`, `rating`, `length`, `size`). The key `nominal` stands for the part's own nominal voltage; not stated,
    /// and in kinds that do not list it, it is the install's.
    pub key: String,
    /// Unit.
    pub unit: Unit,
    /// Default by nominal voltage of the install: `(nominal, value)`; one entry with `None` suits all; empty: none (it is
    /// an error to leave the figure out when an element needs it).
    pub defaults: Vec<(Option<Volts>, f64)>,
    /// Default as a product of the install's nominal voltage and of figures listed before this one.
    pub derived: Option<Amount>,
    /// Default looked up: the key of a figure listed before this one, and the name of a lookup table.
    pub lookup: Option<(String, String)>,
    /// Relative tolerance (one sigma) of a stated value.
    pub tolerance: f64,
    /// Relative tolerance (one sigma) while the default stands in for a value not stated.
    pub tolerance_of_default: f64,
    /// Where default and tolerance come from.
    pub source: String,
}

impl Figure {
    /// Whether it may be left out of an install.
    pub fn has_default(&self) -> bool {
        !self.defaults.is_empty() || self.derived.is_some() || self.lookup.is_some()
    }
}

/// A number in an element spec: `factor` times the product of figures to powers (`0.6 * nominal`, `volts^2 / watts`).
#[derive(Clone, Debug, PartialEq)]
pub struct Amount {
    /// The factor.
    pub factor: f64,
    /// `(figure key, power)`; the key `nominal` is the nominal voltage.
    pub figures: Vec<(String, i32)>,
}

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
        reset: crate::circuit::Reset,
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

/// A failure mode of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Mode {
    /// Kebab-case key, stable (`coil-open`, `burnt-contact`).
    pub key: String,
    /// On the screen (`open coil`, `burnt contact`).
    pub says: String,
    /// What it does.
    pub effect: ModeEffect,
    /// Prior weight relative to other modes of all kinds (a blown fuse is 1).
    pub weight: f64,
    /// Where the weight comes from.
    pub source: String,
    /// Modes of one part with the same word are cured by one repair.
    pub repair_group: String,
    /// How it shows.
    pub shows: String,
    /// How it is proven.
    pub proof: String,
    /// Usual repair.
    pub repair: String,
    /// Cautions, by key.
    pub cautions: Vec<String>,
}

/// The effect of a mode on the kind's own elements and terminals, by name.
#[derive(Clone, Debug, PartialEq)]
pub enum ModeEffect {
    /// Elements open.
    Open(Vec<String>),
    /// Series resistance in an element.
    Series(String, Severity),
    /// Leak from a terminal or inner node to ground (to the minus pole of the supply, through the frame).
    LeakToEarth(String, Severity),
    /// Dead short from a terminal or inner node to ground.
    ShortToEarth(String),
    /// Leak between two terminals.
    Leak(String, String, Severity),
    /// Dead short between two terminals.
    Short(String, String),
    /// Leak between every pair of neighbouring pins (a `per_pin` kind).
    LeakBetweenPins(Severity),
    /// Contacts stuck: element key, closed.
    Stuck(Vec<(String, bool)>),
    /// Elements replaced: key and new spec.
    Value(Vec<(String, PrimitiveSpec)>),
    /// Two terminals' inner ends exchanged.
    Swapped(String, String),
}

/// Range of a soft fault in ohms; log-uniform inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Severity {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// What a person can see, hear or feel, and of which element.
#[derive(Clone, Debug, PartialEq)]
pub struct Sight {
    /// The word table in `knowledge/words.yaml` (`lamp`, `load`, `relay`, `fuse`).
    pub table: String,
    /// Key of the element whose power, current or state is seen.
    pub element: String,
    /// Watts in that element when all is well; `None`: what it takes with the part's nominal voltage across it.
    pub full: Option<Amount>,
    /// Words of this kind for the states of the table (`weak` -> `dim`, `slow`), where they differ.
    pub words: BTreeMap<String, String>,
}
