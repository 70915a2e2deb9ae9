//! A closed game: suspects, tests with sure outcomes, and minutes that depend on where one stands. It is small enough to be
//! played to its end under a rule, and, smaller still, to be solved exactly.
//!
//! It stops when all suspects that are left would end with the same answer: one repair, or repairs that no test of the game
//! tells apart. The engine's rule is the very code that ranks the tests of a job (`information`, `rate`).

use super::information::{Mass, information, merge};
use super::rank::rate;
use crate::index::Id;
use crate::suspects::GroupId;
use std::collections::{BTreeMap, BTreeSet};

/// Most suspects of a game: one bit each.
pub const MOST_SUSPECTS: usize = 128;
/// Bits below which a test tells nothing: rounding.
const NOTHING: f64 = 1e-12;
/// Minutes by which a test must be better than the first of the order to be taken instead: rounding.
const BETTER: f64 = 1e-9;

/// What tests cost from each place where one can stand, and where one stands then.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ways {
    /// Minutes of each test, by standing.
    pub minutes: Vec<Vec<f64>>,
    /// The standing after each test, by standing. The first one is where the game begins.
    pub after: Vec<Vec<usize>>,
}

/// The game.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    weights: Vec<f64>,
    groups: Vec<GroupId>,
    /// The answer that each suspect ends with, by number.
    answers: Vec<usize>,
    /// The outcome of each test under each suspect.
    outcomes: Vec<Vec<u16>>,
    ways: Ways,
}

/// How the next test of a game is chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// Most bits about the repair per minute.
    Rate,
    /// Of so many tests with the best rates, the one with the fewest expected minutes if the game is then played to its end by
    /// rate (rollout over greedy: Tu and Pattipati 2003, IEEE Trans. Systems, Man and Cybernetics A 33, 86-99).
    Rollout(usize),
}

impl Rule {
    /// Rollout as far as it pays: of 200 random games the mean over the least minutes is 1.079 by rate, 1.027, 1.013, 1.011 with
    /// two, three, four tests, and 1.009 with all of them (`tests/choice.rs`).
    pub const ROLLOUT: Self = Self::Rollout(4);
}

/// The suspects that are left, and where one stands.
type State = (u128, usize);

impl Table {
    /// A game of suspects (repair group, probability) and tests (outcome under each suspect). `None` where the sizes do not
    /// agree, a standing leads nowhere, or there are more than [`MOST_SUSPECTS`].
    pub fn new(suspects: &[(GroupId, f64)], outcomes: Vec<Vec<u16>>, ways: Ways) -> Option<Self> {
        let count = suspects.len();
        let fits = count > 0
            && count <= MOST_SUSPECTS
            && !ways.minutes.is_empty()
            && ways.minutes.len() == ways.after.len()
            && outcomes.iter().all(|row| row.len() == count)
            && ways.minutes.iter().all(|row| row.len() == outcomes.len())
            && ways.after.iter().all(|row| row.len() == outcomes.len() && row.iter().all(|s| *s < ways.after.len()));
        fits.then(|| Self {
            weights: suspects.iter().map(|(_, weight)| *weight).collect(),
            groups: suspects.iter().map(|(group, _)| *group).collect(),
            answers: answers(suspects, &outcomes),
            outcomes,
            ways,
        })
    }

    /// How many tests there are.
    pub fn tests(&self) -> usize {
        self.outcomes.len()
    }

    /// How many repair groups there are.
    pub fn groups(&self) -> usize {
        self.groups.iter().collect::<BTreeSet<_>>().len()
    }

    /// All suspects, at the beginning.
    pub fn all(&self) -> u128 {
        u128::MAX >> (MOST_SUSPECTS - self.weights.len())
    }

    /// The most outcomes that any test has.
    pub fn most_outcomes(&self) -> usize {
        let different = |row: &Vec<u16>| row.iter().collect::<BTreeSet<_>>().len();
        self.outcomes.iter().map(different).max().unwrap_or(1)
    }

    /// The tests that divide what is left, best bits per minute first; equal ones in their order. Where none tells anything
    /// about the repair by itself, bits are those about the suspect.
    pub fn ranked(&self, left: u128, standing: usize) -> Vec<usize> {
        let dividing: Vec<usize> = (0..self.tests()).filter(|test| self.divides(left, *test)).collect();
        let rates = |bits: &dyn Fn(usize) -> f64| -> Vec<(f64, usize)> {
            dividing.iter().map(|t| (bits(*t), *t)).map(|(b, t)| (rate(b, self.ways.minutes[standing][t]), t)).collect()
        };
        let mut order = rates(&|test| self.bits(left, test));
        if order.iter().all(|(rate, _)| *rate < NOTHING) {
            order = rates(&|test| self.bits_of(left, test, GroupId::new));
        }
        order.sort_by(|a, b| b.0.total_cmp(&a.0));
        order.into_iter().map(|(_, test)| test).collect()
    }

    /// What a test tells about the repair, in bits.
    pub fn bits(&self, left: u128, test: usize) -> f64 {
        self.bits_of(left, test, |suspect| self.groups[suspect])
    }

    fn bits_of(&self, left: u128, test: usize, group: impl Fn(usize) -> GroupId) -> f64 {
        let total = self.weight(left);
        if total <= 0.0 {
            return 0.0;
        }
        let of = |s: usize| (i64::from(self.outcomes[test][s]), group(s), self.weights[s] / total);
        let mut masses: Vec<Mass> = members(left).map(of).collect();
        merge(&mut masses);
        information(&mut masses, 0.0)
    }

    /// Mean minutes under a rule, from the beginning.
    pub fn expected(&self, rule: Rule) -> f64 {
        Play { table: self, known: BTreeMap::new() }.minutes(rule, (self.all(), 0))
    }

    /// The test that a rule takes first; `None` where nothing is to be told.
    pub fn first(&self, rule: Rule) -> Option<usize> {
        Play { table: self, known: BTreeMap::new() }.choose(rule, (self.all(), 0)).map(|(test, _)| test)
    }

    /// The least mean minutes of any rule, by dynamic programming over the suspects left and where one stands. `None` where more
    /// than `most` such states would have to be looked at.
    pub fn optimum(&self, most: usize) -> Option<f64> {
        let mut known = BTreeMap::new();
        self.least((self.all(), 0), &mut known, most)
    }

    fn least(&self, state: State, known: &mut BTreeMap<State, f64>, most: usize) -> Option<f64> {
        let (left, standing) = state;
        if self.is_over(left) {
            return Some(0.0);
        }
        if let Some(minutes) = known.get(&state) {
            return Some(*minutes);
        }
        if known.len() >= most {
            return None;
        }
        let mut best = f64::INFINITY;
        // The best by rate come first: what cannot be better any more is then left early.
        for test in self.ranked(left, standing) {
            let mut minutes = self.ways.minutes[standing][test];
            for (part, share) in self.parts(left, test) {
                if minutes >= best {
                    break;
                }
                minutes += share * self.least((part, self.ways.after[standing][test]), known, most)?;
            }
            best = best.min(minutes);
        }
        known.insert(state, best);
        Some(best)
    }

    fn is_over(&self, left: u128) -> bool {
        let mut answers = members(left).map(|suspect| self.answers[suspect]);
        let first = answers.next();
        answers.all(|answer| Some(answer) == first)
    }

    fn divides(&self, left: u128, test: usize) -> bool {
        let mut outcomes = members(left).map(|suspect| self.outcomes[test][suspect]);
        let first = outcomes.next();
        outcomes.any(|outcome| Some(outcome) != first)
    }

    /// What each outcome of a test leaves, with its chance.
    fn parts(&self, left: u128, test: usize) -> Vec<(u128, f64)> {
        let mut parts: BTreeMap<u16, u128> = BTreeMap::new();
        for suspect in members(left) {
            *parts.entry(self.outcomes[test][suspect]).or_default() |= 1 << suspect;
        }
        let total = self.weight(left);
        let share = |part: u128| if total > 0.0 { self.weight(part) / total } else { 0.0 };
        parts.into_values().map(|part| (part, share(part))).collect()
    }

    fn weight(&self, left: u128) -> f64 {
        members(left).map(|suspect| self.weights[suspect]).sum()
    }
}

/// A game under a rule, with the mean minutes of all that was met.
struct Play<'t> {
    table: &'t Table,
    known: BTreeMap<(Rule, State), f64>,
}

impl Play<'_> {
    fn minutes(&mut self, rule: Rule, state: State) -> f64 {
        if let Some(minutes) = self.known.get(&(rule, state)) {
            return *minutes;
        }
        let minutes = self.choose(rule, state).map_or(0.0, |(test, _)| self.with(rule, state, test));
        self.known.insert((rule, state), minutes);
        minutes
    }

    /// The next test, with the mean minutes if the rest is played by rate (by rate alone they are not looked for).
    fn choose(&mut self, rule: Rule, state: State) -> Option<(usize, f64)> {
        if self.table.is_over(state.0) {
            return None;
        }
        let order = self.table.ranked(state.0, state.1).into_iter();
        match rule {
            Rule::Rate => order.map(|test| (test, 0.0)).next(),
            Rule::Rollout(width) => {
                let played: Vec<(usize, f64)> =
                    order.take(width.max(1)).map(|test| (test, self.with(Rule::Rate, state, test))).collect();
                let better =
                    |best: (usize, f64), next: (usize, f64)| if next.1 < best.1 - BETTER { next } else { best };
                played.into_iter().reduce(better)
            }
        }
    }

    /// Mean minutes of a test and of what follows it under a rule.
    fn with(&mut self, rule: Rule, (left, standing): State, test: usize) -> f64 {
        let after = self.table.ways.after[standing][test];
        let parts = self.table.parts(left, test);
        let rest: f64 = parts.into_iter().map(|(part, share)| share * self.minutes(rule, (part, after))).sum();
        self.table.ways.minutes[standing][test] + rest
    }
}

/// The suspects of a set.
fn members(left: u128) -> impl Iterator<Item = usize> {
    let mut left = left;
    std::iter::from_fn(move || {
        let next = left.trailing_zeros() as usize;
        (left != 0).then(|| {
            left &= left - 1;
            next
        })
    })
}

/// The answer of each suspect: the repairs of all that show the same under every test, as a number.
fn answers(suspects: &[(GroupId, f64)], outcomes: &[Vec<u16>]) -> Vec<usize> {
    let shows = |suspect: usize| -> Vec<u16> { outcomes.iter().map(|row| row[suspect]).collect() };
    let mut repairs: BTreeMap<Vec<u16>, BTreeSet<GroupId>> = BTreeMap::new();
    for (suspect, (group, _)) in suspects.iter().enumerate() {
        repairs.entry(shows(suspect)).or_default().insert(*group);
    }
    let different: BTreeSet<&BTreeSet<GroupId>> = repairs.values().collect();
    let number = |suspect: usize| different.iter().position(|set| **set == repairs[&shows(suspect)]).unwrap_or(0);
    (0..suspects.len()).map(number).collect()
}
