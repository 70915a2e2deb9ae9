//! What a test should read in a good circuit and what in a bad one, for the person who takes it.

use super::Diagnosis;
use crate::belief::{Predicted, Probe, Reading, predict};
use crate::choice::{Hypothesis, Test, in_play};
use crate::circuit::Move;
use crate::install::PartId;
use crate::knowledge::{Moment, Noticed, Notices};
use crate::network::Operating;
use crate::suspects::SuspectId;

/// What to expect of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct Expect {
    /// In a good circuit.
    pub good: Option<Predicted>,
    /// With one of the likelier suspects that would read otherwise: the reading furthest from a good one.
    pub bad: Option<Predicted>,
    /// What has to be done to parts by hand before it.
    pub moves: Vec<Move>,
    /// Parts that are to run in a good circuit in the test's set-up and of which there is something to beware then.
    pub energised: Vec<PartId>,
    /// What each possible result would leave: a description of the result and the suspects, likeliest first.
    pub outcomes: Vec<(Predicted, Vec<(SuspectId, f64)>)>,
}

impl Expect {
    /// The same without what a good and a bad circuit show.
    #[must_use]
    pub fn silent(&self) -> Self {
        Self { good: None, bad: None, ..self.clone() }
    }
}

/// A bad reading that is shown as an example is at least this share as likely as the likeliest. Common practice.
const LIKELY: f64 = 0.2;

impl Diagnosis<'_> {
    /// What to expect of a test that has not been taken.
    pub fn expect(&self, test: &Test) -> Expect {
        let present = self.standing().set_up == test.set_up;
        let (belief, probe) = (self.belief(), &test.probe);
        let place = belief.next_place(present);
        let healthy = self.good(test);
        let foresee = |h: &Hypothesis| {
            let state = self.foresight().state(belief, h, &test.set_up, present)?;
            let predicted = self.foresight().predict(belief, h, &state, probe)?;
            Some((state, predicted))
        };
        let energised = self.energised_by(test, healthy.as_ref().map(|healthy| &*healthy.state));
        let good = healthy.map(|healthy| healthy.predicted);
        let mut outcomes: Vec<(Predicted, Vec<(SuspectId, f64)>)> = Vec::new();
        for h in in_play(self.belief(), self.posterior()) {
            let Some((state, predicted)) = foresee(&h) else { continue };
            let outlook = belief.outlook(h.suspect, h.point, h.path);
            let reading = Reading { probe, state: &state, place };
            let (predicted, _) = belief.shifted(&outlook, (h.suspect, h.point), &reading, predicted);
            match outcomes.iter_mut().find(|(p, _)| self.alike(probe, p, &predicted)) {
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
        let other = outcomes.iter().filter(|(p, _)| good.as_ref().is_some_and(|good| !self.alike(probe, good, p)));
        let others: Vec<(&Predicted, f64)> = other.map(|(p, list)| (p, mass(list))).collect();
        let least = LIKELY * others.first().map_or(0.0, |(_, mass)| *mass);
        // Of those that are likely the one that nobody could take for good.
        let plain = |p: &Predicted| good.as_ref().map_or(0.0, |good| apart(good, p));
        let bad = others.into_iter().filter(|(_, mass)| *mass >= least).map(|(p, _)| p);
        let bad = bad.rev().max_by(|a, b| plain(a).total_cmp(&plain(b))).cloned();
        Expect { good, bad, moves: self.moves_into(&test.set_up), energised, outcomes }
    }

    /// The parts that are to run while a test is taken. A lamp in the place of what was taken out lets current through: enough for
    /// a coil or a small motor.
    fn energised_by(&self, test: &Test, healthy: Option<&Operating<'_>>) -> Vec<PartId> {
        let lets_through = matches!(test.probe, Probe::Light { .. }) && !test.set_up.by_hand.is_empty();
        let whole = Test { set_up: test.set_up.clone().whole(), ..test.clone() };
        let whole = if lets_through { self.good(&whole) } else { None };
        let state = whole.as_ref().map(|good| &*good.state).or(healthy);
        state.map_or_else(Vec::new, |state| self.energised(state))
    }

    /// The parts that run in a state and of which there is something to beware while they do.
    fn energised(&self, state: &Operating<'_>) -> Vec<PartId> {
        let system = self.system();
        let (install, network) = (&system.install, self.belief().network());
        let mut parts = Vec::new();
        for (number, sight) in system.sights.iter().enumerate().filter(|(_, s)| s.notices == Notices::Work) {
            let keys = &install.knowledge.kinds[install.parts[sight.part].kind].cautions;
            let warned = keys.iter().any(|key| system.is_cautioned(key, Moment::Runs));
            if !warned || parts.contains(&sight.part) {
                continue;
            }
            let seen = predict(network, &system.senses, state, &Probe::Look(number), |e| state.state(e));
            let idle = system.words(number).map(|table| table.most_said(Noticed::Share(0.0)));
            if matches!(&seen, Predicted::Words(shares) if top(shares) != idle) {
                parts.push(sight.part);
            }
        }
        parts
    }

    /// Whether two predictions could not be told apart by one reading.
    fn alike(&self, probe: &Probe, a: &Predicted, b: &Predicted) -> bool {
        match (a, b) {
            (Predicted::Number { mean: x, floating: fx, .. }, Predicted::Number { mean: y, floating: fy, .. }) => {
                let spread = |v: f64, f: bool| self.belief().noise().spread(self.system().sigma(probe, v), f);
                a.steady().is_some() == b.steady().is_some()
                    && (x - y).abs() < 3.0 * spread(*x, *fx).max(spread(*y, *fy))
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

/// By how many volts or amps two numbers differ; words do not differ by more or less.
fn apart(a: &Predicted, b: &Predicted) -> f64 {
    match (a, b) {
        (Predicted::Number { mean: a, .. }, Predicted::Number { mean: b, .. }) => (a - b).abs(),
        _ => 0.0,
    }
}
