//! How probable answers are that a blunder has spoilt: worked out once for all suspects.

use super::blunders::Latent;
use super::density::{Noise, spoilt};
use super::elsewhere::{Elsewhere, of_elsewhere};
use super::{Evidence, Predicted};

/// A way in which a blunder spoils its observations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum How {
    /// All numbers are off by the same, so that they still count against each other.
    Shifted,
    /// They are lost.
    Lost,
    /// They are those of another set-up, the so manieth of the latent's.
    Elsewhere(usize),
}

/// Logs of probabilities, each with the observation (position in the evidence) that it is of.
type Logs = Vec<(usize, f64)>;

/// What spoilt observations come to.
#[derive(Default)]
pub(super) struct Spoilt {
    /// Log of the density of each number where it was spoilt by itself.
    alone: Vec<f64>,
    /// For each latent, for each of its other set-ups, the logs of all its observations there.
    elsewhere: Vec<Vec<Logs>>,
    /// For each latent the logs of its words where anything may have been said.
    unread: Vec<Logs>,
}

impl Spoilt {
    pub(super) fn new(evidence: &Evidence, latents: &[Latent], noise: &Noise) -> Self {
        let times = |i: usize| f64::from(evidence.observations[i].times);
        let elsewhere = |latent: &Latent| -> Vec<Logs> {
            let log = |i: usize, shown: &Predicted| of_elsewhere(&evidence.observations[i].answer, shown, noise).ln();
            let of = |other: &Elsewhere| {
                let spoilt = latent.blunder.spoils().iter();
                spoilt.filter_map(|i| Some((*i, times(*i) * log(*i, other.shows(*i)?)))).collect()
            };
            latent.elsewhere.iter().map(of).collect()
        };
        let unread = |latent: &Latent| {
            let Some(other) = latent.elsewhere.first() else { return Logs::new() };
            let any = |i: &usize| match other.shows(*i)? {
                Predicted::Words(words) => Some((*i, -times(*i) * (words.len().max(1) as f64).ln())),
                Predicted::Number { .. } => None,
            };
            latent.blunder.spoils().iter().filter_map(any).collect()
        };
        Self {
            alone: evidence.observations.iter().map(|o| spoilt(o, noise)).collect(),
            elsewhere: latents.iter().map(elsewhere).collect(),
            unread: latents.iter().map(unread).collect(),
        }
    }

    /// Log of the density of a number that was spoilt by itself.
    pub(super) fn alone(&self, observation: usize) -> f64 {
        self.alone.get(observation).copied().unwrap_or(0.0)
    }

    /// Log of the probability of an observation that a latent has spoilt; `None`: what it says by itself stands.
    pub(super) fn log(&self, latent: usize, how: How, observation: usize) -> Option<f64> {
        let logs = match how {
            How::Shifted => return None,
            How::Lost => self.unread.get(latent)?,
            How::Elsewhere(nth) => self.elsewhere.get(latent)?.get(nth)?,
        };
        let at = logs.binary_search_by_key(&observation, |(i, _)| *i).ok()?;
        logs.get(at).map(|(_, log)| *log)
    }

    /// In how many other set-ups a latent's observations may have been made.
    pub(super) fn set_ups(&self, latent: usize) -> usize {
        self.elsewhere.get(latent).map_or(0, Vec::len)
    }
}
