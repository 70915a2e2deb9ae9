//! What a campaign comes to.

use super::mark::Mark;
use super::trial::Trial;
use super::trust::{Reliability, Stop, calibration, curve, upper_limit};
use crate::belief::Verdict;
use std::collections::BTreeMap;

/// Confidence of the upper limit of wrong answers.
const CONFIDENCE: f64 = 0.99;

/// The figures of a campaign. Shares are of the trials, each counted by its weight.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Hidden states that were considered, those without a complaint included.
    pub faults: usize,
    /// Share of them that cause a complaint.
    pub detected: f64,
    /// Trials.
    pub trials: usize,
    /// Share of the trials with each mark, in the order of [`Mark::ALL`].
    pub shares: [f64; 5],
    /// Share of the trials that end with 'no fault found', whatever is hidden.
    pub no_fault: f64,
    /// Upper end of the one-sided 99 % interval of the share that is wrong and sure of it, each trial counted once.
    pub wrong_upper: f64,
    /// Share of the trials in which a hidden fault was named among at most one, two, three repairs.
    pub isolated: [f64; 3],
    /// Tests to the verdict: mean, worst.
    pub tests: (f64, usize),
    /// Minutes to the verdict: mean, the value that 95 % stay below, worst.
    pub minutes: (f64, f64, f64),
    /// Mean minutes to the proven repair, over the trials that come to one.
    pub minutes_proven: f64,
    /// Share of the trials in which the complaint is cured, at the latest by the repairs of the second verdict.
    pub cured: f64,
    /// Announced against true shares of the verdicts that name something.
    pub calibration: Vec<Reliability>,
    /// What stopping earlier or later would have come to.
    pub curve: Vec<Stop>,
    /// Repairs that were named together, most frequent first.
    pub groups: Vec<Group>,
}

/// Repairs that a verdict could not tell apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// The repairs, each in the words of suspects.
    pub repairs: Vec<Vec<String>>,
    /// Share of the trials that ended so.
    pub share: f64,
}

impl Figures {
    /// The share of the trials with a mark.
    pub fn share(&self, mark: Mark) -> f64 {
        let position = Mark::ALL.iter().position(|(m, _)| *m == mark).unwrap_or(0);
        self.shares[position]
    }

    /// Sums up trials; `considered` hidden states were looked at and a share of `detected` of them caused a complaint.
    pub(super) fn of(trials: &[Trial], considered: usize, detected: f64) -> Self {
        let total: f64 = trials.iter().map(|t| t.weight).sum();
        let share_of = |hit: &dyn Fn(&Trial) -> bool| {
            let hits: f64 = trials.iter().filter(|t| hit(t)).map(|t| t.weight).sum();
            // An empty sum is minus zero.
            if hits > 0.0 { hits / total } else { 0.0 }
        };
        let mean = |value: &dyn Fn(&Trial) -> f64| {
            let sum: f64 = trials.iter().map(|t| t.weight * value(t)).sum();
            if total > 0.0 { sum / total } else { 0.0 }
        };
        let names = |t: &Trial, most: usize| {
            t.named_by_verdict() && matches!(t.mark, Mark::Right | Mark::TooBroad) && t.named.len() <= most
        };
        let wrong = trials.iter().filter(|t| t.mark == Mark::WrongConfident).count();
        let worst = |value: &dyn Fn(&Trial) -> f64| trials.iter().map(value).fold(0.0, f64::max);
        Self {
            faults: considered,
            detected,
            trials: trials.len(),
            shares: Mark::ALL.map(|(mark, _)| share_of(&|t| t.mark == mark)),
            no_fault: share_of(&|t| t.verdict == Verdict::NoFault),
            wrong_upper: upper_limit(wrong, trials.len(), CONFIDENCE),
            isolated: [1, 2, 3].map(|most| share_of(&|t| names(t, most))),
            tests: (mean(&|t| t.tests() as f64), trials.iter().map(Trial::tests).max().unwrap_or(0)),
            minutes: (mean(&|t| t.minutes), percentile(trials, 0.95), worst(&|t| t.minutes)),
            minutes_proven: proven(trials),
            cured: share_of(&|t| t.cured),
            calibration: calibration(trials),
            curve: curve(trials),
            groups: groups(trials, total),
        }
    }
}

/// The minutes that this share of the trials stays below.
fn percentile(trials: &[Trial], share: f64) -> f64 {
    let mut order: Vec<(f64, f64)> = trials.iter().map(|t| (t.minutes, t.weight)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut left = share * order.iter().map(|(_, weight)| weight).sum::<f64>();
    for (minutes, weight) in &order {
        left -= weight;
        if left <= 0.0 {
            return *minutes;
        }
    }
    order.last().map_or(0.0, |(minutes, _)| *minutes)
}

fn proven(trials: &[Trial]) -> f64 {
    let cured = trials.iter().filter_map(|t| Some((t.minutes_proven?, t.weight)));
    let (sum, total) = cured.fold((0.0, 0.0), |(sum, total), (minutes, w)| (sum + w * minutes, total + w));
    if total > 0.0 { sum / total } else { 0.0 }
}

fn groups(trials: &[Trial], total: f64) -> Vec<Group> {
    let mut shares: BTreeMap<Vec<Vec<String>>, f64> = BTreeMap::new();
    for trial in trials.iter().filter(|t| t.named_by_verdict() && t.named.len() > 1) {
        let mut repairs = trial.repairs.clone();
        repairs.sort();
        *shares.entry(repairs).or_default() += trial.weight / total;
    }
    let mut groups: Vec<Group> = shares.into_iter().map(|(repairs, share)| Group { repairs, share }).collect();
    groups.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.repairs.cmp(&b.repairs)));
    groups
}
