//! The resolved form of a part kind: what `knowledge/parts/*.yaml` and an install's own `kinds:` become.

use super::behaviour::{ElementSpec, PrimitiveSpec};
use super::complaints::{Complaints, Notices};
use super::{Cause, Caution, DropLimit, Fact, LookupTable, RepairSteps, TerminalWord, Tolerances, WordTable};
use crate::id_type;
use crate::index::IdVec;
use crate::units::{Amps, Dimension, Ohms, Volts};
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
    /// Single figures by key.
    pub facts: BTreeMap<String, Fact>,
    /// Words for what people see, by name of the table.
    pub words: BTreeMap<String, WordTable>,
    /// What people complain of.
    pub complaints: Complaints,
    /// Cautions by key.
    pub cautions: BTreeMap<String, Caution>,
    /// What faults usually come of, in the order in which they are looked up.
    pub causes: Vec<Cause>,
    /// What is usually done about faults, step by step, in the order in which it is looked up.
    pub repairs: Vec<RepairSteps>,
    /// What a handbook lets parts lose, in the order in which it is looked up.
    pub drop_limits: Vec<DropLimit>,
    /// Meanings of terminal numbers.
    pub terminals: BTreeMap<String, TerminalWord>,
    /// How far healthy things and meters stray.
    pub tolerances: Tolerances,
    /// Work on the bench.
    pub bench: BenchWork,
}

/// What is done with an install that lies on the workshop bench, before it is tested.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BenchWork {
    /// What is done before power is put on, with `{volts}`, `{limit}`, `{supplies}` and `{loads}` for those of the job.
    pub power: Vec<String>,
    /// What is looked for before that: key, and how it is asked.
    pub incoming: Vec<(String, String)>,
    /// Where it comes from.
    pub source: String,
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
    /// What the grammar of install files calls for without naming a kind, and this kind serves as.
    pub serves: Vec<Service>,
    /// Its terminals in order.
    pub terminals: Vec<Terminal>,
    /// Its terminals come from the install (`pins:` of a connector, `cores:` of a cable): each named pin `p`
    /// becomes the terminals of the template, and `elements`/`modes` are repeated for each pin.
    pub per_pin: bool,
    /// What one of them is called (`pin`, `core`), for `per_pin` kinds.
    pub pin_word: String,
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
    pub sights: Vec<Sight>,
    /// How it is taken out of its circuit for a test; `None`: it is not.
    pub parting: Option<Parting>,
    /// Where it can be probed (`open`: needs the place opened; `sealed`: cannot; `free`: nothing to open).
    pub access: String,
    /// Cautions, by key of `knowledge/cautions.yaml`.
    pub cautions: Vec<String>,
}

/// How a part is taken out of its circuit for a test.
#[derive(Clone, Debug, PartialEq)]
pub struct Parting {
    /// What to do with it, behind its name (`pull it`).
    pub how: String,
    /// What to do with it afterwards (`put it back`).
    pub back: String,
    /// How it is then (`pulled`); also the word that is typed.
    pub state: String,
    /// Keys of the elements that conduct nothing then, in every pin.
    pub opens: Vec<String>,
    /// Minutes of either move, once there.
    pub minutes: f64,
    /// Where the minutes come from.
    pub source: String,
    /// How its way is bridged while it is out; `None`: it is not.
    pub bridging: Option<Bridging>,
}

/// How the way through a part that is out is bridged for a test: by a jumper with a fuse in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridging {
    /// What to do behind taking it out (`jumper from 30 to 87 of its socket`).
    pub how: String,
    /// What to do before it goes back (`jumper out`).
    pub back: String,
    /// How it is then (`bridged`); also the word that is typed.
    pub state: String,
    /// The two terminals that the jumper joins: indices of the kind's `terminals`, the fed one first.
    pub ends: (usize, usize),
    /// Resistance of the jumper with its fuse.
    pub ohms: Ohms,
    /// Largest fuse that may be in it: where more is drawn no jumper is used.
    pub most: Amps,
    /// Minutes to put it in or to take it out, beside those for the part.
    pub minutes: f64,
    /// Where the figures come from.
    pub source: String,
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

/// What an install file calls for without naming a kind. One kind serves as each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Service {
    /// A stretch of wire, of which only colour, size and length are written.
    Wire,
    /// What stands under `cables:`.
    Cable,
    /// Either end of a wire or core.
    WireEnd,
    /// What stands under `earths:`.
    EarthPoint,
    /// The fuse of a board's way of which only the rating is written, or nothing.
    WayFuse,
    /// The relay of a board's way of which nothing is written.
    WayRelay,
    /// What stands in for a supply on the workshop bench.
    BenchSupply,
    /// What stands in on the bench for a load that stayed on the vehicle.
    BenchLoad,
}

impl Service {
    /// All of them, with the words that a kind says them by under `serves:`.
    pub const ALL: [(&'static str, Self); 8] = [
        ("wire of a run", Self::Wire),
        ("cable", Self::Cable),
        ("end of a wire", Self::WireEnd),
        ("point of an earth", Self::EarthPoint),
        ("fuse of a way", Self::WayFuse),
        ("relay of a way", Self::WayRelay),
        ("supply on the bench", Self::BenchSupply),
        ("load on the bench", Self::BenchLoad),
    ];

    /// Its words.
    pub fn says(self) -> &'static str {
        let found = Self::ALL.iter().find(|(_, service)| *service == self);
        found.map_or("", |(words, _)| words)
    }
}

/// A terminal of a kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Terminal {
    /// As marked (`30`, `+`, `a`).
    pub name: String,
    /// What it is in words.
    pub meaning: String,
}

/// A figure that an install may give.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Key (`watts`, `rating`, `length`, `size`). The key `nominal` stands for the part's own nominal voltage; not stated,
    /// and in kinds that do not list it, it is the install's.
    pub key: String,
    /// What it measures. A length of time is kept in minutes, a share as a bare number.
    pub unit: Dimension,
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

/// A failure mode of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Mode {
    /// Kebab-case key, stable (`coil-open`, `burnt-contact`).
    pub key: String,
    /// On the screen (`open coil`, `burnt contact`).
    pub says: String,
    /// What it does.
    pub effect: ModeEffect,
    /// Something that was done wrong in fitting or repairing the part, no wear: it is there from that day on.
    pub mistake: bool,
    /// When it shows, where that differs from other faults of its nature: position of the occasion's word, probability.
    pub when: BTreeMap<usize, f64>,
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
    /// Elements open in every pin at once (a `per_pin` kind).
    OpenInAllPins(Vec<String>),
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
    /// The inner ends at this terminal exchanged between any two pins (a `per_pin` kind).
    SwappedBetweenPins(String),
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
    /// What it is called where a part has several (`main beam`); empty for the only one.
    pub name: String,
    /// The word table in `knowledge/words.yaml` (`lamp`, `load`, `relay`, `fuse`).
    pub table: String,
    /// Which computed quantity is noticed.
    pub notices: Notices,
    /// Key of the element whose power, current or state is seen; empty for marks.
    pub element: String,
    /// What each mode leaves to be seen, by its key: rows of the table's marks for a fault at the lower and at the upper end of
    /// its range. A mode that is not listed leaves nothing.
    pub marks: BTreeMap<String, [String; 2]>,
    /// Watts in that element when all is well; `None`: what it takes with the part's nominal voltage across it. For a battery
    /// that stands, the drain in amps that empties it within days.
    pub full: Option<Amount>,
    /// Words of this kind for the states of the table (`weak` -> `dim`, `slow`), where they differ.
    pub words: BTreeMap<String, String>,
}
