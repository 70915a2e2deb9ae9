//! The complaint tried again: 'does it do it now?'
//!
//! What only the customer has seen is tried before anything is measured, and once more at the end: a fault that is there
//! shows both times.

use super::{Diagnosis, Fact};
use crate::belief::{Answer, Hearsay, Predicted, Probe, Verdict};
use crate::choice::{Ranked, Target, Test, minutes};
use crate::units::Minutes;

impl Diagnosis<'_> {
    /// The complaint, to be tried first: of a job on a complaint that nobody but the customer has seen it costs nothing, since
    /// the person stands where the complaint is; after a repair it is the proof.
    pub(super) fn first_retry(&self) -> Option<Ranked> {
        let (tests, since) = match self.last_repair() {
            Some(before) => (self.complained(), before),
            None => (self.retry().into_iter().collect(), 0),
        };
        let tried = |test: &Test| self.taken().iter().skip(since).any(|t| !t.complaint && t.test == *test);
        // What is still wrong ends the trying.
        let wrong = since > 0 && tests.iter().any(|test| tried(test) && !self.works(test, since));
        let test = tests.into_iter().find(|test| !tried(test)).filter(|_| !wrong)?;
        let minutes = if since > 0 { minutes(&self.system().install, &self.standing(), &test) } else { Minutes::ZERO };
        Some(Ranked { test, bits: 0.0, minutes, reluctance: Minutes::ZERO })
    }

    /// Whether all that was complained of has been tried since the last repair, and is as in a good circuit.
    pub(super) fn is_cured(&self) -> bool {
        let Some(before) = self.last_repair() else { return false };
        let complained = self.complained();
        !complained.is_empty() && complained.iter().all(|test| self.works(test, before))
    }

    /// Whether a look was taken since then that shows what a good circuit does.
    pub(super) fn works(&self, test: &Test, since: usize) -> bool {
        let tried = self.taken().iter().enumerate().skip(since).rev().find(|(_, t)| t.test == *test);
        let Some((position, Answer::Word(word))) = tried.map(|(position, t)| (position, &t.answer)) else {
            return false;
        };
        // It works if that is what a good circuit shows at least as often as anything else.
        match self.expected(position) {
            Some(Predicted::Words(shares)) => shares.get(*word).is_some_and(|own| shares.iter().all(|s| s <= own)),
            _ => false,
        }
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
        (complaint.reported || observations.is_empty()).then(|| {
            let loads = self.system().all_loads().len().max(1);
            let mistaken = self.system().install.knowledge.complaints.mistaken / loads as f64;
            Hearsay { observations, mistaken }
        })
    }

    /// A verdict as it may be said: what does not show each time may be away while it is looked for, so that nothing is found
    /// wrong but the end stays open.
    pub(super) fn settled(&self, verdict: Verdict) -> Verdict {
        let occasions = &self.system().install.knowledge.complaints.occasions;
        let steady = self.complaint().occasion.is_none_or(|word| occasions.is_steady(word));
        if verdict == Verdict::NoFault && !steady { Verdict::Open } else { verdict }
    }

    /// Whether 'nothing wrong' leads.
    pub fn nothing_leads(&self) -> bool {
        self.posterior().groups.first().is_some_and(|(group, _)| self.belief().is_nothing(*group))
    }

    /// The sight of the complaint in its own set-up.
    fn retry(&self) -> Option<Test> {
        self.complained().pop().filter(|_| self.complaint().reported)
    }

    /// All that is complained of, each looked at in its own set-up.
    pub(super) fn complained(&self) -> Vec<Test> {
        let look = |fact: &Fact| {
            let part = self.system().sights.get(fact.sight)?.part;
            Some(Test { set_up: fact.set_up.clone(), probe: Probe::Look(fact.sight), at: Target::Part(part) })
        };
        let mut tests: Vec<Test> = Vec::new();
        for test in self.complaint().facts.iter().filter(|f| f.wrong).filter_map(look) {
            if !tests.contains(&test) {
                tests.push(test);
            }
        }
        tests
    }
}
