//! Which reading ruled out which suspect, and what it should have been under it.

use super::Heard;
use super::means::APART;
use crate::belief::Predicted;
use crate::job::Diagnosis;
use crate::suspects::SuspectId;

/// A suspect that an observation rules out.
#[derive(Clone, Debug, PartialEq)]
pub struct Excluded {
    /// The suspect.
    pub suspect: SuspectId,
    /// What the observation should have been under it, at the size of it that fits best.
    pub would: Predicted,
}

/// The most that one observation counts when a size is fitted: it may be a blunder.
const MOST: f64 = 4.0;

/// Spread of a reading under a suspect, as a share of it: supply and parts stray (lead-acid batteries by some 3 %, common practice).
const STRAYS: f64 = 0.03;

impl Diagnosis<'_> {
    /// Puts every suspect that is ruled out to the observation that did it: the one at which it fell below 1/100 of the best, or
    /// where that one looks as it should, the one that it fits worst. Gives those that fit each single one.
    pub(super) fn exclude(&self, heard: &mut [Heard]) -> Vec<SuspectId> {
        let out = self.belief().out(self.posterior());
        let observed: Vec<usize> = (0..self.taken().len()).filter(|i| self.observation(*i).is_some()).collect();
        let mut together = Vec::new();
        for (suspect, _) in out.enumerate().filter(|(_, out)| **out) {
            let last = (0..self.told().len()).rev().find(|i| self.told()[*i].ruled_out.contains(&suspect));
            let fits = self.fitting(suspect, &observed);
            let off = |i: &usize| fits.iter().find(|(at, ..)| at == i).map_or(0.0, |(_, off, _)| *off);
            let worst =
                || fits.iter().map(|(at, off, _)| (*at, *off)).max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
            let by = last.filter(|i| off(i) > APART).or_else(|| worst().filter(|(_, off)| *off > APART).map(|w| w.0));
            let would = by.and_then(|by| fits.iter().find(|(at, ..)| *at == by)).map(|(_, _, would)| would.clone());
            match (by.and_then(|by| heard.get_mut(by)), would) {
                (Some(heard), Some(would)) => heard.excluded.push(Excluded { suspect, would }),
                _ => together.push(suspect),
            }
        }
        together
    }

    /// What each observation (position in `taken`) should have been under a suspect, at the size of it that fits best, and how
    /// far off it was.
    fn fitting(&self, suspect: SuspectId, observed: &[usize]) -> Vec<(usize, f64, Predicted)> {
        let track = &self.belief().tracks()[suspect];
        let of = |predicted: &[Predicted]| -> Vec<(usize, f64, Predicted)> {
            let each = observed.iter().zip(predicted);
            each.filter_map(|(i, predicted)| {
                let extra = match predicted {
                    Predicted::Number { mean, .. } => STRAYS * mean.abs(),
                    Predicted::Words(_) => 0.0,
                };
                Some((*i, self.off(self.taken().get(*i)?, predicted, extra), predicted.clone()))
            })
            .collect()
        };
        let total =
            |fits: &[(usize, f64, Predicted)]| fits.iter().map(|(_, off, _)| off.min(MOST).powi(2)).sum::<f64>();
        let paths = track.points.iter().flat_map(|point| &point.paths);
        let all = paths.filter(|path| !path.predicted.is_empty()).map(|path| of(&path.predicted));
        let best = all.min_by(|a, b| total(a).total_cmp(&total(b)));
        // What changes nothing is not followed by itself: it shows what the healthy circuit shows.
        best.unwrap_or_else(|| {
            let healthy = observed.iter().filter_map(|i| self.expected(*i));
            of(&healthy.collect::<Vec<_>>())
        })
    }
}
