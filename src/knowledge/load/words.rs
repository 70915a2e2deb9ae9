//! Word tables as they are written, checked.

use super::super::error::Wrong;
use super::super::raw::{Ordered, RawWord, RawWords, Text};
use super::super::resolve::Report;
use super::super::{Effort, NoticedState, SOUND, Word, WordTable};
use std::collections::BTreeMap;

/// Resolves a word table.
pub(super) fn words(raw: &RawWords, report: &mut Report<'_>) -> WordTable {
    let figures = [
        (Some(&raw.contradiction), 0.5, "from 0 to 0.5"),
        (raw.width.as_ref(), 5.0, "from 0 to 5"),
        (raw.minutes.as_ref(), 60.0, "from 0 to 60"),
        (raw.a_metre.as_ref(), 10.0, "from 0 to 10"),
    ];
    for (value, most, expected) in figures {
        if let Some(value) = value.filter(|value| !(value.value >= 0.0 && value.value <= most)) {
            let text = value.value.to_string();
            report.note(value, Wrong::OutOfRange { text, expected });
        }
    }
    if raw.width.is_none() && !raw.bands.is_empty() {
        report.note(&raw.source, Wrong::Missing("a `width` of the edges between bands"));
    }
    let words = said(&raw.words, report);
    let mut edges = Vec::new();
    let mut bands = Vec::new();
    for (i, band) in raw.bands.iter().enumerate() {
        match &band.below {
            Some(edge) if i + 1 < raw.bands.len() && edges.last().is_none_or(|last| edge.value > *last) => {
                edges.push(edge.value);
            }
            None if i + 1 == raw.bands.len() => {}
            _ => report.note(&raw.source, Wrong::Missing("an ascending `below` for each band but the last")),
        }
        bands.push(probabilities(&band.words, &words, &raw.source, report));
    }
    let mut states = BTreeMap::new();
    for (state, row) in &raw.states.0 {
        match NoticedState::ALL.iter().find(|(_, word)| *word == state.value) {
            None => report.unknown(state, "state"),
            Some((noticed, _)) => {
                states.insert(*noticed, probabilities(row, &words, state, report));
            }
        }
    }
    let mut marks = BTreeMap::new();
    for (mark, row) in &raw.marks.0 {
        if marks.insert(mark.value.clone(), probabilities(row, &words, mark, report)).is_some() {
            report.note(mark, Wrong::Twice(mark.value.clone()));
        }
    }
    if !marks.is_empty() && !marks.contains_key(SOUND) {
        report.note(&raw.source, Wrong::Missing("the mark `sound`"));
    }
    let glance = Effort::default();
    WordTable {
        ask: report.said(&raw.ask, "how to look or listen"),
        words,
        edges,
        width: raw.width.as_ref().map_or(1.0, |width| width.value),
        bands,
        states,
        marks,
        effort: Effort {
            minutes: raw.minutes.as_ref().map_or(glance.minutes, |minutes| minutes.value),
            a_metre: raw.a_metre.as_ref().map_or(glance.a_metre, |minutes| minutes.value),
            opens: raw.opens,
        },
        contradiction: raw.contradiction.value,
        source: report.said(&raw.source, "a source"),
    }
}

/// Words with what stands for them on the screen.
pub(super) fn said(raw: &Ordered<RawWord>, report: &mut Report<'_>) -> Vec<Word> {
    let mut word = |key: &Text, word: &RawWord| Word {
        key: key.value.clone(),
        says: report.said(&word.says, "what the screen says"),
        also: word.also.iter().map(|a| a.value.clone()).collect(),
    };
    raw.0.iter().map(|(key, raw)| word(key, raw)).collect()
}

/// A row of probabilities in the order of `words`; words left out have none, and the row must sum to 1.
pub(super) fn probabilities(row: &Ordered<f64>, words: &[Word], at: &Text, report: &mut Report<'_>) -> Vec<f64> {
    for (word, _) in &row.0 {
        if words.iter().all(|w| w.key != word.value) {
            report.unknown(word, "word in this table");
        }
    }
    let of = |word: &Word| row.0.iter().find(|(k, _)| k.value == word.key).map_or(0.0, |(_, p)| *p);
    let row: Vec<f64> = words.iter().map(of).collect();
    let sum: f64 = row.iter().sum();
    if !row.iter().all(|p| (0.0..=1.0).contains(p)) || (sum - 1.0).abs() > 1e-9 {
        let text = sum.to_string();
        report.note(at, Wrong::OutOfRange { text, expected: "a sum of probabilities of 1" });
    }
    row
}
