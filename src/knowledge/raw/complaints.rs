//! What people complain of, when it shows and what was before, and work on the bench, as written.

use super::tables::RawWord;
use super::{Ordered, Text, raw};
use serde_yaml::Spanned;

raw! {
    /// Work on the bench.
    RawBench {
        source: Text,
        power: Vec<Text>,
        incoming: Ordered<Text>,
    }
    /// What people complain of.
    RawComplaints {
        manners: Ordered<RawManner>,
        heat: RawHeat,
        occasions: RawOccasions,
        history: RawHistory,
        mistaken: RawMistaken,
    }
    /// How often a complaint is mistaken.
    RawMistaken {
        share: Text,
        source: Text,
    }
    /// What was before: words, and their probabilities by the origin of a fault.
    RawHistory {
        source: Text,
        words: Ordered<RawWord>,
        origins: Ordered<Ordered<f64>>,
    }
    /// How a fault shows.
    RawManner {
        says: Text,
        #[serde(default)]
        also: Vec<Text>,
        of: Text,
        shows: Vec<Text>,
        with: Text,
        comes: Option<Text>,
        #[serde(default)]
        instead: Vec<Text>,
    }
    /// When a part feels hot: watts by role.
    RawHeat {
        table: Text,
        hot: Ordered<Text>,
        source: Text,
    }
    /// When a fault shows: words, and their probabilities by the nature of a fault.
    RawOccasions {
        source: Text,
        words: Ordered<RawWord>,
        steady: Vec<Text>,
        #[serde(rename = "without a complaint")]
        without_complaint: Text,
        conditions: Ordered<Text>,
        natures: Ordered<Ordered<f64>>,
        warm: RawWarm,
    }
    /// The row that takes over when the faulty place itself gets warm.
    RawWarm {
        above: Text,
        width: Spanned<f64>,
        words: Ordered<f64>,
    }
}
