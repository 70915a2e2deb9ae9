//! What a stay would have shown with a control elsewhere than said.
//!
//! A switch that was left off, or that somebody has turned back, makes all that is read from then on that of another set-up. As
//! readings that show anything, ten of them were worth more than any fault: the set-up as said had to be right, and the switch
//! stuck. What a good circuit shows in the set-ups that the job knows is a better guess of them, and hangs on no suspect.

use super::density::{Noise, of_answer};
use super::track::{Predicted, Track};
use super::{Answer, Belief, Evidence};
use crate::circuit::{ControlId, SetUp};
use crate::index::Id;

/// Most set-ups in which a stay may have been instead.
const MOST: usize = 4;
/// Chance that a fault changes a reading in that other set-up, so that it shows anything. Common practice, no source.
const CHANGED: f64 = 0.25;
/// What a reading of a good circuit strays by there, as a share of itself: mostly the supply. Common practice, no source.
const ROUGHLY: f64 = 0.1;

/// What a good circuit shows in another set-up than that of a stay.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Elsewhere {
    /// The share of it among the blunders of the set-up.
    pub(super) share: f64,
    /// For each observation of the stay (position in the evidence) what would have been seen or read.
    pub(super) shows: Vec<(usize, Predicted)>,
}

impl Elsewhere {
    /// What it shows in place of an observation.
    pub(super) fn shows(&self, observation: usize) -> Option<&Predicted> {
        let at = self.shows.binary_search_by_key(&observation, |(i, _)| *i).ok()?;
        self.shows.get(at).map(|(_, predicted)| predicted)
    }
}

/// Density (per volt or amp) of a number, or probability of a word, in another set-up than said.
pub(super) fn of_elsewhere(answer: &Answer, predicted: &Predicted, noise: &Noise) -> f64 {
    of_answer(answer, predicted, strays(predicted), CHANGED, noise)
}

/// Standard deviation of what a good circuit reads there, for a draw; and the chance that it shows anything instead.
pub(super) fn strays_elsewhere(predicted: &Predicted, noise: &Noise) -> (f64, f64) {
    (strays(predicted).hypot(noise.spread(0.0, false)), CHANGED)
}

fn strays(predicted: &Predicted) -> f64 {
    match predicted {
        Predicted::Number { mean, .. } => ROUGHLY * mean.abs(),
        Predicted::Words(_) => 0.0,
    }
}

impl Belief<'_> {
    /// For each stay of the evidence what a good circuit shows with one control elsewhere, or as in the stay before.
    pub(super) fn elsewhere(&self, evidence: &Evidence) -> Vec<Vec<Elsewhere>> {
        let others: Vec<Vec<SetUp>> = (0..evidence.stays.len()).map(|stay| self.others(evidence, stay)).collect();
        let most = others.iter().map(Vec::len).max().unwrap_or(0);
        let mut found: Vec<Vec<Elsewhere>> = vec![Vec::new(); evidence.stays.len()];
        for nth in 0..most {
            let stays = others.iter().zip(&evidence.stays).map(|(all, said)| all.get(nth).unwrap_or(said).clone());
            let evidence = Evidence { stays: stays.collect(), ..evidence.clone() };
            let Some(healthy) = self.suspects().list().ids().next() else { break };
            let mut track = Track::start(self.suspects(), healthy, 0);
            track.extend(self.network(), self.suspects(), self.senses(), &evidence);
            let path = track.points.first().and_then(|point| point.paths.first());
            let predicted = path.map_or(&[][..], |path| &path.predicted);
            for (stay, others) in others.iter().enumerate().filter(|(_, others)| nth < others.len()) {
                let all = evidence.observations.iter().zip(predicted).enumerate();
                let of_stay = all.filter(|(_, (observation, _))| observation.stay == stay);
                let shows = of_stay.map(|(i, (_, predicted))| (i, predicted.clone())).collect();
                found[stay].push(Elsewhere { share: self.noise().moved / others.len() as f64, shows });
            }
        }
        found
    }

    /// The set-ups in which a stay may have been instead: one control at rest, or where another stay has it; or all as in the
    /// stay before. None for a stay with less than two numbers: the blunder of a single one covers it.
    fn others(&self, evidence: &Evidence, stay: usize) -> Vec<SetUp> {
        let numbers = evidence.observations.iter().filter(|o| o.stay == stay && o.answer.value().is_some());
        let Some(said) = evidence.stays.get(stay).filter(|_| numbers.count() > 1) else { return Vec::new() };
        let rest = SetUp::at_rest(&self.network().netlist().controls);
        let mut others: Vec<SetUp> = Vec::new();
        let mut add = |other: SetUp| {
            if other.positions != said.positions && !others.contains(&other) && others.len() < MOST {
                others.push(other);
            }
        };
        for at in std::iter::once(&rest).chain(&evidence.stays) {
            for (control, (there, here)) in at.positions.iter().zip(said.positions.iter()).enumerate() {
                if there != here {
                    add(said.clone().with(ControlId::new(control), *there));
                }
            }
        }
        if let Some(before) = stay.checked_sub(1).and_then(|before| evidence.stays.get(before)) {
            add(SetUp { positions: before.positions.clone(), ..said.clone() });
        }
        others
    }
}
