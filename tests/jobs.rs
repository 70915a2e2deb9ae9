//! Recorded jobs of the example installs: each must end in its finding, and each of its readings must be what another
//! simulator computes for the hidden fault.
//!
//! A job file is an answers file with two more keys, which `diagnose` never looks at: `hidden` is the fault that the
//! readings were made with (`ohms` its size, for a soft one), `finding` what the job must end in; `verdict: ambiguous`
//! in it when no test can tell the true fault from a few others; `verdict: open` records a shortcoming, which its file tells.
//!
//! `MAKE_JOBS=1 cargo test --test all jobs::` writes the readings of every job anew: it leads each job with the
//! program's own questions and answers them with ngspice. `MAKE_JOBS=coil` does so for the files whose name holds `coil`.

mod barred;
mod make;
mod neighbours;
mod proof;
mod reasoning;
mod record;
mod replay;
mod second_opinion;
mod workshop;

use crate::support::ngspice::is_there;
use record::{Record, records};
use serde_json::Value;
use std::io::Write;
use std::process::{Command, Stdio};
use workshop::{Bench, system};

/// Says it even where the harness keeps what passing tests print.
fn say(line: &str) {
    let _ = writeln!(std::io::stderr(), "{line}");
}

/// Runs the program on a job; what it says as JSON.
fn diagnosed(record: &Record) -> Value {
    let output = Command::new(env!("CARGO_BIN_EXE_halfsplit"))
        .arg("diagnose")
        .arg(&record.install)
        .arg("--answers")
        .arg(&record.path)
        .args(["--format", "json"])
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    serde_json::from_str(&said).unwrap_or_else(|e| panic!("{e}: {said}{}", String::from_utf8_lossy(&output.stderr)))
}

/// What is wrong with the end of a job, if anything.
fn misses(record: &Record, said: &Value) -> Option<String> {
    let system = system(&record.install);
    let repair = |part: &str, mode: &str| {
        let fault = system.fault(part, mode);
        let fault = fault.unwrap_or_else(|| panic!("{}: no fault {part} {mode}", record.name));
        system.suspects.faults()[fault].repair.clone()
    };
    let expected = repair(&record.finding.part, &record.finding.mode);
    let hidden = repair(&record.hidden.part, &record.hidden.mode);
    let found = |suspect: &Value| {
        let faults = suspect["faults"].as_array().cloned().unwrap_or_default();
        let text = |fault: &Value, key: &str| fault[key].as_str().unwrap_or_default().to_owned();
        faults.iter().any(|f| repair(&text(f, "part"), &text(f, "mode")) == expected)
    };
    let empty = Vec::new();
    let suspects = said["suspects"].as_array().unwrap_or(&empty);
    let verdict = said["verdict"].as_str().unwrap_or_default();
    let good = match record.verdict.as_str() {
        // What is left after the likely ones is not named as one of a few.
        "ambiguous" | "open" => {
            let share = |s: &&Value| s["probability"].as_f64().is_some_and(|p| p >= 0.02);
            suspects.iter().filter(share).any(found)
        }
        _ => suspects.first().is_some_and(found),
    };
    if expected != hidden {
        return Some("the finding is not the repair of the hidden fault".to_owned());
    }
    if verdict != record.verdict {
        return Some(format!("the verdict is {verdict}, not {}: {}", record.verdict, top(suspects)));
    }
    (!good).then(|| format!("another suspect is named: {}", top(suspects)))
}

/// The first suspects in a line.
fn top(suspects: &[Value]) -> String {
    let line = |s: &Value| format!("{} {:.4}", s["faults"], s["probability"].as_f64().unwrap_or(0.0));
    suspects.iter().take(4).map(line).collect::<Vec<_>>().join("; ")
}

#[test]
fn recorded_jobs_end_in_their_finding() {
    if let Some(which) = std::env::var_os("MAKE_JOBS") {
        make::all(&which.to_string_lossy());
    }
    let (mut passed, mut failed) = (0, 0);
    for record in records() {
        let said = diagnosed(&record);
        let tests = said["readings"]
            .as_array()
            .map_or(0, |all| all.iter().filter(|r| r["complaint"] == false && !r["read"].is_null()).count());
        let minutes = said["minutes"].as_f64().unwrap_or(0.0);
        match misses(&record, &said) {
            None => {
                passed += 1;
                say(&format!("passed {} ({}, {tests} tests, {minutes:.1} min)", record.name, record.verdict));
            }
            Some(why) => {
                failed += 1;
                say(&format!("FAILED {} ({tests} tests, {minutes:.1} min): {why}", record.name));
            }
        }
    }
    say(&format!("{passed} jobs passed, {failed} failed"));
    assert!(passed + failed >= 6, "the example has at least six recorded jobs");
    assert_eq!(failed, 0, "{failed} recorded jobs missed their finding");
}

#[test]
fn recorded_readings_are_what_ngspice_reads() {
    if !is_there() {
        say("NOT CHECKED: ngspice is not installed, so the readings of the recorded jobs were not computed again");
        return;
    }
    let mut wrong = Vec::new();
    let mut checked = 0;
    for record in records() {
        let system = system(&record.install);
        let answers = record.answers(&system);
        let mut bench = Bench::new(&system, &record.hidden);
        for fact in &answers.complaint.facts {
            if let Some(why) = bench.disagrees_with_complaint(fact) {
                wrong.push(format!("{}: complaint: {why}", record.name));
            }
        }
        for given in &answers.given {
            checked += 1;
            if let Some(why) = bench.disagrees(given) {
                wrong.push(format!("{}: {}: {why}", record.name, given.text));
            }
        }
    }
    for line in &wrong {
        say(line);
    }
    assert!(checked > 20, "only {checked} readings were found");
    assert!(wrong.is_empty(), "{} readings are not ngspice's: {wrong:#?}", wrong.len());
}

#[test]
fn a_reading_off_by_two_digits_is_noticed() {
    if !is_there() {
        say("NOT CHECKED: ngspice is not installed");
        return;
    }
    let mut noticed = 0;
    for record in records().into_iter().take(1) {
        let system = system(&record.install);
        let mut bench = Bench::new(&system, &record.hidden);
        for mut given in record.answers(&system).given {
            if let halfsplit::belief::Answer::Number { value, .. } = &mut given.answer {
                *value += 0.021;
                assert!(bench.disagrees(&given).is_some(), "{}: {}", record.name, given.text);
                noticed += 1;
            }
        }
    }
    assert!(noticed > 0, "the first job has a reading in volts");
}
