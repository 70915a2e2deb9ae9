//! Which test comes next, and when there is a verdict.

use super::dead::TO_PROVE;
use super::{BLUNDER, Diagnosis, Next, Taken};
use crate::belief::{Answer, Blunder, Posterior, Probe, ROUGH_FACTOR, Verdict};
use crate::choice::{Ranked, Ranking, Standing, Target, Test, Worth, minutes};
use crate::circuit::SetUp;
use crate::suspects::GroupId;
use crate::units::Minutes;
use std::borrow::Cow;

/// Tests after which a job, or what follows a repair, ends with what it has.
const MOST_TESTS: usize = 40;
/// Information below which a test is not worth asking, in bits.
const LEAST_BITS: f64 = 2e-3;
/// The same for a test that is to stand in for one reading: below that a score of them, each with next to nothing to tell, were
/// asked one after the other where there was none that does.
const STANDS_IN: f64 = 0.05;
/// The same for a test that is to stand in for all the readings of one stay, which divide the posterior in halves.
const SECOND_OPINION: f64 = 0.2;

/// Minutes added to a look for marks: a mark convicts nothing, a reading must confirm what it points at. That of a probe held and
/// read, and of turning to it. Common practice, no source.
const TO_CONFIRM: Minutes = Minutes::new(0.5);

/// Once one repair leads, a test that tells less than this share of what the most telling one does is not asked, however cheap
/// it is: a score of near copies of one reading do not add up to the one that is some steps away. Common practice, no source.
const TELLING: f64 = 0.2;

/// Minutes added to a test for each time that its point could not be reached. Common practice, no source.
const REFUSED: Minutes = Minutes::new(1.0);

/// The same for a test away from the current that should flow. Common practice, no source.
const STRANGE: Minutes = Minutes::new(0.5);

/// A blunder on which a verdict hangs.
pub(in crate::job) struct Hinge {
    blunder: Blunder,
    /// The posterior halfway between what the readings say and what they say without those that the blunder may have spoilt:
    /// the test that tells the two apart tells most.
    half: Posterior,
}

impl<'n> Diagnosis<'n> {
    /// The next test, or the verdict.
    pub fn next(&self) -> Next {
        self.next_by(|_| None)
    }

    /// The same with the free choice of the next test left to `choose`; what it does not choose is chosen as ever. What belongs
    /// to stopping is not free: the complaint tried again, and the tests that stand in for what is in doubt or not sure enough.
    pub fn next_by(&self, choose: impl FnOnce(&Self) -> Option<Test>) -> Next {
        if let Some(first) = self.first_retry() {
            return Next::Take(Box::new(first));
        }
        if let Some(proof) = self.next_proof() {
            return Next::Take(Box::new(proof));
        }
        if self.is_proven() {
            return Next::Stop(Verdict::Cured);
        }
        let evidence = self.evidence();
        let verdict =
            |tests_remain: bool| self.belief.verdict(&self.posterior, &evidence, tests_remain, &self.limits, self.seed);
        // What can be said although tests remain can be said without asking which.
        let early = verdict(true);
        let since = self.taken.len() - self.last_repair().unwrap_or(0);
        let stop = |verdict: Verdict| match self.confirming(&verdict).filter(|_| since < MOST_TESTS) {
            Some(test) => Next::Take(Box::new(self.dead_first(test))),
            None => Next::Stop(self.settled(verdict)),
        };
        if early != Verdict::Open {
            return stop(early);
        }
        let (ranked, free) = if since < MOST_TESTS { self.options() } else { (Vec::new(), false) };
        let Some(best) = ranked.into_iter().next() else { return stop(verdict(false)) };
        let chosen = if free { choose(self) } else { None };
        let with = |test: Test| Ranked {
            bits: 0.0,
            minutes: minutes(&self.system.install, &self.standing(), &test),
            reluctance: Minutes::ZERO,
            test,
        };
        Next::Take(Box::new(self.dead_first(chosen.map_or(best, with))))
    }

    /// The tests that are worth taking, best first.
    pub fn ranked(&self) -> Vec<Ranked> {
        self.options().0
    }

    /// The same, and whether the choice among them is free: nothing is in doubt, nothing has to be confirmed.
    fn options(&self) -> (Vec<Ranked>, bool) {
        let hinge = self.hinge();
        let view = self.view(&self.posterior);
        let posterior = hinge.as_ref().map_or(view.as_ref(), |h| &h.half);
        let mut ranked = self.ranked_by(posterior, 0.0, hinge.as_ref(), &mut self.worth.borrow_mut());
        // What lasts and is in doubt would spoil the next reading too; one that it leaves alone comes first.
        let sound = |r: &Ranked| !self.doubtful().any(|(blunder, _)| self.shares(&r.test, blunder));
        if ranked.iter().any(sound) {
            ranked.retain(sound);
        }
        if !ranked.is_empty() {
            let free = hinge.is_none() && self.doubtful().next().is_none();
            return (ranked, free);
        }
        if let Some(hinge) = self.unconfirmed() {
            let ranked = self.standing_in(&hinge);
            if !ranked.is_empty() {
                return (ranked, false);
            }
        }
        // Nothing tells the named ones apart any more; what is left may still be something that is not modelled. To say that
        // nothing is wrong is to say that it is not that either, whichever reading is left out.
        let nothing = self.nothing_leads();
        if !nothing && self.posterior.unknown < 1.0 - self.limits.hold {
            return (Vec::new(), false);
        }
        let unknown = if nothing { posterior.unknown } else { self.posterior.unknown };
        (self.ranked_by(posterior, unknown, None, &mut Worth::default()), false)
    }

    /// The tests in the order of a posterior; `unknown`: the share of something that is not modelled, where it counts as a
    /// suspect of its own.
    pub(super) fn ranked_by(
        &self,
        posterior: &Posterior,
        unknown: f64,
        hinge: Option<&Hinge>,
        worth: &mut Worth,
    ) -> Vec<Ranked> {
        let standing = self.standing();
        let left_out = hinge.map_or(&[][..], |h| h.blunder.spoils());
        let ranking = Ranking { left_out, ..self.ranking(posterior, &standing, unknown) };
        let tests = |set_up: &SetUp| {
            let mut tests = self.tests(set_up);
            // Something that is not modelled leaves no marks: a look for them says nothing about it.
            tests.retain(|t| unknown <= 0.0 || !self.is_inspection(t));
            tests.retain(|t| !hinge.is_some_and(|h| self.shares(t, &h.blunder)));
            tests
        };
        let open =
            |test: &Test| !self.is_taken(test) && !self.is_out_of_reach(test) && self.is_dead(test) != Some(false);
        let least = match hinge.map(|h| h.blunder.spoils().len()) {
            None => LEAST_BITS,
            Some(0 | 1) => STANDS_IN,
            Some(_) => SECOND_OPINION,
        };
        let leads = posterior.groups.first().is_some_and(|(_, share)| *share > 0.5);
        let (parted, dead) = (self.parted(), self.dead_set_ups());
        // A jumper tells one side from the other; what is known already is read again more easily without.
        let bridged = if hinge.is_some() { Vec::new() } else { self.bridged() };
        let mut closely = ranking.closely(least);
        // What seemed best at a glance may have kept set-ups out of sight that are worth their switching after all.
        let mut worth_switching = f64::INFINITY;
        let mut ranked = loop {
            let mut ranked = ranking.rank(&self.set_ups, (&tests, &open), least, worth_switching, worth);
            let more = if self.is_worth_parting(&ranked, &parted) { &parted[..] } else { &[] };
            let jumpers = if self.is_worth_parting(&ranked, &bridged) { self.borne(&bridged) } else { Vec::new() };
            let ohms = if self.is_worth_ohms(&ranked, &dead) { &dead[..] } else { &[] };
            if !more.is_empty() || !jumpers.is_empty() || !ohms.is_empty() {
                let all: Vec<SetUp> = self.set_ups.iter().chain(more).chain(&jumpers).chain(ohms).cloned().collect();
                ranked = ranking.rank(&all, (&tests, &open), least, worth_switching, worth);
            }
            let glance = ranked.first().map_or(0.0, Ranked::rate).min(worth_switching);
            if leads {
                let most = closely.best_by(&mut ranked, |r| r.bits).map_or(0.0, |r| r.bits);
                ranked.retain(|r| r.bits >= TELLING * most);
            }
            let best = closely.best_by(&mut ranked, Ranked::rate).map_or(0.0, Ranked::rate);
            if best >= glance {
                break ranked;
            }
            worth_switching = best;
        };
        // The same two points in another set-up would be read with the black lead where it is.
        let elsewhere = |r: &Ranked| !hinge.is_some_and(|h| self.is_between_the_same(&r.test, &h.blunder));
        if ranked.iter().any(elsewhere) {
            ranked.retain(elsewhere);
        }
        // A point that could not be reached once is not asked for again at once by another way, and points of the current
        // that should flow come before clever ones elsewhere.
        for one in &mut ranked {
            let strange = if self.is_familiar(&one.test) { 0.0 } else { 1.0 };
            let confirm = if self.is_inspection(&one.test) { 1.0 } else { 0.0 };
            let prove = if matches!(one.test.probe, Probe::Ohms { .. }) && self.is_dead(&one.test).is_none() {
                1.0
            } else {
                0.0
            };
            one.reluctance =
                TO_PROVE * prove + REFUSED * self.refused(&one.test) as f64 + STRANGE * strange + TO_CONFIRM * confirm;
        }
        closely.best_by(&mut ranked, Ranked::rate);
        ranked
    }

    /// What is fixed while tests are ranked.
    pub(super) fn ranking<'a>(
        &'a self,
        posterior: &'a Posterior,
        standing: &'a Standing,
        unknown: f64,
    ) -> Ranking<'a, 'n> {
        Ranking {
            install: &self.system.install,
            belief: &self.belief,
            posterior,
            foresight: &self.foresight,
            standing,
            accuracy: self.system.accuracy(),
            blunder: BLUNDER,
            left_out: &[],
            unknown,
        }
    }

    /// Whether these very points, or this part, could not be taken before: another set-up does not bring them nearer.
    pub(in crate::job) fn is_out_of_reach(&self, test: &Test) -> bool {
        let not = self.taken.iter().filter(|t| t.answer == Answer::NotTaken);
        not.into_iter().any(|t| same_probe(&t.test.probe, &test.probe) || self.is_like(&t.test, test))
    }

    /// How often a test at the same place was not taken.
    fn refused(&self, test: &Test) -> usize {
        let place = |t: &Test| match t.at {
            Target::Points { red, .. } => Some(red),
            Target::Part(_) => None,
        };
        let not = self.taken.iter().filter(|t| t.answer == Answer::NotTaken);
        not.filter(|t| place(test).is_some() && place(&t.test) == place(test)).count()
    }

    /// Whether a test looks at the way of the current that should flow: both leads on it, or the part itself.
    fn is_familiar(&self, test: &Test) -> bool {
        let here = test.set_up == self.complaint.set_up || test.set_up == self.complaint.usual;
        here && match &test.probe {
            Probe::Volts { red, black, .. } | Probe::Light { red, black, .. } | Probe::Ohms { red, black } => {
                self.live.contains(red) && self.live.contains(black)
            }
            Probe::Look(_) | Probe::Amps { .. } => true,
        }
    }

    pub(super) fn is_taken(&self, test: &Test) -> bool {
        // Marks look the same however the switches stand.
        let here = |t: &Taken| self.is_inspection(test) || t.test.set_up == test.set_up;
        let same = |t: &&Taken| here(t) && same_probe(&t.test.probe, &test.probe);
        self.taken.iter().filter(same).count() > self.retries_left_over(test) || self.is_seen(test)
    }

    pub(in crate::job) fn tests(&self, set_up: &SetUp) -> Vec<Test> {
        // With all supplies off there is nothing to read but ohms.
        if self.is_off(set_up) {
            return if self.instruments.ohmmeter { self.ohms_in(set_up) } else { Vec::new() };
        }
        let node_of = |point| self.system.node(point);
        let mut tests = self.offer.tests(set_up, &self.instruments, node_of);
        // A clamp shows the current of what is complained of where that should flow, or does.
        let flows = *set_up == self.complaint.set_up || *set_up == self.complaint.usual;
        tests.retain(|test| flows || !matches!(test.probe, Probe::Amps { .. }));
        tests.extend(self.looks_for_marks(set_up));
        tests
    }

    /// Once everything else is clear: the blunder on which the verdict hangs most. The next test must stand in for what it may
    /// have spoilt.
    fn hinge(&self) -> Option<Hinge> {
        let view = self.view(&self.posterior);
        let holding = view.groups.iter().filter(|(_, share)| *share >= self.limits.hold);
        let mut weakest: Option<Hinge> = None;
        // Of several that are there for certain each one has to stand by itself.
        for (group, _) in holding {
            let single = self.weightiest(&[*group], self.readings())?;
            if single.0 < self.limits.lead {
                return Some(single.1);
            }
            let lasting = self.weightiest(&[*group], self.belief.lasting().cloned());
            if let Some((_, hinge)) = lasting.filter(|(share, _)| *share < self.limits.lead_without_stay) {
                return Some(hinge);
            }
            weakest = weakest.or(Some(single.1));
        }
        weakest
    }

    /// The same where no test tells the few that are left apart. Either something without a name is all that stands against them:
    /// what they all predict must be seen once more before they are named. Or they hang on one reading, or on those of one stay,
    /// which may be wrong.
    fn unconfirmed(&self) -> Option<Hinge> {
        let few: Vec<GroupId> = self.posterior.groups.iter().take(self.limits.few).map(|(group, _)| *group).collect();
        let share = self.posterior.any_of(&few);
        let named = 1.0 - self.posterior.unknown;
        if share < self.limits.hold * named {
            return None;
        }
        let (without, hinge) = self.weightiest(&few, self.readings())?;
        let faulty = !self.nothing_leads();
        if share < self.limits.hold || faulty && without < self.limits.lead {
            return Some(hinge);
        }
        let lasting = faulty.then(|| self.weightiest(&few, self.belief.lasting().cloned())).flatten();
        lasting.filter(|(share, _)| *share < self.limits.lead_without_stay).map(|(_, hinge)| hinge)
    }

    /// Each reading; where the complaint is probably mistaken, not the customer's word, which stands against that.
    fn readings(&self) -> impl Iterator<Item = Blunder> {
        let evidence = self.evidence();
        let heard = evidence.hearsay.filter(|_| self.nothing_leads()).map_or_else(Vec::new, |h| h.observations);
        (0..evidence.observations.len()).filter(move |i| !heard.contains(i)).map(Blunder::Reading)
    }

    /// The posterior by which tests are chosen: once the complaint is probably mistaken they look for what would explain it, not for
    /// whatever else may be wrong.
    fn view<'p>(&self, posterior: &'p Posterior) -> Cow<'p, Posterior> {
        if self.nothing_leads() {
            Cow::Owned(self.belief.as_reported(posterior, &self.evidence()))
        } else {
            Cow::Borrowed(posterior)
        }
    }

    /// The blunder without whose readings some groups hold least, and what they hold then.
    fn weightiest(&self, few: &[GroupId], blunders: impl Iterator<Item = Blunder>) -> Option<(f64, Hinge)> {
        let evidence = self.evidence();
        let mut blunders: Vec<Blunder> = blunders.collect();
        if !self.nothing_leads() {
            // Those that cannot be the one are not worked out.
            let rough = self.belief.roughly_without(&self.posterior, &evidence, few);
            let doubt = |blunder: &Blunder| match blunder {
                Blunder::Reading(i) => rough.get(*i).copied().flatten().map(|share| 1.0 - share),
                Blunder::BlackLead(_) | Blunder::SetUp(_) => None,
            };
            let most = blunders.iter().filter_map(doubt).fold(0.0, f64::max);
            blunders.retain(|b| doubt(b).is_none_or(|doubt| doubt * ROUGH_FACTOR >= most));
        }
        let without = blunders.into_iter().map(|blunder| {
            let rest = self.belief.without(&evidence, blunder.spoils());
            (self.view(&rest).any_of(few), blunder)
        });
        let (share, blunder) = without.min_by(|a, b| a.0.total_cmp(&b.0))?;
        Some((share, self.hanging_on(blunder)))
    }

    /// What the readings say with and without those that a blunder would have spoilt.
    pub(in crate::job) fn hanging_on(&self, blunder: Blunder) -> Hinge {
        let without = self.belief.without(&self.evidence(), blunder.spoils());
        Hinge { half: self.view(&self.posterior).halfway(&self.view(&without)), blunder }
    }

    /// Whether a test is a reading between the very points of the one that may be spoilt.
    fn is_between_the_same(&self, test: &Test, blunder: &Blunder) -> bool {
        let Blunder::Reading(i) = blunder else { return false };
        let evidence = self.evidence();
        let spoilt = evidence.observations.get(*i).map(|o| &o.probe);
        spoilt.is_some_and(|probe| matches!(probe, Probe::Volts { .. }) && same_probe(probe, &test.probe))
    }

    /// The tests that stand in for what a blunder may have spoilt, best first.
    pub(in crate::job) fn standing_in(&self, hinge: &Hinge) -> Vec<Ranked> {
        self.ranked_by(&hinge.half, 0.0, Some(hinge), &mut Worth::default())
    }

    /// Whether a test, taken now, would be spoilt by the same lasting blunder.
    pub(in crate::job) fn shares(&self, test: &Test, blunder: &Blunder) -> bool {
        let evidence = self.evidence();
        let last = evidence.observations.len().checked_sub(1);
        let lasts = last.is_some_and(|last| blunder.spoils().contains(&last));
        match blunder {
            Blunder::Reading(_) => false,
            Blunder::SetUp(_) => lasts && evidence.stays.last() == Some(&test.set_up),
            Blunder::BlackLead(_) => {
                let black = |probe: &Probe| match probe {
                    Probe::Volts { black, .. } | Probe::Light { black, .. } => Some(*black),
                    Probe::Amps { .. } | Probe::Ohms { .. } | Probe::Look(_) => None,
                };
                let held = last.and_then(|last| black(&evidence.observations.get(last)?.probe));
                lasts && held.is_some() && black(&test.probe) == held
            }
        }
    }
}

fn same_probe(a: &Probe, b: &Probe) -> bool {
    let turned = |p: &Probe| match p {
        Probe::Volts { instrument, red, black, unsigned } => {
            Probe::Volts { instrument: instrument.clone(), red: *black, black: *red, unsigned: *unsigned }
        }
        Probe::Ohms { red, black } => Probe::Ohms { red: *black, black: *red },
        other => other.clone(),
    };
    a == b || turned(a) == *b
}
