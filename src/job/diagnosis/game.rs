//! The rest of a job as a closed game, and what its tests would tell of the suspects that are left: for judging the choice of
//! tests. It deliberately takes part in no job.

use super::Diagnosis;
use crate::belief::Probe;
use crate::choice::{Hypothesis, Table, Test, in_play};
use crate::circuit::SetUp;
use crate::suspects::{GroupId, SuspectId};
use std::collections::{BTreeMap, BTreeSet};

/// Bits that are rounding.
const LEAST: f64 = 1e-9;

/// What some tests would show of the suspects that are left.
#[derive(Clone, Debug, PartialEq)]
pub struct Division {
    /// Prior weight of each suspect that is not ruled out, at each of its sizes.
    pub weights: Vec<f64>,
    /// The outcome of each test under each of them.
    pub outcomes: Vec<Vec<u16>>,
}

impl Division {
    /// The share of the prior that the heaviest outcome of a test keeps together: 0.5 of two equal halves, 1 where it tells
    /// nothing.
    pub fn heaviest(&self, test: usize) -> f64 {
        let mut sums: BTreeMap<u16, f64> = BTreeMap::new();
        for (outcome, weight) in self.outcomes[test].iter().zip(&self.weights) {
            *sums.entry(*outcome).or_default() += weight;
        }
        let total: f64 = self.weights.iter().sum();
        if total > 0.0 { sums.into_values().fold(0.0, f64::max) / total } else { 1.0 }
    }
}

impl Diagnosis<'_> {
    /// The tests of a set-up that were not taken and that nothing speaks against.
    pub fn untaken(&self, set_up: &SetUp) -> Vec<Test> {
        let mut tests = self.tests(set_up);
        tests.retain(|test| !self.is_taken(test) && !self.is_out_of_reach(test));
        tests
    }

    /// What tests would show of the suspects that are not ruled out.
    pub fn division(&self, tests: &[Test]) -> Division {
        let mut left = in_play(&self.belief, &self.posterior);
        left.retain(|h| !self.posterior.ruled_out(h.suspect));
        let list = self.belief.suspects().list();
        let prior = |h: &Hypothesis| {
            let own = self.posterior.probability[h.suspect];
            if own > 0.0 { list[h.suspect].prior * h.weight / own } else { 0.0 }
        };
        let standing = self.standing();
        let outcomes = self.ranking(&self.posterior, &standing, 0.0).outcomes(&left, tests);
        Division { weights: left.iter().map(prior).collect(), outcomes }
    }

    /// The entropy of the repairs, something that is not modelled and 'nothing wrong' left out, in bits.
    pub fn entropy(&self) -> f64 {
        let groups = self.posterior.groups.iter().filter(|(group, _)| !self.belief.is_nothing(*group));
        let shares: Vec<f64> = groups.map(|(_, share)| *share).filter(|share| *share > 0.0).collect();
        let total: f64 = shares.iter().sum();
        shares.iter().map(|share| share / total).map(|p| -p * p.log2()).sum()
    }

    /// The most outcomes that any test offered in the set-up of the complaint or in the usual one has: of volts, those that the
    /// meter tells apart among the hypotheses in play; of looks and lamps, the words.
    pub fn most_outcomes(&self) -> usize {
        let mut set_ups = vec![&self.complaint.set_up];
        if self.complaint.usual != self.complaint.set_up {
            set_ups.push(&self.complaint.usual);
        }
        let mut tests: Vec<Test> = set_ups.into_iter().flat_map(|set_up| self.tests(set_up)).collect();
        tests.retain(|test| !self.is_inspection(test));
        let words = |test: &Test| match &test.probe {
            Probe::Look(sight) => self.system.words(*sight).map_or(1, |table| table.words.len()),
            Probe::Light { .. } => self.system.tester_words().map_or(1, |table| table.words.len()),
            Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. } => 1,
        };
        let most_words = tests.iter().map(words).max().unwrap_or(1);
        let volts: Vec<Test> = tests.into_iter().filter(|t| matches!(t.probe, Probe::Volts { .. })).collect();
        let standing = self.standing();
        let rows =
            self.ranking(&self.posterior, &standing, 0.0).outcomes(&in_play(&self.belief, &self.posterior), &volts);
        let different = |row: &Vec<u16>| row.iter().collect::<BTreeSet<_>>().len();
        rows.iter().map(different).max().unwrap_or(1).max(most_words)
    }

    /// What is left of the job, reduced: the likeliest `repairs`, each as its likeliest suspect at its likeliest size, and `tests`
    /// of the usual set-up. Of the tests the most telling ones are kept: first those that together tell most, then those that
    /// tell most alone. `None` where there is nothing to choose.
    pub fn game(&self, repairs: usize, tests: usize) -> Option<Table> {
        let suspects = self.typical(repairs);
        let standing = self.standing();
        let ranking = self.ranking(&self.posterior, &standing, 0.0);
        let mut all = self.tests(&self.complaint.usual);
        // A game has sure outcomes: what a look for marks shows is none.
        all.retain(|test| !self.is_inspection(test));
        let rows = ranking.outcomes(&suspects, &all);
        let kept = most_telling(&suspects, &rows, tests);
        let chosen: Vec<Test> = kept.iter().map(|k| all[*k].clone()).collect();
        ranking.table(&suspects, &chosen, kept.into_iter().map(|k| rows[k].clone()).collect())
    }

    /// The likeliest repairs, each as one suspect.
    fn typical(&self, repairs: usize) -> Vec<Hypothesis> {
        let groups = self.posterior.groups.iter().filter(|(group, _)| !self.belief.is_nothing(*group));
        let one = |(group, weight): &(GroupId, f64)| {
            let members = self.belief.suspects().groups()[*group].members.iter().copied();
            let probability = |s: &SuspectId| self.posterior.probability[*s];
            let suspect = members.max_by(|a, b| probability(a).total_cmp(&probability(b)).then(b.cmp(a)))?;
            let point = self.posterior.likeliest_point(suspect);
            let paths = &self.belief.tracks()[suspect].points.get(point)?.paths;
            let path = (0..paths.len()).max_by(|a, b| paths[*a].weight.total_cmp(&paths[*b].weight).then(b.cmp(a)))?;
            Some(Hypothesis { suspect, group: *group, point, path, weight: *weight })
        };
        groups.filter(|(_, share)| *share > 0.0).filter_map(one).take(repairs).collect()
    }
}

/// Positions of the tests that tell most: first, one after the other, the one that tells most beside those before it, then those
/// that tell most alone. A test that divides as an earlier one does is not left out: it may be nearer.
fn most_telling(suspects: &[Hypothesis], rows: &[Vec<u16>], most: usize) -> Vec<usize> {
    let total: f64 = suspects.iter().map(|h| h.weight).sum();
    // Each suspect is one repair, so that the bits about the repair are the entropy of the outcomes.
    let bits = |shown: &dyn Fn(usize) -> Vec<u16>| -> f64 {
        let mut sums: BTreeMap<Vec<u16>, f64> = BTreeMap::new();
        for (k, suspect) in suspects.iter().enumerate() {
            *sums.entry(shown(k)).or_default() += suspect.weight / total;
        }
        sums.into_values().filter(|p| *p > 0.0).map(|p| -p * p.log2()).sum()
    };
    let mut chosen: Vec<usize> = Vec::new();
    let mut known = 0.0;
    let best = |gains: Vec<(usize, f64)>| {
        gains.into_iter().reduce(|best, next| if next.1 > best.1 + LEAST { next } else { best })
    };
    while chosen.len() < most {
        let beside = |test: usize| bits(&|k| chosen.iter().chain([&test]).map(|t| rows[*t][k]).collect());
        let free = (0..rows.len()).filter(|test| !chosen.contains(test));
        match best(free.map(|test| (test, beside(test))).collect()) {
            Some((test, with)) if with > known + LEAST => {
                known = with;
                chosen.push(test);
            }
            _ => break,
        }
    }
    while chosen.len() < most {
        let free = (0..rows.len()).filter(|test| !chosen.contains(test));
        match best(free.map(|test| (test, bits(&|k| vec![rows[test][k]]))).collect()) {
            Some((test, alone)) if alone > LEAST => chosen.push(test),
            _ => break,
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::Division;

    #[test]
    fn a_test_divides_the_prior_by_its_outcomes() {
        // By hand: 0.2 + 0.3 against 0.4; all three apart, of which 0.4 is the heaviest; all alike. Of a total of 0.9.
        let outcomes = vec![vec![0, 0, 1], vec![2, 0, 1], vec![5, 5, 5]];
        let division = Division { weights: vec![0.2, 0.3, 0.4], outcomes };
        for (test, expected) in [0.5 / 0.9, 0.4 / 0.9, 1.0].into_iter().enumerate() {
            assert!((division.heaviest(test) - expected).abs() < 1e-12, "{test}");
        }
    }
}
