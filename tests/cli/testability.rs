//! `halfsplit testability`.

use super::program::{SMALL, run};
use insta::assert_snapshot;
use serde_json::Value;

#[test]
fn the_report_of_a_campaign() {
    let ran = run(&["testability", SMALL, "--trials", "10"]);
    assert_snapshot!("testability_small", ran.to_string());
    // The narrowest screen has 56 columns.
    assert!(ran.stdout.lines().all(|line| line.chars().count() <= 56), "{ran}");
}

#[test]
fn the_report_for_programs_has_the_agreed_keys_and_every_trial_its_line() {
    let trace = std::env::temp_dir().join(format!("halfsplit-trace-{}.jsonl", std::process::id()));
    let path = trace.display().to_string();
    let ran = run(&["testability", SMALL, "--trials", "6", "--noise", "--trace", &path, "--format", "json"]);
    let said = ran.json();
    // The keys that the issue for this command lists.
    let keys = [
        "faults",
        "detected",
        "isolated_1",
        "isolated_2",
        "isolated_3",
        "mean_tests",
        "mean_minutes",
        "p95_minutes",
        "right",
        "too_broad",
        "wrong_confident",
        "misfit",
        "undecided",
        "no_fault",
        "trials",
        "seed",
        "mean_minutes_proven",
        "wrong_confident_upper",
        "baseline_trials",
        "baseline_own_minutes",
        "half_split_minutes",
        "sequential_minutes",
        "entropy_bound_tests",
    ];
    for key in keys {
        assert!(said[key].is_number(), "{key}: {ran}");
    }
    for key in ["faults", "tests", "mean_minutes", "optimal_minutes"] {
        assert!(said["reduced"][key].is_number(), "{key}: {ran}");
    }
    assert!(said["never_useful"].as_array().is_some_and(|tests| !tests.is_empty()), "{ran}");
    for (table, keys) in [("calibration", ["announced", "true", "trials"]), ("curve", ["p", "wrong", "mean_minutes"])] {
        let rows = said[table].as_array().unwrap();
        assert!(!rows.is_empty() && keys.iter().all(|key| rows[0][key].is_number()), "{table}: {ran}");
    }
    let marks = ["right", "too_broad", "wrong_confident", "misfit", "undecided"];
    let sum: f64 = marks.iter().map(|key| said[key].as_f64().unwrap()).sum();
    assert!((sum - 1.0).abs() < 1e-9, "{ran}");
    let text = std::fs::read_to_string(&trace).unwrap();
    let _ = std::fs::remove_file(&trace);
    let lines: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines.len(), 6);
    for line in &lines {
        assert_eq!(line["hidden"].as_array().map(Vec::len), Some(1), "{line}");
        assert!(line["verdict"].is_string() && marks.contains(&line["mark"].as_str().unwrap()), "{line}");
        assert!(line["readings"].as_array().is_some_and(|r| r[0]["complaint"] == true), "{line}");
    }
}

#[test]
fn a_trace_that_cannot_be_written_is_said_at_once() {
    let ran = run(&["testability", SMALL, "--trace", "no/such/folder/trace.jsonl"]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert!(ran.stderr.contains("the trace cannot be written"), "{ran}");
}
