//! A relay out of its socket and a jumper with a fuse in it instead: whether its load works then tells the relay and its control
//! side from the load side (common practice). The mock-up answers, which solves the circuit by itself.

use super::taken_out::answer;
use halfsplit::belief::{Answer, Probe};
use halfsplit::bench::{Draws, MockUp, Person};
use halfsplit::choice::{Instruments, Target, Test};
use halfsplit::circuit::{Edit, ElementId, Emf, Primitive, SetUp};
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Complaint, Diagnosis, Next, System, load_answers};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use halfsplit::show;
use halfsplit::units::Ohms;

/// A pump on a relay, and a lamp on the same fuse. `{pump}` is what the relay feeds, `{fuse}` the fuse.
const INSTALL: &str = "
install: A pump on a relay
nominal: 12 V
supplies: {battery: {is: lead-acid battery}, alternator: {is: alternator 90 A}}
earths: {body: {to: battery.-}}
controls: {S1: {is: switch}}
parts: {K1: {is: relay}}
runs:
  charge: alternator.B+ | 16 mm² 1 m | battery.+
  case: alternator.31 | 16 mm² 1 m | body
  feed: battery.+ | 4 mm² 1 m | {fuse} | 2.5 mm² 1 m | *live
  pump: live | 2.5 mm² 1 m | K1 | 2.5 mm² 3 m | {pump} | 2.5 mm² 1 m | body
  control: live | 1 mm² 1 m | S1 | 1 mm² 1 m | K1.86
  coil: K1.85 | 1 mm² 1 m | body
  lamp: live | 1 mm² 2 m | filament lamp 21 W \"lamp\" | 1 mm² 1 m | body
";

const PUMP: &str = "motor 60 W \"pump\"";
const FUSE: &str = "blade fuse F1 15 A";
const EYES: Instruments = Instruments { voltmeter: None, test_lamp: None, clamp_meter: false, ohmmeter: false };
/// The lamp behind the same fuse burns, so nothing has blown it.
const DEAD: &str = "complaint: {what: [pump], how: dead, with: {S1: on}, works: [lamp]}\nreadings: []\n";
/// Nothing is known of the fuse.
const LESS_SAID: &str = "complaint: {what: [pump], how: dead, with: {S1: on}}\nreadings: []\n";

/// The relay and what controls it, by the beginnings of their names.
const CONTROL_SIDE: [&str; 4] = ["K1", "S1", "control/", "coil/"];

fn system(pump: &str, fuse: &str) -> System {
    let text = INSTALL.replace("{pump}", pump).replace("{fuse}", fuse);
    let (install, _) =
        load(&Source::new("pump.yaml", text), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).unwrap()
}

fn complaint(system: &System, text: &str) -> Complaint {
    load_answers(&Source::new("job.yaml", text), system, &EYES).unwrap_or_else(|r| panic!("{r:?}")).complaint
}

/// The set-up that is typed so.
fn typed(system: &System, words: &[&str]) -> SetUp {
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    words.iter().try_fold(rest, |set_up, word| system.switched(set_up, word)).unwrap_or_else(|why| panic!("{why}"))
}

fn hidden(system: &System, part: &str, mode: &str) -> Vec<Edit> {
    let fault = system.fault(part, mode).unwrap_or_else(|| panic!("no {part} {mode}"));
    let fault = &system.suspects.faults()[fault];
    let ohms = fault.severity.map_or(Ohms::ZERO, |severity| severity.low);
    fault.effect.edits(ohms)
}

/// What is believed of the relay and its control side.
fn control_side(job: &Diagnosis<'_>) -> f64 {
    let suspects = job.belief().suspects();
    let is_there = |part: &str| CONTROL_SIDE.iter().any(|side| part.starts_with(side));
    let there = suspects.list().enumerate().filter(|(_, suspect)| {
        !suspect.faults.is_empty() && suspect.faults.iter().all(|fault| is_there(&suspects.faults()[*fault].part))
    });
    there.map(|(id, _)| job.posterior().probability[id]).sum()
}

/// Takes a job through to its end behind what a file of answers says, where only what the load does can be seen. What is asked with a jumper in, each time with what
/// was believed of the control side before and after it.
fn jumpers(system: &System, said: &str, edits: Vec<Edit>) -> Vec<(Test, f64, f64)> {
    let said = load_answers(&Source::new("job.yaml", said), system, &EYES).unwrap_or_else(|r| panic!("{r:?}"));
    let pump = system.part("pump").or_else(|| system.part("winch")).unwrap();
    let mut person = Person::exact(&system.circuit, MockUp::new(&system.circuit.netlist, edits, Draws::none()));
    person.set(&said.complaint.set_up).unwrap();
    let network = Network::new(&system.circuit.netlist);
    let mut job = Diagnosis::begin(system, &network, EYES, said.complaint, 1).unwrap();
    for given in said.given {
        job.answer(given.test, given.answer);
    }
    let mut asked = Vec::new();
    while let Next::Take(next) = job.next() {
        let seen = next.test.at == Target::Part(pump)
            && system.sight(pump).map(Probe::Look).as_ref() == Some(&next.test.probe);
        let given = if seen { answer(system, &mut person, &next.test) } else { Answer::NotTaken };
        let before = control_side(&job);
        job.answer(next.test.clone(), given);
        if next.test.set_up.is_bridged() {
            asked.push((next.test, before, control_side(&job)));
        }
        assert!(job.taken().len() < 60, "no end");
    }
    asked
}

#[test]
fn a_jumper_tells_the_relay_and_its_control_side_from_the_load_side() {
    let system = system(PUMP, FUSE);
    let asked = |part: &str, mode: &str| jumpers(&system, DEAD, hidden(&system, part, mode));
    for (part, mode) in [("K1", "coil-open"), ("K1", "contact-stuck-open"), ("S1", "stuck-open"), ("coil/2", "broken")]
    {
        let asked = asked(part, mode);
        let (_, before, after) = asked.first().unwrap_or_else(|| panic!("{part} {mode}: no jumper was asked for"));
        assert!(*before < 0.9 && *after > 0.95, "{part} {mode}: {before} {after}");
    }
    for (part, mode) in [("pump/4", "broken"), ("pump", "open-winding"), ("pump/6", "broken")] {
        let asked = asked(part, mode);
        let (_, before, after) = asked.first().unwrap_or_else(|| panic!("{part} {mode}: no jumper was asked for"));
        assert!(*before > 0.3 && *after < 0.1, "{part} {mode}: {before} {after}");
    }
}

#[test]
fn no_jumper_goes_in_while_a_short_is_suspected() {
    let system = system(PUMP, FUSE);
    // A short behind the relay, a stalled pump, a short before the relay: each has blown the fuse.
    for (part, mode) in [("pump/4", "short-to-earth"), ("pump", "seized"), ("pump/2", "short-to-earth")] {
        let asked = jumpers(&system, LESS_SAID, hidden(&system, part, mode));
        assert_eq!(asked, [], "{part} {mode}");
    }
    // That the fuse was seen blown suspects a short too; a lamp that burns behind it clears all that would have blown it.
    let offered = |seen: &str| {
        let said = LESS_SAID.replace("readings: []", &format!("readings:\n  - {{with: {{S1: on}}, {seen}}}"));
        !jumpers(&system, &said, hidden(&system, "K1", "coil-open")).is_empty()
    };
    assert!(!offered("look: F1, shows: blown"));
    assert!(offered("look: lamp, shows: lit"));
}

#[test]
fn no_jumper_is_for_much_current_nor_for_what_nothing_protects() {
    for (pump, fuse) in [
        ("motor 60 W \"winch\"", FUSE),
        ("motor 60 W \"pump\"", "blade fuse F1 40 A"),
        ("motor 60 W \"pump\"", "1.5 mm² 1 m"),
    ] {
        let system = system(pump, fuse);
        let name = if pump.contains("winch") { "winch" } else { "pump" };
        let said = DEAD.replace("pump", name);
        assert_eq!(jumpers(&system, &said, hidden(&system, "K1", "coil-open")), [], "{pump}, {fuse}");
    }
}

#[test]
fn no_jumper_goes_in_while_the_engine_runs() {
    let system = system(PUMP, FUSE);
    let running = DEAD.replace("with: {S1: on}", "with: {S1: on, alternator: idle}");
    let asked = jumpers(&system, &running, hidden(&system, "K1", "coil-open"));
    assert!(!asked.is_empty(), "with the engine off it is asked for");
    for (test, ..) in asked {
        assert!(!system.engine_runs(&test.set_up), "{test:?}");
    }
}

#[test]
fn network_and_mock_up_agree_with_a_jumper_in() {
    let system = system(PUMP, FUSE);
    let netlist = &system.circuit.netlist;
    let network = Network::new(netlist);
    let faults = [
        ("K1", "coil-open"),
        ("K1", "welded-contact"),
        ("K1", "unswitched"),
        ("K1", "other-layout"),
        ("K1", "burnt-contact"),
        ("pump/2", "corroded"),
        ("pump/4", "broken"),
        ("pump/4", "short-to-earth"),
        ("pump", "seized"),
        ("S1", "bad-contact"),
    ];
    for (part, mode) in faults {
        let part = if mode == "corroded" { format!("{part}.b") } else { part.to_owned() };
        let edits = hidden(&system, &part, mode);
        for words in [&["K1=bridged"][..], &["S1", "K1=bridged"], &["S1", "K1=bridged", "lamp=out"]] {
            let set_up = typed(&system, words);
            let mut bench = MockUp::new(netlist, edits.clone(), Draws::none());
            bench.enter(&set_up).unwrap();
            let state = network.enter(&edits, &network.fresh(), &set_up).unwrap().remove(0).state;
            let reference = system.node(system.reference);
            for node in netlist.nodes.ids() {
                let (own, other) = (bench.volts(node, reference).unwrap(), state.voltage(node, reference));
                let alike = match (own, other) {
                    (Some(own), Some(other)) => (own - other.get()).abs() < 1e-6,
                    (None, None) => true,
                    _ => false,
                };
                assert!(alike, "{part} {mode}, {words:?}, {}: {own:?} {other:?}", netlist.nodes[node].name);
            }
        }
    }
}

#[test]
fn what_a_jumper_lets_through_is_reckoned_by_hand() {
    // One way from plus to minus: all that lies on it in series, 20 milliohms of jumper instead of the contact.
    let system = system("heater 60 W \"pump\"", FUSE);
    let netlist = &system.circuit.netlist;
    let set_up = typed(&system, &["K1=bridged", "lamp=out"]);
    let (mut volts, mut series, mut load) = (0.0, 0.02, 0.0);
    for (id, element) in netlist.elements.enumerate() {
        let part = &system.install.parts[system.circuit.part_of[id]];
        let of = |names: &[&str]| names.iter().any(|name| part.id == *name || part.id.starts_with(&format!("{name}/")));
        if !of(&["battery", "feed", "F1", "pump", "body"]) {
            continue;
        }
        let ohms = match &element.primitive {
            Primitive::Source { emf: Emf::Fixed(emf), internal, .. } => {
                volts = emf.get();
                internal.get()
            }
            Primitive::Resistance { ohms } | Primitive::Fuse { ohms, .. } => ohms.get(),
            other => panic!("{other:?}"),
        };
        if part.id == "pump" {
            load = ohms;
        }
        series += ohms;
    }
    let network = Network::new(netlist);
    let state = network.enter(&[], &network.fresh(), &set_up).unwrap().remove(0).state;
    let at = |name: &str| system.node(system.point(name).unwrap());
    let across = state.voltage(at("K1.30"), at("K1.87")).unwrap().get();
    assert!(load > 2.0 && series > load, "{load} {series}");
    assert!((across - 0.02 * volts / series).abs() < 1e-9, "{across}, {volts} V over {series} ohm");
    let coil: ElementId = system.circuit.element(system.part("K1").unwrap(), "coil").unwrap();
    assert!(state.current(coil).get().abs() < 1e-12);
}

#[test]
fn what_is_bridged_is_typed_and_kept_by_name() {
    let system = system(PUMP, FUSE);
    let set_up = typed(&system, &["S1", "K1=bridged"]);
    let setting = system.setting(&set_up);
    assert!(setting.contains(&("K1".to_owned(), "bridged".to_owned())), "{setting:?}");
    assert_eq!(system.set_up_named(&system.resting(), &setting).unwrap(), set_up);
    assert_eq!(show::text::set_up(&system, &set_up), "S1 on, all others off; K1 bridged");
    assert_eq!(show::json::set_up(&system, &set_up).to_string(), r#"{"K1":"bridged","S1":"on"}"#);
    // Whatever was done to it before, it is bridged once; out again there is no jumper left, and back in its place nothing is.
    assert_eq!(typed(&system, &["K1=out", "S1", "K1=bridged", "K1=bridged"]), set_up);
    assert_eq!(typed(&system, &["S1", "K1=bridged", "K1=out"]), typed(&system, &["S1", "K1=pulled"]));
    let back = system.circuit.in_its_place(set_up.clone(), system.part("K1").unwrap());
    assert_eq!(back, typed(&system, &["S1"]));
    assert_eq!(system.switched(back.clone(), "K1=bridge").unwrap_err(), "`K1` can be pulled, out or bridged");
    assert!(system.switched(back, "F1=bridged").is_err(), "a fuse is never bridged");
    // In a line of one's own.
    let own = system.already(&EYES, "pump runs with S1, K1=bridged", &SetUp::at_rest(&system.circuit.netlist.controls));
    assert_eq!(own.unwrap().unwrap().test.set_up, set_up);
    assert!(system.already_forms().ends_with("with S1, K1=bridged"), "{}", system.already_forms());
    // In a file of answers, with the place of a wrong word.
    let read = |word: &str| {
        let text = DEAD.replace(
            "readings: []",
            &format!("readings:\n  - {{with: {{S1: on, K1: {word}}}, look: pump, shows: runs}}"),
        );
        let source = Source::new("job.yaml", text);
        let read = load_answers(&source, &system, &EYES);
        read.map_err(|report| show::diagnostics(&report, &source, false))
    };
    assert_eq!(read("bridged").unwrap().given[0].test.set_up, set_up);
    let wrong = read("bridgd").unwrap_err();
    assert!(wrong.contains("job.yaml:3:25") && wrong.contains("bridged"), "{wrong}");
}

#[test]
fn a_jumper_is_said_with_its_ends_its_fuse_and_when_it_comes_out() {
    let system = system(PUMP, FUSE);
    let network = Network::new(&system.circuit.netlist);
    let pump = system.part("pump").unwrap();
    let look = |words: &[&str]| Test {
        set_up: typed(&system, words),
        probe: Probe::Look(system.sight(pump).unwrap()),
        at: Target::Part(pump),
    };
    let mut job = Diagnosis::begin(&system, &network, EYES, complaint(&system, DEAD), 1).unwrap();
    let said = |job: &Diagnosis<'_>, test: &Test| {
        let minutes = halfsplit::choice::minutes(&system.install, &job.standing(), test);
        let reluctance = halfsplit::units::Minutes::ZERO;
        let ranked = halfsplit::choice::Ranked { test: test.clone(), bits: 0.0, minutes, reluctance };
        let text = show::test::test_in(job, 1, &ranked, &job.expect(test));
        (text.split_whitespace().collect::<Vec<_>>().join(" "), minutes.get())
    };
    let bridged = look(&["S1", "K1=bridged"]);
    let (text, minutes) = said(&job, &bridged);
    assert!(text.contains("First all off Then K1 (relay): pull it out of its socket; jumper from 30 to 87 of its socket, with a 15 A fuse in it"), "{text}");
    assert!(text.contains("CAUTION the jumper with its fuse") && text.contains("it moves now"), "{text}");
    // 0.4 for the relay, 0.4 for the jumper, 0.1 to look.
    assert!((minutes - 0.9).abs() < 1e-9, "{minutes}");
    job.answer(bridged, Answer::Word(2));
    let (text, minutes) = said(&job, &look(&["S1", "K1=out"]));
    assert!(text.contains("K1 (relay): jumper out Switches"), "{text}");
    assert!((minutes - 0.5).abs() < 1e-9, "{minutes}");
    let (text, _) = said(&job, &look(&["S1"]));
    assert!(text.contains("K1 (relay): jumper out; push it in again"), "{text}");
    let left = show::finding::as_left(&job, &[]);
    assert!(left.contains("K1: all off, then jumper out; push it in again"), "{left}");
}
