//! Which sets of faults may be worth solving, best first: of every pair an estimate says how well it could account for each
//! observation, each of its faults by itself or both added up as in a linear circuit, by decades of their severity, and the best
//! once more in narrower parts of these. Nothing hangs on the estimate but which sets are looked at.

use super::effect::{Effect, Noted, Notes, add_up, add_up_closely};
use super::held::widened;
use super::track::Track;
use super::{Belief, Evidence, Observation, Posterior, Predicted};
use crate::index::Id;
use crate::suspects::{FaultId, Pin, Set, Severity, SuspectId};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// So many suspects are tried as the first of a set.
const FIRST: usize = 60;
/// So many sets of two or more are tried as the first part of a larger set.
const FIRST_SETS: usize = 20;
/// So many guesses by decades are looked at more closely.
const GUESSED: usize = 800;
/// So many suspects are made of candidates at most.
pub(super) const SOLVED: usize = 80;
/// A candidate whose estimate lies this far below the best that was solved is not (`ln 1e4`).
pub(super) const FAR: f64 = 9.2;
/// Supplies that stand nearer to each other than this share of their volts are one to the estimate.
const APART: f64 = 0.02;
/// One whose estimate lies this far below the best estimate is none (some four spoilt readings).
const LOST: f64 = 40.0;
/// Estimates of faults that no reading tells apart differ by no more than this, in log.
const ALIKE: f64 = 0.1;
/// Cells a decade of the rough tracks.
const ROUGH: usize = 1;

/// A set that may be worth solving.
pub(super) struct Candidate {
    pub(super) set: Set,
    /// The decade of the range of a fault that is to be held fast.
    pub(super) held: Option<(FaultId, Severity)>,
    /// Log of its prior and of the estimate.
    pub(super) log: f64,
    /// What fails how, and the sizes that are meant.
    kind: Vec<(usize, Option<Severity>)>,
    /// The faults of the others of its kind, and what they weigh beside it: it stands for them all.
    others: Vec<Vec<FaultId>>,
    pub(super) weight: f64,
}

/// What estimates are made from.
pub(super) struct Ground {
    pub(super) notes: Notes,
    /// The single suspects that change something, and what they do.
    pub(super) partners: Vec<(SuspectId, Effect)>,
    /// Of each fault what fails how.
    pub(super) kinds: Vec<usize>,
}

/// The first part of a set, and what it does.
struct First<'a> {
    faults: Vec<FaultId>,
    pins: Vec<Pin>,
    effect: Cow<'a, Effect>,
}

/// A first part with one more fault, in one decade of its range, and what that may be worth.
struct Guess<'a> {
    first: &'a First<'a>,
    fault: FaultId,
    effect: &'a Effect,
    cell: usize,
    /// Log of the prior of the whole.
    prior: f64,
    log: f64,
}

impl<'n> Belief<'n> {
    /// What estimates are made from, with all the evidence.
    pub(super) fn ground(&mut self, posterior: &Posterior, evidence: &Evidence) -> Ground {
        let notes = self.notes(posterior, evidence);
        let partners = self.partners(&notes, evidence);
        Ground { notes, partners, kinds: self.kinds() }
    }

    /// The sets with one fault more than those so far, best first by the estimate.
    pub(super) fn candidates(&self, ground: &Ground) -> Vec<Candidate> {
        let Ground { notes, partners, kinds } = ground;
        let firsts = self.firsts(partners, notes);
        let (mut guesses, mut top) = (Vec::new(), f64::NEG_INFINITY);
        for first in &firsts {
            for (partner, effect) in partners {
                let all = self.joined(first, *partner, effect, notes, top - LOST);
                top = all.iter().map(|guess| guess.log).fold(top, f64::max);
                guesses.extend(all);
            }
        }
        guesses.sort_by(|a, b| b.log.total_cmp(&a.log));
        guesses.truncate(GUESSED);
        let closely = |guess: &Guess<'_>| self.candidate(guess, notes, kinds);
        Candidate::best(guesses.iter().filter_map(closely).collect(), SOLVED)
    }

    /// The single suspects that change something, and what they do.
    fn partners(&mut self, notes: &Notes, evidence: &Evidence) -> Vec<(SuspectId, Effect)> {
        let mut partners = Vec::new();
        for id in self.singles() {
            if !self.inert[id] && !self.suspects().list()[id].faults.is_empty() {
                partners.extend(Effect::of(self.roughly(id, evidence), notes).map(|effect| (id, effect)));
            }
        }
        partners
    }

    /// Of each fault what fails how. Faults that one repair cures, and that are of one mode, are mostly alike to every reading
    /// (the two crimps of a wire); where the estimates agree too, one of them stands for the others.
    fn kinds(&self) -> Vec<usize> {
        let mut known: BTreeMap<(&str, &str), usize> = BTreeMap::new();
        let faults = self.suspects().faults().iter();
        faults
            .map(|fault| {
                let next = known.len();
                *known.entry((&fault.repair, &fault.mode)).or_insert(next)
            })
            .collect()
    }

    /// The track of a suspect, rough where it is hopeless by itself.
    fn roughly(&mut self, id: SuspectId, evidence: &Evidence) -> &Track<'n> {
        if self.fits[id].is_some() {
            return &self.tracks()[id];
        }
        let (network, senses) = (self.network(), self.senses());
        let mut track = self.rough.remove(&id).unwrap_or_else(|| Track::start(self.suspects(), id, ROUGH));
        track.extend(network, self.suspects(), senses, evidence);
        track.keep_last_state();
        self.rough.entry(id).or_insert(track)
    }

    /// The observations as the estimate takes them.
    fn notes(&self, posterior: &Posterior, evidence: &Evidence) -> Notes {
        let healthy = self.tracks().iter().next().and_then(|t| t.points.first()?.paths.first());
        let described = |i: usize| healthy.and_then(|path| path.predicted.get(i)?.steady()).unwrap_or(0.0);
        let reading = |(i, o): (usize, &Observation)| Noted::new(o, described(i), self.noise());
        let readings = evidence.observations.iter().enumerate().map(reading).collect();
        Notes::new(readings, self.ratios(posterior, evidence, described))
    }

    /// How the supplies may stand, over how they are described: as the likeliest suspects have it, which may be wrong about
    /// it; as described; and as the highest of the readings that a good circuit shows near the supplies.
    fn ratios(&self, posterior: &Posterior, evidence: &Evidence, described: impl Fn(usize) -> f64) -> Vec<f64> {
        let outlook = self.best_outlook(posterior);
        let is_much = |i: usize, share: f64| described(i).abs() > share * self.noise().span;
        let found = |i: usize| match self.expected(&outlook, evidence, i) {
            Some(Predicted::Number { mean, .. }) if is_much(i, 0.05) => Some(mean / described(i)),
            _ => None,
        };
        let mut found: Vec<f64> = (0..evidence.observations.len()).filter_map(found).collect();
        found.sort_by(f64::total_cmp);
        let read = |(i, o): (usize, &Observation)| Some(o.answer.value().filter(|_| is_much(i, 0.2))? / described(i));
        let highest = evidence.observations.iter().enumerate().filter_map(read).max_by(f64::total_cmp);
        let middle = found.get(found.len() / 2).copied();
        let mut ratios = vec![1.0];
        for ratio in middle.into_iter().chain(highest.filter(|ratio| *ratio > 1.0)) {
            if ratios.iter().all(|known: &f64| (known - ratio).abs() > APART) {
                ratios.push(ratio);
            }
        }
        ratios
    }

    /// What larger sets are made from: the singles that account best for the whole by themselves, or the best sets so far.
    fn firsts<'a>(&self, partners: &'a [(SuspectId, Effect)], notes: &Notes) -> Vec<First<'a>> {
        let list = self.suspects().list();
        let mut sets: Vec<SuspectId> = list.ids().filter(|id| self.active[*id] && list[*id].faults.len() > 1).collect();
        if sets.is_empty() {
            let log = |(id, effect): &(SuspectId, Effect)| list[*id].prior.ln() + effect.best(notes);
            let mut order: Vec<(f64, &(SuspectId, Effect))> = partners.iter().map(|p| (log(p), p)).collect();
            order.sort_by(|a, b| b.0.total_cmp(&a.0));
            let first = |(id, effect): &'a (SuspectId, Effect)| First {
                faults: list[*id].faults.clone(),
                pins: Vec::new(),
                effect: Cow::Borrowed(effect),
            };
            return order.into_iter().take(FIRST).map(|(_, p)| first(p)).collect();
        }
        sets.sort_by(|a, b| self.logs[*b].total_cmp(&self.logs[*a]).then(a.cmp(b)));
        let first = |id: SuspectId| {
            let (faults, pins) = (list[id].faults.clone(), list[id].pins.clone());
            Some(First { faults, pins, effect: Cow::Owned(Effect::of(&self.tracks()[id], notes)?) })
        };
        sets.into_iter().take(FIRST_SETS).filter_map(first).collect()
    }

    /// A first part with one more fault, by decades of the range of what is soft in either: the best of each two, where they are
    /// worth no less than `least`.
    fn joined<'a>(
        &self,
        first: &'a First<'a>,
        partner: SuspectId,
        effect: &'a Effect,
        notes: &Notes,
        least: f64,
    ) -> Vec<Guess<'a>> {
        let suspects = self.suspects();
        let [fault] = suspects.list()[partner].faults[..] else { return Vec::new() };
        // What one and the same repair cures is one fault to the person who makes it.
        let repair = |f: &FaultId| &suspects.faults()[*f].repair;
        if first.faults.iter().any(|f| repair(f) == repair(&fault)) {
            return Vec::new();
        }
        let mut faults = first.faults.clone();
        faults.push(fault);
        faults.sort();
        let prior = suspects.prior_of(&faults).ln();
        let even = -((first.effect.cells() * effect.cells()).max(1) as f64).ln();
        let mut all = Vec::new();
        for cell in 0..effect.cells() {
            let with = |a: usize| add_up((&first.effect, a), (effect, cell), notes, least - prior - even);
            let best = (0..first.effect.cells()).filter_map(with).max_by(f64::total_cmp);
            all.extend(best.map(|best| Guess { first, fault, effect, cell, prior, log: prior + even + best }));
        }
        let top = all.iter().map(|guess| guess.log).fold(f64::NEG_INFINITY, f64::max);
        all.retain(|guess| guess.log >= top - FAR);
        all
    }

    /// A guess looked at in narrower parts of its ranges. The decade in which each fault would be by itself is not always the one
    /// in which both together are, so that it bounds only the sizes at which one is held, and those with something to spare; the
    /// other is spread over its whole range.
    fn candidate(&self, guess: &Guess<'_>, notes: &Notes, kinds: &[usize]) -> Option<Candidate> {
        let Guess { first, fault, effect, cell, prior, log } = *guess;
        let even = -((first.effect.parts() * effect.parts()).max(1) as f64).ln();
        let best = add_up_closely(&first.effect, (effect, cell), notes, log - prior - LOST)?;
        let mut faults = first.faults.clone();
        faults.push(fault);
        faults.sort();
        let whole = |f: &FaultId| self.suspects().faults()[*f].severity;
        let held = whole(&fault).filter(|_| first.faults.iter().any(|f| whole(f).is_some()));
        let held = held.and_then(|whole| Some((fault, widened(effect.range(cell)?, whole))));
        let set = Set { faults, pins: first.pins.clone(), ..Set::default() };
        let kind = |f: FaultId| kinds.get(f.position()).copied().unwrap_or_default();
        Some(Candidate::new(set, held, prior + even + best, kind, whole))
    }
}

impl Candidate {
    pub(super) fn new(
        set: Set,
        held: Option<(FaultId, Severity)>,
        log: f64,
        kind: impl Fn(FaultId) -> usize,
        whole: impl Fn(&FaultId) -> Option<Severity>,
    ) -> Self {
        let size = |fault: FaultId| {
            let held = held.filter(|(f, _)| *f == fault).map(|(_, range)| range);
            held.or_else(|| set.pins.iter().find(|pin| pin.fault == fault).and_then(Pin::range))
        };
        let of = |fault: &FaultId| (kind(*fault), whole(fault).map(|whole| size(*fault).unwrap_or(whole)));
        let mut kind: Vec<(usize, Option<Severity>)> = set.faults.iter().map(of).collect();
        kind.sort_by_key(|(kind, _)| *kind);
        Self { set, held, log, kind, others: Vec::new(), weight: 1.0 }
    }

    /// So many of them, best first, of those that are alike one for all.
    pub(super) fn best(mut found: Vec<Self>, most: usize) -> Vec<Self> {
        found.sort_by(|a, b| b.log.total_cmp(&a.log));
        let mut kept: Vec<Self> = Vec::new();
        for candidate in found {
            if let Some(known) = kept.iter_mut().find(|known| known.is_like(&candidate)) {
                known.take_in(candidate);
            } else if kept.len() < most {
                kept.push(candidate);
            }
        }
        kept
    }

    /// Whether the same fails in the same way, and by about as much; and, where the faults are others, accounts as well for the
    /// readings: leaks between other cores of one cable are of one mode and one repair, and not alike.
    fn is_like(&self, other: &Self) -> bool {
        if self.set.faults != other.set.faults && (self.log - other.log).abs() > ALIKE {
            return false;
        }
        // What two neighbours have to spare they have in common.
        let overlap = |a: Severity, b: Severity| {
            let both = a.high.get().min(b.high.get()) / a.low.get().max(b.low.get());
            both.log10() > 0.6 * a.decades().min(b.decades())
        };
        self.kind.len() == other.kind.len()
            && self.kind.iter().zip(&other.kind).all(|((a, x), (b, y))| {
                a == b
                    && match (x, y) {
                        (Some(x), Some(y)) => overlap(*x, *y),
                        (None, None) => true,
                        (Some(_), None) | (None, Some(_)) => false,
                    }
            })
    }

    /// Stands for another one too; each set of faults counts once, from whichever of its sides it was met.
    fn take_in(&mut self, other: Self) {
        if other.set.faults != self.set.faults && !self.others.contains(&other.set.faults) {
            self.weight += (other.log - self.log).exp();
            self.others.push(other.set.faults);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Candidate;
    use crate::index::Id;
    use crate::suspects::{FaultId, Set};

    /// The first fault with one of three others that are of one mode and one repair.
    fn pair(other: usize, log: f64) -> Candidate {
        let faults = vec![FaultId::new(0), FaultId::new(other)];
        let set = Set { faults, ..Set::default() };
        Candidate::new(set, None, log, |fault| fault.position().min(1), |_| None)
    }

    #[test]
    fn one_stands_for_others_only_where_they_account_as_well() {
        let crimp = pair(1, -5.0);
        assert!(crimp.is_like(&pair(2, -5.0)), "the other crimp of the wire");
        assert!(!crimp.is_like(&pair(2, -9.0)), "another core of the cable");
        assert!(crimp.is_like(&pair(1, -9.0)), "the same faults from their other side");
    }

    #[test]
    fn what_stands_for_others_weighs_as_much_as_all_of_them() {
        let mut crimp = pair(1, -5.0);
        for other in [pair(1, -5.0), pair(2, -5.0), pair(2, -5.05), pair(3, -5.0)] {
            crimp.take_in(other);
        }
        assert!((crimp.weight - 3.0).abs() < 1e-12, "{}", crimp.weight);
    }
}
