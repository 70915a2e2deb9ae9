//! The hypotheses that still matter: suspects at the severities that the readings leave.

use crate::belief::{Belief, Path, Posterior};
use crate::suspects::{GroupId, SuspectId};

/// Hypotheses that together hold less than this share are left out.
const LEFT_OUT: f64 = 2e-3;
/// Most hypotheses that are looked at.
const MOST: usize = 120;
/// Severities by which a soft suspect is represented.
const SEVERITIES: usize = 4;

/// One suspect at one severity, on one path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hypothesis {
    /// The suspect.
    pub suspect: SuspectId,
    /// Its repair group.
    pub group: GroupId,
    /// Position of the severity in the suspect's grid.
    pub point: usize,
    /// Position of the path.
    pub path: usize,
    /// Probability.
    pub weight: f64,
}

impl Hypothesis {
    /// Its path.
    pub fn path_of<'a, 'n>(&self, belief: &'a Belief<'n>) -> Option<&'a Path<'n>> {
        belief.tracks()[self.suspect].points.get(self.point)?.paths.get(self.path)
    }
}

/// The hypotheses in play, likeliest first; their weights sum to at most 1.
pub fn in_play(belief: &Belief<'_>, posterior: &Posterior) -> Vec<Hypothesis> {
    let mut order: Vec<SuspectId> = belief.suspects().list().ids().collect();
    order.sort_by(|a, b| posterior.probability[*b].total_cmp(&posterior.probability[*a]).then(a.cmp(b)));
    let mut left = 1.0 - posterior.unknown;
    let mut all = Vec::new();
    for suspect in order {
        if left < LEFT_OUT || all.len() >= MOST {
            break;
        }
        let probability = posterior.probability[suspect];
        left -= probability;
        let group = belief.name_of_need(suspect);
        for (point, share) in representatives(&posterior.severities[suspect]) {
            let paths = &belief.tracks()[suspect].points[point].paths;
            let total: f64 = paths.iter().map(|p| p.weight).sum();
            for (path, p) in paths.iter().enumerate() {
                all.push(Hypothesis { suspect, group, point, path, weight: probability * share * p.weight / total });
            }
        }
    }
    all
}

/// A few grid points that stand for the whole distribution: the middle of each equal share of it.
fn representatives(shares: &[f64]) -> Vec<(usize, f64)> {
    if shares.len() <= SEVERITIES {
        return shares.iter().copied().enumerate().filter(|(_, s)| *s > 0.0).collect();
    }
    let mut picked: Vec<(usize, f64)> = Vec::new();
    let mut sum = 0.0;
    let mut next = 0.5 / SEVERITIES as f64;
    for (i, share) in shares.iter().enumerate() {
        sum += share;
        while sum > next && next < 1.0 {
            match picked.last_mut() {
                Some(last) if last.0 == i => last.1 += 1.0 / SEVERITIES as f64,
                _ => picked.push((i, 1.0 / SEVERITIES as f64)),
            }
            next += 1.0 / SEVERITIES as f64;
        }
    }
    picked
}
