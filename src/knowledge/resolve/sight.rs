//! What can be seen, heard or felt of a kind, resolved.

use super::super::{Knowledge, Sight, Unit};
use super::Names;

impl Names<'_, '_> {
    /// The sight of the kind.
    pub(super) fn sight(&mut self, known: &Knowledge) -> Option<Sight> {
        let raw = self.raw.sight.as_ref()?;
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
        let words = raw.words.0.iter();
        Some(Sight {
            table: raw.table.value.clone(),
            element: raw.element.value.clone(),
            full: self.optional(raw.full.as_ref(), Unit::Watts),
            words: words.map(|(k, v)| (k.value.clone(), v.clone())).collect(),
        })
    }
}
