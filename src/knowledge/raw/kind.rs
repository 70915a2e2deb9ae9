//! A kind of part, as written in `knowledge/parts/` or in an install's own `kinds:`.

use super::element::RawElement;
use super::{Ordered, Text, raw};
use serde_yaml::Spanned;

raw! {
    /// A kind of part, as written in `knowledge/parts/` or in an install's own `kinds:`.
    RawKind {
        kind: Text,
        #[serde(default)]
        also: Vec<Text>,
        about: Text,
        role: Text,
        #[serde(default)]
        serves: Vec<Text>,
        terminals: Ordered<String>,
        #[serde(rename = "repeats for each")]
        pin_word: Option<Text>,
        through: Option<Text>,
        #[serde(default)]
        figures: Ordered<RawFigure>,
        elements: Ordered<RawElement>,
        #[serde(default)]
        positions: Vec<Text>,
        #[serde(default, rename = "springs back")]
        springs_back: bool,
        sight: Option<RawSight>,
        #[serde(default)]
        sights: Vec<RawSight>,
        #[serde(rename = "taken out")]
        parting: Option<RawParting>,
        access: Text,
        #[serde(default)]
        cautions: Vec<Text>,
        modes: Ordered<RawMode>,
    }
    /// How a part is taken out of its circuit, as written.
    RawParting {
        how: Text,
        back: Text,
        state: Text,
        #[serde(default)]
        opens: Vec<Text>,
        minutes: Text,
        source: Text,
        bridged: Option<RawBridging>,
    }
    /// How the way through it is bridged then, as written.
    RawBridging {
        between: Text,
        how: Text,
        back: Text,
        state: Text,
        ohms: Text,
        #[serde(rename = "at most")]
        most: Text,
        minutes: Text,
        source: Text,
    }
    /// A figure, as written.
    RawFigure {
        unit: Text,
        default: Option<Text>,
        #[serde(default, rename = "by nominal")]
        by_nominal: Ordered<Text>,
        by: Option<Text>,
        table: Option<Text>,
        tolerance: Text,
        #[serde(rename = "not stated")]
        not_stated: Option<Text>,
        source: Text,
    }
    /// What is seen, heard or felt.
    RawSight {
        name: Option<Text>,
        table: Text,
        of: Option<Text>,
        element: Option<Text>,
        #[serde(default)]
        marks: Ordered<Text>,
        full: Option<Text>,
        #[serde(default)]
        words: Ordered<String>,
    }
    /// A failure mode: exactly one effect.
    RawMode {
        says: Text,
        #[serde(default)]
        when: Ordered<f64>,
        #[serde(default)]
        open: Vec<Text>,
        #[serde(default, rename = "open in all pins")]
        open_in_all_pins: Vec<Text>,
        series: Option<RawSoft>,
        #[serde(rename = "leak to earth")]
        leak_to_earth: Option<RawSoft>,
        #[serde(rename = "short to earth")]
        short_to_earth: Option<Text>,
        leak: Option<RawSoft>,
        #[serde(default)]
        short: Vec<Text>,
        #[serde(rename = "leak between pins")]
        leak_between_pins: Option<RawSoft>,
        #[serde(default, rename = "stuck closed")]
        stuck_closed: Vec<Text>,
        #[serde(default, rename = "stuck open")]
        stuck_open: Vec<Text>,
        #[serde(default)]
        value: Ordered<RawElement>,
        #[serde(default)]
        swapped: Vec<Text>,
        #[serde(rename = "swapped between pins")]
        swapped_between_pins: Option<Text>,
        #[serde(default)]
        mistake: bool,
        weight: Spanned<f64>,
        source: Text,
        #[serde(rename = "repair group")]
        repair_group: Text,
        shows: Text,
        proof: Text,
        repair: Text,
        #[serde(default)]
        cautions: Vec<Text>,
    }
    /// A soft effect: where, and its range in ohms.
    RawSoft {
        #[serde(rename = "in")]
        element: Option<Text>,
        at: Option<Text>,
        #[serde(default)]
        between: Vec<Text>,
        from: Text,
        to: Text,
    }
}
