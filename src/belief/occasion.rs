//! When a fault shows and what was before, as evidence: each suspect's likelihood is multiplied by the probability that it
//! shows on such an occasion, and after such a history.

use super::{Evidence, Timing, Track};
use crate::suspects::FaultId;

/// The logarithm of that factor for a suspect, and the shares of its severities with it. `shares` are those of the readings
/// alone: the heat of a fault depends on its severity, and the factor is the mean over it.
pub(super) fn weigh(
    timing: Option<&dyn Timing>,
    evidence: &Evidence,
    faults: &[FaultId],
    track: &Track<'_>,
    shares: &[f64],
) -> (f64, Vec<f64>) {
    let Some(timing) = timing else { return (0.0, shares.to_vec()) };
    let before = evidence.history.map_or(0.0, |word| timing.history(word, faults).ln());
    let Some(occasion) = evidence.occasion else { return (before, shares.to_vec()) };
    let heat = |i: usize| -> f64 {
        let paths = track.points.get(i).map(|p| &p.paths[..]).unwrap_or_default();
        paths.iter().map(|p| p.weight * p.heats.get(occasion.stay).copied().unwrap_or(0.0)).sum()
    };
    let likely = |i: usize| timing.likelihood(occasion.word, faults, heat(i));
    let weighed: Vec<f64> = shares.iter().enumerate().map(|(i, share)| share * likely(i)).collect();
    let sum: f64 = weighed.iter().sum();
    if sum > 0.0 {
        (before + sum.ln(), weighed.into_iter().map(|w| w / sum).collect())
    } else {
        // Readings that are impossible for it leave no shares.
        (before + timing.likelihood(occasion.word, faults, 0.0).ln(), shares.to_vec())
    }
}

/// The same for something that is not modelled: any word.
pub(super) fn of_unknown(timing: Option<&dyn Timing>, evidence: &Evidence) -> f64 {
    let Some(timing) = timing else { return 0.0 };
    let any = |words: usize| -(words.max(1) as f64).ln();
    evidence.occasion.map_or(0.0, |_| any(timing.count())) + evidence.history.map_or(0.0, |_| any(timing.histories()))
}
