//! Where something switches: a fault whose size lies just where a relay begins to chatter, and a supply too low to pull one in.

use halfsplit::belief::Probe;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Diagnosis, System, load_answers};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use halfsplit::units::Ohms;
use std::path::Path;

fn system(install: &str) -> System {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(install).join("install.yaml");
    let source = Source::new(path.display().to_string(), std::fs::read_to_string(path).unwrap());
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).expect("a complete install")
}

/// The job with this complaint and these readings, all of them entered.
fn told<'n>(system: &'n System, network: &'n Network<'n>, text: &str) -> Diagnosis<'n> {
    let source = Source::new("job.yaml", text);
    let answers = load_answers(&source, system, &system.instruments()).unwrap_or_else(|r| panic!("{r:?}"));
    let mut job = Diagnosis::begin(system, network, system.instruments(), answers.complaint, 1).unwrap();
    for given in answers.given {
        job.answer(given.test, given.answer);
    }
    job
}

#[test]
fn a_joint_just_below_where_the_relay_chatters_is_not_ruled_out() {
    let system = system("sprayer");
    let network = Network::new(&system.circuit.netlist);
    let suspect = system.suspects.single("feed/4.b", "corroded").expect("a joint");
    let fault = system.fault("feed/4.b", "corroded").expect("a joint");
    let effect = &system.suspects.faults()[fault].effect;
    let complaint = "complaint: {what: [left lamp], how: dim, with: {S5: on}, seen: no}\nreadings:\n";
    let pairs = ["red: battery.+, black: battery.-", "red: power socket.plus.in, black: power socket.minus.in"];
    let line = |pair: &str, volts: f64| format!("  - {{with: {{S5: on}}, {pair}, reads: {volts:.3} V}}\n");
    let blank: String = pairs.iter().map(|pair| line(pair, 0.0)).collect();
    let source = Source::new("job.yaml", format!("{complaint}{blank}"));
    let given = load_answers(&source, &system, &system.instruments()).unwrap_or_else(|r| panic!("{r:?}")).given;
    let mut steady = 0;
    for step in 0..24 {
        let ohms = Ohms::new(2.3 + 0.05 * f64::from(step));
        let state =
            network.enter(&effect.edits(ohms), &network.fresh(), &given[0].test.set_up).unwrap().remove(0).state;
        if !state.chatter().is_empty() {
            continue;
        }
        let mut text = complaint.to_owned();
        for (pair, given) in pairs.iter().zip(&given) {
            let Probe::Volts { red, black, .. } = given.test.probe else { panic!("volts") };
            text += &line(pair, state.voltage(red, black).expect("joined points").get());
        }
        let job = told(&system, &network, &text);
        let best = job.posterior().best_log_likelihood();
        let own = job.posterior().log_likelihood[suspect];
        assert!(own > best - 5.0, "{ohms:?}: {own} beside {best}");
        steady += 1;
    }
    assert!((2..24).contains(&steady), "the border lies within: {steady} of 24 are steady");
}

#[test]
fn a_relay_that_a_low_alternator_leaves_open_is_not_at_fault() {
    let system = system("van");
    let network = Network::new(&system.circuit.netlist);
    // The starter battery is flat; the alternator gives 12.9 V, too little for the split relay to join the batteries.
    let text = "complaint: {what: [charge lamp], how: dim, with: {key: on}, seen: no}
readings:
  - {with: {key: on}, red: split relay.A, black: split relay.31, reads: 11.13 V}
  - {with: {key: on}, red: split relay.A, black: split relay.B, reads: -1.44 V}
  - {with: {key: on, engine alternator: fast}, red: split relay.A, black: starter battery.-, reads: 12.87 V}
  - {with: {key: on, engine alternator: fast}, red: split relay.B, black: starter battery.-, reads: 12.48 V}
  - {with: {key: on, engine alternator: fast}, red: split relay.A, black: split relay.B, reads: 0.415 V}
  - {with: {key: on, engine alternator: idle}, red: split relay.A, black: starter battery.-, reads: 12.87 V}
  - {with: {key: on, engine alternator: idle}, red: split relay.B, black: starter battery.-, reads: 12.46 V}
";
    let job = told(&system, &network, text);
    let share = |part: &str, mode: &str| {
        let suspect = system.suspects.single(part, mode).unwrap_or_else(|| panic!("no {part} {mode}"));
        job.posterior().share(job.belief().suspects().list()[suspect].group)
    };
    let (flat, relay) = (share("starter battery", "flat"), share("split relay", "does-not-join"));
    assert!(flat > 1.5 * relay, "flat {flat}, does not join {relay}");
}
