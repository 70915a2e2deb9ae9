//! What a reading means for the way of a current: it arrives, nothing arrives, so much is lost on this stretch.

use super::Way;
use super::way::Stretch;
use crate::belief::{Answer, Outlook, Predicted, Probe, Reading};
use crate::job::{Diagnosis, Taken};

/// What one observation means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Means {
    /// It was not taken.
    Nothing,
    /// It is as in a good circuit.
    Right,
    /// It is not.
    Wrong,
    /// All of the voltage arrives at these two points, which stand before and behind the load.
    Arrives,
    /// None of it does.
    Dead,
    /// So many volts are missing there.
    Missing(f64),
    /// Nothing is lost on this stretch, in which no load lies.
    Sound,
    /// So many volts more than in a good circuit are lost on it.
    Loses(f64),
}

/// Share by which a supply may stand off its description before it is a suspect by itself; common practice, no source (a lead-acid
/// battery from full to half empty: 12.7 to 12.1 V).
const SUPPLY_OFF: f64 = 0.1;

/// Standard deviations beyond which a reading is not what was predicted.
pub(super) const APART: f64 = 3.0;

/// Share of the voltage below which nothing is said to arrive; common practice, no source.
const DEAD: f64 = 0.05;

/// Spread of a healthy reading, as a share of it, where its circuit is no longer kept.
const UNKEPT: f64 = 0.05;

impl Diagnosis<'_> {
    /// What an observation (position in `taken`) means. `expected`: what a good circuit would have shown.
    pub(super) fn means(&self, ways: &[Way], position: usize, expected: Option<&Predicted>) -> Means {
        let Some(taken) = self.taken().get(position).filter(|t| t.answer != Answer::NotTaken) else {
            return Means::Nothing;
        };
        let Some(expected) = expected else { return Means::Nothing };
        let right = self.off(taken, expected, self.healthy_spread(position)) <= APART;
        let plain = if right { Means::Right } else { Means::Wrong };
        let (Probe::Volts { red, black, .. }, Some(read)) = (&taken.test.probe, taken.answer.value()) else {
            return plain;
        };
        let Some(mean) = expected.steady() else { return plain };
        // A set-up in which nothing should flow says nothing about the way.
        let mut on_way = ways.iter().filter(|way| way.flows(&taken.test.set_up));
        let Some((stretch, sign)) = on_way.find_map(|way| way.stretch(*red, *black)) else { return plain };
        let (read, mean) = (sign * read, sign * mean);
        match stretch {
            // All of a supply that is itself too low, or too high, is not enough.
            Stretch::Around { .. } if right && self.supply_is_off(position, mean.abs()) => Means::Right,
            Stretch::Around { .. } if right => Means::Arrives,
            Stretch::Around { .. } if mean > 0.0 && read.abs() < DEAD * mean => Means::Dead,
            Stretch::Around { .. } if read < mean => Means::Missing(mean - read),
            Stretch::Around { .. } => Means::Wrong,
            Stretch::Within { .. } if right => Means::Sound,
            Stretch::Within { .. } if read > mean => Means::Loses(read - mean),
            Stretch::Within { .. } => Means::Wrong,
        }
    }

    /// Whether the supply as it was found makes `found` of what the description makes another reading.
    fn supply_is_off(&self, position: usize, found: f64) -> bool {
        let described = || {
            let observation = self.observation(position)?;
            let healthy = self.belief().tracks().iter().next()?;
            match healthy.points.first()?.paths.first()?.predicted.get(observation)? {
                Predicted::Number { mean, .. } => Some(mean.abs()),
                Predicted::Words(_) => None,
            }
        };
        described().is_some_and(|described| (found - described).abs() > SUPPLY_OFF * described)
    }

    /// Standard deviation by the tolerances of its parts of what a good circuit shows for an observation; the supply and the
    /// meter are left aside.
    fn healthy_spread(&self, position: usize) -> f64 {
        let size = || match self.expected(position) {
            Some(Predicted::Number { mean, .. }) => mean.abs(),
            Some(Predicted::Words(_)) | None => 0.0,
        };
        let known = || {
            let observation = self.observation(position)?;
            let evidence = self.evidence();
            let taken = evidence.observations.get(observation)?;
            let (healthy, track) = self.belief().tracks().enumerate().next()?;
            let path = track.points.first()?.paths.first()?;
            let state = path.state(taken.stay)?;
            let reading = Reading { probe: &taken.probe, state, place: (observation, taken.stay) };
            let predicted = path.predicted.get(observation)?.clone();
            let all = self.belief().shifted(&Outlook::default(), (healthy, 0), &reading, predicted).1;
            // What is expected follows the supply as it was found: its own share, with which a reading moves in proportion, is
            // no spread of that any more.
            let supply = self.system().install.knowledge.tolerances.supply_shared * size();
            Some((all.powi(2) - supply.powi(2)).max(0.0).sqrt())
        };
        known().unwrap_or_else(|| UNKEPT * size())
    }

    /// How far what was read lies from what was predicted, in standard deviations; `extra`: what parts add to the meter's own.
    pub(super) fn off(&self, taken: &Taken, predicted: &Predicted, extra: f64) -> f64 {
        let answer = &taken.answer;
        match (answer, predicted) {
            (Answer::Word(word), Predicted::Words(shares)) => {
                let best = shares.iter().copied().fold(0.0, f64::max);
                let share = shares.get(*word).copied().unwrap_or(0.0);
                // The deviation of a Gaussian that is as much rarer than its mean.
                if share <= 0.0 { f64::INFINITY } else { (2.0 * (best / share).ln()).max(0.0).sqrt() }
            }
            (Answer::Unsteady, Predicted::Number { jumps, .. }) if *jumps >= 0.5 => 0.0,
            (Answer::Number { .. } | Answer::Between(..), Predicted::Number { mean, jumps, floating })
                if *jumps < 0.5 =>
            {
                let far = match answer {
                    Answer::Number { value, .. } => (value - mean).abs(),
                    Answer::Between(low, high) => (low - mean).max(mean - high).max(0.0),
                    Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => 0.0,
                };
                far / self
                    .belief()
                    .noise()
                    .spread(self.system().sigma(&taken.test.probe, *mean).hypot(extra), *floating)
            }
            (Answer::NotTaken, _) => 0.0,
            (Answer::Unsteady | Answer::Word(_), _) | (_, Predicted::Words(_) | Predicted::Number { .. }) => {
                f64::INFINITY
            }
        }
    }
}
