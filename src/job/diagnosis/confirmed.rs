//! Before a part is named: one more reading that what stands against it would fail, where that is cheap.
//!
//! What stands against a finding at one in some thousand is mostly two faults where one was thought of, or two readings that were
//! wrong. Both are likelier in a real system than any table of priors says, and a part that was replaced for nothing costs more
//! than a reading where one stands.

use super::Diagnosis;
use crate::belief::{Posterior, Verdict};
use crate::choice::{Ranked, Worth};
use crate::suspects::GroupId;
use crate::units::Minutes;

/// What stands against a finding is asked about no more below this probability: of 330 noisy jobs that named a part all four wrong
/// ones lay above it, and a fifth of the right ones.
const HARDLY: f64 = 1e-5;
/// A reading that takes no longer is worth it: one where the person stands. With 3.5 minutes two faults took 9 % longer, and the same
/// two of 30 jobs ended wrong.
const CHEAP: Minutes = Minutes::new(1.0);
/// Bits that it has to tell if what was found and what stands against it were equally likely.
const TELLS: f64 = 0.5;

impl Diagnosis<'_> {
    /// The test that confirms a verdict which names parts, if there is a cheap one.
    pub(super) fn confirming(&self, verdict: &Verdict) -> Option<Ranked> {
        let half = self.against(verdict)?;
        let ranked = self.ranked_by(&half, 0.0, None, &mut Worth::default());
        let tells = |r: &Ranked| r.bits >= TELLS && r.minutes.get() <= CHEAP.get() && !self.is_inspection(&r.test);
        ranked.into_iter().find(tells)
    }

    /// The posterior halfway between what was found and what stands against it; `None` where that is hardly anything.
    fn against(&self, verdict: &Verdict) -> Option<Posterior> {
        let named: Vec<GroupId> = match verdict {
            // Of several each has to stand by itself: the least sure one first.
            Verdict::Found(groups) => {
                let share = |group: &GroupId| self.posterior.share(*group);
                groups.iter().copied().min_by(|a, b| share(a).total_cmp(&share(b))).into_iter().collect()
            }
            Verdict::Ambiguous(few) => few.clone(),
            Verdict::NoFault | Verdict::Cured | Verdict::Misfit(_) | Verdict::Open => return None,
        };
        let rivals = self.belief.rivals(&self.posterior, &named, HARDLY)?;
        Some(self.posterior.halfway(&rivals))
    }
}
