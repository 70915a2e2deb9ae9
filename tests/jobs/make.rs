//! Writes the readings of recorded jobs: the program asks, ngspice answers.

use super::record::{Record, records};
use super::say;
use super::workshop::{Bench, Reads, system};
use halfsplit::belief::Answer;
use halfsplit::job::{Diagnosis, Next, as_answer, read_entry};
use halfsplit::network::Network;
use std::fmt::Write;

/// Makes the jobs whose name holds `which` (all of them for `1`).
pub(super) fn all(which: &str) {
    for record in records().iter().filter(|r| which == "1" || r.name.contains(which)) {
        make(record);
    }
}

fn make(record: &Record) {
    let head = record.text.split("\nreadings:").next().unwrap_or_default().trim_end().to_owned();
    std::fs::write(&record.path, format!("{head}\n")).unwrap();
    let system = system(&record.install);
    let complaint = record.answers(&system).complaint;
    let network = Network::new(&system.circuit.netlist);
    let mut bench = Bench::new(&system, &record.hidden);
    for fact in &complaint.facts {
        if let Some(why) = bench.disagrees_with_complaint(fact) {
            say(&format!("{}: {why}", record.name));
        }
    }
    let mut job = Diagnosis::begin(&system, &network, system.instruments(), complaint.clone(), 1).unwrap();
    let mut text = format!("{head}\nreadings:\n");
    // In a job that goes astray the rest would be as useless.
    for _ in 0..60 {
        let Next::Take(ranked) = job.next() else {
            break;
        };
        let reads = bench.take(&ranked.test);
        let _ = write!(text, "{}", bench.line(&ranked.test, &reads, &complaint.set_up));
        let answer = match reads {
            Reads::Word(word) => Answer::Word(word),
            // As a person reads it off the meter.
            ref other => {
                let typed = read_entry(&bench.text(&ranked.test, other), "V").unwrap();
                as_answer(&typed).unwrap()
            }
        };
        job.answer(ranked.test.clone(), answer);
    }
    std::fs::write(&record.path, text).unwrap();
}
