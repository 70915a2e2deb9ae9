//! Readings in doubt: what may have gone wrong in taking them, and which test stands in for them.

use super::Diagnosis;
use crate::belief::Blunder;
use crate::choice::Ranked;

/// Probability from which something that may have gone wrong is named.
const NAMED: f64 = 0.5;

impl Diagnosis<'_> {
    /// What has more likely gone wrong than not, with its probability; likeliest first.
    pub fn doubtful(&self) -> impl Iterator<Item = (&Blunder, f64)> {
        self.posterior().doubts.iter().filter(|(_, share)| *share > NAMED).map(|(blunder, share)| (blunder, *share))
    }

    /// Whether something that was taken (position in `taken`) is in doubt.
    pub fn is_doubtful(&self, position: usize) -> bool {
        let Some(observation) = self.observation(position) else { return false };
        self.doubtful().any(|(blunder, _)| blunder.spoils().contains(&observation))
    }

    /// A test that tells whether an observation (position in the evidence) is to be believed, and is no repeat of it: what
    /// went wrong once may go wrong again.
    pub fn stand_in(&self, observation: usize) -> Option<Ranked> {
        let ranked = self.standing_in(&self.hanging_on(Blunder::Reading(observation)));
        let doubtful: Vec<&Blunder> = self.doubtful().map(|(blunder, _)| blunder).collect();
        ranked.into_iter().find(|r| !doubtful.iter().any(|b| self.shares(&r.test, b)))
    }
}
