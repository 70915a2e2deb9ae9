//! How a part is taken out of its circuit for a test (a fuse pulled, a plug taken apart, a relay out of its socket), and how its
//! way is bridged then.

use super::amount::read_quantity;
use super::kind::{Bridging, Parting};
use super::raw::{RawBridging, RawKind, RawParting, Text};
use super::resolve::{Report, path};
use super::{ElementSpec, Kind, Terminal};
use crate::units::{Amps, Dimension, Ohms};

/// Most minutes that taking a part out may cost: beyond that it is a repair.
const MOST_MINUTES: f64 = 60.0;

/// Resolves `taken out:`. `elements` and `terminals` are the kind's own.
pub(super) fn parting(
    raw: &RawKind,
    elements: &[ElementSpec],
    terminals: &[Terminal],
    report: &mut Report<'_>,
) -> Option<Parting> {
    let RawParting { how, back, state, opens, minutes, source, bridged } = raw.parting.as_ref()?;
    for key in opens {
        if elements.iter().all(|known| known.key != key.value) {
            report.unknown(key, "element");
        }
    }
    let read = self::minutes(minutes, report);
    let bridging = bridged.as_ref().and_then(|raw| bridging(raw, terminals, report));
    let all = || elements.iter().map(|element| element.key.clone()).collect();
    Some(Parting {
        how: report.said(how, "how it is taken out"),
        back: report.said(back, "how it is put back"),
        state: report.said(state, "a word for it"),
        opens: if opens.is_empty() { all() } else { opens.iter().map(|key| key.value.clone()).collect() },
        minutes: read?,
        source: report.said(source, "a source"),
        bridging,
    })
}

/// Resolves `bridged:`.
fn bridging(raw: &RawBridging, terminals: &[Terminal], report: &mut Report<'_>) -> Option<Bridging> {
    let ends = path(&raw.between, terminals, report);
    let minutes = minutes(&raw.minutes, report);
    let ohms = read_quantity(&raw.ohms.value, Dimension::Ohms).filter(|ohms| *ohms > 0.0);
    if ohms.is_none() {
        report.unreadable(&raw.ohms, "ohms above zero (`20 mΩ`)");
    }
    let most = read_quantity(&raw.most.value, Dimension::Amps).filter(|most| *most > 0.0);
    if most.is_none() {
        report.unreadable(&raw.most, "amps above zero (`30 A`)");
    }
    Some(Bridging {
        how: report.said(&raw.how, "how it is bridged"),
        back: report.said(&raw.back, "how the jumper is taken out"),
        state: report.said(&raw.state, "a word for it"),
        source: report.said(&raw.source, "a source"),
        ends: ends?,
        ohms: Ohms::new(ohms?),
        most: Amps::new(most?),
        minutes: minutes?,
    })
}

fn minutes(text: &Text, report: &mut Report<'_>) -> Option<f64> {
    let read = read_quantity(&text.value, Dimension::Minutes).filter(|m| (0.0..=MOST_MINUTES).contains(m));
    if read.is_none() {
        report.unreadable(text, "minutes, at most 60 (`0.3 min`)");
    }
    read
}

impl Kind {
    /// Whether an element, by its key, opens when the part is taken out.
    pub fn parts(&self, key: &str) -> bool {
        self.parting.as_ref().is_some_and(|parting| parting.opens.iter().any(|opens| opens == key))
    }
}
