//! A closer look at the tests that seem best. At a glance a reading follows the supplies alone; near copies of a reading that
//! something else explains, such as the inner resistance of a battery, then seem to tell something again and again.

use super::in_play::{Hypothesis, in_play};
use super::information::Outcome;
use super::rank::{Ranked, Ranking};
use super::test::Test;
use crate::belief::{Outlook, Probe, Reading};

/// Most tests of a question that are looked at closely.
const MOST: usize = 24;

/// Tests of one question, some of them looked at closely.
pub struct Closely<'r, 'a, 'n> {
    ranking: &'r Ranking<'a, 'n>,
    least_bits: f64,
    hypotheses: Vec<Hypothesis>,
    /// What the readings so far say under each.
    outlooks: Vec<Outlook>,
    /// Bits of the tests that were looked at.
    known: Vec<(Test, f64)>,
}

impl<'a, 'n> Ranking<'a, 'n> {
    /// Looks closely at the tests of one question; none that tells less than `least_bits` is kept.
    pub fn closely(&self, least_bits: f64) -> Closely<'_, 'a, 'n> {
        Closely { ranking: self, least_bits, hypotheses: Vec::new(), outlooks: Vec::new(), known: Vec::new() }
    }
}

impl Closely<'_, '_, '_> {
    /// Sorts tests by `worth`, best first, ties as they stand, until the best has been looked at closely; returns it. Where the
    /// number of looks does not suffice, those that were looked at come first.
    pub fn best_by<'t>(&mut self, tests: &'t mut Vec<Ranked>, worth: impl Fn(&Ranked) -> f64) -> Option<&'t Ranked> {
        for one in tests.iter_mut() {
            if let Some((_, bits)) = self.known.iter().find(|(known, _)| *known == one.test) {
                one.bits = *bits;
            }
        }
        tests.retain(|one| one.bits >= self.least_bits);
        tests.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
        while let Some(first) = tests.first() {
            if self.is_known(&first.test) {
                break;
            }
            if self.known.len() >= MOST {
                tests.sort_by_key(|one| !self.is_known(&one.test));
                break;
            }
            let mut first = tests.remove(0);
            first.bits = self.look(&first.test);
            self.known.push((first.test.clone(), first.bits));
            if first.bits >= self.least_bits {
                let place = tests.partition_point(|one| worth(one) >= worth(&first));
                tests.insert(place, first);
            }
        }
        tests.first()
    }

    /// A look is predicted at a glance as well as it ever is.
    fn is_known(&self, test: &Test) -> bool {
        matches!(test.probe, Probe::Look(_) | Probe::Light { .. }) || self.known.iter().any(|(known, _)| known == test)
    }

    fn look(&mut self, test: &Test) -> f64 {
        let Ranking { belief, posterior, foresight, standing, left_out, .. } = *self.ranking;
        if self.outlooks.is_empty() {
            self.hypotheses = in_play(belief, posterior);
            let of = |h: &Hypothesis| belief.outlook_without(left_out, h.suspect, h.point, h.path);
            self.outlooks = self.hypotheses.iter().map(of).collect();
        }
        let present = standing.set_up == test.set_up;
        let place = belief.next_place(present);
        let outcome = |(h, outlook): (&Hypothesis, &Outlook)| {
            let foresee = |h: &Hypothesis| {
                let state = foresight.state(belief, h, &test.set_up, present)?;
                let predicted = foresight.predict(belief, h, &state, &test.probe)?;
                Some((state, predicted))
            };
            let (state, mut predicted) = foresee(h)?;
            let mut by_severity = 0.0;
            if let Some(within) = outlook.within() {
                let at = |(point, path): (usize, usize)| foresee(&Hypothesis { point, path, ..*h }).map(|(_, p)| p);
                let [first, second] = within.ends.map(at);
                if let Some((between, sigma)) = first.zip(second).and_then(|(a, b)| within.between(&a, &b)) {
                    (predicted, by_severity) = (between, sigma);
                }
            }
            let reading = Reading { probe: &test.probe, state: &state, place };
            let (predicted, strays) = belief.shifted(outlook, (h.suspect, h.point), &reading, predicted);
            Some(Outcome { group: h.group, weight: h.weight, predicted, strays: strays.hypot(by_severity) })
        };
        let outcomes: Vec<Outcome> = self.hypotheses.iter().zip(&self.outlooks).filter_map(outcome).collect();
        self.ranking.gain(&test.probe, &outcomes)
    }
}
