//! Random games: skewed priors, unequal costs, places that have to be walked to.

use fastrand::Rng;
use halfsplit::choice::{Table, Ways};
use halfsplit::index::Id;
use halfsplit::suspects::GroupId;
use std::collections::BTreeMap;

/// A game in the plain terms of its making.
pub struct Game {
    pub weights: Vec<f64>,
    pub rows: Vec<Vec<u16>>,
    pub ways: Ways,
}

impl Game {
    pub fn table(&self) -> Table {
        let suspects: Vec<(GroupId, f64)> =
            self.weights.iter().enumerate().map(|(i, w)| (GroupId::new(i), *w)).collect();
        Table::new(&suspects, self.rows.clone(), self.ways.clone()).unwrap()
    }
}

/// A game whose faults lie along a way. Of the tests most tell what lies before a point from what lies behind it, as readings
/// do, some show one fault alone, as looks do, some are of chance; each may have a third outcome. Weights are log-uniform over
/// a factor of 100, a test takes 0.3 to 6 minutes, and there are four places, 0.5 to 8 minutes from everywhere else.
pub fn game(seed: u64, faults: usize, tests: usize) -> Game {
    let mut rng = Rng::with_seed(seed);
    let log = |rng: &mut Rng, low: f64, high: f64| low * (high / low).powf(rng.f64());
    let weights: Vec<f64> = (0..faults).map(|_| log(&mut rng, 0.01, 1.0)).collect();
    let places: Vec<f64> = (0..4).map(|_| log(&mut rng, 0.5, 8.0)).collect();
    let mut rows: Vec<Vec<u16>> = Vec::new();
    let (mut at, mut handling) = (Vec::new(), Vec::new());
    for _ in 0..tests {
        let cut = rng.usize(1..faults);
        let one = rng.usize(0..faults);
        let kind = rng.f64();
        let mut row: Vec<u16> = (0..faults)
            .map(|fault| {
                let hit = if kind < 0.6 {
                    fault >= cut
                } else if kind < 0.8 {
                    fault == one
                } else {
                    rng.bool()
                };
                u16::from(hit)
            })
            .collect();
        if rng.f64() < 0.3 {
            row[rng.usize(0..faults)] = 2;
        }
        rows.push(row);
        at.push(rng.usize(0..places.len()));
        handling.push(log(&mut rng, 0.3, 6.0));
    }
    // Standing 0 is outside, the others are the places.
    let minutes = |standing: usize, test: usize| {
        let walk = if standing == at[test] + 1 { 0.0 } else { places[at[test]] };
        walk + handling[test]
    };
    let ways = Ways {
        minutes: (0..=places.len()).map(|s| (0..tests).map(|t| minutes(s, t)).collect()).collect(),
        after: vec![at.iter().map(|place| place + 1).collect(); places.len() + 1],
    };
    Game { weights, rows, ways }
}

/// The least mean minutes by trying every order of tests, with nothing remembered and nothing left out.
pub fn brute(game: &Game, left: &[usize], standing: usize) -> f64 {
    // Suspects that all tests show alike are one answer.
    let shows = |s: &usize| -> Vec<u16> { game.rows.iter().map(|row| row[*s]).collect() };
    if left.iter().all(|s| shows(s) == shows(&left[0])) {
        return 0.0;
    }
    let total: f64 = left.iter().map(|s| game.weights[*s]).sum();
    let mut best = f64::INFINITY;
    for (test, row) in game.rows.iter().enumerate() {
        let mut parts: BTreeMap<u16, Vec<usize>> = BTreeMap::new();
        for s in left {
            parts.entry(row[*s]).or_default().push(*s);
        }
        if parts.len() > 1 {
            let rest = |part: &Vec<usize>| {
                let share = part.iter().map(|s| game.weights[*s]).sum::<f64>() / total;
                share * brute(game, part, game.ways.after[standing][test])
            };
            best = best.min(game.ways.minutes[standing][test] + parts.values().map(rest).sum::<f64>());
        }
    }
    best
}
