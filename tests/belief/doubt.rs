//! A job with one wrong reading: it is named, a different one is proposed, and taking it back leaves no trace.

use halfsplit::belief::{Answer, Blunder};
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Answers, Diagnosis, System, load_answers, meter_sigma};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;

const SMALL: &str = include_str!("../cli/small.yaml");
/// The coil of the relay is open; all volts as such a circuit gives them.
const OPEN_COIL: &str = include_str!("../cli/coil-open.yaml");
/// The feed of the relay contact to battery minus, and the look that its coil is silent: positions in that file.
const FEED: usize = 3;

fn volts(value: f64) -> Answer {
    Answer::Number { value, sigma: meter_sigma(value) }
}

fn with<T>(play: impl FnOnce(&mut Diagnosis<'_>, &Answers) -> T) -> T {
    let (install, _) =
        load(&Source::new("small.yaml", SMALL), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).expect("a complete install");
    let answers = load_answers(&Source::new("coil-open.yaml", OPEN_COIL), &system, &system.instruments())
        .unwrap_or_else(|r| panic!("{r:?}"));
    let network = Network::new(&system.circuit.netlist);
    let mut job =
        Diagnosis::begin(&system, &network, system.instruments(), answers.complaint.clone(), 1).expect("a job");
    play(&mut job, &answers)
}

fn take(job: &mut Diagnosis<'_>, answers: &Answers, positions: impl Iterator<Item = usize>) {
    for given in positions.filter_map(|i| answers.given.get(i)) {
        job.answer(given.test.clone(), given.answer.clone());
    }
}

/// All others say that there are 12.6 V at the feed; 3.3 V there fits no single fault, so that it was misread is nearly certain.
#[test]
fn the_reading_that_all_others_contradict_is_in_doubt() {
    with(|job, answers| {
        take(job, answers, 0..FEED);
        let test = answers.given[FEED].test.clone();
        job.answer(test.clone(), volts(3.3));
        let position = job.taken().len() - 1;
        let observation = job.observation(position).expect("it was taken");
        // While it alone speaks against the others, another test is proposed in its place.
        let other = job.stand_in(observation).expect("a test in its place");
        assert!(other.test.probe != test.probe || other.test.set_up != test.set_up, "a repeat: {other:?}");
        take(job, answers, FEED + 1..answers.given.len());
        assert!(job.is_doubtful(position), "{:?}", job.posterior().doubts);
        assert!(!job.is_doubtful(position - 1), "{:?}", job.posterior().doubts);
        let (blunder, share) = job.doubtful().next().expect("a doubt");
        assert_eq!(*blunder, Blunder::Reading(observation));
        assert!(share > 0.5 && share <= 1.0, "{share}");
    });
}

/// Bayes' rule knows no order and no history: the posterior is a function of the readings that stand.
#[test]
fn a_reading_that_was_taken_back_leaves_no_trace() {
    let plain = with(|job, answers| {
        take(job, answers, 0..answers.given.len());
        job.posterior().clone()
    });
    let taken_back = with(|job, answers| {
        take(job, answers, 0..FEED);
        let before = job.posterior().clone();
        job.answer(answers.given[FEED].test.clone(), volts(3.3));
        assert_ne!(*job.posterior(), before);
        job.undo().expect("an answer to take back");
        assert_eq!(*job.posterior(), before);
        take(job, answers, FEED..answers.given.len());
        job.posterior().clone()
    });
    assert_eq!(plain.groups, taken_back.groups);
    // Sets of faults that a wrong reading called for are listed still, and count for nothing.
    assert_eq!(plain.sets, taken_back.sets);
    assert!(plain.probability.iter().zip(taken_back.probability.iter()).all(|(a, b)| a.to_bits() == b.to_bits()));
    assert_eq!(plain.unknown.to_bits(), taken_back.unknown.to_bits());
    assert_eq!(plain.doubts, taken_back.doubts);
}
