//! `halfsplit because`: the reasoning of a job file.

use super::program::{SMALL, fed, program, run};
use insta::assert_snapshot;
use std::path::{Path, PathBuf};

/// A finished job on the small install: the relay's contact does not make.
pub(crate) const LAMP: &str = "tests/jobfile/lamp.job.yaml";

/// A file of this name with this text, in the tests' own folder.
pub(crate) fn kept(name: &str, text: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// The first lines of the job.
pub(crate) fn lamp_job(lines: usize) -> String {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(LAMP)).unwrap();
    text.lines().take(lines).flat_map(|line| [line, "\n"]).collect()
}

#[test]
fn the_reasoning_of_a_job_is_told_reading_by_reading() {
    let ran = run(&["because", LAMP]);
    assert_eq!(ran.code, Some(0), "{ran}");
    for line in ran.stdout.lines() {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
    assert!(!ran.stdout.contains('%'), "odds that nobody asked for: {ran}");
    assert_snapshot!("because_lamp", ran.to_string());
}

/// By hand: with S1 on and the contact of K1 open, 30 has the supply and 87 has nothing: the fault lies between the two.
#[test]
fn programs_get_readings_ways_and_what_was_ruled_out() {
    let ran = run(&["because", LAMP, "--format", "json"]);
    let json = ran.json();
    assert_eq!(json["verdict"], "found", "{ran}");
    let readings = json["readings"].as_array().unwrap();
    let third = readings.iter().find(|r| r["number"] == 3).unwrap();
    assert_eq!(third["means"]["what"], "arrives", "{third}");
    let blown = |r: &serde_json::Value| {
        r["rules_out"]
            .as_array()
            .unwrap()
            .iter()
            .any(|out| out["faults"][0]["part"] == "F1" && out["faults"][0]["mode"] == "blown")
    };
    // A blown F1 would hold all of the voltage: the drop of 0 V across it says that it is whole.
    let by = readings.iter().find(|r| blown(r)).unwrap_or_else(|| panic!("{ran}"));
    assert_eq!(by["number"], 1, "{by}");
    let way = &json["ways"][0];
    let [from, to] = [0, 1].map(|i| usize::try_from(way["fault_between"][i].as_u64().unwrap()).unwrap());
    assert_eq!((&way["parts"][from], to - from), (&serde_json::json!("K1"), 1), "{way}");
    assert!(json["left"][0].get("probability").is_none());
    assert!(run(&["because", LAMP, "--with-odds", "--format", "json"]).json()["left"][0]["probability"].is_f64());
    assert!(run(&["because", LAMP, "--with-odds"]).stdout.contains("over 99.9 %"));
}

/// Every suspect is either left or named with the reading that ruled it out: nothing is deleted.
#[test]
fn all_that_was_ruled_out_is_named_on_demand() {
    let json = run(&["because", LAMP, "--format", "json"]).json();
    let all = run(&["because", LAMP, "--all"]).stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    let out = json["readings"].as_array().unwrap().iter().flat_map(|r| r["rules_out"].as_array().unwrap());
    let count = out.clone().count();
    assert!(count > 30, "{count}");
    assert!(all.contains("F1: corroded or loose in its holder") && !all.contains(" more - "), "{all}");
    for out in out {
        assert!(!out["would_read"].is_null(), "{out}");
    }
}

#[test]
fn a_job_under_way_says_what_is_left_and_what_comes_next() {
    let ran = run(&["because", kept("under-way.job.yaml", &lamp_job(10)).to_str().unwrap()]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(ran.stdout.contains("Not at its end.") && ran.stdout.contains("Next: "), "{ran}");
}

#[test]
fn what_cannot_be_told_is_said() {
    let early = kept("early.job.yaml", &lamp_job(3));
    let ran = run(&["because", early.to_str().unwrap()]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert!(ran.stderr.contains("no complaint yet"), "{ran}");
    let ran = run(&["because", LAMP, "--install", "nowhere.yaml"]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert!(ran.stderr.contains("nowhere.yaml"), "{ran}");
    let ran = run(&["because", SMALL]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert!(ran.stderr.contains("is no job file"), "{ran}");
}

/// The reading that was torn off counts for nothing, and the file is left as it is.
#[test]
fn a_torn_job_is_told_and_left_alone() {
    let text = lamp_job(10) + "- {reading: 2, with: {S1: on}, by: volt";
    let torn = kept("torn.job.yaml", &text);
    let ran = run(&["because", torn.to_str().unwrap()]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(ran.stderr.contains("torn off"), "{ran}");
    assert_eq!(std::fs::read_to_string(torn).unwrap(), text);
}

/// At a prompt it is the same text as the command has.
#[test]
fn because_at_a_prompt_says_the_same() {
    let job = kept("prompt.job.yaml", &lamp_job(30));
    let told = run(&["because", job.to_str().unwrap()]).stdout;
    let ran = fed(program().args(["diagnose", SMALL, "--job", job.to_str().unwrap()]), &["because", "w", "q"]);
    assert_eq!(ran.stderr.matches(told.trim_end()).count(), 2, "{ran}\n--- because\n{told}");
}
