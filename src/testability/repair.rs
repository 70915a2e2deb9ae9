//! What a verdict leads to: the named repairs are made one after the other, until the complaint is cured.

use super::mark::repairs;
use super::scene::Scene;
use crate::belief::{Probe, Verdict};
use crate::bench::{Draws, Grievance, Hidden};
use crate::choice::{Standing, Target, Test, minutes};
use crate::job::Diagnosis;
use crate::suspects::GroupId;
use crate::units::Minutes;

/// Minutes of work that a repair takes besides the way to it. Common practice, no source.
const REPAIR: Minutes = Minutes::new(10.0);

/// How things are after the repairs.
pub(super) struct Repaired {
    /// What is still hidden.
    pub(super) left: Hidden,
    /// The complaint is gone.
    pub(super) cured: bool,
    /// The repairs that were made, needed or not.
    pub(super) made: Vec<GroupId>,
    /// Minutes of the repairs and of trying the complaint again after each.
    pub(super) minutes: Minutes,
}

/// Makes the repairs that a verdict names, likeliest first, and tries the complaint again after each.
pub(super) fn repair(
    scene: &Scene<'_>,
    job: &Diagnosis<'_>,
    verdict: &Verdict,
    (hidden, draws): (&Hidden, &Draws),
    grievance: &Grievance,
) -> Repaired {
    let mut after = Repaired { left: hidden.clone(), cured: false, made: Vec::new(), minutes: Minutes::ZERO };
    let system = job.system();
    let install = &system.install;
    let Some(fact) = job.complaint().wrong().next() else { return after };
    let part = system.sights[fact.sight].part;
    let again = Test { set_up: grievance.set_up.clone(), probe: Probe::Look(fact.sight), at: Target::Part(part) };
    let mut standing: Standing = job.standing();
    for culprit in job.named(verdict) {
        let part = culprit.faults.first().and_then(|fault| system.possible.get(*fault)).map(|fault| fault.part);
        let Some(part) = part else { continue };
        let there = Test { at: Target::Part(part), ..again.clone() };
        for test in [&there, &again] {
            after.minutes = after.minutes + minutes(install, &standing, test);
            standing.after(install, test);
        }
        after.minutes = after.minutes + REPAIR;
        after.made.push(culprit.group);
        let words = &job.belief().suspects().groups()[culprit.group].repair;
        let is_made = |word: &str| words.iter().any(|made| made == word);
        if !repairs(system, &after.left).into_iter().any(is_made) {
            continue;
        }
        after.left = after.left.without(scene.possible, is_made);
        if scene.still(&system.circuit, grievance, &after.left, draws).is_none() {
            after.cured = true;
            break;
        }
    }
    after
}
