//! A short behind a fuse on which two branches hang. With the fuse blown there is nothing left to measure; a lamp or a meter in the
//! fuse's place, with the bulbs out and the plugs apart, tells on which side the short is (common practice). The mock-up answers,
//! which solves the circuit by itself.

use halfsplit::belief::{Answer, Probe, Verdict};
use halfsplit::bench::{Draws, Instrument, MockUp, Person, Said};
use halfsplit::choice::Test;
use halfsplit::circuit::SetUp;
use halfsplit::document::Source;
use halfsplit::install::{PartId, load};
use halfsplit::job::{Diagnosis, Next, System, load_answers};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::{self, Network};
use halfsplit::units::Ohms;

const INSTALL: &str = "
install: Two lamps on one fuse
nominal: 12 V
supplies: {battery: {is: lead-acid battery}}
earths: {body: {to: battery.-}}
controls: {S1: {is: switch}}
parts:
  X1: {is: connector, pins: [a]}
  X2: {is: connector, pins: [a]}
runs:
  feed:  battery.+ | 4 mm² 1 m | blade fuse F1 10 A | 1 mm² 1 m | S1 | *live
  left:  live | 1 mm² 4 m | X1.a | 1 mm² 1 m | filament lamp 21 W \"left\" | 1 mm² 1 m | body
  right: live | 1 mm² 4 m | X2.a | 1 mm² 1 m | filament lamp 21 W \"right\" | 1 mm² 1 m | body
";

const COMPLAINT: &str = "
complaint: {what: [left], how: dark, with: {S1: on}}
readings: []
";

fn own(instrument: &network::Instrument) -> Instrument {
    match instrument {
        network::Instrument::Voltmeter(ohms) => Instrument::Voltmeter(*ohms),
        network::Instrument::TestLamp { hot, nominal } => Instrument::Lamp { hot: *hot, nominal: *nominal },
        network::Instrument::LedTester { forward, series } => Instrument::Led { forward: *forward, series: *series },
    }
}

pub(super) fn answer(system: &System, person: &mut Person<'_>, test: &Test) -> Answer {
    let said = match &test.probe {
        Probe::Volts { instrument, red, black, .. } => person.volts(&test.set_up, own(instrument), *red, *black),
        Probe::Light { instrument, red, black } => {
            person.light(&test.set_up, own(instrument), (*red, *black), system.tester_words().unwrap())
        }
        Probe::Look(sight) => person.look(&test.set_up, *sight, system.words(*sight).unwrap()),
        Probe::Ohms { red, black } => person.ohms(&test.set_up, *red, *black),
        Probe::Amps { element, .. } => person.amps(&test.set_up, *element),
    };
    match said.unwrap() {
        Said::Amps(value, _) => Answer::Number { value, sigma: system.sigma(&test.probe, value) },
        Said::Volts(value, _) => Answer::Number { value, sigma: halfsplit::job::meter_sigma(value) },
        Said::Ohms(Some((value, digit))) => {
            let typed = halfsplit::job::Typed::Values(vec![halfsplit::job::Entry { value, digit }]);
            system.reading(&test.probe, &typed).unwrap()
        }
        Said::Ohms(None) => system.reading(&test.probe, &halfsplit::job::Typed::OverRange).unwrap(),
        Said::Jumps => Answer::Unsteady,
        Said::Word(word) => Answer::Word(word),
    }
}

/// What is named where a fault is hidden, and whether a part was taken out on the way.
fn named(part: &str, mode: &str) -> (Vec<String>, bool) {
    let (install, _) =
        load(&Source::new("two.yaml", INSTALL), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).unwrap();
    let complaint = load_answers(&Source::new("job.yaml", COMPLAINT), &system, &system.instruments());
    let complaint = complaint.unwrap_or_else(|r| panic!("{r:?}")).complaint;
    let fault = &system.suspects.faults()[system.fault(part, mode).unwrap()];
    let mock_up = MockUp::new(&system.circuit.netlist, fault.effect.edits(Ohms::ZERO), Draws::none());
    let mut person = Person::exact(&system.circuit, mock_up);
    person.set(&complaint.set_up).unwrap();
    let network = Network::new(&system.circuit.netlist);
    let mut job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1).unwrap();
    for _ in 0..30 {
        match job.next() {
            Next::Take(next) => {
                let answer = answer(&system, &mut person, &next.test);
                job.answer(next.test, answer);
            }
            Next::Stop(verdict) => {
                assert!(matches!(verdict, Verdict::Found(_) | Verdict::Ambiguous(_)), "{part} {mode}: {verdict:?}");
                let faults = job.named(&verdict).into_iter().flat_map(|c| c.faults.into_iter().chain(c.also));
                let parts = faults.map(|f| system.suspects.faults()[f].part.clone()).collect();
                return (parts, job.taken().iter().any(|taken| !taken.test.set_up.by_hand.is_empty()));
            }
        }
    }
    panic!("{part} {mode}: no end")
}

#[track_caller]
fn is_told(part: &str, mode: &str, among: &[&str]) {
    let (named, parted) = named(part, mode);
    assert!(parted, "{part} {mode}: nothing was taken out");
    assert!(named.iter().any(|n| n == part), "{part} {mode}: {named:?}");
    assert!(named.iter().all(|n| among.contains(&n.as_str())), "{part} {mode}: {named:?}");
}

#[test]
fn a_short_is_told_from_those_of_the_other_branch() {
    // Joined metal cannot be told apart: both branches begin at one point.
    is_told("left/4", "short-to-earth", &["left/4"]);
    is_told("right/4", "short-to-earth", &["right/4"]);
    is_told("left/2", "short-to-earth", &["left/2", "right/2"]);
    is_told("feed/4", "short-to-earth", &["feed/4"]);
}

#[test]
fn a_fuse_without_contact_is_told_from_all_shorts() {
    // To look at it was the cheapest test of all, and once it was looked at it kept every other set-up out of sight.
    is_told("F1", "holder-open", &["F1"]);
}

#[test]
fn what_is_out_is_typed_and_kept_by_name() {
    let (install, _) =
        load(&Source::new("two.yaml", INSTALL), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).unwrap();
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let typed =
        ["S1", "X1=apart", "F1=out"].into_iter().try_fold(rest.clone(), |set_up, text| system.switched(set_up, text));
    let typed = typed.unwrap();
    let setting = system.setting(&typed);
    assert!(setting.contains(&("F1".to_owned(), "pulled".to_owned())), "{setting:?}");
    assert_eq!(system.set_up_named(&system.resting(), &setting).unwrap(), typed);
    // The order in which they were taken out makes no difference, and twice is once.
    let again =
        ["F1=pulled", "X1=out", "S1", "F1=out"].into_iter().try_fold(rest.clone(), |s, t| system.switched(s, t));
    assert_eq!(again.unwrap(), typed);
    assert_eq!(halfsplit::show::text::set_up(&system, &typed), "S1 on; X1 apart; F1 pulled");
    // A wire stays where it is, and a wrong word is answered with the right ones.
    assert!(system.switched(rest.clone(), "left/2=out").is_err());
    assert_eq!(system.switched(rest, "F1=open").unwrap_err(), "`F1` can be pulled or out");
}

#[test]
fn a_fuse_in_the_hand_is_as_it_was_in_its_place() {
    let (install, _) =
        load(&Source::new("two.yaml", INSTALL), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).unwrap();
    let out = |text: &str| {
        let job = format!("complaint: {{what: [left], how: dark, with: {{S1: on}}}}\nreadings:\n  - {text}\n");
        let job = load_answers(&Source::new("job.yaml", job), &system, &system.instruments());
        job.unwrap_or_else(|r| panic!("{r:?}")).given[0].test.set_up.clone()
    };
    // While it is out its element conducts nothing, which is not what the eye sees of it.
    let pulled = out("{with: {S1: on, F1: pulled, X1: apart}, look: F1, shows: whole}");
    assert_eq!(halfsplit::show::text::set_up(&system, &pulled), "S1 on; X1 apart");
    let elsewhere = out("{with: {S1: on, F1: pulled}, look: right, shows: dark}");
    assert_eq!(halfsplit::show::text::set_up(&system, &elsewhere), "S1 on; F1 pulled");
}

#[test]
fn a_part_that_does_not_come_out_is_not_asked_for_again() {
    let (install, _) =
        load(&Source::new("two.yaml", INSTALL), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).unwrap();
    let complaint =
        load_answers(&Source::new("job.yaml", COMPLAINT), &system, &system.instruments()).unwrap().complaint;
    let fault = &system.suspects.faults()[system.fault("left/4", "short-to-earth").unwrap()];
    let mock_up = MockUp::new(&system.circuit.netlist, fault.effect.edits(Ohms::ZERO), Draws::none());
    let mut person = Person::exact(&system.circuit, mock_up);
    person.set(&complaint.set_up).unwrap();
    let network = Network::new(&system.circuit.netlist);
    let mut job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1).unwrap();
    let mut refused: Vec<Vec<PartId>> = Vec::new();
    while let Next::Take(next) = job.next() {
        let out: Vec<PartId> = next.test.set_up.taken_out().collect();
        assert!(!refused.iter().any(|parts| parts.iter().all(|part| out.contains(part))), "{out:?} after {refused:?}");
        let given = if out.is_empty() { answer(&system, &mut person, &next.test) } else { Answer::NotTaken };
        refused.extend((!out.is_empty()).then(|| out.clone()));
        job.answer(next.test, given);
        assert!(job.taken().len() < 40, "no end");
    }
    assert!(!refused.is_empty(), "nothing was to be taken out");
}

#[test]
fn a_fuse_that_blew_by_age_is_told_from_all_shorts() {
    is_told("F1", "blown", &["F1"]);
}
