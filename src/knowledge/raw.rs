//! The YAML forms of knowledge files, as written: nothing is checked here but the shape.
//!
//! The fields of `Kind`, `Figure`, `PrimitiveSpec` and `Mode` say what each is.
//!
//! No tagged, untagged or flattened types: places of values would be lost in them.

use serde::Deserialize;
use serde::de::{Deserializer, MapAccess, Visitor};
use serde_yaml::Spanned;
use std::fmt;
use std::marker::PhantomData;

/// A text with its place.
pub(super) type Text = Spanned<String>;

/// A map that keeps the order of the file.
#[derive(Clone, Debug)]
pub(super) struct Ordered<V>(
    /// Keys with their values.
    pub(super) Vec<(Text, V)>,
);

impl<V> Default for Ordered<V> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<'de, V: Deserialize<'de>> Deserialize<'de> for Ordered<V> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries<V>(PhantomData<V>);
        impl<'de, V: Deserialize<'de>> Visitor<'de> for Entries<V> {
            type Value = Ordered<V>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Ordered<V>, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = map.next_entry()? {
                    entries.push(entry);
                }
                Ok(Ordered(entries))
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}

/// A kind of part, as written in `knowledge/parts/` or in an install's own `kinds:`.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawKind {
    pub(super) kind: Text,
    #[serde(default)]
    pub(super) also: Vec<Text>,
    pub(super) about: Text,
    pub(super) role: Text,
    #[serde(default)]
    pub(super) serves: Vec<Text>,
    pub(super) terminals: Ordered<String>,
    #[serde(rename = "repeats for each")]
    pub(super) pin_word: Option<Text>,
    pub(super) through: Option<Text>,
    #[serde(default)]
    pub(super) figures: Ordered<RawFigure>,
    pub(super) elements: Ordered<RawElement>,
    #[serde(default)]
    pub(super) positions: Vec<Text>,
    #[serde(default, rename = "springs back")]
    pub(super) springs_back: bool,
    pub(super) sight: Option<RawSight>,
    #[serde(default)]
    pub(super) sights: Vec<RawSight>,
    #[serde(rename = "taken out")]
    pub(super) parting: Option<RawParting>,
    pub(super) access: Text,
    #[serde(default)]
    pub(super) cautions: Vec<Text>,
    pub(super) modes: Ordered<RawMode>,
}

/// How a part is taken out of its circuit, as written.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawParting {
    pub(super) how: Text,
    pub(super) back: Text,
    pub(super) state: Text,
    #[serde(default)]
    pub(super) opens: Vec<Text>,
    pub(super) minutes: Text,
    pub(super) source: Text,
    pub(super) bridged: Option<RawBridging>,
}

/// How the way through it is bridged then, as written.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawBridging {
    pub(super) between: Text,
    pub(super) how: Text,
    pub(super) back: Text,
    pub(super) state: Text,
    pub(super) ohms: Text,
    #[serde(rename = "at most")]
    pub(super) most: Text,
    pub(super) minutes: Text,
    pub(super) source: Text,
}

/// A figure, as written.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawFigure {
    pub(super) unit: Text,
    pub(super) default: Option<Text>,
    #[serde(default, rename = "by nominal")]
    pub(super) by_nominal: Ordered<Text>,
    pub(super) by: Option<Text>,
    pub(super) table: Option<Text>,
    pub(super) tolerance: Text,
    #[serde(rename = "not stated")]
    pub(super) not_stated: Option<Text>,
    pub(super) source: Text,
}

/// An inner element, as written: its ends and exactly one behaviour.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawElement {
    pub(super) from: Option<Text>,
    pub(super) to: Option<Text>,
    pub(super) source: Option<RawSource>,
    pub(super) resistance: Option<Text>,
    pub(super) conductor: Option<RawConductor>,
    pub(super) filament: Option<RawFilament>,
    pub(super) motor: Option<RawMotor>,
    pub(super) power: Option<RawPower>,
    pub(super) fuse: Option<RawFuse>,
    pub(super) coil: Option<RawCoil>,
    pub(super) contact: Option<RawContact>,
    pub(super) electronic: Option<RawElectronic>,
    pub(super) diode: Option<RawDiode>,
    #[serde(rename = "converter input")]
    pub(super) converter_input: Option<RawConverterInput>,
    #[serde(rename = "converter output")]
    pub(super) converter_output: Option<RawConverterOutput>,
}

macro_rules! raw {
    ($($(#[$doc:meta])* $name:ident { $($fields:tt)* })+) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(super) struct $name { $($fields)* }
    )+};
}

raw! {
    /// EMF: one text, or by position of the kind's own control (`open` = delivers nothing).
    RawSource {
        pub(super) emf: Option<Text>,
        #[serde(default, rename = "emf by position")]
        pub(super) by_position: Ordered<Text>,
        pub(super) internal: Text,
        pub(super) limit: Option<Text>,
    }
    /// A conductor with size and length.
    RawConductor {
        pub(super) size: Text,
        pub(super) length: Text,
        pub(super) tables: Vec<Text>,
    }
    /// A filament.
    RawFilament {
        pub(super) hot: Text,
        pub(super) nominal: Text,
    }
    /// A motor.
    RawMotor {
        pub(super) winding: Text,
        pub(super) running: Text,
        pub(super) start: Text,
        pub(super) stop: Text,
    }
    /// A constant power.
    RawPower {
        pub(super) watts: Text,
        #[serde(rename = "cuts off below")]
        pub(super) cut_off: Text,
        pub(super) leakage: Text,
        #[serde(default)]
        pub(super) polarised: bool,
    }
    /// A fuse or breaker.
    RawFuse {
        pub(super) ohms: Text,
        pub(super) rating: Text,
        pub(super) gate: Text,
        pub(super) reset: Text,
    }
    /// A coil.
    RawCoil {
        pub(super) ohms: Text,
        #[serde(rename = "pulls in at")]
        pub(super) pull_in: Text,
        #[serde(rename = "lets go below")]
        pub(super) release: Text,
    }
    /// What moves a contact or commands an electronic switch; exactly one.
    RawContact {
        pub(super) closed: Text,
        #[serde(default, rename = "closed in")]
        pub(super) positions: Vec<Text>,
        #[serde(default, rename = "made by")]
        pub(super) made_by: Vec<Text>,
        #[serde(default, rename = "broken by")]
        pub(super) broken_by: Vec<Text>,
        #[serde(rename = "set by")]
        pub(super) set_by: Option<Text>,
        #[serde(rename = "reset by")]
        pub(super) reset_by: Option<Text>,
        #[serde(rename = "stepped by")]
        pub(super) stepped_by: Option<Text>,
    }
    /// An electronic switch.
    RawElectronic {
        pub(super) on: Text,
        pub(super) leakage: Text,
        pub(super) trip: Option<Text>,
        #[serde(rename = "on share")]
        pub(super) on_share: Option<Text>,
        #[serde(default, rename = "on in")]
        pub(super) positions: Vec<Text>,
        #[serde(default, rename = "commanded by")]
        pub(super) coils: Vec<Text>,
    }
    /// A diode.
    RawDiode {
        pub(super) forward: Text,
        pub(super) series: Text,
    }
    /// The input side of a converter.
    RawConverterInput {
        pub(super) output: Text,
        pub(super) efficiency: Text,
        #[serde(rename = "cuts off below")]
        pub(super) cut_off: Text,
        pub(super) idle: Text,
        #[serde(rename = "enabled by")]
        pub(super) enable: Option<Text>,
    }
    /// The output side of a converter.
    RawConverterOutput {
        pub(super) emf: Text,
        pub(super) internal: Text,
        pub(super) limit: Option<Text>,
        pub(super) input: Text,
    }
    /// What is seen, heard or felt.
    RawSight {
        pub(super) name: Option<Text>,
        pub(super) table: Text,
        pub(super) of: Option<Text>,
        pub(super) element: Option<Text>,
        #[serde(default)]
        pub(super) marks: Ordered<Text>,
        pub(super) full: Option<Text>,
        #[serde(default)]
        pub(super) words: Ordered<String>,
    }
    /// Work on the bench.
    RawBench {
        pub(super) source: Text,
        pub(super) power: Vec<Text>,
        pub(super) incoming: Ordered<Text>,
    }
    /// What people complain of.
    RawComplaints {
        pub(super) manners: Ordered<RawManner>,
        pub(super) heat: RawHeat,
        pub(super) occasions: RawOccasions,
        pub(super) history: RawHistory,
        pub(super) mistaken: RawMistaken,
    }
    /// How often a complaint is mistaken.
    RawMistaken {
        pub(super) share: Text,
        pub(super) source: Text,
    }
    /// What was before: words, and their probabilities by the origin of a fault.
    RawHistory {
        pub(super) source: Text,
        pub(super) words: Ordered<RawWord>,
        pub(super) origins: Ordered<Ordered<f64>>,
    }
    /// How a fault shows.
    RawManner {
        pub(super) says: Text,
        #[serde(default)]
        pub(super) also: Vec<Text>,
        pub(super) of: Text,
        pub(super) shows: Vec<Text>,
        pub(super) with: Text,
        pub(super) comes: Option<Text>,
        #[serde(default)]
        pub(super) instead: Vec<Text>,
    }
    /// When a part feels hot: watts by role.
    RawHeat {
        pub(super) table: Text,
        pub(super) hot: Ordered<Text>,
        pub(super) source: Text,
    }
    /// When a fault shows: words, and their probabilities by the nature of a fault.
    RawOccasions {
        pub(super) source: Text,
        pub(super) words: Ordered<RawWord>,
        pub(super) steady: Vec<Text>,
        #[serde(rename = "without a complaint")]
        pub(super) without_complaint: Text,
        pub(super) conditions: Ordered<Text>,
        pub(super) natures: Ordered<Ordered<f64>>,
        pub(super) warm: RawWarm,
    }
    /// The row that takes over when the faulty place itself gets warm.
    RawWarm {
        pub(super) above: Text,
        pub(super) width: Spanned<f64>,
        pub(super) words: Ordered<f64>,
    }
    /// A failure mode: exactly one effect.
    RawMode {
        pub(super) says: Text,
        #[serde(default)]
        pub(super) when: Ordered<f64>,
        #[serde(default)]
        pub(super) open: Vec<Text>,
        #[serde(default, rename = "open in all pins")]
        pub(super) open_in_all_pins: Vec<Text>,
        pub(super) series: Option<RawSoft>,
        #[serde(rename = "leak to earth")]
        pub(super) leak_to_earth: Option<RawSoft>,
        #[serde(rename = "short to earth")]
        pub(super) short_to_earth: Option<Text>,
        pub(super) leak: Option<RawSoft>,
        #[serde(default)]
        pub(super) short: Vec<Text>,
        #[serde(rename = "leak between pins")]
        pub(super) leak_between_pins: Option<RawSoft>,
        #[serde(default, rename = "stuck closed")]
        pub(super) stuck_closed: Vec<Text>,
        #[serde(default, rename = "stuck open")]
        pub(super) stuck_open: Vec<Text>,
        #[serde(default)]
        pub(super) value: Ordered<RawElement>,
        #[serde(default)]
        pub(super) swapped: Vec<Text>,
        #[serde(rename = "swapped between pins")]
        pub(super) swapped_between_pins: Option<Text>,
        #[serde(default)]
        pub(super) mistake: bool,
        pub(super) weight: Spanned<f64>,
        pub(super) source: Text,
        #[serde(rename = "repair group")]
        pub(super) repair_group: Text,
        pub(super) shows: Text,
        pub(super) proof: Text,
        pub(super) repair: Text,
        #[serde(default)]
        pub(super) cautions: Vec<Text>,
    }
    /// A soft effect: where, and its range in ohms.
    RawSoft {
        #[serde(rename = "in")]
        pub(super) element: Option<Text>,
        pub(super) at: Option<Text>,
        #[serde(default)]
        pub(super) between: Vec<Text>,
        pub(super) from: Text,
        pub(super) to: Text,
    }
    /// A lookup table.
    RawTable {
        pub(super) table: Text,
        pub(super) about: Text,
        pub(super) of: Text,
        pub(super) gives: Text,
        pub(super) sources: Ordered<String>,
        pub(super) rows: Vec<RawRow>,
    }
    /// A row of a lookup table.
    RawRow {
        pub(super) at: Spanned<f64>,
        pub(super) gives: Spanned<f64>,
        pub(super) least: Option<f64>,
        pub(super) most: Option<f64>,
        pub(super) mark: Option<String>,
        pub(super) status: Text,
        pub(super) source: Text,
    }
    /// The meaning of a terminal number.
    RawTerminal {
        pub(super) means: Text,
        pub(super) status: Text,
        pub(super) source: Text,
    }
    /// A single figure.
    RawFact {
        pub(super) value: Text,
        pub(super) status: Text,
        pub(super) source: Text,
    }
    /// A caution.
    RawCaution {
        pub(super) says: Text,
        pub(super) status: Text,
        pub(super) source: Text,
        #[serde(default)]
        pub(super) when: Vec<Text>,
        #[serde(default)]
        pub(super) on: Vec<Text>,
        #[serde(default, rename = "not with")]
        pub(super) not_with: Vec<Text>,
        #[serde(default)]
        pub(super) named: Vec<Text>,
        #[serde(default, rename = "no test there")]
        pub(super) no_test_there: bool,
        #[serde(default, rename = "no jumper there")]
        pub(super) no_jumper_there: bool,
    }
    /// What a fault usually comes of.
    RawCause {
        pub(super) of: Vec<Text>,
        pub(super) modes: Vec<Text>,
        pub(super) look: Text,
        pub(super) status: Text,
        pub(super) source: Text,
    }
    /// A word table.
    RawWords {
        pub(super) ask: Text,
        pub(super) contradiction: Spanned<f64>,
        pub(super) width: Option<Spanned<f64>>,
        pub(super) minutes: Option<Spanned<f64>>,
        #[serde(rename = "minutes a metre")]
        pub(super) a_metre: Option<Spanned<f64>>,
        #[serde(default)]
        pub(super) opens: bool,
        pub(super) source: Text,
        pub(super) words: Ordered<RawWord>,
        #[serde(default)]
        pub(super) bands: Vec<RawBand>,
        #[serde(default)]
        pub(super) states: Ordered<Ordered<f64>>,
        #[serde(default)]
        pub(super) marks: Ordered<Ordered<f64>>,
    }
    /// A word and what stands for it on the screen.
    RawWord {
        pub(super) says: Text,
        #[serde(default)]
        pub(super) also: Vec<Text>,
    }
    /// A band of the share of nominal power, from the end of the one before.
    RawBand {
        pub(super) below: Option<Spanned<f64>>,
        pub(super) words: Ordered<f64>,
    }
    /// A tolerance.
    RawTolerance {
        pub(super) value: Text,
        pub(super) about: Text,
        pub(super) source: Text,
    }
}
