//! Suspects that are not solved because no reading can tell them from a good circuit: solving each of them says the same.

use crate::cli::boards::system;
use crate::support::complaint::first_load_dead;
use halfsplit::belief::{Answer, Observation, Predicted, Probe, predict};
use halfsplit::choice::{Instruments, Test};
use halfsplit::circuit::SetUp;
use halfsplit::job::{Diagnosis, Next, System};
use halfsplit::network::Network;
use halfsplit::units::Ohms;

/// Predictions that a meter cannot tell apart, in volts.
const SAME: f64 = 2e-3;

fn same(a: &Predicted, b: &Predicted) -> bool {
    match (a, b) {
        (
            Predicted::Number { mean: x, floating: fx, jumps: jx },
            Predicted::Number { mean: y, floating: fy, jumps: jy },
        ) => fx == fy && (jx - jy).abs() < 1e-6 && (x - y).abs() < SAME,
        (Predicted::Words(x), Predicted::Words(y)) => x.iter().zip(y).all(|(p, q)| (p - q).abs() < 1e-3),
        (Predicted::Number { .. }, Predicted::Words(_)) | (Predicted::Words(_), Predicted::Number { .. }) => false,
    }
}

/// What the circuit shows with the wire to the first load broken.
fn broken(system: &System, network: &Network<'_>, test: &Test) -> Answer {
    let fault = system.fault("way 1/2", "broken").expect("a wire breaks");
    let hidden = system.suspects.faults()[fault].effect.edits(Ohms::ZERO);
    let state = network.enter(&hidden, &network.fresh(), &test.set_up).unwrap().remove(0).state;
    match predict(network, &system.senses, &state, &test.probe, |e| state.state(e)) {
        Predicted::Number { mean, .. } => Answer::Number { value: mean, sigma: 0.02 },
        Predicted::Words(shares) => {
            let likeliest = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap();
            Answer::Word(likeliest)
        }
    }
}

#[test]
fn what_is_left_unsolved_reads_as_a_good_circuit_does() {
    let system = system(8);
    let network = Network::new(&system.circuit.netlist);
    assert!(asleep_as_solved(&system, &network, false) > 300);
}

#[test]
fn neither_does_a_lamp_wake_what_it_cannot_reach() {
    let system = system(20);
    let network = Network::in_parts(&system.circuit.netlist);
    assert!(asleep_as_solved(&system, &network, true) > 300);
}

#[test]
fn a_job_is_the_same_whether_its_circuit_is_solved_whole_or_in_parts() {
    let system = system(14);
    let netlist = &system.circuit.netlist;
    let (parts, whole) = (Network::in_parts(netlist), Network::whole(netlist));
    // With a lamp fewer suspects are woken in parts, and so fewer pairs of them are looked at. In which state a circuit that
    // chatters is left hangs on what was asked of its network before, solved whole as well: that is what the two may differ by.
    let instruments = Instruments { test_lamp: None, ..system.instruments() };
    let begin = |network| Diagnosis::begin(&system, network, instruments.clone(), first_load_dead(&system), 1).unwrap();
    let (mut one, mut other) = (begin(&parts), begin(&whole));
    let singles = system.suspects.list().len();
    for _ in 0..8 {
        let (Next::Take(next), Next::Take(same)) = (one.next(), other.next()) else { break };
        assert_eq!(next.test, same.test);
        assert!((next.bits - same.bits).abs() < 1e-3, "{} and {} bits", next.bits, same.bits);
        let answer = broken(&system, &whole, &next.test);
        one.answer(next.test.clone(), answer.clone());
        other.answer(same.test.clone(), answer);
        for id in system.suspects.list().ids().take(singles) {
            let (p, q) = (one.posterior().probability[id], other.posterior().probability[id]);
            assert!((p - q).abs() < 1e-3, "{id:?} of {singles}: {p} and {q} after {:?}", next.test.probe);
        }
    }
    assert_eq!(one.posterior().groups.first().map(|g| g.0), other.posterior().groups.first().map(|g| g.0));
}

/// How many suspects were left unsolved in a job, each of which was solved here and reads as a good circuit does; `lamp`: with a
/// test lamp between questions.
fn asleep_as_solved<'n>(system: &'n System, network: &'n Network<'n>, lamp: bool) -> usize {
    let whole = Network::whole(network.netlist());
    let mut job = Diagnosis::begin(system, network, system.instruments(), first_load_dead(system), 1).unwrap();
    let mut asleep = 0;
    for round in 0..4 {
        let Next::Take(next) = job.next() else { break };
        let mut test = next.test;
        if lamp && round % 2 == 1 {
            let mut lamps = job.untaken(&test.set_up);
            lamps.retain(|test| matches!(test.probe, Probe::Light { .. }));
            test = lamps.swap_remove((7 * round) % lamps.len());
        }
        let answer = broken(system, network, &test);
        job.answer(test, answer);
        let network = &whole;
        let evidence = job.evidence();
        let rest = SetUp::at_rest(&network.netlist().controls);
        let shown = |edits: &[_]| -> Vec<Predicted> {
            let at_rest = network.enter(edits, &network.fresh(), &rest).unwrap().remove(0).state;
            let of = |observation: &Observation| {
                let set_up = &evidence.stays[observation.stay];
                let state = network.enter(edits, &network.fresh(), set_up).unwrap().remove(0).state;
                predict(network, &system.senses, &state, &observation.probe, |e| at_rest.state(e))
            };
            evidence.observations.iter().map(of).collect()
        };
        let good = shown(&[]);
        let suspects = job.belief().suspects();
        // In the larger install every third of them is solved.
        for id in job.belief().asleep().step_by(if lamp { 3 } else { 1 }) {
            asleep += 1;
            let ends = suspects.severity(id).map_or(vec![Ohms::ZERO], |s| vec![s.low, s.high]);
            for ohms in ends {
                let faulty = shown(&suspects.edits(id, ohms, &[]));
                for (a, b) in faulty.iter().zip(&good) {
                    assert!(same(a, b), "{:?} at {ohms:?}: {a:?}, not {b:?}", suspects.list()[id].faults);
                }
            }
        }
    }
    asleep
}

/// Eight readings that fit nothing: each is a blunder under whatever is wrong, and so is it under what sleeps, which predicts what a
/// good circuit shows. Nothing may be ruled out for the sake of suspects that were not solved.
#[test]
fn what_is_left_unsolved_is_no_likelier_than_a_good_circuit() {
    let system = system(8);
    let network = Network::new(&system.circuit.netlist);
    let complaint = first_load_dead(&system);
    let set_up = complaint.set_up.clone();
    let mut job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1).unwrap();
    for wild in [-3.1, 7.7, -9.4, 4.9, -6.2, 8.8, -11.3, 5.6] {
        let volts = job.untaken(&set_up).into_iter().find(|test| matches!(test.probe, Probe::Volts { .. }));
        job.answer(volts.expect("volts are offered"), Answer::Number { value: wild, sigma: 0.02 });
    }
    assert!(job.belief().asleep().count() > 100, "{} sleep", job.belief().asleep().count());
    let posterior = job.posterior();
    let asleep = job.belief().asleep().map(|id| posterior.log_likelihood[id]).fold(f64::NEG_INFINITY, f64::max);
    assert!(asleep.is_finite() && asleep < -20.0, "{asleep}");
}
