//! The hidden states of a campaign: visited one after the other, or drawn by prior.

use super::Faults;
use super::offered::Readings;
use super::scene::Scene;
use crate::bench::{Change, Draws, Grievance, Hidden};
use crate::circuit::Circuit;
use crate::job::System;
use crate::knowledge::Origin;
use fastrand::Rng;

/// Trials of a noisy campaign when nothing else is said.
const TRIALS: usize = 200;
/// Hidden states that are drawn for each trial before a campaign gives up: most of them would cause no complaint.
const DRAWS_PER_TRIAL: usize = 50;

/// Of trials with one fault, if nothing else is said, one in so many has the habits of `baseline` played beside it; and so many
/// at least.
const BESIDE_SHARE: usize = 10;
const BESIDE_LEAST: usize = 5;

/// A trial to be played.
pub(super) struct Case {
    pub(super) hidden: Hidden,
    pub(super) grievance: Grievance,
    pub(super) draws: Draws,
    pub(super) seed: u64,
    /// The habits of `baseline` are played too.
    pub(super) beside: bool,
}

/// The cases of a campaign, and what was left aside.
pub(super) struct Drawn {
    pub(super) cases: Vec<Case>,
    pub(super) considered: usize,
    pub(super) detected: f64,
    pub(super) unnoticed: Vec<Hidden>,
}

/// The cases of a campaign's plan.
pub(super) fn cases(scene: &Scene<'_>, system: &System) -> Drawn {
    let mut drawn = all(scene, system);
    let count = drawn.cases.len();
    let beside = match scene.plan.baselines {
        Some(beside) => beside,
        None if scene.plan.faults == Faults::Single => (count / BESIDE_SHARE).max(BESIDE_LEAST),
        None => 0,
    };
    let mut order: Vec<usize> = (0..count).collect();
    Rng::with_seed(scene.plan.seed).shuffle(&mut order);
    for chosen in order.into_iter().take(beside) {
        drawn.cases[chosen].beside = true;
    }
    drawn
}

fn all(scene: &Scene<'_>, system: &System) -> Drawn {
    let circuit = &system.circuit;
    match scene.plan.faults {
        Faults::Single if !scene.plan.noise => visited(scene, circuit, Origin::Wear),
        Faults::Wiring if !scene.plan.noise => visited(scene, circuit, Origin::Mistake),
        _ => drawn(scene, system),
    }
}

/// Every single fault at every severity, or as many as the plan says, spread evenly over their weights.
fn visited(scene: &Scene<'_>, circuit: &Circuit, origin: Origin) -> Drawn {
    let all = Hidden::every(scene.possible, origin);
    let total: f64 = all.iter().map(|h| h.weight).sum();
    let (mut noticed, mut unnoticed) = (Vec::new(), Vec::new());
    let considered = all.len();
    for hidden in all {
        match scene.grievance(circuit, &hidden, &Draws::none()) {
            Some(grievance) => noticed.push((hidden, grievance)),
            None => unnoticed.push(hidden),
        }
    }
    let weight: f64 = noticed.iter().map(|(h, _)| h.weight).sum();
    let seed = scene.plan.seed;
    let case = |(hidden, grievance): (Hidden, Grievance)| Case {
        hidden,
        grievance,
        draws: Draws::none(),
        seed,
        beside: false,
    };
    let cases = match scene.plan.trials {
        Some(trials) if trials < noticed.len() => {
            spread(&noticed, weight, trials, seed).into_iter().map(case).collect()
        }
        _ => noticed.into_iter().map(case).collect(),
    };
    Drawn { cases, considered, detected: weight / total.max(f64::MIN_POSITIVE), unnoticed }
}

/// States drawn by prior, until there are enough that somebody would complain of.
fn drawn(scene: &Scene<'_>, system: &System) -> Drawn {
    let (plan, circuit) = (scene.plan, &system.circuit);
    let readings = (plan.faults == Faults::Altered).then(|| Readings::new(scene, system));
    let trials = plan.trials.unwrap_or(TRIALS);
    let mut rng = Rng::with_seed(plan.seed);
    let mut drawn = Drawn { cases: Vec::new(), considered: 0, detected: 0.0, unnoticed: Vec::new() };
    while drawn.cases.len() < trials && drawn.considered < DRAWS_PER_TRIAL * trials {
        // Each state has its own generator, so that the next one does not hang on what this one has drawn.
        let seed = rng.u64(..);
        let mut own = Rng::with_seed(seed);
        let hidden = match plan.faults {
            Faults::Single => Hidden::draw(scene.possible, 1, Origin::Wear, &mut own),
            Faults::Wiring => Hidden::draw(scene.possible, 1, Origin::Mistake, &mut own),
            Faults::Pair => Hidden::draw(scene.possible, 2, Origin::Wear, &mut own),
            Faults::Altered => Change::draw(circuit, scene.install, &mut own).map(Hidden::change),
            Faults::None => Some(Hidden::nothing()),
        };
        let hidden = match (hidden, plan.faults) {
            (Some(hidden), _) => hidden,
            // There was no place for what was drawn; another one is.
            (None, Faults::Altered) => {
                drawn.considered += 1;
                continue;
            }
            (None, _) => break,
        };
        let draws = if plan.noise {
            Draws::new(circuit, scene.install.nominal, plan.tolerance_scale, &mut own)
        } else {
            Draws::none()
        };
        drawn.considered += 1;
        let grievance = match plan.faults {
            Faults::None => scene.uses.mistaken(circuit, scene.install, own.usize(0..1024)),
            Faults::Single | Faults::Wiring | Faults::Pair => scene.grievance(circuit, &hidden, &draws),
            Faults::Altered => scene
                .grievance(circuit, &hidden, &draws)
                .filter(|_| readings.as_ref().is_some_and(|well| well.moved_by(scene, circuit, &hidden))),
        };
        match grievance {
            Some(grievance) => drawn.cases.push(Case { hidden, grievance, draws, seed: own.u64(..), beside: false }),
            None => drawn.unnoticed.push(hidden),
        }
    }
    drawn.detected = drawn.cases.len() as f64 / drawn.considered.max(1) as f64;
    drawn
}

/// `count` of a list, evenly over its weights from a random start on; each then counts the same.
fn spread(list: &[(Hidden, Grievance)], total: f64, count: usize, seed: u64) -> Vec<(Hidden, Grievance)> {
    let start = Rng::with_seed(seed).f64();
    let weights: Vec<f64> = list.iter().map(|(hidden, _)| hidden.weight).collect();
    let chosen = evenly(&weights, total, count, start).into_iter().map(|k| list[k].clone());
    chosen.map(|(hidden, grievance)| (Hidden { weight: 1.0, ..hidden }, grievance)).collect()
}

/// `count` positions of a list, evenly over its weights, the first at the share `start` of a step; what weighs more than a step
/// comes more than once.
pub(super) fn evenly(weights: &[f64], total: f64, count: usize, start: f64) -> Vec<usize> {
    let step = total / count.max(1) as f64;
    let mut next = step * start;
    let mut sum = 0.0;
    let mut chosen = Vec::new();
    for (position, weight) in weights.iter().enumerate() {
        sum += weight;
        while next < sum && chosen.len() < count {
            chosen.push(position);
            next += step;
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::evenly;

    // By hand: the marks stand at 0.5, 1.5, 2.5 and 3.5 of a total of 4.
    #[test]
    fn what_weighs_more_is_chosen_more_often() {
        assert_eq!(evenly(&[1.0, 0.2, 2.4, 0.4], 4.0, 4, 0.5), [0, 2, 2, 2]);
        assert_eq!(evenly(&[0.0, 4.0], 4.0, 2, 0.0), [1, 1]);
    }
}
