//! The proof of a repair, once what was complained of works again: what was repaired carries its current, what shares a feed or
//! an earth with it still works, and a reading that the runner-up would fail is right.
//!
//! What to show is fixed when the repair is made; its limits follow the supplies as they were found. It deliberately knows
//! no words for any of it.

mod across;
mod limit;
mod neighbours;
mod runner_up;

pub use limit::Limit;

use super::Diagnosis;
use crate::belief::Answer;
use crate::choice::{Ranked, Test, minutes};
use crate::circuit::ElementId;
use crate::install::PartId;
use crate::suspects::{FaultId, GroupId};
use crate::units::Minutes;
use std::collections::BTreeSet;

/// Something that proves a repair.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// The test.
    pub test: Test,
    /// What it proves.
    pub proves: Proves,
}

/// What a test proves.
#[derive(Clone, Debug, PartialEq)]
pub enum Proves {
    /// A repaired part carries its current without losing more than it should.
    Carries {
        /// The part.
        part: PartId,
        /// What of it carries the current.
        element: ElementId,
        /// A conductor lies between the probes too.
        run: bool,
    },
    /// A load that hangs on the same parts still works.
    Neighbour {
        /// The load.
        load: PartId,
        /// What it shares with what was repaired.
        shares: Vec<PartId>,
    },
    /// It was not one of these, which had been possible before the repair.
    NotThat(Vec<FaultId>),
}

/// How a proof came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// It is as in a good circuit.
    Yes,
    /// It is not.
    No,
    /// It could not be taken.
    NotTaken,
}

impl Diagnosis<'_> {
    /// The proofs of a repair of these groups, in the order in which they are asked: as few set-ups as possible. It has not been
    /// entered yet.
    pub(super) fn proofs_of(&self, groups: &[GroupId]) -> Vec<Proof> {
        let mut parts: BTreeSet<PartId> = BTreeSet::new();
        let mut proofs: Vec<Proof> = Vec::new();
        let mut add = |proof: Proof| {
            if !proofs.iter().any(|known| known.test == proof.test) {
                proofs.push(proof);
            }
        };
        for earlier in self.planned() {
            if let Proves::Carries { part, .. } = &earlier.proves {
                parts.insert(*part);
                add(earlier.clone());
            }
        }
        for group in groups {
            let culprit = self.culprit(*group, self.posterior().share(*group));
            let faults = culprit.faults.iter().filter_map(|fault| self.system().describe(*fault));
            parts.extend(faults.map(|fault| fault.part));
            self.carrying_again(&culprit).into_iter().for_each(&mut add);
        }
        proofs.retain(|proof| !self.is_out_of_reach(&proof.test));
        proofs.truncate(MOST_JOINTS);
        let neighbours = self.neighbours(&parts);
        if let Some(against) = self.against_runners_up(groups, &proofs) {
            proofs.push(against);
        }
        proofs.extend(neighbours.into_iter().filter(|proof| !self.is_out_of_reach(&proof.test)));
        proofs
    }

    /// What is to be shown next of a repair behind which the complaint is gone.
    pub(super) fn next_proof(&self) -> Option<Ranked> {
        if !self.is_cured() || self.proof_failed() {
            return None;
        }
        let next = self.planned().iter().find(|proof| self.outcome(proof).is_none())?;
        let minutes = minutes(&self.system().install, &self.standing(), &next.test);
        Some(Ranked { test: next.test.clone(), bits: 0.0, minutes, reluctance: Minutes::ZERO })
    }

    /// Whether the complaint is gone and everything that could be taken of the proof is right.
    pub fn is_proven(&self) -> bool {
        self.is_cured()
            && self.planned().iter().all(|proof| matches!(self.outcome(proof), Some(Held::Yes | Held::NotTaken)))
    }

    /// Whether something of the proof of the last repair is not as it should be, although the complaint is gone.
    pub fn proof_failed(&self) -> bool {
        self.is_cured() && self.planned().iter().any(|proof| self.outcome(proof) == Some(Held::No))
    }

    /// What a test proves that is asked now, if it is asked to prove a repair; the complaint tried again is none of these.
    pub fn proving(&self, test: &Test) -> Option<&Proof> {
        let open = |proof: &&Proof| proof.test == *test && self.outcome(proof).is_none();
        self.planned().iter().find(open).filter(|_| self.is_cured())
    }

    /// Whether a test is the complaint tried again behind a repair.
    pub fn is_retry(&self, test: &Test) -> bool {
        self.last_repair().is_some() && self.complained().contains(test)
    }

    /// How a proof came out since the last repair. A neighbour that does not look right is looked at a second time first: one in
    /// ten or so calls a good load weak, and a good repair would be put in doubt by it.
    fn outcome(&self, proof: &Proof) -> Option<Held> {
        let since = self.taken().iter().skip(self.last_repair()?);
        let held: Vec<Held> = since.filter(|taken| taken.test == proof.test).filter_map(|taken| taken.proof).collect();
        let seen_once = matches!(proof.proves, Proves::Neighbour { .. }) && held == [Held::No];
        held.last().copied().filter(|_| !seen_once)
    }

    /// Whether the proof that was taken last is asked once more.
    pub fn is_asked_again(&self, test: &Test) -> bool {
        self.proving(test).is_some() && self.taken().last().is_some_and(|last| last.test == *test)
    }

    /// What an answer that is about to be entered proves.
    pub(super) fn held(&self, test: &Test, answer: &Answer) -> Option<Held> {
        if *answer == Answer::NotTaken {
            return (self.is_retry(test) || self.proving(test).is_some()).then_some(Held::NotTaken);
        }
        let proof = self.proving(test)?;
        Some(if self.is_right(proof, answer) { Held::Yes } else { Held::No })
    }

    /// Judges the complaint that was tried again last: whether it is gone is known from what a good circuit shows then.
    pub(super) fn hold_retry(&mut self) {
        let Some(since) = self.last_repair() else { return };
        let works = self.taken().last().is_some_and(|last| self.works(&last.test, since));
        self.hold(if works { Held::Yes } else { Held::No });
    }
}

/// Most readings across what was repaired: of a dozen joints of one cable the first few tell how it was made. Common practice,
/// no source.
const MOST_JOINTS: usize = 4;
