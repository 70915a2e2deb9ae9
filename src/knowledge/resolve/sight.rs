//! What can be seen, heard or felt of a kind, resolved.

use super::super::complaints::Notices;
use super::super::error::Wrong;
use super::super::raw::RawSight;
use super::super::{Knowledge, Sight};
use super::Names;
use crate::units::Dimension;

/// The quantities that a sight can be of; the heat of a part goes by its role, and is no sight of its kind.
const OF: [(&str, Notices); 3] =
    [("work", Notices::Work), ("standing", Notices::Standing), ("charge", Notices::Charge)];

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
        if self.elements.iter().all(|e| e.key != raw.element.value) {
            self.report.unknown(&raw.element, "element");
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
        let unit = if notices == Notices::Standing { Dimension::Amps } else { Dimension::Watts };
        let words = raw.words.0.iter();
        Some(Sight {
            name: raw.name.as_ref().map_or_else(String::new, |name| name.value.clone()),
            table: raw.table.value.clone(),
            notices,
            element: raw.element.value.clone(),
            full: self.optional(raw.full.as_ref(), unit),
            words: words.map(|(k, v)| (k.value.clone(), v.clone())).collect(),
        })
    }
}
