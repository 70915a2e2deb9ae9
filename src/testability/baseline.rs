//! The trade's own ways of choosing the next test, played by the rules of the engine's jobs: what they cost on the same trials.
//!
//! Everything but the free choice of the next test is the engine's: what is seen for nothing, the posterior, when it stops, what
//! it has confirmed, and what a test costs (`Diagnosis::next_by`). Both rules read along the current: from the supply to the
//! load that was complained of and back to the minus, and then along the current of each coil whose contact lies on that way.
//! A point is read against the minus at its own place where there is one, else against that of the supply. When no reading of
//! these is left that a rule would take, and the verdict is still open, the engine's choice stands in.

use super::mark::Mark;
use super::trial::Trial;
use crate::belief::Probe;
use crate::choice::{Target, Test};
use crate::circuit::NodeId;
use crate::job::{Diagnosis, Trace};

/// Share of the prior that the heaviest outcome of a reading keeps together, above which half-split does not take it.
const TELLS_NOTHING: f64 = 0.999;

/// A way of choosing the next test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Habit {
    /// The reading along the current whose heaviest outcome keeps least of the prior of all that is not ruled out together,
    /// whatever it costs.
    HalfSplit,
    /// One reading after the other along the current, never skipping.
    Sequential,
}

/// What a habit came to in a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habitual {
    /// Minutes up to the verdict.
    pub minutes: f64,
    /// Tests up to the verdict.
    pub tests: usize,
    /// Tests that the engine chose because the habit had none left.
    pub left_to_engine: usize,
    /// What the verdict was worth.
    pub mark: Mark,
}

/// What was played beside a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beside {
    /// Half-split.
    pub half_split: Habitual,
    /// From supply to earth.
    pub sequential: Habitual,
    /// Entropy of the repair once the complaint is known, in bits.
    pub bits: f64,
    /// The most outcomes that a test has then.
    pub outcomes: usize,
}

/// Means over the trials beside which the habits were played, each counted by its weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Baselines {
    /// How many trials.
    pub trials: usize,
    /// The engine's own minutes, half-split's, and those from supply to earth.
    pub minutes: [f64; 3],
    /// Their tests.
    pub tests: [f64; 3],
    /// The share of right verdicts of each.
    pub right: [f64; 3],
    /// Share of the tests of half-split, and of supply to earth, that the engine chose.
    pub left_to_engine: [f64; 2],
    /// The number of tests that no choice can stay below on average: `H(repair | complaint) / log2 D`, with `D` the most outcomes
    /// of any offered test (`Diagnosis::most_outcomes`), since a test with `D` outcomes tells at most `log2 D` bits (Shannon
    /// 1948). Each complaint has its own; readings are taken as exact, and to name the repair as the end, so that what cannot be
    /// told apart makes the true bound lower.
    pub entropy_bound_tests: f64,
}

impl Habit {
    /// What the habit takes next; `None` where its readings are used up.
    pub(super) fn choose(self, job: &Diagnosis<'_>, way: &[Test]) -> Option<Test> {
        let untaken = job.untaken(&job.complaint().set_up);
        let mut left = way.iter().filter(|test| untaken.contains(test)).cloned();
        match self {
            Self::Sequential => left.next(),
            Self::HalfSplit => {
                let tests: Vec<Test> = left.collect();
                let division = job.division(&tests);
                let heaviest = tests.into_iter().enumerate().map(|(k, test)| (division.heaviest(k), test));
                let best = heaviest.reduce(|best, next| if next.0 < best.0 { next } else { best });
                best.filter(|(share, _)| *share < TELLS_NOTHING).map(|(_, test)| test)
            }
        }
    }
}

/// The readings along the current of what is complained of, in its order. Empty where no current is to be followed.
pub(super) fn way(job: &Diagnosis<'_>) -> Vec<Test> {
    let (system, complaint) = (job.system(), job.complaint());
    let network = job.belief().network();
    let healthy = network.enter(&[], &network.fresh(), &complaint.usual).ok().and_then(|b| b.into_iter().next());
    let part = complaint.wrong().next().and_then(|fact| system.sights.get(fact.sight)).map(|sight| sight.part);
    let (Some(healthy), Some(part)) = (healthy, part) else { return Vec::new() };
    let offered = job.untaken(&complaint.set_up);
    let mut readings: Vec<Test> = Vec::new();
    let minus = system.node(system.reference);
    for node in system.ways_in(&healthy.state, part).iter().flat_map(nodes).filter(|node| *node != minus) {
        if let Some(test) = reading(job, &offered, node).filter(|test| !readings.contains(test)) {
            readings.push(test);
        }
    }
    readings
}

/// The nodes along a way, from the supply on.
fn nodes(way: &Trace) -> Vec<NodeId> {
    let steps = way.feed.iter().chain([&way.load]).chain(&way.back);
    let first = way.feed.first().map(|step| step.enter);
    let mut nodes: Vec<NodeId> = first.into_iter().chain(steps.map(|step| step.leave)).collect();
    nodes.dedup();
    nodes
}

/// The offered reading of a node: against a minus at the same place, else against that of the supply.
fn reading(job: &Diagnosis<'_>, offered: &[Test], node: NodeId) -> Option<Test> {
    let system = job.system();
    let minus = system.node(system.reference);
    let at = |test: &&Test, near: bool| match (&test.probe, &test.at) {
        (Probe::Volts { red, black, .. }, Target::Points { red: tip, black: clip }) => {
            let place = |p| system.install.points[p].place;
            // A reading across the part itself is none against a minus.
            let across = system.install.points[*tip].of.map(|(part, _)| part);
            let own = across.is_some() && across == system.install.points[*clip].of.map(|(part, _)| part);
            let local = place(*tip).is_some() && place(*tip) == place(*clip) && !own;
            *red == node && if near { local } else { *black == minus }
        }
        _ => false,
    };
    let find = |near: bool| offered.iter().find(|test| at(test, near)).cloned();
    find(true).or_else(|| find(false))
}

impl Baselines {
    /// `None` where none were played.
    pub(super) fn of(trials: &[Trial]) -> Option<Self> {
        let played: Vec<(&Trial, &Beside)> = trials.iter().filter_map(|t| Some((t, t.beside.as_ref()?))).collect();
        let total: f64 = played.iter().map(|(t, _)| t.weight).sum();
        let mean = |value: &dyn Fn(&Trial, &Beside) -> f64| {
            played.iter().map(|(trial, beside)| trial.weight * value(trial, beside)).sum::<f64>() / total
        };
        let right = |mark: Mark| f64::from(u8::from(mark == Mark::Right));
        let tests = [
            mean(&|t, _| t.tests() as f64),
            mean(&|_, b| b.half_split.tests as f64),
            mean(&|_, b| b.sequential.tests as f64),
        ];
        let share = |left: f64, tests: f64| if tests > 0.0 { left / tests } else { 0.0 };
        (total > 0.0).then(|| Self {
            trials: played.len(),
            minutes: [mean(&|t, _| t.minutes), mean(&|_, b| b.half_split.minutes), mean(&|_, b| b.sequential.minutes)],
            tests,
            right: [
                mean(&|t, _| right(t.mark)),
                mean(&|_, b| right(b.half_split.mark)),
                mean(&|_, b| right(b.sequential.mark)),
            ],
            left_to_engine: [
                share(mean(&|_, b| b.half_split.left_to_engine as f64), tests[1]),
                share(mean(&|_, b| b.sequential.left_to_engine as f64), tests[2]),
            ],
            entropy_bound_tests: mean(&|_, b| bound(b.bits, b.outcomes)),
        })
    }
}

/// Tests that it takes on average to tell `bits` by tests of so many outcomes.
fn bound(bits: f64, outcomes: usize) -> f64 {
    if outcomes > 1 { bits / (outcomes as f64).log2() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::{Habit, bound, way};
    use crate::choice::{Target, Test};
    use crate::circuit::{ControlId, SetUp};
    use crate::document::Source;
    use crate::index::Id;
    use crate::install::load;
    use crate::job::{Diagnosis, System};
    use crate::knowledge::Knowledge;
    use crate::network::Network;

    const SMALL: &str = include_str!("../../tests/cli/small.yaml");

    /// A job on the small install, whose lamp is dark with its switch on.
    fn with_job(check: impl Fn(&System, &Diagnosis<'_>)) {
        let (install, _) = load(&Source::new("small.yaml", SMALL), &Knowledge::built_in()).unwrap();
        let system = System::new(install).unwrap();
        let network = Network::new(&system.circuit.netlist);
        let on = SetUp::at_rest(&system.circuit.netlist.controls).with(ControlId::new(0), 1);
        let lamp = system.part("lamp").and_then(|part| system.sight(part)).unwrap();
        let dark = system.words(lamp).unwrap().words.iter().position(|word| word.key == "dark").unwrap();
        let complaint = system.seen_wrong(lamp, dark, on);
        let job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1).unwrap();
        check(&system, &job);
    }

    fn red(system: &System, test: &Test) -> String {
        match test.at {
            Target::Points { red, .. } => system.install.points[red].name.clone(),
            Target::Part(_) => String::new(),
        }
    }

    #[test]
    fn the_way_is_followed_from_the_supply_to_the_minus_and_then_through_the_coil() {
        with_job(|system, job| {
            let way = way(job);
            let names: Vec<String> = way.iter().map(|test| red(system, test)).collect();
            // By hand from the file: the bus is terminal 30 and the switch's feed too, terminal 85 is the body.
            let load = ["battery.+", "F1.in", "K1.30", "K1.87", "lamp.feed", "lamp.return", "body", "body, bare metal"];
            assert_eq!(names, [&load[..], &["S1.out", "K1.86"]].concat());
            assert_eq!(Habit::Sequential.choose(job, &way).as_ref(), way.first());
            assert_eq!(Habit::Sequential.choose(job, &way[2..]).as_ref(), way.get(2));
            assert_eq!(Habit::Sequential.choose(job, &[]), None);
        });
    }

    #[test]
    fn half_split_takes_the_reading_that_keeps_least_together() {
        with_job(|_, job| {
            let way = way(job);
            let chosen = Habit::HalfSplit.choose(job, &way).unwrap();
            let division = job.division(&way);
            let shares: Vec<f64> = (0..way.len()).map(|k| division.heaviest(k)).collect();
            let position = way.iter().position(|test| *test == chosen).unwrap();
            assert!(shares.iter().all(|share| *share >= shares[position]), "{shares:?} {position}");
            assert_eq!(Habit::HalfSplit.choose(job, &[]), None);
        });
    }

    #[test]
    fn the_least_number_of_tests_is_the_entropy_over_that_of_a_test() {
        // By hand: eight equal repairs are 3 bits, which three tests of two outcomes tell, and one and a half of four.
        assert!((bound(3.0, 2) - 3.0).abs() < 1e-12);
        assert!((bound(3.0, 4) - 1.5).abs() < 1e-12);
        assert!(bound(0.0, 1).abs() < 1e-12);
    }
}
