//! Jobs with other instruments at hand than the usual ones. The mock-up answers, which solves the circuit by itself.

use super::taken_out::answer;
use halfsplit::belief::{Answer, Probe, Verdict};
use halfsplit::bench::{Draws, MockUp, Person};
use halfsplit::circuit::{ControlId, SetUp};
use halfsplit::document::Source;
use halfsplit::index::Id;
use halfsplit::install::load;
use halfsplit::job::{AtHand, Diagnosis, Next, System};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use halfsplit::units::Ohms;

const SMALL: &str = include_str!("../cli/small.yaml");

pub(super) fn system(text: &str) -> System {
    let (install, _) = load(&Source::new("i.yaml", text), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).unwrap()
}

/// A job on a dark lamp whose switch is the first control: what was asked for, and the parts that are named at the end.
pub(super) fn play(system: &System, at_hand: &str, [part, mode]: [&str; 2], ohms: Ohms) -> (Vec<Probe>, Vec<String>) {
    let on = SetUp::at_rest(&system.circuit.netlist.controls).with(ControlId::new(0), 1);
    let lamp = system.part("lamp").and_then(|part| system.sight(part)).unwrap();
    let fault = &system.suspects.faults()[system.fault(part, mode).unwrap()];
    let mock_up = MockUp::new(&system.circuit.netlist, fault.effect.edits(ohms), Draws::none());
    let mut person = Person::exact(&system.circuit, mock_up);
    person.set(&on).unwrap();
    let words = system.words(lamp).unwrap();
    let halfsplit::bench::Said::Word(seen) = person.look(&on, lamp, words).unwrap() else { panic!("a word") };
    let complaint = system.seen_wrong(lamp, seen, on);
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments_at_hand(&AtHand::read(at_hand).unwrap());
    let mut job = Diagnosis::begin(system, &network, instruments, complaint, 1).unwrap();
    for _ in 0..40 {
        match job.next() {
            Next::Take(next) => {
                let answer = answer(system, &mut person, &next.test);
                job.answer(next.test, answer);
            }
            Next::Stop(verdict) => {
                assert!(matches!(verdict, Verdict::Found(_) | Verdict::Ambiguous(_)), "{part} {mode}: {verdict:?}");
                let faults = job.named(&verdict).into_iter().flat_map(|c| c.faults.into_iter().chain(c.also));
                let named = faults.map(|f| system.suspects.faults()[f].part.clone()).collect();
                let asked = job.taken().iter().filter(|t| !t.complaint && t.answer != Answer::NotTaken);
                return (asked.map(|t| t.test.probe.clone()).collect(), named);
            }
        }
    }
    panic!("{part} {mode}: no end")
}

/// Without a meter the lamp is held where volts would tell most: the fault is told by it alone (common practice: a test lamp
/// finds what is open).
#[test]
fn a_test_lamp_alone_finds_what_is_open() {
    let system = system(SMALL);
    for fault in [["K1", "coil-open"], ["S1", "stuck-open"]] {
        let (asked, named) = play(&system, "test-lamp", fault, Ohms::ZERO);
        assert!(asked.iter().any(|probe| matches!(probe, Probe::Light { .. })), "{fault:?}: {asked:?}");
        assert!(!asked.iter().any(|probe| matches!(probe, Probe::Volts { .. })), "{fault:?}: {asked:?}");
        assert!(named.iter().any(|part| part == fault[0]), "{fault:?}: {named:?}");
    }
}

#[test]
fn without_a_test_lamp_none_is_asked_for() {
    let system = system(SMALL);
    let (asked, named) = play(&system, "multimeter", ["K1", "coil-open"], Ohms::ZERO);
    assert!(!asked.iter().any(|probe| matches!(probe, Probe::Light { .. })), "{asked:?}");
    assert!(!named.is_empty() && named.iter().all(|part| part == "K1"), "{named:?}");
}
