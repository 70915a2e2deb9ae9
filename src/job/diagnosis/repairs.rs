//! What was repaired in a job, and what is to prove it.

use super::Diagnosis;
use crate::job::Proof;
use crate::suspects::{FaultId, GroupId};

/// A repair.
pub(super) struct Made {
    /// How much had been taken before it.
    pub(super) before: usize,
    /// What it cured.
    pub(super) faults: Vec<FaultId>,
    /// What is to be shown behind it, once the complaint is gone.
    pub(super) proofs: Vec<Proof>,
}

impl Diagnosis<'_> {
    /// What these groups stand for was repaired. The complaint is tried again next; if it is still there the job goes on with
    /// all that was learnt, and if it is gone the repair has to be proven.
    pub fn repaired(&mut self, groups: &[GroupId]) {
        // Which suspects a proof has to speak against is known before the repair.
        let proofs = self.proofs_of(groups);
        let suspects = self.belief.suspects();
        let members = groups.iter().flat_map(|group| &suspects.groups()[*group].members);
        let faults = members.flat_map(|s| suspects.list()[*s].faults.iter().copied()).collect();
        self.repairs.push(Made { before: self.taken.len(), faults, proofs });
        self.foresight = crate::choice::Foresight::default();
        self.posterior = self.belief.update(&self.evidence());
        self.worth.borrow_mut().clear();
    }

    /// How much had been taken before the last repair.
    pub(in crate::job) fn last_repair(&self) -> Option<usize> {
        self.repairs.last().map(|made| made.before)
    }

    /// How much had been taken before each repair.
    pub(in crate::job) fn repairs_before(&self) -> impl Iterator<Item = usize> {
        self.repairs.iter().map(|made| made.before)
    }

    /// What is to prove the last repair beside the complaint.
    pub(in crate::job) fn planned(&self) -> &[Proof] {
        self.repairs.last().map_or(&[], |made| &made.proofs)
    }

    /// Takes down what the last thing taken proves.
    pub(in crate::job) fn hold(&mut self, proof: crate::job::Held) {
        if let Some(last) = self.taken.last_mut() {
            last.proof = Some(proof);
        }
    }

    /// One named point on each piece of metal that a probe reaches.
    pub(in crate::job) fn reached(&self) -> impl Iterator<Item = crate::install::PointId> {
        self.offer.volts.iter().flat_map(|(red, black)| [*red, *black])
    }

    /// The set-ups in which tests are offered, the usual one first.
    pub(in crate::job) fn near_set_ups(&self) -> impl Iterator<Item = &crate::circuit::SetUp> {
        std::iter::once(&self.complaint.usual).chain(&self.set_ups)
    }
}
