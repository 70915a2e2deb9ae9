//! Traced trials of exact campaigns, replayed: every reading that the mock-up gave must be what ngspice computes for the
//! hidden fault.
//!
//! `REPLAY_TRACES=INSTALL=TRACE,...` replays traces that the program has written before instead of playing a few trials.

use super::record::Hidden;
use super::say;
use super::workshop::{Bench, Reads, system};
use crate::support::ngspice::is_there;
use halfsplit::belief::Probe;
use halfsplit::choice::{Target, Test};
use halfsplit::circuit::SetUp;
use halfsplit::job::System;
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Stdio};

/// What is played when nothing else is said: installs and trials.
const PLAYED: [(&str, &str); 3] =
    [("tests/cli/small.yaml", "8"), ("examples/taillift/install.yaml", "3"), ("examples/sprayer/install.yaml", "1")];

/// Two solvers agree within a millionth of the voltage, and a microvolt: the least that the mock-up itself is held to.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * a.abs().max(b.abs()) + 1e-6
}

/// Traces by install: those that are named, or some that are played now.
fn traces() -> Vec<(String, String)> {
    if let Ok(named) = std::env::var("REPLAY_TRACES") {
        let read = |pair: &str| {
            let (install, trace) = pair.split_once('=').expect("INSTALL=TRACE");
            (install.to_owned(), std::fs::read_to_string(trace).unwrap())
        };
        return named.split(',').map(read).collect();
    }
    let played = |(install, trials): (&str, &str)| {
        let trace = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("replay-{}.jsonl", install.replace('/', "-")));
        let status = Command::new(env!("CARGO_BIN_EXE_halfsplit"))
            .args(["testability", install, "--trials", trials, "--trace"])
            .arg(&trace)
            .stdout(Stdio::null())
            .status()
            .unwrap();
        assert!(status.success(), "{install}");
        (install.to_owned(), std::fs::read_to_string(trace).unwrap())
    };
    PLAYED.into_iter().map(played).collect()
}

/// The fault of a trial.
fn hidden(trial: &Value) -> Hidden {
    let [fault] = &trial["hidden"].as_array().expect("a trial hides something")[..] else {
        panic!("one fault is hidden in {trial}")
    };
    let text = |key: &str| fault[key].as_str().unwrap().to_owned();
    Hidden { part: text("part"), mode: text("mode"), ohms: fault["ohms"].as_f64() }
}

fn set_up(system: &System, moved: &Value) -> SetUp {
    let moved = moved.as_object().expect("a map of controls, and of parts that are taken out");
    moved.iter().fold(SetUp::at_rest(&system.circuit.netlist.controls), |set_up, (name, to)| {
        let switched = system.switched(set_up, &format!("{name}={}", to.as_str().unwrap()));
        switched.unwrap_or_else(|why| panic!("{why}"))
    })
}

/// A reading's test, as the trace tells it.
fn test(system: &System, reading: &Value) -> Test {
    let set_up = set_up(system, &reading["with"]);
    if let Some(look) = reading["look"].as_str() {
        let sight = system.sights.iter().position(|s| system.sight_name(s) == look).expect("a sight");
        return Test { set_up, probe: Probe::Look(sight), at: Target::Part(system.sights[sight].part) };
    }
    let point = |key: &str| system.point(reading[key].as_str().unwrap()).expect("a point");
    let (red, black) = (point("red"), point("black"));
    let nodes = (system.node(red), system.node(black));
    let instruments = system.instruments();
    let probe = match reading["instrument"].as_str().unwrap() {
        "voltmeter" => Probe::Volts {
            instrument: instruments.voltmeter.expect("a meter"),
            red: nodes.0,
            black: nodes.1,
            unsigned: false,
        },
        "test lamp" => {
            Probe::Light { instrument: instruments.test_lamp.expect("a lamp"), red: nodes.0, black: nodes.1 }
        }
        other => panic!("no trial asks for {other}"),
    };
    Test { set_up, probe, at: Target::Points { red, black } }
}

/// What ngspice has instead, if it is not what the trace says.
fn differs(system: &System, test: &Test, reads: &Reads, read: &Value) -> Option<String> {
    let words = match test.probe {
        Probe::Look(sight) => system.words(sight),
        _ => system.tester_words(),
    };
    let alike = match reads {
        Reads::Volts(volts) => read.as_f64().is_some_and(|read| same(*volts, read)),
        Reads::Jumps => read == "jumps",
        Reads::Word(word) => words.is_some_and(|words| *read == words.words[*word].says),
    };
    (!alike).then(|| match reads {
        Reads::Word(word) => words.map_or_else(String::new, |words| words.words[*word].says.clone()),
        other => format!("{other:?}"),
    })
}

#[test]
fn traced_readings_are_what_ngspice_reads() {
    if !is_there() {
        say("NOT CHECKED: ngspice is not installed, so the readings of the trials were not computed again");
        return;
    }
    let (mut trials, mut checked, mut unsettled, mut wrong) = (0, 0, 0, Vec::new());
    for (install, trace) in traces() {
        let system = system(&Path::new(env!("CARGO_MANIFEST_DIR")).join(&install));
        for line in trace.lines() {
            let trial: Value = serde_json::from_str(line).unwrap();
            let hidden = hidden(&trial);
            let mut bench = Bench::new(&system, &hidden);
            trials += 1;
            for reading in trial["readings"].as_array().unwrap().iter().filter(|r| !r["read"].is_null()) {
                let test = test(&system, reading);
                let reads = bench.take(&test);
                // Of states that go round, ngspice's loop keeps one: whether this very reading moves with them is not known.
                if reads == Reads::Jumps && reading["read"].is_number() {
                    unsettled += 1;
                    continue;
                }
                checked += 1;
                if let Some(has) = differs(&system, &test, &reads, &reading["read"]) {
                    wrong.push(format!("{install}, {hidden:?}: ngspice has {has}: {reading}"));
                }
            }
        }
    }
    say(&format!(
        "{checked} readings of {trials} trials replayed, {} differ; {unsettled} more in states that go round",
        wrong.len()
    ));
    for line in &wrong {
        say(line);
    }
    assert!(trials >= 12 && checked >= 40, "{checked} readings of {trials} trials");
    assert!(20 * unsettled <= checked, "{unsettled} readings were not compared");
    assert!(wrong.is_empty(), "{} of {checked} readings are not ngspice's", wrong.len());
}
