//! Amps by a clamp meter: what is predicted, where it is offered, what it is good for.

use super::at_hand::{play, system};
use crate::support::ngspice::{Kept, is_there, solve};
use halfsplit::belief::{Predicted, Probe, predict};
use halfsplit::bench::{Draws, MockUp, Person, Said};
use halfsplit::choice::Target;
use halfsplit::circuit::{ControlId, Edit, Primitive, SetUp};
use halfsplit::document::Source;
use halfsplit::index::Id;
use halfsplit::job::{AtHand, Diagnosis, Heard, System, load_answers};
use halfsplit::network::Network;
use halfsplit::units::Ohms;

const SMALL: &str = include_str!("../cli/small.yaml");

fn on(system: &System) -> SetUp {
    SetUp::at_rest(&system.circuit.netlist.controls).with(ControlId::new(0), 1)
}

fn edits(system: &System, fault: Option<([&str; 2], f64)>) -> Vec<Edit> {
    let of = |([part, mode], ohms): ([&str; 2], f64)| {
        let fault = system.fault(part, mode).unwrap_or_else(|| panic!("no {part} {mode}"));
        system.suspects.faults()[fault].effect.edits(Ohms::new(ohms))
    };
    fault.map(of).unwrap_or_default()
}

/// What is predicted around a part with a fault, and what the mock-up's person reads there.
fn around(system: &System, part: &str, fault: Option<([&str; 2], f64)>) -> (f64, f64) {
    let network = Network::new(&system.circuit.netlist);
    let edits = edits(system, fault);
    let test = system.amps(on(system), system.part(part).unwrap()).unwrap();
    let state = network.enter(&edits, &network.fresh(), &test.set_up).unwrap().remove(0).state;
    let foreseen = predict(&network, &system.senses, &state, &test.probe, |e| state.state(e));
    let Predicted::Number { mean, jumps: 0.0, floating: false } = foreseen else { panic!("{foreseen:?}") };
    let Probe::Amps { element, unsigned: true } = test.probe else { panic!("{test:?}") };
    let mock_up = MockUp::new(&system.circuit.netlist, edits, Draws::none());
    let mut person = Person::exact(&system.circuit, mock_up);
    let Ok(Said::Amps(read, step)) = person.amps(&test.set_up, element) else { panic!("no amps") };
    assert!((step - 0.01).abs() < 1e-12, "10 mA below 40 A: {step}");
    (mean, read)
}

#[track_caller]
fn near(a: f64, b: f64, share: f64) {
    assert!((a - b).abs() <= share * b.abs() + 1e-9, "{a} is not {b}");
}

/// 55 W at 12 V are 4.583 A, and a filament's current goes with the 0.55th power of its volts (by hand): at the volts that the
/// lamp gets here within one part in ten thousand.
#[test]
fn amps_are_watts_over_volts() {
    let system = system(SMALL);
    let network = Network::new(&system.circuit.netlist);
    let state = network.enter(&[], &network.fresh(), &on(&system)).unwrap().remove(0).state;
    let at = |name: &str| system.node(system.point(name).unwrap());
    let volts = state.voltage(at("lamp.feed"), at("lamp.return")).unwrap().get();
    for end in ["lamp/3.a", "lamp/3.b", "lamp/5.a", "lamp/5.b", "lamp"] {
        let (foreseen, read) = around(&system, end, None);
        near(foreseen, 55.0 / 12.0 * (volts / 12.0).powf(0.55), 1e-4);
        near(read, foreseen, 1e-6);
    }
}

/// Between the two ends of a wire that leaks to earth the leak is missing: 10 Ω take the volts there over ten (Ohm's law). The
/// leak lies behind the copper, so that the first end carries it and the second does not.
#[test]
fn the_two_ends_of_a_leaking_wire_differ_by_the_leak() {
    let system = system(SMALL);
    let leak = Some((["lamp/3", "leak-to-earth"], 10.0));
    let network = Network::new(&system.circuit.netlist);
    let state = network.enter(&edits(&system, leak), &network.fresh(), &on(&system)).unwrap().remove(0).state;
    let at = |name: &str| system.node(system.point(name).unwrap());
    let volts = state.voltage(at("lamp.feed"), at("body")).unwrap().get();
    let [first, second] = ["lamp/3.a", "lamp/3.b"].map(|end| around(&system, end, leak));
    // A joint of 1 mΩ lies between the end of the copper and the lamp: half a part in a thousand.
    near(first.0 - second.0, volts / 10.0, 1e-3);
    near(first.1, first.0, 1e-6);
    near(second.1, second.0, 1e-6);
    near(around(&system, "lamp/3.a", Some((["lamp/3", "broken"], 0.0))).0, 0.0, 0.0);
}

/// ngspice has the volts along the copper of the wire; over its ohms they are the amps.
#[test]
fn another_simulator_has_the_same_amps() {
    if !is_there() {
        println!("ngspice is not installed: skipped");
        return;
    }
    let system = system(SMALL);
    let corroded = (["lamp/5.b", "corroded"], 1.5);
    for fault in [None, Some((["lamp/5", "leak-to-earth"], 20.0)), Some(corroded)] {
        let solved = solve(&system.circuit.netlist, &edits(&system, fault), &on(&system), &Kept::new()).unwrap();
        let copper = system.circuit.element(system.part("lamp/3").unwrap(), "copper").unwrap();
        let element = &system.circuit.netlist.elements[copper];
        let Primitive::Resistance { ohms } = element.primitive else { panic!("{element:?}") };
        let amps = solved.between(element.from, element.to).unwrap() / ohms.get();
        near(around(&system, "lamp/3.a", fault).0, amps.abs(), 1e-3);
    }
}

fn job<'n>(system: &'n System, network: &'n Network<'n>, at_hand: &str) -> Diagnosis<'n> {
    let lamp = system.part("lamp").and_then(|part| system.sight(part)).unwrap();
    let dim = system.words(lamp).unwrap().words.iter().position(|word| word.key == "dim").unwrap();
    let complaint = system.seen_wrong(lamp, dim, on(system));
    let instruments = system.instruments_at_hand(&AtHand::read(at_hand).unwrap());
    Diagnosis::begin(system, network, instruments, complaint, 1).unwrap()
}

/// Only where the current of the complaint should flow, only around wires that carry it, and only with a clamp at hand.
#[test]
fn a_clamp_is_offered_around_the_wires_that_carry_the_current() {
    let system = system(SMALL);
    let network = Network::new(&system.circuit.netlist);
    let ends = |at_hand: &str, set_up: &SetUp| -> Vec<String> {
        let tests = job(&system, &network, at_hand).untaken(set_up);
        let clamps = tests.iter().filter(|t| matches!(t.probe, Probe::Amps { .. }));
        let end = |at: &Target| match at {
            Target::Part(part) => system.install.parts[*part].id.clone(),
            Target::Points { .. } => panic!("a clamp has no leads"),
        };
        clamps.map(|t| end(&t.at)).collect()
    };
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    assert!(ends("multimeter,test-lamp", &on(&system)).is_empty());
    assert!(ends("clamp-meter", &rest).is_empty());
    let offered = ends("clamp-meter", &on(&system));
    let lamp = ["feed/2.a", "feed/2.b", "lamp/3.a", "lamp/3.b", "lamp/5.a", "lamp/5.b"];
    assert!(lamp.iter().all(|end| offered.iter().any(|o| o == end)), "{offered:?}");
    let is_end = |end: &String| system.install.parts[system.part(end).unwrap()].joint_of.is_some();
    assert!(offered.iter().all(is_end), "wires alone: {offered:?}");
}

/// Two lamps that are always fed, each on its own fuse, and a battery that is flat in the morning.
pub(super) const DRAINED: &str = "
install: Two lamps
nominal: 12 V
places: {box: {access: 1 min}, mast: {access: 6 min}}
supplies: {battery: {is: lead-acid battery, place: box}}
earths: {body: {to: battery.-, place: box}}
controls: {S1: {is: switch, place: box}, S2: {is: switch, place: box}}
runs:
  feed:  battery.+ | 4 mm² 1 m | *live
  left:  live | blade fuse F1 10 A at box | 1 mm² 4 m | S1 | 1 mm² 4 m | filament lamp 21 W \"left\" at mast | 1 mm² 5 m | body
  right: live | blade fuse F2 10 A at box | 1 mm² 4 m | S2 | 1 mm² 4 m | filament lamp 21 W \"right\" at mast | 1 mm² 5 m | body
";

/// A clamp on the battery's lead shows a drain, and those behind it on which way it goes (common practice: fuse by fuse). By the
/// mock-up, which solves the circuit by itself.
#[test]
fn a_drain_is_followed_by_the_clamp() {
    let system = system(DRAINED);
    let text = "complaint: {what: [battery], how: flat after standing}\nreadings: []\n";
    let complaint = load_answers(&Source::new("job.yaml", text), &system, &system.instruments());
    let complaint = complaint.unwrap_or_else(|r| panic!("{r:?}")).complaint;
    let network = Network::new(&system.circuit.netlist);
    let fault = (["right/3", "leak-to-earth"], 30.0);
    let mock_up = MockUp::new(&system.circuit.netlist, edits(&system, Some(fault)), Draws::none());
    let mut person = Person::exact(&system.circuit, mock_up);
    person.set(&complaint.set_up).unwrap();
    let with = |at_hand: &str| system.instruments_at_hand(&AtHand::read(at_hand).unwrap());
    let mut job = Diagnosis::begin(&system, &network, with("multimeter,clamp-meter"), complaint, 1).unwrap();
    let mut clamped = 0;
    for _ in 0..40 {
        let halfsplit::job::Next::Take(next) = job.next() else { break };
        clamped += usize::from(matches!(next.test.probe, Probe::Amps { .. }));
        let answer = super::taken_out::answer(&system, &mut person, &next.test);
        job.answer(next.test, answer);
    }
    let group = job.culprits(1, 0.0).remove(0);
    let parts: Vec<&str> =
        group.faults.iter().chain(&group.also).map(|f| system.suspects.faults()[*f].part.as_str()).collect();
    assert!(clamped > 0, "{:?}", job.taken());
    assert!(parts.contains(&"right/3"), "{parts:?} {clamped}");
}

/// A bad joint leaves less current, and the two say the same: volts and amps of one fault name it together.
#[test]
fn amps_and_volts_name_a_fault_together() {
    let system = system(SMALL);
    let (asked, named) = play(&system, "multimeter,test-lamp,clamp-meter", ["lamp/5.b", "corroded"], Ohms::new(4.0));
    assert!(named.iter().any(|part| part == "lamp/5.b"), "{named:?} by {asked:?}");
}

/// A recorded job holds amps too, and says what is wrong with them.
#[test]
fn a_recorded_job_holds_amps() {
    let system = system(SMALL);
    let text =
        |reading: &str| format!("complaint: {{what: [lamp], how: dim, with: {{S1: on}}}}\nreadings:\n  - {reading}\n");
    let read = |reading: &str| load_answers(&Source::new("job.yaml", text(reading)), &system, &system.instruments());
    let answers = read("{amps: lamp/3.a, reads: 4.65 A}").unwrap_or_else(|r| panic!("{r:?}"));
    let asked = system.amps(on(&system), system.part("lamp/3.a").unwrap()).unwrap();
    let Heard::Given(0, halfsplit::belief::Answer::Number { value, sigma }) = answers.hear(&asked) else {
        panic!("heard")
    };
    near(value, 4.65, 0.0);
    // knowledge/tolerances.yaml: 2 % and 50 mA, the half-width of an even spread; one step of 10 mA.
    near(sigma, ((0.02 * 4.65 + 0.05) / 3_f64.sqrt()).hypot(0.01 / 12_f64.sqrt()), 1e-9);
    for (wrong, code) in [
        ("{amps: lamp/33, reads: 1}", "unknown-name"),
        ("{amps: K1, reads: 1}", "several-ways"),
        ("{amps: lamp/3.a, reads: 4 V}", "not-a-reading"),
        ("{amps: lamp/3.a}", "missing"),
    ] {
        let report = read(wrong).expect_err(wrong);
        assert!(report.sorted().iter().any(|d| d.code == code), "{wrong}: {report:?}");
    }
}
