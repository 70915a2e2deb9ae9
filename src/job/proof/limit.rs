//! How far a reading may be from that of a good circuit: the tolerances of its parts, the meter, the supplies as they were
//! found; and what a handbook allows of a joint.

use super::{Proof, Proves};
use crate::belief::{Answer, Predicted, Probe, Reading, predict};
use crate::choice::{Hypothesis, Test};
use crate::circuit::{Edit, SetUp};
use crate::job::Diagnosis;
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
            Predicted::Number { mean, floating, .. } => {
                parts.hypot(belief.noise().spread(self.system().sigma(probe, mean), floating))
            }
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
            let (low, high) = self.as_supplies_may_be(&proof.test, mean);
            return Some(Limit::Between(down(low - SIGMAS * good.sigma), up(high + SIGMAS * good.sigma)));
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

    /// The least and the most that a good circuit shows in volts, beside what it shows with the supplies as they were found: since
    /// then a battery may have been charged, or drained by the repair.
    fn as_supplies_may_be(&self, test: &Test, found: f64) -> (f64, f64) {
        let (belief, network) = (self.belief(), self.belief().network());
        let at = |factor: f64| {
            let state =
                network.enter(&self.supplied(factor), &network.fresh(), &test.set_up).ok()?.into_iter().next()?.state;
            predict(network, belief.senses(), &state, &test.probe, |e| state.state(e)).steady()
        };
        let all = [LOWEST, HIGHEST].into_iter().filter_map(at);
        all.fold((found, found), |(low, high), volts| (low.min(volts), high.max(volts)))
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
            Answer::Word(word) => self.is_good_word(&proof.test, *word),
        }
    }

    /// Whether a good circuit shows this word: most often with its supplies as described or as they were found, or often enough
    /// with them as low as they may still be by all that was read. Words are not moved like numbers: a lamp at 11 V is dimmer.
    fn is_good_word(&self, test: &Test, word: usize) -> bool {
        let (belief, network) = (self.belief(), self.belief().network());
        let shown = |factor: f64| {
            let edits = self.supplied(factor);
            let state = network.enter(&edits, &network.fresh(), &test.set_up).ok()?.into_iter().next()?.state;
            match predict(network, belief.senses(), &state, &test.probe, |e| state.state(e)) {
                Predicted::Words(shares) => Some(shares),
                Predicted::Number { .. } => None,
            }
        };
        let share = |shares: &[f64]| shares.get(word).copied().unwrap_or(0.0);
        let top = |shares: Vec<f64>| shares.iter().all(|other| *other <= share(&shares));
        let (found, sigma) = self.supply_found(&test.set_up);
        let low = (found - WITHIN * sigma).clamp(LOWEST, 1.0);
        shown(1.0).is_some_and(top)
            || shown(found).is_some_and(top)
            || shown(low).is_some_and(|shares| share(&shares) >= OFTEN)
    }

    /// How the first supply stands against its description by all that was read, and one sigma of that.
    fn supply_found(&self, set_up: &SetUp) -> (f64, f64) {
        let system = self.system();
        let supplies = system
            .install
            .parts
            .enumerate()
            .filter(|(_, part)| system.install.knowledge.kinds[part.kind].role == Role::Supply);
        for ends in supplies.filter_map(|(part, _)| system.ends(part)) {
            let test = system.volts(&system.instruments(), set_up.clone(), ends, true);
            let Some(good) = test.and_then(|test| self.good(&test)) else { continue };
            let described = good.state.voltage(system.node(ends[0]), system.node(ends[1])).map(|v| v.get().abs());
            if let (Predicted::Number { mean, .. }, Some(described)) = (good.predicted, described.filter(|v| *v > 1.0))
            {
                return (mean / described, good.sigma / described);
            }
        }
        (1.0, 0.0)
    }

    /// All supplies at this share of their volts.
    fn supplied(&self, factor: f64) -> Vec<Edit> {
        let elements = self.belief().network().netlist().elements.enumerate();
        elements.filter_map(|(id, element)| Some(Edit::Replace(id, element.primitive.supplying(factor)?))).collect()
    }
}

/// Share of its volts below which a supply is at fault itself: 10.5 V of a battery that rests at 12.6 V is empty. Common practice.
const LOWEST: f64 = 0.83;
/// The same above: 15.2 V while it is charged in the cold. Common practice.
const HIGHEST: f64 = 1.21;
/// A word that a good circuit shows more seldom is not taken for one of its own.
const OFTEN: f64 = 0.2;

/// Far below the last digit of a limit.
const ROUNDING: f64 = 1e-6;

/// To the next hundredth of a volt above.
fn up(volts: f64) -> f64 {
    (volts * 100.0 - ROUNDING).ceil() / 100.0
}

fn down(volts: f64) -> f64 {
    (volts * 100.0 + ROUNDING).floor() / 100.0
}
