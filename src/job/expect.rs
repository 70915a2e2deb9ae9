//! What a test should read in a good circuit and what in a bad one, for the person who takes it.

use super::{Diagnosis, meter_sigma};
use crate::belief::{Predicted, predict};
use crate::choice::{Test, in_play};
use crate::circuit::SetUp;
use crate::network::Operating;
use crate::suspects::SuspectId;
use std::rc::Rc;

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

impl<'n> Diagnosis<'n> {
    /// What to expect of a test that has not been taken.
    pub fn expect(&self, test: &Test) -> Expect {
        let network = self.belief().network();
        let senses = self.belief().senses();
        let healthy = self.belief().suspects().list().ids().next();
        let good = healthy.and_then(|id| self.foresee(id, 0, 0, test));
        let mut outcomes: Vec<(Predicted, Vec<(SuspectId, f64)>)> = Vec::new();
        for h in in_play(self.belief(), self.posterior()) {
            let path = h.path_of(self.belief());
            let Some(state) = self.state_in(h.suspect, h.point, h.path, &test.set_up) else { continue };
            let predicted = predict(network, senses, &path.rest, &state, &test.probe);
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
        let bad = good.as_ref().and_then(|good| {
            outcomes.iter().map(|(p, _)| p).find(|p| !self.alike(good, p)).cloned()
        });
        Expect { good, bad, outcomes }
    }

    fn foresee(&self, suspect: SuspectId, point: usize, path: usize, test: &Test) -> Option<Predicted> {
        let state = self.state_in(suspect, point, path, &test.set_up)?;
        let rest = &self.belief().tracks()[suspect].points.get(point)?.paths.get(path)?.rest;
        Some(predict(self.belief().network(), self.belief().senses(), rest, &state, &test.probe))
    }

    fn state_in(&self, suspect: SuspectId, point: usize, path: usize, set_up: &SetUp) -> Option<Rc<Operating<'n>>> {
        let point = self.belief().tracks()[suspect].points.get(point)?;
        let path = point.paths.get(path)?;
        if self.standing().set_up == *set_up && !path.states.is_empty() {
            return Some(Rc::clone(path.last()));
        }
        let edits = self.belief().suspects().edits(suspect, point.ohms);
        let branches = self.belief().network().enter(&edits, path.last().memory(), set_up).ok()?;
        branches.into_iter().next().map(|b| Rc::new(b.state))
    }

    /// Whether two predictions could not be told apart by one reading.
    fn alike(&self, a: &Predicted, b: &Predicted) -> bool {
        match (a, b) {
            (
                Predicted::Number { mean: x, unsteady: ux, floating: fx },
                Predicted::Number { mean: y, unsteady: uy, floating: fy },
            ) => {
                let spread = |v: f64, f: bool| self.belief().noise().spread(v, meter_sigma(v), f);
                ux == uy && (x - y).abs() < 3.0 * spread(*x, *fx).max(spread(*y, *fy))
            }
            (Predicted::Words(x), Predicted::Words(y)) => top(x) == top(y),
            (Predicted::Number { .. }, Predicted::Words(_))
            | (Predicted::Words(_), Predicted::Number { .. }) => false,
        }
    }
}

/// The likeliest word.
fn top(shares: &[f64]) -> Option<usize> {
    (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]))
}
