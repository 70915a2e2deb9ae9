//! The complaint tried again: 'does it do it now?'
//!
//! What only the customer has seen is tried before anything is measured, and once more at the end: a fault that is there
//! shows both times.

use super::{Diagnosis, Fact};
use crate::belief::{Hearsay, Probe};
use crate::choice::{Ranked, Target, Test};
use crate::units::Minutes;

impl Diagnosis<'_> {
    /// The first test of a job on a complaint that nobody but the customer has seen, until it is taken. It costs nothing: the
    /// person stands where the complaint is.
    pub(super) fn first_retry(&self) -> Option<Ranked> {
        let test = self.retry()?;
        let is = |t: &super::Taken| !t.complaint && t.test == test;
        let tried = self.taken().iter().any(is);
        (!tried).then_some(Ranked { test, bits: 0.0, minutes: Minutes::ZERO, reluctance: Minutes::ZERO })
    }

    /// How often a test may have been taken, the complaint itself counted, and still be offered: what is complained of is
    /// tried once more at the end.
    pub(super) fn retries_left_over(&self, test: &Test) -> usize {
        let retry = self.retry().filter(|retry| retry == test);
        // Not in one breath with the first time.
        let last = self.taken().last().is_some_and(|t| t.test == *test);
        if retry.is_some() && !last { 2 } else { 0 }
    }

    /// What nobody but the customer has seen, as evidence. What came back without a complaint has nothing that was seen.
    pub(super) fn hearsay(&self) -> Option<Hearsay> {
        let complaint = self.complaint();
        let facts = complaint.facts.iter().enumerate().filter(|(_, f)| f.wrong).map(|(i, _)| i);
        let observations: Vec<usize> = facts.collect();
        let knowledge = &self.system().install.knowledge.complaints;
        let loads = self.system().all_loads().len().max(1);
        let mistaken = knowledge.mistaken / loads as f64;
        (complaint.reported || observations.is_empty()).then_some(Hearsay { observations, mistaken })
    }

    /// The sight of the complaint in its own set-up.
    fn retry(&self) -> Option<Test> {
        let complaint = self.complaint();
        let fact: &Fact = complaint.facts.iter().rev().find(|f| f.wrong).filter(|_| complaint.reported)?;
        let part = self.system().sights.get(fact.sight)?.part;
        Some(Test { set_up: fact.set_up.clone(), probe: Probe::Look(fact.sight), at: Target::Part(part) })
    }
}
