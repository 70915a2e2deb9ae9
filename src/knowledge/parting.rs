//! How a part is taken out of its circuit for a test: a fuse pulled, a plug taken apart, a relay out of its socket.

use super::amount::read_quantity;
use super::kind::Parting;
use super::raw::{RawKind, RawParting};
use super::resolve::Report;
use super::{ElementSpec, Kind};
use crate::units::Dimension;

/// Most minutes that taking a part out may cost: beyond that it is a repair.
const MOST_MINUTES: f64 = 60.0;

/// Resolves `taken out:`. `elements` are the kind's own.
pub(super) fn parting(raw: &RawKind, elements: &[ElementSpec], report: &mut Report<'_>) -> Option<Parting> {
    let RawParting { how, back, state, opens, minutes, source } = raw.parting.as_ref()?;
    for key in opens {
        if elements.iter().all(|known| known.key != key.value) {
            report.unknown(key, "element");
        }
    }
    let read = read_quantity(&minutes.value, Dimension::Minutes).filter(|m| *m <= MOST_MINUTES);
    if read.is_none() {
        report.unreadable(minutes, "minutes, at most 60 (`0.3 min`)");
    }
    let all = || elements.iter().map(|element| element.key.clone()).collect();
    Some(Parting {
        how: report.said(how, "how it is taken out"),
        back: report.said(back, "how it is put back"),
        state: report.said(state, "a word for it"),
        opens: if opens.is_empty() { all() } else { opens.iter().map(|key| key.value.clone()).collect() },
        minutes: read?,
        source: report.said(source, "a source"),
    })
}

impl Kind {
    /// Whether an element, by its key, opens when the part is taken out.
    pub fn parts(&self, key: &str) -> bool {
        self.parting.as_ref().is_some_and(|parting| parting.opens.iter().any(|opens| opens == key))
    }
}
