//! What a test should read in a good circuit and what in a bad one, for the person who takes it.

use super::{Diagnosis, meter_sigma};
use crate::belief::{Predicted, Reading};
use crate::choice::{Hypothesis, Test, in_play};
use crate::suspects::SuspectId;

/// What to expect of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct Expect {
    /// In a good circuit.
    pub good: Option<Predicted>,
    /// With the likeliest of the suspects that would read otherwise.
    pub bad: Option<Predicted>,
    /// What each possible result would leave: a description of the result and the suspects, likeliest first.
    pub outcomes: Vec<(Predicted, Vec<(SuspectId, f64)>)>,
}

impl Diagnosis<'_> {
    /// What to expect of a test that has not been taken.
    pub fn expect(&self, test: &Test) -> Expect {
        let present = self.standing().set_up == test.set_up;
        let (belief, probe) = (self.belief(), &test.probe);
        let place = belief.next_place(present);
        let foresee = |h: &Hypothesis| {
            let state = self.foresight().state(belief, h, &test.set_up, present)?;
            let predicted = self.foresight().predict(belief, h, &state, probe)?;
            Some((state, predicted))
        };
        let outlook = belief.best_outlook(self.posterior());
        let healthy = belief.suspects().list().enumerate().next();
        let good = healthy.and_then(|(suspect, s)| {
            let (state, predicted) = foresee(&Hypothesis { suspect, group: s.group, point: 0, path: 0, weight: 1.0 })?;
            Some(belief.follow_supplies(&outlook, &Reading { probe, state: &state, place }, predicted))
        });
        let mut outcomes: Vec<(Predicted, Vec<(SuspectId, f64)>)> = Vec::new();
        for h in in_play(self.belief(), self.posterior()) {
            let Some((state, predicted)) = foresee(&h) else { continue };
            let outlook = belief.outlook(h.suspect, h.point, h.path);
            let reading = Reading { probe, state: &state, place };
            let (predicted, _) = belief.shifted(&outlook, (h.suspect, h.point), &reading, predicted);
            match outcomes.iter_mut().find(|(p, _)| self.alike(p, &predicted)) {
                Some((_, list)) => match list.iter_mut().find(|(s, _)| *s == h.suspect) {
                    Some((_, weight)) => *weight += h.weight,
                    None => list.push((h.suspect, h.weight)),
                },
                None => outcomes.push((predicted, vec![(h.suspect, h.weight)])),
            }
        }
        for (_, list) in &mut outcomes {
            list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        }
        let mass = |list: &[(SuspectId, f64)]| list.iter().map(|(_, w)| w).sum::<f64>();
        outcomes.sort_by(|a, b| mass(&b.1).total_cmp(&mass(&a.1)));
        let bad =
            good.as_ref().and_then(|good| outcomes.iter().map(|(p, _)| p).find(|p| !self.alike(good, p)).cloned());
        Expect { good, bad, outcomes }
    }

    /// Whether two predictions could not be told apart by one reading.
    fn alike(&self, a: &Predicted, b: &Predicted) -> bool {
        match (a, b) {
            (
                Predicted::Number { mean: x, unsteady: ux, floating: fx },
                Predicted::Number { mean: y, unsteady: uy, floating: fy },
            ) => {
                let spread = |v: f64, f: bool| self.belief().noise().spread(meter_sigma(v), f);
                ux == uy && (x - y).abs() < 3.0 * spread(*x, *fx).max(spread(*y, *fy))
            }
            (Predicted::Words(x), Predicted::Words(y)) => top(x) == top(y),
            (Predicted::Number { .. }, Predicted::Words(_)) | (Predicted::Words(_), Predicted::Number { .. }) => false,
        }
    }
}

/// The likeliest word.
fn top(shares: &[f64]) -> Option<usize> {
    (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]))
}
