//! What tests would show under the hypotheses in play, as a table of sure outcomes.

use super::cost::{Standing, minutes};
use super::foresight::has_diodes;
use super::in_play::Hypothesis;
use super::rank::Ranking;
use super::table::{Table, Ways};
use super::test::Test;
use crate::belief::{Outlook, Predicted, Reading};
use crate::circuit::ByHand;
use crate::install::{Install, PartId, PlaceId};
use crate::suspects::GroupId;
use std::collections::{BTreeMap, BTreeSet};

/// Readings closer than this many standard deviations of the meter are one outcome.
const SIGMAS: f64 = 3.0;
/// Most places to stand, with what is open and set there, that a table is made of.
const MOST_STANDINGS: usize = 5_000;
/// Outcome of a reading that jumps, and of a hypothesis that has no state in a set-up: apart from all others.
const JUMPS: u16 = u16::MAX - 1;
const NO_STATE: u16 = u16::MAX;

impl Ranking<'_, '_> {
    /// The outcome of each test under each hypothesis, by number: words by the likeliest one, volts and amps in bins that hold what lies
    /// within three standard deviations of the meter above their lowest value.
    pub fn outcomes(&self, hypotheses: &[Hypothesis], tests: &[Test]) -> Vec<Vec<u16>> {
        let diodes = has_diodes(self.belief);
        let outlooks: Vec<_> = hypotheses.iter().map(|h| self.belief.outlook(h.suspect, h.point, h.path)).collect();
        let row = |test: &Test| {
            let present = self.standing.set_up == test.set_up;
            let place = self.belief.next_place(present);
            let of = |(h, outlook): (&Hypothesis, &Outlook)| {
                let state = self.foresight.state(self.belief, h, &test.set_up, present)?;
                let predicted = self.foresight.glance(self.belief, h, &state, &test.probe, diodes)?;
                let reading = Reading { probe: &test.probe, state: &state, place };
                Some(self.belief.glance(outlook, &reading, predicted).0)
            };
            let predicted: Vec<Option<Predicted>> = hypotheses.iter().zip(&outlooks).map(of).collect();
            numbered(&predicted, |value| self.belief.noise().spread(self.accuracy.sigma(&test.probe, value), false))
        };
        tests.iter().map(row).collect()
    }

    /// The game that these hypotheses and tests make, begun where the person stands. `None` where it is too large.
    pub fn table(&self, hypotheses: &[Hypothesis], tests: &[Test], outcomes: Vec<Vec<u16>>) -> Option<Table> {
        let suspects: Vec<(GroupId, f64)> = hypotheses.iter().map(|h| (h.group, h.weight)).collect();
        Table::new(&suspects, outcomes, ways(self.install, self.standing, tests)?)
    }
}

/// Predictions as numbers of outcomes.
fn numbered(predicted: &[Option<Predicted>], sigma: impl Fn(f64) -> f64) -> Vec<u16> {
    let volts = predicted.iter().flatten().filter_map(Predicted::steady);
    let mut values: Vec<f64> = volts.collect();
    values.sort_by(f64::total_cmp);
    let mut bins: Vec<f64> = Vec::new();
    for value in values {
        if bins.last().is_none_or(|low| value - low > SIGMAS * sigma(*low)) {
            bins.push(value);
        }
    }
    let number = |p: &Option<Predicted>| match p {
        None => NO_STATE,
        Some(number @ Predicted::Number { .. }) => {
            number.steady().map_or(JUMPS, |mean| position(bins.partition_point(|low| *low <= mean).saturating_sub(1)))
        }
        Some(Predicted::Words(shares)) => {
            let best = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]).then(b.cmp(a)));
            position(best.unwrap_or(0))
        }
    };
    predicted.iter().map(number).collect()
}

fn position(number: usize) -> u16 {
    u16::try_from(number).unwrap_or(NO_STATE)
}

/// Where one stands, as far as it changes what the next test costs: place, what is open, positions of the controls,
/// what is done by hand.
type Key = (Option<PlaceId>, BTreeSet<PlaceId>, Vec<usize>, Vec<(PartId, ByHand)>);

fn key(standing: &Standing) -> Key {
    let set_up = &standing.set_up;
    (standing.place, standing.opened.clone(), set_up.positions.iter().copied().collect(), set_up.by_hand.clone())
}

/// The minutes of each test wherever tests of the list lead. `None` where there are too many such places.
fn ways(install: &Install, from: &Standing, tests: &[Test]) -> Option<Ways> {
    let mut known: BTreeMap<Key, usize> = BTreeMap::from([(key(from), 0)]);
    let mut standings = vec![from.clone()];
    let mut ways = Ways::default();
    // The list grows while it is gone through.
    while let Some(standing) = standings.get(ways.minutes.len()).cloned() {
        ways.minutes.push(tests.iter().map(|test| minutes(install, &standing, test).get()).collect());
        let mut row = Vec::with_capacity(tests.len());
        for test in tests {
            let mut then = standing.clone();
            then.after(install, test);
            let next = standings.len();
            let number = *known.entry(key(&then)).or_insert(next);
            if number == next {
                standings.push(then);
            }
            row.push(number);
        }
        ways.after.push(row);
        if standings.len() > MOST_STANDINGS {
            return None;
        }
    }
    Some(ways)
}

#[cfg(test)]
mod tests {
    use super::numbered;
    use crate::belief::Predicted;

    #[test]
    fn volts_are_apart_where_the_meter_tells_them_apart() {
        let volts = |mean: f64| Some(Predicted::Number { mean, floating: false, jumps: 0.0 });
        // By hand: 0.1 V a standard deviation, so that a bin is 0.3 V wide: 0 to 0.3, 0.35 to 0.65, 12 to 12.3.
        let shown = [volts(12.0), volts(0.0), volts(0.29), volts(0.35), volts(0.6), volts(12.2)];
        assert_eq!(numbered(&shown, |_| 0.1), [2, 0, 0, 1, 1, 2]);
        let jumps = Some(Predicted::Number { mean: 0.0, floating: false, jumps: 1.0 });
        let words = Some(Predicted::Words(vec![0.1, 0.7, 0.2]));
        let shown = numbered(&[jumps, None, words], |_| 0.1);
        assert!(shown[0] != shown[1] && shown[2] == 1, "{shown:?}");
    }
}
