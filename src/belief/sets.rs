//! Several faults at once: sets of them become suspects when the likeliest ones leave something unexplained.
//!
//! Which sets is asked of the evidence alone, best first: of every pair an estimate says how well it could account for each
//! observation, each of its faults by itself or both added up as in a linear circuit. Only the best are solved. Nothing hangs
//! on the estimate but which sets are looked at.

use super::density::{Noise, most_of_answer, of_answer};
use super::effect::{Effect, Noted, Notes, add_up};
use super::fit::Fit;
use super::track::Track;
use super::update::HOPELESS;
use super::{Answer, Belief, Evidence, Observation, Posterior, Predicted};
use crate::index::Id;
use crate::suspects::{FaultId, Pin, Set, Severity, SuspectId};
use crate::units::Ohms;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Sets are asked for when suspects that hold this share of all that has a name leave something unexplained. Where as much is
/// held by such as explain everything, a set, rarer beforehand by a factor of a thousand or more, holds next to nothing.
const UNEXPLAINED: f64 = 0.5;
/// An observation is unexplained when it is this much less likely (in log) than the likeliest answer, or when it is more
/// probably spoilt than not.
const MISSED: f64 = 3.0;
/// So many suspects are tried as the first of a set.
const FIRST: usize = 60;
/// So many sets of two or more are tried as the first part of a larger set.
const FIRST_SETS: usize = 20;
/// So many suspects are made of candidates at most.
const SOLVED: usize = 80;
/// A candidate whose estimate lies this far below the best that was solved is not (`ln 1e4`).
const FAR: f64 = 9.2;
/// Supplies that stand nearer to each other than this share of their volts are one to the estimate.
const APART: f64 = 0.02;
/// One whose estimate lies this far below the best estimate is none (some four spoilt readings).
const LOST: f64 = 40.0;
/// Estimates of faults that no reading tells apart differ by no more than this, in log.
const ALIKE: f64 = 0.1;
/// Cells a decade of the rough tracks.
const ROUGH: usize = 1;
/// Sizes a decade at which a soft fault is held when another one is spread over its range: at first, and where it matters.
const PINS: [usize; 2] = [2, 8];
/// The factor by which the sizes at which a fault is held go beyond the decade of the estimate, either way: a quarter of a decade.
const SPARE: f64 = 1.778;
/// Sets at least this likely have their held sizes refined.
const REFINE_ABOVE: f64 = 1e-3;

/// A set that may be worth solving.
struct Candidate {
    set: Set,
    /// The decade of the range of a fault that is to be held fast.
    held: Option<(FaultId, Severity)>,
    /// Log of its prior and of the estimate.
    log: f64,
    /// What fails how, and the sizes that are meant.
    kind: Vec<(usize, Option<Severity>)>,
    /// The faults of the others of its kind, and what they weigh beside it: it stands for them all.
    others: Vec<Vec<FaultId>>,
    weight: f64,
}

/// Sets of the same faults, of which one is held at several sizes.
struct Family {
    faults: Vec<FaultId>,
    pins: Vec<Pin>,
    held: FaultId,
    members: Vec<(SuspectId, Severity)>,
    /// The sizes at which they are likely, with all that lies between.
    likely: Option<Severity>,
    /// Prior probability of a decade of sizes.
    density: f64,
}

/// The first part of a set, and what it does.
struct First<'a> {
    faults: Vec<FaultId>,
    pins: Vec<Pin>,
    effect: Cow<'a, Effect>,
}

impl<'n> Belief<'n> {
    /// The posterior with the sets that the evidence asks for, best first.
    pub(super) fn with_sets(&mut self, posterior: &Posterior, evidence: &Evidence) -> Posterior {
        let mut made = 0;
        let mut best = self.best();
        for candidate in self.candidates(posterior, evidence) {
            if made >= SOLVED || candidate.log < best - FAR {
                break;
            }
            let ids = self.admit_all(&candidate);
            made += ids.len();
            best = self.follow_all(ids, best, evidence);
        }
        let mut posterior = self.weighed_anew(best, evidence);
        let finer = self.hold_finer(&posterior);
        if !finer.is_empty() {
            // The coarser ones, which are taken back, may have seemed better than anything is: nothing is judged by them.
            let again = self.follow_all(finer, f64::NEG_INFINITY, evidence).max(self.best());
            let is_dropped = |id: &SuspectId| {
                self.active[*id] && self.fits[*id].is_none() && !self.inert[*id] && self.logs[*id] >= again - HOPELESS
            };
            let dropped = self.suspects().list().ids().filter(is_dropped).collect();
            let best = self.follow_all(dropped, again, evidence);
            posterior = self.weighed_anew(best, evidence);
        }
        posterior
    }

    /// The sets with one fault more than those so far, best first by the estimate.
    fn candidates(&mut self, posterior: &Posterior, evidence: &Evidence) -> Vec<Candidate> {
        let notes = self.notes(posterior, evidence);
        let mut partners: Vec<(SuspectId, Effect)> = Vec::new();
        for id in self.singles() {
            if !self.inert[id] && !self.suspects().list()[id].faults.is_empty() {
                partners.extend(Effect::of(self.roughly(id, evidence), &notes).map(|effect| (id, effect)));
            }
        }
        let kinds = self.kinds();
        let mut found: Vec<Candidate> = Vec::new();
        let mut top = f64::NEG_INFINITY;
        for first in self.firsts(&partners, &notes) {
            for (partner, effect) in &partners {
                let all = self.joined(&first, *partner, effect, &notes, &kinds, top - LOST);
                top = all.iter().map(|c| c.log).fold(top, f64::max);
                found.extend(all);
            }
        }
        found.sort_by(|a, b| b.log.total_cmp(&a.log));
        let mut kept: Vec<Candidate> = Vec::new();
        for candidate in found {
            if let Some(known) = kept.iter_mut().find(|k| k.is_like(&candidate)) {
                known.take_in(candidate);
            } else if kept.len() < SOLVED {
                kept.push(candidate);
            }
        }
        kept
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

    /// Whether the likeliest suspects cannot account for what was seen.
    pub(super) fn leaves_unexplained(&self, posterior: &Posterior, evidence: &Evidence) -> bool {
        let (mut all, mut missing) = (0.0, 0.0);
        for (id, p) in posterior.probability.enumerate().filter(|(_, p)| **p > 1e-6) {
            if self.suspects().list()[id].faults.is_empty() {
                continue;
            }
            all += p;
            if self.misses(id, posterior.likeliest_point(id), evidence) {
                missing += p;
            }
        }
        missing > UNEXPLAINED * all
    }

    /// Whether a suspect leaves an observation unexplained, at one point of its grid.
    fn misses(&self, id: SuspectId, point: usize, evidence: &Evidence) -> bool {
        // What changes nothing so far is the healthy circuit.
        let at = if self.fits[id].is_some() { Some((id, point)) } else { self.singles().next().map(|id| (id, 0)) };
        let Some((id, point)) = at else { return true };
        let whole = self.fits[id].as_ref().and_then(Fit::whole);
        if whole.is_none_or(|whole| whole.doubts.iter().sum::<f64>() > 0.5) {
            return true;
        }
        let Some(path) = self.tracks()[id].points.get(point).and_then(|p| p.paths.first()) else { return true };
        let missed = |(o, p): (&Observation, &Predicted)| {
            o.answer.value().is_none() && f64::from(o.times) * short_of_best(o, p, self.noise()) > MISSED
        };
        evidence.observations.iter().zip(&path.predicted).any(missed)
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

    /// A first part with one more fault, by decades of the range of what is soft in either: the best of each two. The decade in
    /// which each would be by itself is not always the one in which both together are, so that it bounds only the sizes at which
    /// one is held, and those with something to spare; the other is spread over its whole range.
    fn joined(
        &self,
        first: &First<'_>,
        partner: SuspectId,
        effect: &Effect,
        notes: &Notes,
        kinds: &[usize],
        least: f64,
    ) -> Vec<Candidate> {
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
        let whole = |f: &FaultId| suspects.faults()[*f].severity;
        let held = whole(&fault).filter(|_| first.faults.iter().any(|f| whole(f).is_some()));
        let even = -((first.effect.cells() * effect.cells()).max(1) as f64).ln();
        let mut all = Vec::new();
        for b in 0..effect.cells() {
            let with = |a: usize| add_up((&first.effect, a), (effect, b), notes, least - prior - even);
            let Some(best) = (0..first.effect.cells()).filter_map(with).max_by(f64::total_cmp) else { continue };
            let log = prior + even + best;
            let held = held.and_then(|whole| Some((fault, widened(effect.range(b)?, whole))));
            let set = Set { faults: faults.clone(), pins: first.pins.clone(), ..Set::default() };
            let kind = |f: FaultId| kinds.get(f.position()).copied().unwrap_or_default();
            all.push(Candidate::new(set, held, log, kind, whole));
        }
        all.sort_by(|a, b| b.log.total_cmp(&a.log));
        let top = all.first().map_or(0.0, |c| c.log);
        all.retain(|c| c.log >= top - FAR);
        all
    }

    /// Makes suspects of a candidate: one, or one for each size at which a fault is held.
    fn admit_all(&mut self, candidate: &Candidate) -> Vec<SuspectId> {
        let (sets, log, weight) = (with_pins(&candidate.set, candidate.held, PINS[0]), candidate.log, candidate.weight);
        let admit = |set: Set| {
            let share: f64 = set.pins.iter().map(|pin| self.share_of(pin)).product();
            let prior = self.suspects().prior_of(&set.faults) * weight * share;
            let id = self.admit(set, prior);
            self.logs[id] = log;
            id
        };
        sets.into_iter().map(admit).collect()
    }

    /// Takes the likely sets of which a fault is held at few sizes apart into such with more; the new ones. They reach beyond
    /// the sizes that were likely: one held size may have fitted by what its neighbour stands for.
    fn hold_finer(&mut self, posterior: &Posterior) -> Vec<SuspectId> {
        let mut families: Vec<Family> = Vec::new();
        for id in self.suspects().list().ids().filter(|id| self.active[*id]) {
            let suspect = &self.suspects().list()[id];
            let Some((last, before)) = suspect.pins.split_last().filter(|(last, _)| is_wide(last)) else { continue };
            let Some(range) = last.range() else { continue };
            let likely = posterior.probability[id] >= REFINE_ABOVE;
            let own = |f: &&mut Family| f.faults == suspect.faults && f.pins == before && f.held == last.fault;
            let density = suspect.prior / range.decades();
            match families.iter_mut().find(own) {
                Some(family) => family.take_in(id, range, likely),
                None => families.push(Family {
                    faults: suspect.faults.clone(),
                    pins: before.to_vec(),
                    held: last.fault,
                    members: vec![(id, range)],
                    likely: likely.then_some(range),
                    density,
                }),
            }
        }
        let mut finer = Vec::new();
        for family in families {
            let whole = self.suspects().faults()[family.held].severity;
            let Some(range) = family.likely.zip(whole).map(|(likely, whole)| widened(likely, whole)) else { continue };
            for (id, own) in &family.members {
                // What would stand for sizes that the new ones stand for goes; a part that sticks out of both is nothing much.
                if own.low.get() < range.high.get() && own.high.get() > range.low.get() {
                    self.active[*id] = false;
                }
            }
            let set = Set { faults: family.faults, pins: family.pins, ..Set::default() };
            let sets = with_pins(&set, Some((family.held, range)), PINS[1]);
            let share = family.density * range.decades() / sets.len().max(1) as f64;
            finer.extend(sets.into_iter().map(|set| self.admit(set, share)));
        }
        for id in &finer {
            self.logs[*id] = f64::NEG_INFINITY;
        }
        finer
    }

    /// The share of a fault's range that a pin stands for.
    fn share_of(&self, pin: &Pin) -> f64 {
        let whole = self.suspects().faults()[pin.fault].severity;
        whole.zip(pin.range()).map_or(1.0, |(whole, own)| (own.decades() / whole.decades()).min(1.0))
    }
}

impl Family {
    fn take_in(&mut self, id: SuspectId, range: Severity, likely: bool) {
        self.members.push((id, range));
        if likely {
            let wider = |all: Severity| Severity {
                low: if range.low.get() < all.low.get() { range.low } else { all.low },
                high: if range.high.get() > all.high.get() { range.high } else { all.high },
            };
            self.likely = Some(self.likely.map_or(range, wider));
        }
    }
}

impl Candidate {
    fn new(
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

/// Whether the sizes that a fault held at one of them stands for can be told apart further.
fn is_wide(pin: &Pin) -> bool {
    2.0 * (pin.up_to.get() / pin.ohms.get()).log10() * PINS[1] as f64 > 1.5
}

/// A part of a range with something to spare on either side.
fn widened(part: Severity, whole: Severity) -> Severity {
    let ohms = |ohms: f64| Ohms::try_from(ohms).unwrap_or(whole.low);
    Severity {
        low: ohms((part.low.get() / SPARE).max(whole.low.get())),
        high: ohms((part.high.get() * SPARE).min(whole.high.get())),
    }
}

/// A set once for each size at which one more of its faults is held, so many a decade.
fn with_pins(set: &Set, held: Option<(FaultId, Severity)>, pins: usize) -> Vec<Set> {
    let Some((fault, range)) = held else { return vec![set.clone()] };
    let ratio = range.high.get() / range.low.get();
    let count = ((range.decades() * pins as f64).round() as usize).max(1);
    let at = |steps: f64| Ohms::try_from(range.low.get() * ratio.powf(steps / count as f64)).ok();
    let one = |k: usize| {
        let mut set = set.clone();
        set.pins.push(Pin { fault, ohms: at(k as f64 + 0.5)?, up_to: at(k as f64 + 1.0)? });
        Some(set)
    };
    (0..count).filter_map(one).collect()
}

/// How much less likely an answer is, in log, than the likeliest one.
fn short_of_best(observation: &Observation, predicted: &Predicted, noise: &Noise) -> f64 {
    let own = of_answer(&observation.answer, predicted, 0.0, observation.blunder, noise).ln();
    let most = match (&observation.answer, predicted) {
        (Answer::Word(_), Predicted::Words(shares)) => shares.iter().copied().fold(f64::MIN_POSITIVE, f64::max).ln(),
        _ => most_of_answer(&observation.answer, noise),
    };
    most - own
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
