//! The person at the mock-up: exact, or with a common meter and an error now and then.

use super::{meters, mock_up, same};
use halfsplit::bench::{Draws, MockUp, Person, Said, Uses};
use halfsplit::circuit::{Circuit, NodeId, SetUp};
use halfsplit::document::Source;
use halfsplit::index::Id;
use halfsplit::install::{Install, load};
use halfsplit::knowledge::Knowledge;

const SMALL: &str = include_str!("../cli/small.yaml");

fn small() -> (Install, Circuit) {
    let (install, _) = load(&Source::new("small.yaml", SMALL), &Knowledge::built_in()).unwrap();
    let circuit = Circuit::expand(&install).unwrap();
    (install, circuit)
}

/// The supply's posts: the ends of the first source.
fn posts(circuit: &Circuit) -> (NodeId, NodeId) {
    let source = circuit.netlist.elements.iter().find(|e| e.name.starts_with("battery")).unwrap();
    (source.from, source.to)
}

#[test]
fn an_exact_person_reads_what_is_there() {
    let (_, circuit) = small();
    let (plus, minus) = posts(&circuit);
    let rest = SetUp::at_rest(&circuit.netlist.controls);
    let mut person = Person::exact(&circuit, mock_up(&circuit.netlist, &[]));
    let Ok(Said::Volts(read, _)) = person.volts(&rest, meters().0, plus, minus) else { panic!("no volts") };
    let mut bench = mock_up(&circuit.netlist, &[]);
    bench.enter(&rest).unwrap();
    let volts = bench.volts(plus, minus).unwrap().unwrap();
    // 10 MΩ across a battery of milliohms takes a billionth.
    assert!(same(read, volts), "{read} {volts}");
}

#[test]
fn a_noisy_person_reads_within_the_accuracy_of_the_meter_but_for_blunders() {
    let (install, circuit) = small();
    let (plus, minus) = posts(&circuit);
    let rest = SetUp::at_rest(&circuit.netlist.controls);
    let tolerances = &install.knowledge.tolerances;
    let (mut off, mut all) = (0, 0);
    for seed in 0..300 {
        let bench = MockUp::new(&circuit.netlist, Vec::new(), Draws::none());
        let mut person = Person::noisy(&circuit, bench, tolerances, fastrand::Rng::with_seed(seed));
        let Ok(Said::Volts(read, step)) = person.volts(&rest, meters().0, plus, minus) else { panic!("no volts") };
        let mut bench = mock_up(&circuit.netlist, &[]);
        bench.enter(&rest).unwrap();
        let volts = bench.volts(plus, minus).unwrap().unwrap();
        // knowledge/tolerances.yaml: the meter 0.5 % and two counts, the supply 0.5 % and 0.1 % at one sigma, here four; and
        // the last digit rounded.
        let most = volts * (tolerances.meter_share + 4.0 * (tolerances.supply_own + tolerances.supply_drift))
            + (tolerances.meter_counts + 0.5) * step;
        all += 1;
        off += usize::from((read - volts).abs() > most);
    }
    // 2 % of readings are blunders, and a few of those change nothing: of 300 readings between 0 and 15 (a binomial of mean 6
    // and spread 2.4, three sigma and a half) are off, and not none.
    assert!((1..=15).contains(&off), "{off} of {all}");
}

#[test]
fn a_noisy_person_reads_a_clamp_within_its_accuracy_but_for_blunders() {
    let (install, circuit) = small();
    let on = SetUp::at_rest(&circuit.netlist.controls).with(halfsplit::circuit::ControlId::new(0), 1);
    let lamp = circuit.netlist.elements.enumerate().find(|(_, e)| e.name == "lamp").unwrap().0;
    let tolerances = &install.knowledge.tolerances;
    let mut bench = mock_up(&circuit.netlist, &[]);
    bench.enter(&on).unwrap();
    let amps = bench.amps(lamp).unwrap().abs();
    let mut off = 0;
    for seed in 0..300 {
        let bench = MockUp::new(&circuit.netlist, Vec::new(), Draws::none());
        let mut person = Person::noisy(&circuit, bench, tolerances, fastrand::Rng::with_seed(seed));
        let Ok(Said::Amps(read, step)) = person.amps(&on, lamp) else { panic!("no amps") };
        // knowledge/tolerances.yaml: the clamp 2 % and 50 mA, the supply as above; a filament's current moves by less than its
        // volts do. The last digit is rounded.
        let most = amps * (tolerances.clamp_share + 4.0 * (tolerances.supply_own + tolerances.supply_drift))
            + tolerances.clamp_amps
            + 0.5 * step;
        off += usize::from((read - amps).abs() > most);
    }
    // As above; around another conductor of the same current a blunder changes nothing.
    assert!((1..=15).contains(&off), "{off}");
}

#[test]
fn a_trial_draws_its_supply_between_flat_and_charging() {
    let (install, circuit) = small();
    let (plus, minus) = posts(&circuit);
    let rest = SetUp::at_rest(&circuit.netlist.controls);
    let mut read = Vec::new();
    for seed in 0..200 {
        let mut rng = fastrand::Rng::with_seed(seed);
        let draws = Draws::new(&circuit, install.nominal, 1.0, &mut rng);
        let mut bench = MockUp::new(&circuit.netlist, Vec::new(), draws);
        bench.enter(&rest).unwrap();
        read.push(bench.volts(plus, minus).unwrap().unwrap());
    }
    let (low, high) = (read.iter().copied().fold(99.0, f64::min), read.iter().copied().fold(0.0, f64::max));
    // A 12 V supply lies between 11.0 and 15.2 V (engine's design); at rest next to nothing is lost inside it. Of 200 even
    // draws the outermost lie within a tenth of either end, but for one time in ten thousand millions.
    assert!((10.99..11.42).contains(&low) && (14.78..15.21).contains(&high), "{low} {high}");
}

#[test]
fn a_healthy_sprayer_gives_no_cause_for_complaint_in_noise() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/sprayer/install.yaml");
    let source = Source::new("sprayer", std::fs::read_to_string(path).unwrap());
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap();
    let circuit = Circuit::expand(&install).unwrap();
    let uses = Uses::new(&circuit, &install);
    let complaints = (0..60).filter(|seed| {
        let draws = Draws::new(&circuit, install.nominal, 1.0, &mut fastrand::Rng::with_seed(*seed));
        let fresh = || MockUp::new(&circuit.netlist, Vec::new(), draws.clone());
        uses.complaint(&circuit, &install, fresh).is_some()
    });
    // Between 11 and 15.2 V every load gives at least (11 / 12.6)^2 = 76 % of its power, above the 68 % below which it is
    // called weak (knowledge/words.yaml); only a part far off its figures can lead to a complaint: one in twenty at most.
    let count = complaints.count();
    assert!(count <= 3, "{count} of 60");
}
