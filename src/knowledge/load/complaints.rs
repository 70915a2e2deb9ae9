//! The complaints as they are written, checked.

use super::super::Word;
use super::super::amount::read_quantity;
use super::super::complaints::{Complaints, History, Manner, Nature, Notices, Occasions, Origin, Situation};
use super::super::error::Wrong;
use super::super::raw::{Ordered, RawComplaints, RawHistory, RawManner, RawOccasions, Text};
use super::super::resolve::{ROLES, Report};
use super::words::{probabilities, said};
use crate::units::Dimension;
use std::collections::BTreeMap;

/// What a manner is said of: the word, the quantity, and whether it is about the protection.
const OF: [(&str, Notices, Option<bool>); 6] = [
    ("work", Notices::Work, None),
    ("protection", Notices::Work, Some(false)),
    ("resettable protection", Notices::Work, Some(true)),
    ("heat", Notices::Heat, None),
    ("standing", Notices::Standing, None),
    ("charge", Notices::Charge, None),
];

const SITUATIONS: [(&str, Situation); 3] =
    [("usual", Situation::Usual), ("rest", Situation::Rest), ("running", Situation::Running)];

/// Resolves the file of complaints.
pub(super) fn complaints(raw: &RawComplaints, report: &mut Report<'_>) -> Complaints {
    let occasions = occasions(&raw.occasions, report);
    let manners = raw.manners.0.iter();
    let manners = manners.filter_map(|(key, raw)| manner(key, raw, &occasions, report)).collect();
    let mut hot = Vec::new();
    for (role, watts) in &raw.heat.hot.0 {
        let known = ROLES.iter().find(|(word, _)| *word == role.value);
        if known.is_none() {
            report.unknown(role, "role");
        }
        if let Some((_, role)) = known {
            hot.extend(quantity(watts, Dimension::Watts, report).map(|w| (*role, w)));
        }
    }
    report.said(&raw.heat.source, "a source");
    let history = history(&raw.history, report);
    report.said(&raw.mistaken.source, "a source");
    let mistaken = read_quantity(&raw.mistaken.share.value, Dimension::Ratio).filter(|v| *v > 0.0 && *v < 1.0);
    if mistaken.is_none() {
        report.unreadable(&raw.mistaken.share, "a share between 0 and 100 %, as `5 %`");
    }
    let warmth = report.said(&raw.heat.table, "a word table");
    Complaints { manners, warmth, hot, occasions, history, mistaken: mistaken.unwrap_or_default() }
}

fn manner(key: &Text, raw: &RawManner, occasions: &Occasions, report: &mut Report<'_>) -> Option<Manner> {
    let of = OF.iter().find(|(word, ..)| *word == raw.of.value);
    if of.is_none() {
        report.unknown(&raw.of, "thing that a manner is said of");
    }
    let with = SITUATIONS.iter().find(|(word, _)| *word == raw.with.value);
    if with.is_none() {
        report.unknown(&raw.with, "set-up of a manner");
    }
    let comes = raw.comes.as_ref().map(|text| {
        let word = occasions.word(&text.value);
        if word.is_none() {
            report.unknown(text, "occasion");
        }
        word
    });
    let texts = |list: &[Text]| list.iter().map(|t| t.value.clone()).collect();
    let (_, notices, protection) = of?;
    Some(Manner {
        key: key.value.clone(),
        says: report.said(&raw.says, "what the screen says"),
        also: texts(&raw.also),
        of: *notices,
        protection: *protection,
        shows: texts(&raw.shows),
        with: with?.1,
        comes: comes.flatten(),
        instead: texts(&raw.instead),
    })
}

fn occasions(raw: &RawOccasions, report: &mut Report<'_>) -> Occasions {
    let words = said(&raw.words, report);
    let word = |text: &Text, report: &mut Report<'_>| {
        let found = words.iter().position(|word| word.key == text.value);
        if found.is_none() {
            report.unknown(text, "occasion");
        }
        found
    };
    let steady = raw.steady.iter().filter_map(|text| word(text, report)).collect();
    let without_complaint = word(&raw.without_complaint, report);
    let mut conditions = Vec::new();
    for (key, tried) in &raw.conditions.0 {
        let tried = report.said(tried, "how it is tried");
        conditions.extend(word(key, report).map(|word| (word, tried)));
    }
    let natures = rows(&raw.natures, &Nature::ALL, &words, report, "nature of a fault");
    if natures.len() < Nature::ALL.len() {
        report.note(&raw.source, Wrong::Missing("a row for each nature of fault"));
    }
    let warm = probabilities(&raw.warm.words, &words, &raw.warm.above, report);
    let width = raw.warm.width.value;
    if !(width > 0.0 && width <= 5.0) {
        report.note(&raw.warm.width, Wrong::OutOfRange { text: width.to_string(), expected: "above 0, at most 5" });
    }
    Occasions {
        words,
        steady,
        without_complaint,
        conditions,
        natures,
        warm_above: quantity(&raw.warm.above, Dimension::Watts, report).unwrap_or(f64::INFINITY),
        warm_width: width,
        warm,
        source: report.said(&raw.source, "a source"),
    }
}

fn history(raw: &RawHistory, report: &mut Report<'_>) -> History {
    let words = said(&raw.words, report);
    let origins = rows(&raw.origins, &Origin::ALL, &words, report, "origin of a fault");
    if origins.len() < Origin::ALL.len() {
        report.note(&raw.source, Wrong::Missing("a row for each origin of a fault"));
    }
    History { words, origins, source: report.said(&raw.source, "a source") }
}

/// Rows of probabilities by what they are of: one of `all`, each with the word that a file calls it by.
fn rows<K: Copy + Ord>(
    raw: &Ordered<Ordered<f64>>,
    all: &[(K, &str)],
    words: &[Word],
    report: &mut Report<'_>,
    what: &'static str,
) -> BTreeMap<K, Vec<f64>> {
    let mut rows = BTreeMap::new();
    for (name, row) in &raw.0 {
        match all.iter().find(|(_, word)| *word == name.value) {
            None => report.unknown(name, what),
            Some((of, _)) => {
                rows.insert(*of, probabilities(row, words, name, report));
            }
        }
    }
    rows
}

fn quantity(text: &Text, unit: Dimension, report: &mut Report<'_>) -> Option<f64> {
    let value = read_quantity(&text.value, unit).filter(|v| *v > 0.0);
    if value.is_none() {
        report.unreadable(text, "a power above zero, as `3 W`");
    }
    value
}
