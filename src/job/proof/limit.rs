//! How far a reading may be from that of a good circuit: the tolerances of its parts, the meter, the supplies as they were
//! found; and what a handbook allows of a joint.

use super::{Proof, Proves};
use crate::belief::{Answer, Predicted, Probe, Reading};
use crate::choice::{Hypothesis, Test};
use crate::job::{Diagnosis, meter_sigma};
use crate::knowledge::{DropLimit, Role};
use crate::network::Operating;
use std::rc::Rc;

/// Between what a reading proves.
#[derive(Clone, Debug, PartialEq)]
pub enum Limit {
    /// Volts that may be lost at most.
    AtMost {
        /// The limit in volts, to the hundredth.
        volts: f64,
        /// The current that flows there, in amps.
        amps: f64,
        /// The rule of a handbook, where that one is the tighter and decides.
        rule: Option<DropLimit>,
    },
    /// Volts between which it is right, to the hundredth.
    Between(f64, f64),
}

/// What the healthy circuit shows of a test that has not been taken.
pub(in crate::job) struct Good<'n> {
    /// Its operating point.
    pub(in crate::job) state: Rc<Operating<'n>>,
    /// What is shown, the supplies being as they were found.
    pub(in crate::job) predicted: Predicted,
    /// One sigma of it, the tolerances of the parts and the meter taken together.
    pub(in crate::job) sigma: f64,
}

/// Sigmas by which a good circuit is allowed to be off: one in 400 is further.
const SIGMAS: f64 = 3.0;
/// Sigmas within which a handbook's rule decides: a good circuit of the parts described would break it once in 40.
const WITHIN: f64 = 2.0;

impl<'n> Diagnosis<'n> {
    /// What the healthy circuit shows of a test that is taken now.
    pub(in crate::job) fn good(&self, test: &Test) -> Option<Good<'n>> {
        let present = self.standing().set_up == test.set_up;
        let (belief, probe) = (self.belief(), &test.probe);
        let (suspect, s) = belief.suspects().list().enumerate().next()?;
        let healthy = Hypothesis { suspect, group: s.group, point: 0, path: 0, weight: 1.0 };
        let state = self.foresight().state(belief, &healthy, &test.set_up, present)?;
        let predicted = self.foresight().predict(belief, &healthy, &state, probe)?;
        let outlook = belief.best_outlook(self.posterior());
        let reading = Reading { probe, state: &state, place: belief.next_place(present) };
        let predicted = belief.follow_supplies(&outlook, &reading, predicted);
        let parts = belief.spread_when_well(&outlook, &reading, &predicted);
        let sigma = match predicted {
            Predicted::Number { mean, floating, .. } => parts.hypot(belief.noise().spread(meter_sigma(mean), floating)),
            Predicted::Words(_) => 0.0,
        };
        Some(Good { state, predicted, sigma })
    }

    /// The limit of a proof that is read in volts; one that is looked at has none.
    pub fn limit(&self, proof: &Proof) -> Option<Limit> {
        if !matches!(proof.test.probe, Probe::Volts { .. }) {
            return None;
        }
        let good = self.good(&proof.test)?;
        let Predicted::Number { mean, .. } = good.predicted else { return None };
        let Proves::Carries { part, element, run } = &proof.proves else {
            return Some(Limit::Between(down(mean - SIGMAS * good.sigma), up(mean + SIGMAS * good.sigma)));
        };
        let mean = mean.abs();
        let computed = up(mean + SIGMAS * good.sigma);
        let install = &self.system().install;
        let role = if *run { Role::Conductor } else { install.knowledge.kinds[install.parts[*part].kind].role };
        let rule = install.knowledge.drop_limit(role);
        let rule = rule.filter(|rule| rule.volts < computed && mean + WITHIN * good.sigma <= rule.volts).cloned();
        let volts = rule.as_ref().map_or(computed, |rule| rule.volts);
        Some(Limit::AtMost { volts, amps: good.state.current(*element).get().abs(), rule })
    }

    /// Whether an answer is that of a good circuit.
    pub(super) fn is_right(&self, proof: &Proof, answer: &Answer) -> bool {
        let within = |low: f64, high: f64| match self.limit(proof) {
            Some(Limit::AtMost { volts, .. }) => low.abs().max(high.abs()) <= volts + ROUNDING,
            Some(Limit::Between(least, most)) => low >= least - ROUNDING && high <= most + ROUNDING,
            None => false,
        };
        match answer {
            Answer::Number { value, .. } => within(*value, *value),
            Answer::Between(low, high) => within(*low, *high),
            Answer::Unsteady | Answer::NotTaken => false,
            Answer::Word(word) => match self.good(&proof.test).map(|good| good.predicted) {
                Some(Predicted::Words(shares)) => {
                    shares.get(*word).is_some_and(|own| shares.iter().all(|share| share <= own))
                }
                _ => false,
            },
        }
    }
}

/// Far below the last digit of a limit.
const ROUNDING: f64 = 1e-6;

/// To the next hundredth of a volt above.
fn up(volts: f64) -> f64 {
    (volts * 100.0 - ROUNDING).ceil() / 100.0
}

fn down(volts: f64) -> f64 {
    (volts * 100.0 + ROUNDING).floor() / 100.0
}
