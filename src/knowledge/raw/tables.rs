//! Lookup tables, word tables, facts, cautions, causes and tolerances, as written.

use super::{Ordered, Text, raw};
use serde_yaml::Spanned;

raw! {
    /// A lookup table.
    RawTable {
        table: Text,
        about: Text,
        of: Text,
        gives: Text,
        sources: Ordered<String>,
        rows: Vec<RawRow>,
    }
    /// A row of a lookup table.
    RawRow {
        at: Spanned<f64>,
        gives: Spanned<f64>,
        least: Option<f64>,
        most: Option<f64>,
        mark: Option<String>,
        status: Text,
        source: Text,
    }
    /// The meaning of a terminal number.
    RawTerminal {
        means: Text,
        status: Text,
        source: Text,
    }
    /// A single figure.
    RawFact {
        value: Text,
        status: Text,
        source: Text,
    }
    /// A caution.
    RawCaution {
        says: Text,
        status: Text,
        source: Text,
        #[serde(default)]
        when: Vec<Text>,
        #[serde(default)]
        on: Vec<Text>,
        #[serde(default, rename = "not with")]
        not_with: Vec<Text>,
        #[serde(default)]
        named: Vec<Text>,
        #[serde(default, rename = "no test there")]
        no_test_there: bool,
        #[serde(default, rename = "no jumper there")]
        no_jumper_there: bool,
    }
    /// What a fault usually comes of.
    RawCause {
        of: Vec<Text>,
        modes: Vec<Text>,
        look: Text,
        status: Text,
        source: Text,
    }
    /// A word table.
    RawWords {
        ask: Text,
        contradiction: Spanned<f64>,
        width: Option<Spanned<f64>>,
        minutes: Option<Spanned<f64>>,
        #[serde(rename = "minutes a metre")]
        a_metre: Option<Spanned<f64>>,
        #[serde(default)]
        opens: bool,
        source: Text,
        words: Ordered<RawWord>,
        #[serde(default)]
        bands: Vec<RawBand>,
        #[serde(default)]
        states: Ordered<Ordered<f64>>,
        #[serde(default)]
        marks: Ordered<Ordered<f64>>,
    }
    /// A word and what stands for it on the screen.
    RawWord {
        says: Text,
        #[serde(default)]
        also: Vec<Text>,
    }
    /// A band of the share of nominal power, from the end of the one before.
    RawBand {
        below: Option<Spanned<f64>>,
        words: Ordered<f64>,
    }
    /// A tolerance.
    RawTolerance {
        value: Text,
        about: Text,
        source: Text,
    }
}
