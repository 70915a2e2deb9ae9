//! What can be seen, heard or felt of a kind, resolved.

use super::super::complaints::Notices;
use super::super::error::Wrong;
use super::super::raw::RawSight;
use super::super::{Knowledge, Sight, WordTable};
use super::Names;
use crate::units::Dimension;
use std::collections::BTreeMap;

/// The quantities that a sight can be of; the heat of a part goes by its role, and is no sight of its kind.
const OF: [(&str, Notices); 4] =
    [("work", Notices::Work), ("standing", Notices::Standing), ("charge", Notices::Charge), ("marks", Notices::Marks)];

/// Between what a fault leaves to be seen at the lower end of its range and at the upper one.
const TO: &str = " to ";

impl Names<'_, '_> {
    /// The sights of the kind: `sight:` for the only one, `sights:` for several.
    pub(super) fn sights(&mut self, known: &Knowledge) -> Vec<Sight> {
        let several = &self.raw.sights;
        if let (Some(one), [_, ..]) = (&self.raw.sight, &several[..]) {
            self.report.note(&one.table, Wrong::OneOf { choices: "`sight`, `sights`", given: 2 });
        }
        self.raw.sight.iter().chain(several).filter_map(|raw| self.sight(raw, known)).collect()
    }

    fn sight(&mut self, raw: &RawSight, known: &Knowledge) -> Option<Sight> {
        let table = known.words.get(&raw.table.value);
        if table.is_none() {
            self.report.unknown(&raw.table, "word table");
        }
        match &raw.element {
            Some(element) if self.elements.iter().all(|e| e.key != element.value) => {
                self.report.unknown(element, "element");
            }
            Some(_) | None => {}
        }
        for (word, _) in &raw.words.0 {
            if table?.words.iter().all(|w| w.key != word.value) {
                self.report.unknown(word, "word in this table");
            }
        }
        let of = raw.of.as_ref();
        let notices = of.map_or(Some(Notices::Work), |of| {
            let found = OF.iter().find(|(word, _)| *word == of.value);
            if found.is_none() {
                self.report.unknown(of, "quantity of a sight");
            }
            found.map(|(_, notices)| *notices)
        })?;
        let marks = if notices == Notices::Marks { self.marks(raw, table?) } else { BTreeMap::new() };
        if notices != Notices::Marks && raw.element.is_none() {
            self.report.note(&raw.table, Wrong::Missing("an `element`"));
        }
        let unit = if notices == Notices::Standing { Dimension::Amps } else { Dimension::Watts };
        let words = raw.words.0.iter();
        Some(Sight {
            name: raw.name.as_ref().map_or_else(String::new, |name| name.value.clone()),
            table: raw.table.value.clone(),
            notices,
            element: raw.element.as_ref().map_or_else(String::new, |element| element.value.clone()),
            marks,
            full: self.optional(raw.full.as_ref(), unit),
            words: words.map(|(k, v)| (k.value.clone(), v.clone())).collect(),
        })
    }

    /// What the modes leave to be seen: a mark of the table, or `slight to heavy`. Such a sight has a name of its own, since it
    /// is not what the part does.
    fn marks(&mut self, raw: &RawSight, table: &WordTable) -> BTreeMap<String, [String; 2]> {
        if raw.name.is_none() || raw.element.is_some() || raw.marks.0.is_empty() {
            self.report.note(&raw.table, Wrong::Missing("a `name` and `marks`, and no `element`"));
        }
        let mut marks = BTreeMap::new();
        for (mode, text) in &raw.marks.0 {
            if self.raw.modes.0.iter().all(|(key, _)| key.value != mode.value) {
                self.report.unknown(mode, "mode");
            }
            let (low, high) = text.value.split_once(TO).unwrap_or((&text.value, &text.value));
            let pair = [low, high].map(|mark| mark.trim().to_owned());
            if !pair.iter().all(|mark| table.marks.contains_key(mark)) {
                self.report.unknown(text, "mark");
            }
            if marks.insert(mode.value.clone(), pair).is_some() {
                self.report.note(mode, Wrong::Twice(mode.value.clone()));
            }
        }
        marks
    }
}
