//! What is done about faults, what a handbook lets a repaired part lose, and what to beware of meanwhile.

use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::System;
use halfsplit::knowledge::{Knowledge, Moment, Piece, Role};
use std::collections::BTreeSet;

/// Columns that a step has on a narrow screen, behind its number, and lines of it.
const COLUMNS: usize = 51;
const LINES: usize = 3;

#[test]
fn every_fault_has_its_repair_in_steps_that_fit_a_small_screen() {
    let knowledge = Knowledge::built_in();
    let modes = || knowledge.kinds.iter().flat_map(|kind| kind.modes.iter().map(move |mode| (kind, mode)));
    let without: Vec<String> = modes()
        .filter(|(kind, mode)| knowledge.repair_steps(kind, &mode.key).is_none())
        .map(|(kind, mode)| format!("{:?} {}: {}", kind.role, kind.name, mode.key))
        .collect();
    assert!(without.is_empty(), "no steps for {without:#?}");
    for row in &knowledge.repairs {
        assert!(row.source.len() > 10 && row.steps.len() <= 6, "{}", row.key);
        for key in &row.modes {
            let used = modes().any(|(kind, mode)| {
                &mode.key == key && knowledge.repair_steps(kind, key).is_some_and(|found| found.key == row.key)
            });

            assert!(used, "{}: nothing has the mode {key}", row.key);
        }
        for name in &row.kinds {
            assert!(knowledge.kinds.iter().any(|kind| kind.name == *name), "{}: no kind {name}", row.key);
        }
        for step in &row.steps {
            let text = step.with(|_| None);
            assert!(text.len() > 8 && text.len() <= COLUMNS * LINES, "{}: {text}", row.key);
            for piece in &step.0 {
                let Piece::Figure { key, .. } = piece else { continue };
                let figure = |kind: &halfsplit::knowledge::Kind| kind.figures.iter().any(|figure| figure.key == *key);
                assert!(key == "nominal" || knowledge.kinds.iter().any(figure), "{}: no figure {key}", row.key);
            }
        }
    }
}

/// A battery lead is opened at the minus first, and put back there last (the caution's own source); wherever a step does so the
/// cautions about it stand with the repair.
#[test]
fn where_a_battery_lead_is_opened_minus_goes_first_and_comes_back_last() {
    let knowledge = Knowledge::built_in();
    let mut opened = 0;
    for row in &knowledge.repairs {
        let text: Vec<String> = row.steps.iter().map(|step| step.with(|_| None)).collect();
        let off = text.iter().position(|step| step.contains("minus off first"));
        let on = text.iter().position(|step| step.contains("minus on last") || step.contains("minus last"));
        let Some(off) = off else { continue };
        opened += 1;
        assert!(on.is_some_and(|on| on > off), "{}", row.key);
        for key in ["minus-first", "solar-first", "settings-lost"] {
            assert!(row.cautions.iter().any(|caution| caution == key), "{}: {key}", row.key);
        }
    }
    assert!(opened >= 6, "{opened}");
}

#[test]
fn a_fuse_is_told_with_its_rating_and_a_wire_with_its_size() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/sprayer/install.yaml")).unwrap();
    let (install, _) = load(&Source::new("install.yaml", text), &Knowledge::built_in()).unwrap();
    let system = System::new(install).unwrap();
    let steps = |part: &str, mode: &str| {
        let fault = system.describe(system.fault(part, mode).unwrap()).unwrap();
        system.steps(fault).unwrap().steps.join("\n")
    };
    assert!(steps("F1", "blown").contains("fit 40 A, the same sort, never a larger one"), "{}", steps("F1", "blown"));
    assert!(steps("B.5.fuse", "blown").contains("15 A"), "{}", steps("B.5.fuse", "blown"));
    // An end of a wire has the figures of its wire.
    assert!(steps("pump/2.a", "corroded").contains("2.5 mm²"), "{}", steps("pump/2.a", "corroded"));
    assert!(steps("pump/2", "broken").contains("2.5 mm², 3 m"), "{}", steps("pump/2", "broken"));
    assert!(steps("left lamp", "burnt-out").contains("55 W, 12 V"), "{}", steps("left lamp", "burnt-out"));
}

/// The figures are those of the facts that they name, read by hand in `knowledge/facts/drop-limits.yaml`.
#[test]
fn handbook_limits_are_those_of_the_facts() {
    let knowledge = Knowledge::built_in();
    let volts = |role| knowledge.drop_limit(role).map(|limit| limit.volts);
    assert_eq!(volts(Role::Conductor), Some(0.2));
    assert_eq!(volts(Role::Switching), Some(0.3));
    assert_eq!(volts(Role::Control), Some(0.3));
    assert_eq!(volts(Role::Joint), Some(0.1));
    assert_eq!(volts(Role::Protection), None);
    assert_eq!(volts(Role::Load), None);
}

/// Issue 6, point 8, one by one: what is said, when, and on what.
#[test]
fn each_caution_comes_at_its_moment() {
    let knowledge = Knowledge::built_in();
    let said = |key: &str, moment, setting: &str, fuel: &str| {
        let caution = knowledge.cautions.get(key).unwrap_or_else(|| panic!("no caution {key}"));
        caution.is_for(moment, setting, fuel)
    };
    for (key, moment) in [
        ("no-rings", Moment::Job),
        ("no-rings", Moment::Test),
        ("minus-first", Moment::Repair),
        ("solar-first", Moment::Repair),
        ("settings-lost", Moment::Repair),
        ("engine-running", Moment::Engine),
        ("no-bigger-fuse", Moment::Repair),
        ("dead-for-ohms", Moment::Repair),
        ("no-lamp-on-modules", Moment::Lamp),
        ("fused-jumper", Moment::Jumper),
        ("airbag", Moment::Job),
        ("battery-gas", Moment::Test),
        ("hot-part", Moment::Test),
        ("moves", Moment::Runs),
        ("heats", Moment::Runs),
        ("under-it", Moment::Test),
        ("airbag", Moment::Test),
        ("parked", Moment::Job),
        ("over-50-volts", Moment::Test),
        ("not-driven", Moment::Leaving),
        ("lamps-again", Moment::MovingOff),
    ] {
        assert!(said(key, moment, "road vehicle", "") && said(key, moment, "", ""), "{key}");
    }
    // A battery lead is not opened by a voltmeter, nor does a belt turn while the engine stands.
    assert!(!said("minus-first", Moment::Test, "road vehicle", ""));
    assert!(!said("moving-parts", Moment::Test, "road vehicle", ""));
    // Petrol: in boats, unless they are said to have none.
    assert!(said("petrol-vapour", Moment::Job, "boat", "") && said("petrol-vapour", Moment::Job, "boat", "petrol"));
    assert!(!said("petrol-vapour", Moment::Job, "boat", "diesel"));
    assert!(!said("petrol-vapour", Moment::Job, "trailer", "petrol") && !said("petrol-vapour", Moment::Job, "", ""));
    assert!(!said("parked", Moment::Job, "boat", "") && !said("airbag", Moment::Job, "boat", ""));
    assert!(!said("not-driven", Moment::Leaving, "boat", "") && said("not-sailed", Moment::Leaving, "boat", ""));
    // A battery is not what it starts.
    let great = &knowledge.cautions["great-force"];
    assert!(great.no_jumper_there && great.is_called_by("anchor windlass") && !great.is_called_by("starter battery"));
    // Each is named by a kind, a mode or a repair, or is said of a whole system.
    let mut named: BTreeSet<&str> =
        knowledge.repairs.iter().flat_map(|row| &row.cautions).map(String::as_str).collect();
    for kind in knowledge.kinds.iter() {
        named.extend(kind.cautions.iter().chain(kind.modes.iter().flat_map(|mode| &mode.cautions)).map(String::as_str));
    }
    let whole = [Moment::Job, Moment::Lamp, Moment::Ohms, Moment::Jumper, Moment::MovingOff];
    for (key, caution) in &knowledge.cautions {
        let general = caution.when.iter().any(|moment| whole.contains(moment));
        let called = !caution.named.is_empty();
        assert!(general || called || named.contains(key.as_str()), "{key} is never said");
        // A word is compared with lower case letters.
        assert!(caution.named.iter().all(|word| *word == word.to_lowercase() && !word.is_empty()), "{key}");
        assert!(caution.says.len() <= 150, "{key} is too long to stand above a test: {}", caution.says.len());
    }
}

/// What no kind tells is told by the name: brakes and wipers of a vehicle, wires that must not be probed, a place that one goes under.
#[test]
fn a_name_calls_for_its_cautions() {
    let knowledge = Knowledge::built_in();
    let called = |key: &str, name: &str| knowledge.cautions[key].is_called_by(name);
    for name in ["brake", "Trailer brakes", "brake.coil", "left-hand wiper", "ABS lamp"] {
        assert!(called("not-driven", name), "{name}");
    }
    for name in ["breaker", "brakeman", "", "cabs", "work lamp"] {
        assert!(!called("not-driven", name), "{name}");
    }
    assert!(called("airbag", "airbag lamp") && !called("airbag", "bag"));
    assert!(called("under-it", "under the bed") && !called("under-it", "thunder"));
    let text = "install: Trailer\nnominal: 12 V\nkind: trailer\nplaces:\n  box: {access: 1 min}\n  \
                under bed: {access: 2 min}\nsupplies:\n  battery: {is: lead-acid battery, place: box}\nearths:\n  \
                frame: {to: battery.-, by: 10 mm² 1 m, place: box}\ncontrols:\n  S1: {is: switch, place: box}\nruns:\n  \
                brake: battery.+ | blade fuse F1 10 A at box | S1 | 1.5 mm² 3 m | solenoid 18 W \"brake\" at under bed | 1.5 mm² 2 m | frame\n  \
                heat: battery.+ | blade fuse F2 10 A at box | S1 | 1.5 mm² 3 m | heater 60 W \"pad\" at box | 1.5 mm² 2 m | frame\n";
    let (install, _) = load(&Source::new("trailer.yaml", text), &knowledge).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).unwrap();
    let [brake, pad] = ["brake", "pad"].map(|name| system.part(name).unwrap());
    let left = system.cautions_on_leaving(&[brake, pad]);
    assert!(left.len() == 1 && left[0].starts_with("brake: not to be driven"), "{left:?}");
    let fault = system.describe(system.fault("brake", "open").unwrap()).unwrap();
    let repair = system.cautions_at_repair(fault);
    assert!(repair.iter().any(|says| says.starts_with("prop it before you go under")), "{repair:?}");
    let text = text.replace("\"pad\"", "\"airbag pad\"");
    let (install, _) = load(&Source::new("trailer.yaml", text), &knowledge).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).unwrap();
    let fault = system.describe(system.fault("airbag pad", "open").unwrap()).unwrap();
    assert!(system.cautions_at_repair(fault).iter().any(|says| says.starts_with("do not probe airbag wires")));
}

/// Never open the isolator while the engine runs: a test with the engine running and the isolator off says so wherever it is read.
#[test]
fn an_isolator_that_is_off_beside_a_running_engine_is_told() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/workboat/install.yaml")).unwrap();
    let (install, _) = load(&Source::new("install.yaml", text), &Knowledge::built_in()).unwrap();
    let system = System::new(install).unwrap();
    let says = |controls: &[&str]| {
        let rest = system.set_up_named(&system.resting(), &Vec::new()).unwrap();
        let set_up = controls.iter().fold(rest, |set_up, name| system.switched(set_up, name).unwrap());
        let line = "F3.in to F3.out = 0.0";
        let already = system.already(&system.instruments(), line, &set_up).unwrap().unwrap();
        let cautions = system.cautions_at_test(&already.test, &[]);
        cautions.iter().any(|says| says.contains("isolator while the engine runs"))
    };
    assert!(says(&["isolator=off", "engine alternator=fast"]));
    assert!(!says(&["engine alternator=fast"]));
    assert!(!says(&["isolator=off"]));
}
