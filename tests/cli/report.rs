//! `halfsplit report`: the job sheet in its four formats.

use super::because::{LAMP, kept, lamp_job};
use super::program::{Ran, SMALL, fed, program, run};
use insta::assert_snapshot;

#[test]
fn the_sheet_of_a_job_is_told_as_text() {
    let ran = run(&["report", LAMP]);
    assert_eq!(ran.code, Some(0), "{ran}");
    for line in ran.stdout.lines() {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
    assert_snapshot!("report_lamp", ran.to_string());
}

#[test]
fn the_sheet_of_a_job_is_told_as_markdown() {
    assert_snapshot!("report_lamp_markdown", run(&["report", LAMP, "--format", "markdown"]).to_string());
}

/// Reading 5 was taken back once and taken anew; reading 3 was corrected; 2 was not taken.
#[test]
fn readings_stand_with_what_was_expected_and_without_what_was_taken_back() {
    let ran = run(&["report", LAMP, "--format", "json"]);
    let json = ran.json();
    let readings = json["readings"].as_array().unwrap();
    let numbers: Vec<u64> = readings.iter().map(|r| r["number"].as_u64().unwrap()).collect();
    assert_eq!(numbers, (1..=10).collect::<Vec<u64>>());
    let of = |number: usize| &readings[number - 1];
    assert_eq!((&of(5)["reads"], &of(5)["expected"]), (&"0.00".into(), &"12.5 V".into()));
    assert_eq!((&of(3)["reads"], &of(3)["corrected"]), (&"12.6".into(), &true.into()));
    assert_eq!(of(2)["skipped"], "cannot take it");
    assert_eq!(json["culprits"][0]["mode"], "contact-stuck-open");
    assert_eq!(json["finding"], "found");
    assert_eq!(json["closed"], false);
    // 1.3 + 0.1 + 7 times 0.3 + 0.4 + 0.4, less the one that is 0.3 too many: by hand from the file.
    let minutes = json["minutes"]["readings"].as_f64().unwrap();
    assert!((minutes - 4.0).abs() < 1e-9, "{minutes}");
}

/// The page stands by itself, and holds what the text holds.
#[test]
fn the_page_needs_nothing_from_elsewhere() {
    let ran = run(&["report", LAMP, "--format", "html"]);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""), "{ran}");
    let page = &ran.stdout;
    for needed in
        ["<!DOCTYPE html>", "name=\"viewport\"", "@page{size:A4", "@media print", "<svg ", "FAULT", "good up to here"]
    {
        assert!(page.contains(needed), "no {needed}: {page}");
    }
    for foreign in ["<script", "http:", "https:", "src=", "href=", "url(", "@import", "onclick"] {
        assert!(!page.contains(foreign), "{foreign}: {page}");
    }
    assert!(page.contains("K1: contact does not make") && page.contains("Jo Brandt"), "{page}");
}

/// A job of 25 readings is one sheet of A4, printed by Chromium where that is installed.
#[test]
fn a_job_of_25_readings_prints_on_one_page() {
    if !std::process::Command::new("chromium").arg("--version").output().is_ok_and(|ran| ran.status.success()) {
        println!("skipped: no chromium");
        return;
    }
    let text = std::fs::read_to_string(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(LAMP)).unwrap();
    let (before, finding) = text.trim_end().rsplit_once('\n').unwrap();
    let reading = before.lines().find(|line| line.starts_with("- {reading: 8,")).unwrap();
    let more: String = (11..=25).map(|n| reading.replacen(": 8,", &format!(": {n},"), 1) + "\n").collect();
    let job = kept("long.job.yaml", &format!("{before}\n{more}{finding}\n"));
    let ran = run(&["report", job.to_str().unwrap(), "--install", SMALL, "--format", "html"]);
    assert!(ran.stdout.contains("data-name=\"no\">25<"), "{ran}");
    let page = kept("long.html", &ran.stdout);
    let pdf = page.with_extension("pdf");
    let profile = page.with_file_name("chromium-profile");
    let printed = std::process::Command::new("chromium")
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
        .arg(format!("--user-data-dir={}", profile.display()))
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", page.display()))
        .output()
        .unwrap();
    let bytes = std::fs::read(&pdf).unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&printed.stderr)));
    let pdf = String::from_utf8_lossy(&bytes);
    assert!(pdf.contains("/Count 1"), "more than one page: {:?}", pdf.find("/Count").map(|at| &pdf[at..at + 12]));
}

#[test]
fn an_unfinished_job_says_that_it_is_open() {
    let job = kept("open.job.yaml", &lamp_job(10));
    for format in ["text", "markdown", "html", "json"] {
        let ran = run(&["report", job.to_str().unwrap(), "--format", format]);
        assert_eq!(ran.code, Some(0), "{ran}");
        assert!(ran.stdout.contains("OPEN: there is no finding yet"), "{ran}");
    }
    let early = kept("very-early.job.yaml", &lamp_job(2));
    let ran = run(&["report", early.to_str().unwrap()]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(ran.stdout.contains("OPEN"), "{ran}");
}

/// Without the description there is no circuit, and everything else.
#[test]
fn a_job_without_its_install_file_has_a_sheet_all_the_same() {
    let ran = run(&["report", LAMP, "--install", "nowhere.yaml", "--format", "json"]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert_eq!(ran.json()["readings"].as_array().unwrap().len(), 10, "{ran}");
    assert!(ran.stderr.contains("without the description"), "{ran}");
}

#[test]
fn other_commands_have_no_pages() {
    for format in ["html", "markdown"] {
        let ran = run(&["check", SMALL, "--format", format]);
        assert_eq!(ran.code, Some(2), "{ran}");
        assert!(ran.stderr.contains("`report` alone"), "{ran}");
    }
}

/// Made safe behind the finding: the job stays open, the sheet says how it was left, and the caution about driving is shown.
#[test]
fn a_system_that_is_left_safe_is_said_to_be_left_so() {
    let job = kept("safe.job.yaml", &lamp_job(32));
    let path = job.to_str().unwrap();
    let ran = fed(program().args(["diagnose", SMALL, "--job", path]), &["safe: F1 out, tagged", "q"]);
    assert!(ran.stderr.contains("Kept: made safe.") && ran.stderr.contains("not to be driven"), "{ran}");
    let sheet = run(&["report", path]).stdout;
    assert!(
        sheet.contains("made safe (F1 out, tagged); the job is not") && sheet.contains("outcome   made safe"),
        "{sheet}"
    );
    // Nothing of the kind in the middle of a job.
    let job = kept("unsafe.job.yaml", &lamp_job(10));
    let ran = fed(program().args(["diagnose", SMALL, "--job", job.to_str().unwrap()]), &["safe: F1 out", "q"]);
    assert!(ran.stderr.contains("behind a finding"), "{ran}");
    assert!(!std::fs::read_to_string(job).unwrap().contains("outcome"), "{ran}");
}

/// What a hostile person writes into every field that a person can write into.
const HOSTILE: &str = "<script>alert(1)</script>\" ' & | \u{1b}[31m `x` *y* _z_\n- item\n# head";

/// The same within double quotes of YAML.
const HOSTILE_YAML: &str = "\"<script>alert(1)</script>\\\" ' & | \\U0000001B[31m `x` *y* _z_\\n- item\\n# head\"";

/// The finished job with that in every field.
fn hostile_job() -> String {
    let mut text = lamp_job(32);
    for field in [
        "Jo Brandt",
        "\"tractor, \\\"the old one\\\"\"",
        "\"A. Müller\"",
        "4 812",
        "\"lamp went out in the rain; it's been \\\"odd\\\" for a week: sometimes yes, sometimes no\"",
        "new battery in spring",
        "\"plug at the board was green, cleaned # not the cause\"",
        "Work lamp",
        "tests/cli/small.yaml",
        "halfsplit 0.1.0",
        "\"do not probe airbag wiring (often yellow); disconnect the battery and wait as long as the vehicle maker says\"",
        "\"batteries give off hydrogen, so no sparks or flame near them; ventilate and protect your eyes\"",
        "cannot take it",
        "0.02 V",
        "\"not taken: look at K1 (S1 on)\"",
        "replace the relay",
        "F1",
    ] {
        assert!(text.contains(field), "{field}");
        text = text.replace(field, HOSTILE_YAML);
    }
    let at = "at: 2026-11-25T23:59:30Z";
    text + &format!(
        "- {{repair: {HOSTILE_YAML}, done: {HOSTILE_YAML}, minutes: 5, {at}}}\n\
         - {{proof: 11, shows that: {HOSTILE_YAML}, passed: no, with: {{{HOSTILE_YAML}: {HOSTILE_YAML}}}, by: voltmeter, red: {HOSTILE_YAML}, black: {HOSTILE_YAML}, \
         reads: {HOSTILE_YAML}, expected: {HOSTILE_YAML}, minutes: 1, {at}}}\n\
         - {{outcome: better, says: {HOSTILE_YAML}, {at}}}\n"
    )
}

#[track_caller]
fn hostile(format: &str) -> Ran {
    let job = kept(&format!("hostile-{format}.job.yaml"), &hostile_job());
    let ran = run(&["report", job.to_str().unwrap(), "--install", SMALL, "--format", format]);
    assert_eq!(ran.code, Some(0), "{ran}");
    for (of, text) in [("stdout", &ran.stdout), ("stderr", &ran.stderr)] {
        assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "{of} holds what a screen obeys: {ran}");
    }
    // It is there, in whatever form.
    assert!(ran.stdout.matches("alert").count() > 15, "{ran}");
    ran
}

#[test]
fn nothing_that_a_person_wrote_means_anything_on_a_page() {
    let ran = hostile("html");
    assert!(!ran.stdout.to_lowercase().contains("<script"), "{ran}");
    assert!(!ran.stdout.contains("</script>") && !ran.stdout.contains("alert(1)<"), "{ran}");
    // Every tag is one of ours, and every attribute ends where we end it.
    for tag in ran.stdout.split('<').skip(1).map(|rest| rest.split('>').next().unwrap()) {
        assert!(!tag.contains("alert") || tag.starts_with("svg "), "{tag}");
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
    }
}

#[test]
fn nothing_that_a_person_wrote_means_anything_in_markdown() {
    let ran = hostile("markdown");
    let unescaped = |line: &str, mark: char| {
        let mut before = ' ';
        line.chars()
            .filter(|c| {
                let bare = *c == mark && before != '\\';
                before = *c;
                bare
            })
            .count()
    };
    for line in ran.stdout.lines() {
        assert_eq!(unescaped(line, '<'), 0, "{line}");
        assert_eq!(unescaped(line, '`'), 0, "{line}");
        assert!(!line.starts_with("# head") && !line.starts_with("- item"), "{line}");
        if line.starts_with('|') {
            assert_eq!(unescaped(line, '|'), 7, "{line}");
        } else {
            assert_eq!(unescaped(line, '|'), 0, "{line}");
        }
    }
}

#[test]
fn nothing_that_a_person_wrote_begins_a_line_of_text() {
    let ran = hostile("text");
    for line in ran.stdout.lines() {
        assert!(!line.starts_with("# head") && !line.starts_with("- item"), "{line}");
    }
}

/// Programs get every text as it was written.
#[test]
fn what_a_person_wrote_comes_back_whole_for_programs() {
    let ran = hostile("json");
    assert!(!ran.stdout.contains('<'), "{ran}");
    let json = ran.json();
    for field in ["person", "vehicle", "owner", "hours", "says", "changed"] {
        assert_eq!(json["about"][field], HOSTILE, "{field}");
    }
    assert_eq!(json["notes"][0]["note"], HOSTILE);
    assert_eq!(json["repairs"][0]["done"], HOSTILE);
    assert_eq!(json["outcome"]["says"], HOSTILE);
    assert_eq!(json["proofs"][0]["reads"], HOSTILE);
}
