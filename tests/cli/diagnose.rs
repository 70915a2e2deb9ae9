//! `halfsplit diagnose --answers`: verdict, keys and exit codes. Which tests are asked is the business of others.

use super::program::{GOOD, SMALL, fed, finish, program, run};
use insta::assert_snapshot;
use std::collections::BTreeSet;

const ANSWERS: &str = "tests/cli/coil-open.yaml";

/// Hidden in the answers file: the open coil, which with a live coil feed and no click is all that is left.
#[test]
fn a_recorded_job_ends_with_its_finding() {
    let ran = run(&["diagnose", SMALL, "--answers", ANSWERS]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(ran.stdout.contains("K1: open coil"), "{ran}");
    assert!(ran.stdout.contains("Because:"), "{ran}");
    for line in ran.stdout.lines().chain(ran.stderr.lines()) {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
}

#[test]
fn programs_get_verdict_suspects_and_readings() {
    let ran = run(&["diagnose", SMALL, "--answers", ANSWERS, "--format", "json"]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert_eq!(ran.stderr, "");
    let json = ran.json();
    let keys: BTreeSet<&str> = json.as_object().unwrap().keys().map(String::as_str).collect();
    for key in ["format", "install", "verdict", "suspects", "next", "readings", "unused"] {
        assert!(keys.contains(key), "{key} is missing of {keys:?}");
    }
    assert_eq!(json["format"], 1);
    // The coil and the contact are one repair: either verdict names it.
    assert!(["found", "ambiguous"].contains(&json["verdict"].as_str().unwrap()), "{ran}");
    let first = &json["suspects"][0];
    assert_eq!(first["faults"][0]["part"], "K1");
    assert_eq!(first["faults"][0]["mode"], "coil-open");
    let likely: Vec<f64> =
        json["suspects"].as_array().unwrap().iter().map(|s| s["probability"].as_f64().unwrap()).collect();
    assert!(likely.windows(2).all(|w| w[0] >= w[1]), "best first: {likely:?}");
    assert!(likely[0] > 0.5 && likely.iter().sum::<f64>() <= 1.0 + 1e-9, "{likely:?}");
    let readings = json["readings"].as_array().unwrap();
    assert!(!readings.is_empty());
}

/// Nothing but the complaint is known: no verdict, and the exit code says so.
#[test]
fn a_job_without_readings_stays_open() {
    let folder = tempfile();
    let file = folder.join("nothing.yaml");
    std::fs::write(&file, "complaint: {what: [lamp], how: dark, with: {S1: on}}\n").unwrap();
    let ran = run(&["diagnose", SMALL, "--answers", file.to_str().unwrap(), "--format", "json"]);
    assert_eq!(ran.code, Some(1), "{ran}");
    assert_eq!(ran.json()["verdict"], "open");
}

#[test]
fn bad_answers_are_all_said_at_once() {
    let ran = run(&["diagnose", GOOD, "--answers", "tests/cli/bad-answers.yaml"]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert_snapshot!("diagnose_bad_answers", ran.to_string());
    let ran = run(&["diagnose", GOOD, "--answers", "tests/cli/bad-answers.yaml", "--format", "json"]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert_eq!(ran.json()["errors"], 8, "{ran}");
}

#[test]
fn files_that_are_not_there_are_said() {
    assert_snapshot!("diagnose_no_answers", run(&["diagnose", GOOD, "--answers", "nowhere.yaml"]).to_string());
    assert_snapshot!("diagnose_no_install", run(&["diagnose", "nowhere.yaml"]).to_string());
}

/// With nothing on standard input the person is gone before the complaint: no verdict.
#[test]
fn an_empty_standard_input_ends_without_a_verdict() {
    let ran = run(&["diagnose", GOOD]);
    assert_eq!(ran.code, Some(1), "{ran}");
    assert!(ran.stderr.contains("What is wrong?"), "{ran}");
}

#[test]
fn colour_is_used_only_where_it_is_wanted() {
    let coloured = |ran: super::program::Ran| ran.stderr.contains('\u{1b}') || ran.stdout.contains('\u{1b}');
    assert!(coloured(run(&["diagnose", GOOD, "--color", "always"])), "the cautions stand out");
    assert!(!coloured(run(&["diagnose", GOOD, "--color", "never"])));
    assert!(!coloured(finish(program().args(["diagnose", GOOD]).env("NO_COLOR", "1"))));
    let json = ["diagnose", SMALL, "--answers", ANSWERS, "--format", "json", "--color", "always"];
    assert!(!coloured(run(&json)), "programs get no colour");
}

/// A folder of this run's own below the build's.
fn tempfile() -> std::path::PathBuf {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("diagnose");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// A lamp that lights whenever somebody else looks: nothing is wrong, and exit code 0 says that the job is done. Who has seen it
/// dark himself gets no such answer.
#[test]
fn a_complaint_that_only_the_customer_has_seen_may_be_mistaken() {
    let ran = run(&["diagnose", SMALL, "--answers", "tests/cli/not-seen.yaml"]);
    assert_eq!(ran.code, Some(0), "{ran}");
    for text in ["NO FAULT FOUND", "with S1 on: look at lamp, lit", "only when it is wet", "nothing was"] {
        assert!(ran.stdout.contains(text), "{text}: {ran}");
    }
    for line in ran.stdout.lines() {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
    let json = run(&["diagnose", SMALL, "--answers", "tests/cli/not-seen.yaml", "--format", "json"]).json();
    assert_eq!(json["verdict"], "no_fault");
    assert_eq!(json["no_fault"]["set_ups"][0]["S1"], "on");
    assert_eq!(json["no_fault_shown"], serde_json::Value::Null);
    let seen = run(&["diagnose", SMALL, "--answers", "tests/cli/seen.yaml"]);
    assert_eq!(seen.code, Some(1), "{seen}");
    assert!(!seen.stdout.contains("NO FAULT FOUND"), "{seen}");
}

/// A lamp that was only dim may look right on a flat battery: eyes alone do not end that job, a meter does. Common practice.
#[test]
fn what_is_a_matter_of_degree_is_measured_before_no_fault_is_found() {
    let answers = |name: &str, more: &str| {
        let path = tempfile().join(name);
        let text =
            "complaint: {what: [lamp], how: dim, with: {S1: on}, seen: no}\nreadings:\n  - {look: lamp, shows: lit}\n";
        std::fs::write(&path, format!("{text}{more}")).unwrap();
        run(&["diagnose", SMALL, "--answers", path.to_str().unwrap()])
    };
    let looked = answers("looked.yaml", "");
    assert!(looked.code == Some(1) && !looked.stdout.contains("NO FAULT FOUND"), "{looked}");
    // One reading may be wrong, so that a second one has to say the same.
    let volts = [
        ("lamp.feed", "lamp.return", 12.3),
        ("K1.87", "battery.-", 12.4),
        ("lamp.feed", "battery.-", 12.4),
        ("battery.+", "battery.-", 12.6),
    ];
    let more: String = volts
        .map(|(red, black, read)| format!("  - {{red: {red}, black: {black}, with: {{S1: on}}, reads: {read} V}}\n"))
        .concat();
    let measured = answers("measured.yaml", &more);
    assert!(measured.code == Some(0) && measured.stdout.contains("NO FAULT FOUND"), "{measured}");
}

/// The bad reading that is shown as an example cannot be taken for a good one: 12.6 V where 12.4 V is good would say nothing.
#[test]
fn a_bad_reading_is_plainly_not_a_good_one() {
    let lines = ["1", "1", "1", "1", "y", "1", "n", "n", "n", "q"];
    let ran = fed(program().args(["diagnose", SMALL, "--unrecorded"]), &lines);
    let screen = format!("{}{}", ran.stdout, ran.stderr);
    let volts = |line: &str| line.trim_end_matches(" V").split_whitespace().next_back()?.parse::<f64>().ok();
    let shown = |row: &str| screen.lines().filter(|l| l.starts_with(row)).filter_map(volts).collect::<Vec<f64>>();
    let (good, bad) = (shown("Good"), shown("Bad"));
    assert!(good.len() >= 3 && good.len() == bad.len(), "{ran}");
    for (good, bad) in good.iter().zip(&bad) {
        assert!((good - bad).abs() > 6.0, "good {good} V, bad {bad} V: {ran}");
    }
}

/// What a test sets in motion is named above it.
#[test]
fn what_moves_in_a_test_is_named_above_it() {
    let lines = ["1", "1", "1", "1", "y", "1", "q"];
    let ran = fed(program().args(["diagnose", "examples/taillift/install.yaml", "--unrecorded"]), &lines);
    let screen = format!("{}{}", ran.stdout, ran.stderr);
    let (_, test) = screen.split_once("Test 1").unwrap();
    let test = test.split_whitespace().collect::<Vec<_>>().join(" ");
    let (before, _) = test.split_once("Switches up pressed").unwrap();
    assert!(before.contains("CAUTION lift valve: it moves now"), "{ran}");
}

/// The same of a lamp that is dark only when it rains: that it lights in the dry says little, so the end stays open (exit code
/// 1), says so, and says when to try again. `not-shown.yaml` is `not-seen.yaml` but for its `when`. Common practice.
#[test]
fn what_comes_and_goes_never_ends_with_no_fault_found() {
    let ran = run(&["diagnose", SMALL, "--answers", "tests/cli/not-shown.yaml"]);
    assert_eq!(ran.code, Some(1), "{ran}");
    assert!(!ran.stdout.contains("NO FAULT FOUND"), "{ran}");
    for text in
        ["NO FAULT SHOWN", "with S1 on: look at lamp, lit", "Try again only when it is wet: wet plugs", "It may come"]
    {
        assert!(ran.stdout.contains(text), "{text}: {ran}");
    }
    assert!(!ran.stdout.contains("only when it is cold"), "one condition was complained of: {ran}");
    assert!(ran.stdout.lines().all(|line| line.chars().count() <= 56), "wider than the screen: {ran}");
    let json = run(&["diagnose", SMALL, "--answers", "tests/cli/not-shown.yaml", "--format", "json"]).json();
    assert_eq!(json["verdict"], "open");
    assert!(json["no_fault_shown"]["try_again"][0].as_str().is_some_and(|text| text.contains("wet")), "{json}");
}
