//! Ohms where it is dead: what is predicted, what comes before, what is never asked.

use super::at_hand::{play, system};
use super::taken_out::answer;
use crate::support::ngspice::{Kept, is_there, solve};
use halfsplit::belief::{Answer, Predicted, Probe, predict};
use halfsplit::bench::{Draws, MockUp, Person, Said};
use halfsplit::choice::Test;
use halfsplit::circuit::{ControlId, Edit, Element, Emf, Primitive, SetUp};
use halfsplit::index::Id;
use halfsplit::job::{AtHand, Diagnosis, Next, System};
use halfsplit::network::Network;
use halfsplit::units::{Ohms, Volts};

const SMALL: &str = include_str!("../cli/small.yaml");

/// The switches that are on, and the battery's minus off.
fn off(system: &System, on: &[usize]) -> SetUp {
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let set_up = on.iter().fold(rest, |set_up, control| set_up.with(ControlId::new(*control), 1));
    let battery = system.part("battery").unwrap();
    set_up.without(battery, &system.circuit.parting_of[battery])
}

fn edits(system: &System, [part, mode]: [&str; 2], ohms: f64) -> Vec<Edit> {
    let fault = system.fault(part, mode).unwrap_or_else(|| panic!("no {part} {mode}"));
    system.suspects.faults()[fault].effect.edits(Ohms::new(ohms))
}

fn between(system: &System, set_up: &SetUp, points: [&str; 2]) -> Test {
    system.ohms(set_up.clone(), points.map(|name| system.point(name).unwrap_or_else(|| panic!("no {name}"))))
}

/// What is predicted, in ohms, and what the mock-up's meter shows; `None`: open.
fn ohms(system: &System, edits: &[Edit], test: &Test) -> (Option<f64>, Option<f64>) {
    let network = Network::new(&system.circuit.netlist);
    let state = network.enter(edits, &network.fresh(), &test.set_up).unwrap().remove(0).state;
    let foreseen = predict(&network, &system.senses, &state, &test.probe, |e| state.state(e));
    let Predicted::Number { mean, .. } = foreseen else { panic!("{foreseen:?}") };
    let Probe::Ohms { red, black } = test.probe else { panic!("{test:?}") };
    let exact = network.ohms(&state, red, black).unwrap().map(Ohms::get);
    let clamped = exact.map_or(7.0 + 4_f64.log10(), |ohms| ohms.clamp(0.1, 4e7).log10());
    assert!((mean - clamped).abs() < 1e-9, "by its logarithm: {mean} {exact:?}");
    let mut person =
        Person::exact(&system.circuit, MockUp::new(&system.circuit.netlist, edits.to_vec(), Draws::none()));
    let Said::Ohms(read) = person.ohms(&test.set_up, red, black).unwrap() else { panic!("no ohms") };
    (exact, read.map(|(ohms, _)| ohms))
}

#[track_caller]
fn near(a: f64, b: f64, share: f64) {
    assert!((a - b).abs() <= share * b.abs() + 1e-9, "{a} is not {b}");
}

/// 55 W at 12 V are 2.618 Ω hot (volts squared over watts); cold it is a tenth of that (engine design, section 1). The relay has
/// let go, so that nothing lies beside it. A coil is what its description says. By hand.
#[test]
fn a_lamp_is_cold_and_a_relay_lets_go_where_it_is_dead() {
    let system = system(SMALL);
    let set_up = off(&system, &[0]);
    let lamp = ohms(&system, &[], &between(&system, &set_up, ["lamp.feed", "lamp.return"]));
    near(lamp.0.unwrap(), 144.0 / 55.0 / 10.0, 1e-3);
    near(lamp.1.unwrap(), lamp.0.unwrap(), 1e-4);
    let coil = system.circuit.elements_of[system.part("K1").unwrap()].iter();
    let described = coil.map(|inner| &system.circuit.netlist.elements[inner.element].primitive);
    let described =
        described.filter_map(|p| if let Primitive::Coil { ohms, .. } = p { Some(ohms.get()) } else { None });
    let coil = ohms(&system, &[], &between(&system, &set_up, ["K1.86", "K1.85"]));
    near(coil.0.unwrap(), described.sum(), 1e-3);
    near(coil.1.unwrap(), coil.0.unwrap(), 1e-4);
    // Across the open contact lies the way round it: feed, switch, coil, body and the lamp from behind. With the switch off there
    // is none.
    let contact = ohms(&system, &[], &between(&system, &set_up, ["K1.30", "K1.87"]));
    near(contact.0.unwrap(), coil.0.unwrap() + lamp.0.unwrap(), 5e-3);
    let open = ohms(&system, &[], &between(&system, &off(&system, &[]), ["K1.30", "K1.87"]));
    assert_eq!(open, (None, None));
}

/// Two equal ways side by side are half of one (by hand), and a lamp that is burnt out leaves the other.
#[test]
fn parallel_ways_are_in_the_reading() {
    let system = system(super::clamp::DRAINED);
    let read = |on: &[usize], edits: &[Edit]| {
        let (exact, read) = ohms(&system, edits, &between(&system, &off(&system, on), ["F1.in", "body"]));
        near(read.unwrap(), exact.unwrap(), 1e-4);
        exact.unwrap()
    };
    let (one, both) = (read(&[0], &[]), read(&[0, 1], &[]));
    near(both, one / 2.0, 1e-2);
    near(read(&[0, 1], &edits(&system, ["right", "burnt-out"], 0.0)), one, 1e-2);
    // A leak of 30 Ω beside nothing else (Ohm's law).
    near(read(&[], &edits(&system, ["right/3", "leak-to-earth"], 30.0)), 30.0, 1e-2);
}

/// ngspice with the meter's source laid between the points and the battery open.
#[test]
fn another_simulator_has_the_same_ohms() {
    if !is_there() {
        println!("ngspice is not installed: skipped");
        return;
    }
    let system = system(SMALL);
    let set_up = off(&system, &[0]);
    for (points, fault) in [
        (["lamp.feed", "body"], None),
        (["K1.87", "body"], Some(edits(&system, ["lamp/3", "leak-to-earth"], 47.0))),
        (["F1.in", "K1.86"], Some(edits(&system, ["F1", "holder-corroded"], 8.0))),
    ] {
        let fault = fault.unwrap_or_default();
        let test = between(&system, &set_up, points);
        let Probe::Ohms { red, black } = test.probe else { unreachable!() };
        let mut netlist = system.circuit.netlist.clone();
        let (emf, internal) = (Emf::Fixed(Volts::new(0.2)), Ohms::new(1e3));
        let primitive = Primitive::Source { emf, internal, limit: None };
        netlist.elements.push(Element { name: "meter".to_owned(), from: red, to: black, primitive });
        let all: Vec<Edit> = fault.iter().chain(&set_up.interventions).cloned().collect();
        let controls = SetUp { interventions: Vec::new(), by_hand: Vec::new(), ..set_up.clone() };
        let solved = solve(&netlist, &all, &controls, &Kept::new()).unwrap();
        let volts = solved.between(red, black).unwrap();
        near(ohms(&system, &fault, &test).0.unwrap(), volts / ((0.2 - volts) / 1e3), 2e-3);
    }
}

/// Before each ohms that were asked for, volts between the very points had said that it is dead, with the supply off.
#[track_caller]
fn dead_first(asked: &[Probe]) {
    for (i, probe) in asked.iter().enumerate() {
        let Probe::Ohms { red, black } = probe else { continue };
        let same = |p: &Probe| matches!(p, Probe::Volts { red: r, black: b, .. } if (r, b) == (red, black));
        assert!(asked[..i].iter().any(same), "{asked:?}");
    }
}

/// Behind a blown fuse there is nothing to measure with the battery on; ohms tell which side of what is shorted. With the meter alone, and nothing
/// taken out but the supply.
#[test]
fn ohms_are_asked_for_once_it_is_proved_dead() {
    let system = system(SMALL);
    let mut ohms = 0;
    for fault in [["lamp/3", "short-to-earth"], ["lamp", "burnt-out"], ["lamp/5", "broken"]] {
        let (asked, named) = play(&system, "multimeter,ohmmeter", fault, Ohms::ZERO);
        dead_first(&asked);
        ohms += asked.iter().filter(|p| matches!(p, Probe::Ohms { .. })).count();
        assert!(named.iter().any(|part| part == fault[0]), "{fault:?}: {named:?}");
    }
    assert!(ohms > 0, "none was asked for");
}

/// What is still live is never measured in ohms, and neither is anything without an ohmmeter.
#[test]
fn ohms_are_not_asked_for_where_it_is_not_dead() {
    let system = system(SMALL);
    let on = SetUp::at_rest(&system.circuit.netlist.controls).with(ControlId::new(0), 1);
    let lamp = system.part("lamp").and_then(|part| system.sight(part)).unwrap();
    let dark = system.words(lamp).unwrap().words.iter().position(|word| word.key == "dark").unwrap();
    let network = Network::new(&system.circuit.netlist);
    let begin = |at_hand: &str| {
        let instruments = system.instruments_at_hand(&AtHand::read(at_hand).unwrap());
        Diagnosis::begin(&system, &network, instruments, system.seen_wrong(lamp, dark, on.clone()), 1).unwrap()
    };
    let mock_up =
        MockUp::new(&system.circuit.netlist, edits(&system, ["lamp/3", "short-to-earth"], 0.0), Draws::none());
    let mut person = Person::exact(&system.circuit, mock_up);
    person.set(&on).unwrap();
    let mut job = begin("multimeter,ohmmeter");
    let mut live = 0;
    for _ in 0..40 {
        let Next::Take(next) = job.next() else { break };
        assert!(!matches!(next.test.probe, Probe::Ohms { .. }), "it was live: {:?}", job.taken());
        // Somewhere a supply is left that nobody described.
        let is_proof = job.proves_dead(&next.test);
        live += usize::from(is_proof);
        let read = if is_proof {
            Answer::Number { value: 5.0, sigma: 0.03 }
        } else {
            answer(&system, &mut person, &next.test)
        };
        let again = job.taken().iter().any(|t| t.test == next.test);
        assert!(!(is_proof && again), "the same points again");
        job.answer(next.test, read);
    }
    assert!(live > 0, "it was not asked for");
    let without = begin("multimeter,test-lamp");
    let dead = off(&system, &[0]);
    assert!(without.untaken(&dead).is_empty());
    let with = begin("multimeter,ohmmeter").untaken(&dead);
    assert!(!with.is_empty() && with.iter().all(|t| matches!(t.probe, Probe::Ohms { .. })));
    assert!(with.iter().all(|t| !job.may_be_read(t)));
}

/// Two systems that nothing joins: what is off in one says nothing of the other, whatever volts are read there.
#[test]
fn each_supply_that_reaches_the_points_has_to_be_off() {
    let system = system(
        "
install: Two systems
nominal: 12 V
supplies: {one: {is: lead-acid battery}, other: {is: lead-acid battery}}
earths: {body: {to: one.-}}
controls: {S1: {is: switch}, S2: {is: switch}}
runs:
  first:  one.+ | blade fuse F1 10 A | 1 mm² 4 m | S1 | 1 mm² 4 m | filament lamp 21 W \"lamp\" | 1 mm² 5 m | body
  second: other.+ | blade fuse F2 10 A | 1 mm² 4 m | S2 | 1 mm² 4 m | filament lamp 21 W \"bell\" | 1 mm² 5 m | other.-
",
    );
    let on = SetUp::at_rest(&system.circuit.netlist.controls).with(ControlId::new(0), 1);
    let lamp = system.part("lamp").and_then(|part| system.sight(part)).unwrap();
    let dark = system.words(lamp).unwrap().words.iter().position(|word| word.key == "dark").unwrap();
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments_at_hand(&AtHand::read("multimeter,ohmmeter").unwrap());
    let mut job =
        Diagnosis::begin(&system, &network, instruments, system.seen_wrong(lamp, dark, on.clone()), 1).unwrap();
    let out = |set_up: SetUp, name: &str| {
        let part = system.part(name).unwrap();
        set_up.without(part, &system.circuit.parting_of[part])
    };
    let one = out(on.clone(), "one");
    let both = out(one.clone(), "other");
    for (set_up, points, may) in [
        (&on, ["lamp.feed", "lamp.return"], false),
        (&one, ["lamp.feed", "lamp.return"], true),
        (&one, ["bell.feed", "bell.return"], false),
        (&both, ["bell.feed", "bell.return"], true),
    ] {
        let ohms = between(&system, set_up, points);
        assert!(!job.may_be_read(&ohms), "no volts yet: {points:?}");
        let leads = points.map(|name| system.point(name).unwrap());
        let volts = system.volts(&system.instruments(), set_up.clone(), leads, false).unwrap();
        job.answer(volts, Answer::Number { value: 0.0, sigma: 0.02 });
        assert_eq!(job.may_be_read(&ohms), may, "{points:?}");
    }
    // Elsewhere in between: whatever was put back may have come to life.
    assert!(!job.may_be_read(&between(&system, &one, ["lamp.feed", "lamp.return"])));
}
