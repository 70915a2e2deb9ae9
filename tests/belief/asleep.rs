//! Suspects that are not solved because no reading can tell them from a good circuit: solving each of them says the same.

use crate::cli::boards::generator;
use crate::support::complaint::first_load_dead;
use halfsplit::belief::{Answer, Observation, Predicted, Probe, predict};
use halfsplit::circuit::SetUp;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Diagnosis, Next, System};
use halfsplit::knowledge::Knowledge;
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

#[test]
fn what_is_left_unsolved_reads_as_a_good_circuit_does() {
    let source = Source::new("boards.yaml", generator::install(8));
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).expect("a complete install");
    let network = Network::new(&system.circuit.netlist);
    let complaint = first_load_dead(&system);
    let mut job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1).unwrap();
    // The wire to the load is broken.
    let fault = system.fault("way 1/2", "broken").expect("a wire breaks");
    let hidden = system.suspects.faults()[fault].effect.edits(Ohms::ZERO);
    let mut asleep = 0;
    for _ in 0..4 {
        let Next::Take(next) = job.next() else { break };
        let state = network.enter(&hidden, &network.fresh(), &next.test.set_up).unwrap().remove(0).state;
        let answer = match predict(&network, &system.senses, &state, &next.test.probe, |e| state.state(e)) {
            Predicted::Number { mean, .. } => Answer::Number { value: mean, sigma: 0.02 },
            Predicted::Words(shares) => {
                let likeliest = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap();
                Answer::Word(likeliest)
            }
        };
        job.answer(next.test, answer);
        let evidence = job.evidence();
        let rest = SetUp::at_rest(&network.netlist().controls);
        let shown = |edits: &[_]| -> Vec<Predicted> {
            let at_rest = network.enter(edits, &network.fresh(), &rest).unwrap().remove(0).state;
            let of = |observation: &Observation| {
                let set_up = &evidence.stays[observation.stay];
                let state = network.enter(edits, &network.fresh(), set_up).unwrap().remove(0).state;
                predict(&network, &system.senses, &state, &observation.probe, |e| at_rest.state(e))
            };
            evidence.observations.iter().map(of).collect()
        };
        let good = shown(&[]);
        let suspects = job.belief().suspects();
        for id in job.belief().asleep() {
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
    assert!(asleep > 300, "only {asleep} were left unsolved");
}

/// Eight readings that fit nothing: each is a blunder under whatever is wrong, and so is it under what sleeps, which predicts what a
/// good circuit shows. Nothing may be ruled out for the sake of suspects that were not solved.
#[test]
fn what_is_left_unsolved_is_no_likelier_than_a_good_circuit() {
    let source = Source::new("boards.yaml", generator::install(8));
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).expect("a complete install");
    let network = Network::new(&system.circuit.netlist);
    let mut job = Diagnosis::begin(&system, &network, system.instruments(), first_load_dead(&system), 1).unwrap();
    for wild in [-3.1, 7.7, -9.4, 4.9, -6.2, 8.8, -11.3, 5.6] {
        let volts = job.ranked().into_iter().find(|ranked| matches!(ranked.test.probe, Probe::Volts { .. }));
        job.answer(volts.expect("volts are offered").test, Answer::Number { value: wild, sigma: 0.02 });
    }
    assert!(job.belief().asleep().count() > 100, "{} sleep", job.belief().asleep().count());
    let posterior = job.posterior();
    let asleep = job.belief().asleep().map(|id| posterior.log_likelihood[id]).fold(f64::NEG_INFINITY, f64::max);
    assert!(asleep.is_finite() && asleep < -20.0, "{asleep}");
}
