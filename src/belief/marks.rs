//! What a fault leaves to be seen on the part that it is of: a green pin, a loose lug, a wire rubbed through.
//!
//! No circuit says that: a suspect predicts it by its own faults of that part, by their mode and size, and everything else
//! predicts what a sound part looks like. Something that is not modelled is elsewhere, and leaves it looking sound too.

use super::{Belief, Predicted, Probe, Senses, Shown, Sight};
use crate::suspects::{FaultId, Severity, SuspectId, Suspects};
use crate::units::Ohms;
use std::collections::BTreeMap;

/// The words for what is seen of a part, by its faults.
#[derive(Clone, Debug, PartialEq)]
pub struct Marks {
    /// Probability of each word where the part is sound.
    pub sound: Vec<f64>,
    /// The same where it has a fault: at the lower and at the upper end of the fault's range. Between them it runs straight in
    /// the logarithm of the size.
    pub of: BTreeMap<FaultId, [Vec<f64>; 2]>,
}

impl Marks {
    /// What a suspect predicts, without the faults that were cured. Of several faults of the part each may be the one that
    /// is seen: the mean of theirs.
    pub(super) fn words(&self, suspects: &Suspects, suspect: SuspectId, ohms: Ohms, cured: &[FaultId]) -> Predicted {
        let entry = &suspects.list()[suspect];
        let is_there = |fault: &&FaultId| entry.stays || !cured.contains(*fault);
        let of = |fault: &FaultId| {
            let [low, high] = self.of.get(fault)?;
            let size = entry.pins.iter().find(|pin| pin.fault == *fault).map_or(ohms, |pin| pin.ohms);
            let at = suspects.faults()[*fault].severity.map_or(0.0, |range| place(range, size));
            Some(low.iter().zip(high).map(|(l, h)| l + at * (h - l)).collect::<Vec<f64>>())
        };
        let rows: Vec<Vec<f64>> = entry.faults.iter().filter(is_there).filter_map(of).collect();
        if rows.is_empty() {
            return Predicted::Words(self.sound.clone());
        }
        let mean = |word: usize| rows.iter().filter_map(|row| row.get(word)).sum::<f64>() / rows.len() as f64;
        Predicted::Words((0..self.sound.len()).map(mean).collect())
    }

    /// Whether any of these faults leaves something here.
    pub(super) fn touches(&self, faults: &[FaultId]) -> bool {
        faults.iter().any(|fault| self.of.contains_key(fault))
    }
}

impl Senses {
    /// The marks that a probe looks at, if it looks at any.
    pub fn marks(&self, probe: &Probe) -> Option<&Marks> {
        let Probe::Look(sight) = probe else { return None };
        match self.sights.get(*sight) {
            Some(Sight { shown: Shown::Marks(marks), .. }) => Some(marks),
            Some(_) | None => None,
        }
    }
}

impl Belief<'_> {
    /// What a suspect of this size leaves to be seen now, where a probe looks for marks.
    pub fn marked(&self, suspect: SuspectId, ohms: Ohms, probe: &Probe) -> Option<Predicted> {
        Some(self.senses().marks(probe)?.words(self.suspects(), suspect, ohms, &self.cured()))
    }
}

/// Where in its range a size lies, on a logarithmic scale: 0 at the lower end, 1 at the upper.
fn place(range: Severity, size: Ohms) -> f64 {
    let [low, high, size] = [range.low, range.high, size].map(|ohms| ohms.get().max(f64::MIN_POSITIVE).ln());
    if high > low { ((size - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 }
}
