//! When enough is known, in the words of the table: found, ambiguous, misfit, open.

use super::misfit::{self, Misfit};
use super::{Answer, Belief, Evidence, Observation, Posterior, Probe, Seen};
use crate::network::ElementState;
use crate::suspects::{GroupId, SuspectId};

/// The figures at which a verdict is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Share of the posterior that one repair group (or a few together) must hold.
    pub hold: f64,
    /// Share with which it must still lead when any single reading is left out.
    pub lead: f64,
    /// The same when all readings are left out that one lasting blunder would have spoilt: those of one stay of the black lead
    /// or of the set-up. It is less likely than a single one.
    pub lead_without_stay: f64,
    /// Probability that what is certain is all, from which nothing more is looked for as long as tests remain.
    pub alone: f64,
    /// Most repair groups that may be named together.
    pub few: usize,
    /// The readings do not fit below this `p`.
    pub misfit: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self { hold: 0.998, lead: 0.95, lead_without_stay: 0.8, alone: 0.5, few: 4, misfit: 0.001 }
    }
}

/// What can be said.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Repairs that are needed, each of them for certain.
    Found(Vec<GroupId>),
    /// A few of which one at least is needed, and that no test can tell apart.
    Ambiguous(Vec<GroupId>),
    /// The complaint cannot be reproduced, and every reading that a fault would need is right.
    NoFault,
    /// What was complained of works again after a repair.
    Cured,
    /// Nothing fits; the observation that surprises most, if there is one.
    Misfit(Option<usize>),
    /// Nothing yet.
    Open,
}

impl Belief<'_> {
    /// The verdict after the last `update` with this `evidence`. `tests_remain`: an offered test may still split
    /// the leading groups. `seed` sets the draws of the misfit test.
    pub fn verdict(
        &self,
        posterior: &Posterior,
        evidence: &Evidence,
        tests_remain: bool,
        limits: &Limits,
        seed: u64,
    ) -> Verdict {
        let Some(&(first, _)) = posterior.groups.first() else { return Verdict::Open };
        // The unknown leads once it outweighs everything that has a name: while many are left, each of them is small. A rare
        // complaint alone can do that, which says little while tests remain.
        if posterior.unknown > 0.5 && (!tests_remain || posterior.unknown >= limits.lead) {
            return Verdict::Misfit(self.surprise(posterior, evidence));
        }
        let nothing = self.is_nothing(first);
        let certain = self.certain(posterior, evidence, tests_remain, limits);
        let holds = if nothing {
            self.is_sure_of_nothing(posterior, evidence, limits)
        } else {
            // While something more is probably wrong besides, it is looked for.
            !certain.is_empty() && (!tests_remain || posterior.just(&certain) >= limits.alone)
        };
        if (holds || !tests_remain) && self.misfit(posterior, evidence, limits.misfit, seed).p < limits.misfit {
            return Verdict::Misfit(self.surprise(posterior, evidence));
        }
        if nothing {
            // What somebody has seen himself was there, even if it has gone since.
            return if holds && evidence.hearsay.is_some() { Verdict::NoFault } else { Verdict::Open };
        }
        if holds {
            return Verdict::Found(certain);
        }
        if tests_remain { Verdict::Open } else { self.ambiguous(posterior, limits) }
    }

    /// The single repairs that are needed for certain. Several are named only if each has its second opinion: a second one may
    /// be found once the first is repaired.
    fn certain(&self, posterior: &Posterior, evidence: &Evidence, tests_remain: bool, limits: &Limits) -> Vec<GroupId> {
        let leads = |group: &GroupId| {
            !self.is_nothing(*group) && self.leads_without_any(*group, posterior, evidence, limits.lead)
        };
        let holding = posterior.groups.iter().filter(|(_, share)| *share >= limits.hold);
        let leading: Vec<GroupId> = holding.map(|(group, _)| *group).filter(leads).collect();
        let confirmed = |group: &GroupId| self.leads_without_stay(*group, evidence, limits.lead_without_stay);
        let certain: Vec<GroupId> = leading.iter().copied().filter(confirmed).collect();
        // A second opinion from another stay is asked for as long as there is one to be had.
        if certain.is_empty() && !tests_remain { leading.into_iter().take(1).collect() } else { certain }
    }

    /// The fewest repairs of which one at least is needed for certain, if they are few.
    fn ambiguous(&self, posterior: &Posterior, limits: &Limits) -> Verdict {
        let mut few: Vec<GroupId> = Vec::new();
        while few.len() < limits.few {
            let more = |group: GroupId| {
                let mut with = few.clone();
                with.push(group);
                posterior.any_of(&with)
            };
            let rest = posterior.groups.iter().map(|(group, _)| *group).filter(|g| !few.contains(g));
            let next = rest.map(|g| (more(g), g)).max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
            let Some((sum, group)) = next else { break };
            few.push(group);
            if sum >= limits.hold {
                let faulty = few.iter().all(|g| !self.is_nothing(*g));
                return if faulty { Verdict::Ambiguous(few) } else { Verdict::Open };
            }
        }
        Verdict::Open
    }

    /// Whether `group` leads with at least `lead` whichever single observation is left out.
    fn leads_without_any(&self, group: GroupId, posterior: &Posterior, evidence: &Evidence, lead: f64) -> bool {
        let doubtful = self.doubtful_without(posterior, evidence, &[group], lead);
        doubtful.into_iter().all(|i| self.leads(group, evidence, &[i], lead))
    }

    /// The same whichever stay of the black lead or of the set-up is left out.
    fn leads_without_stay(&self, group: GroupId, evidence: &Evidence, lead: f64) -> bool {
        self.lasting().all(|blunder| self.leads(group, evidence, blunder.spoils(), lead))
    }

    fn leads(&self, group: GroupId, evidence: &Evidence, left_out: &[usize], lead: f64) -> bool {
        self.without(evidence, left_out).share(group) >= lead
    }

    /// The same for 'nothing wrong', which stands against the customer's word: that alone is not left out. Where it
    /// is a matter of degree eyes alone do not say it: what is weak may look right for once. Common practice.
    fn is_sure_of_nothing(&self, posterior: &Posterior, evidence: &Evidence, limits: &Limits) -> bool {
        let heard = evidence.hearsay.as_ref().map_or(&[][..], |h| &h.observations);
        let sure = |p: &Posterior, least: f64| {
            let p = self.as_reported(p, evidence);
            let leads = p.groups.first().is_some_and(|(group, _)| self.is_nothing(*group));
            leads && self.against_nothing(&p) <= 1.0 - least
        };
        let without = |left_out: &[usize], least: f64| sure(&self.without(evidence, left_out), least);
        let taken = |o: &Observation| !matches!(o.probe, Probe::Look(_)) && o.answer != Answer::NotTaken;
        let measured = evidence.observations.iter().any(taken);
        let plain = heard.iter().filter_map(|i| evidence.observations.get(*i)).all(|o| self.is_plain(o));
        (measured || plain)
            && sure(posterior, limits.hold)
            && (0..evidence.observations.len()).filter(|i| !heard.contains(i)).all(|i| without(&[i], limits.lead))
            && self.lasting().all(|b| without(b.spoils(), limits.lead_without_stay))
    }

    /// Whether somebody has seen all or nothing: what is most often said at full power, or at none.
    fn is_plain(&self, observation: &Observation) -> bool {
        let (Probe::Look(sight), Answer::Word(word)) = (&observation.probe, &observation.answer) else { return false };
        let Some(sight) = self.senses().sights.get(*sight) else { return false };
        let words = &sight.vocabulary;
        [0.0, 1.0].into_iter().any(|share| {
            let (state, at_rest) = (ElementState::Plain, ElementState::Plain);
            let likelihood = |w: usize| words.likelihood(w, &Seen { share, state, at_rest, unsteady: false });
            (0..words.count()).all(|w| likelihood(w) <= likelihood(*word))
        })
    }

    /// The misfit test of the likeliest suspect; it ends as soon as `p` is at least `enough` (1 for the whole of it).
    pub fn misfit(&self, posterior: &Posterior, evidence: &Evidence, enough: f64, seed: u64) -> Misfit {
        let best = likeliest(posterior);
        // If nothing is wrong the complaint is mistaken: no circuit has to explain it.
        let nothing = best.is_some_and(|id| self.suspects().list()[id].faults.is_empty());
        let apart = evidence.hearsay.as_ref().filter(|_| nothing).map(|h| h.left_aside(evidence));
        let evidence = apart.as_ref().unwrap_or(evidence);
        let fitted = best.and_then(|best| {
            // What changes nothing so far is the healthy circuit.
            let healthy = self.tracks().ids().next()?;
            let of = |id: SuspectId| self.fits[id].as_ref().map(|fit| (&self.tracks()[id], fit));
            of(best).or_else(|| of(healthy))
        });
        match fitted {
            Some((track, fit)) => misfit::test(track, fit, self.scene(evidence, &[]), enough, seed),
            None => Misfit { p: 0.0 },
        }
    }

    /// The observation without which the best suspect fits best.
    pub fn surprise(&self, posterior: &Posterior, evidence: &Evidence) -> Option<usize> {
        let fit = posterior.best_log_likelihood();
        (0..evidence.observations.len())
            .map(|i| (i, self.without(evidence, &[i]).best_log_likelihood() - fit))
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
            .map(|(i, _)| i)
    }

    /// Whether the group is 'nothing wrong'.
    pub fn is_nothing(&self, group: GroupId) -> bool {
        self.suspects().groups()[group].repair.is_empty()
    }
}

/// The suspect with the highest posterior probability.
pub fn likeliest(posterior: &Posterior) -> Option<SuspectId> {
    posterior.probability.enumerate().max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0))).map(|(id, _)| id)
}
