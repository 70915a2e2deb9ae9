//! What can be typed beside the answer, and what is said to what is typed wrong.

use super::script::{COMPLAINT, SMALL, fed, folder, lines, path, program, records, sitting, typed_records};
use halfsplit::job::record::{About, Got, Probed, Record};
use std::io::Write;
use std::process::Stdio;

fn dense(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn with_complaint<'a>(lines: &[&'a str]) -> Vec<&'a str> {
    COMPLAINT.into_iter().chain(lines.iter().copied()).collect()
}

/// Readings of one's own are taken in any case, and entered with the switches that they name.
#[test]
fn readings_of_ones_own_are_taken_at_any_time() {
    let job = folder("own").join("job.yaml");
    let typed = ["k1.87 = 0,3 v", "F1.in to body = 12.6", "drop F1 -20m", "K1 silent", "lamp dark with all off", "q"];
    let ran = sitting(SMALL, &job, &with_complaint(&typed));
    let read: Vec<_> = records(&job)
        .into_iter()
        .filter_map(|r| if let Record::Reading(r) = r { Some((r.probed, r.got, r.with.len(), r.asked)) } else { None })
        .collect();
    let volts = |red: &str, black: &str| Probed::Volts { red: red.to_owned(), black: black.to_owned() };
    let reads = |text: &str| Got::Reads(text.to_owned());
    let shows = |text: &str| Got::Shows(text.to_owned());
    let expected = [
        (volts("K1.87", "battery.-"), reads("0,3 v"), 1, false),
        (volts("F1.in", "body"), reads("12.6"), 1, false),
        (Probed::Drop("F1".to_owned()), reads("-20m"), 1, false),
        (Probed::Look("K1".to_owned()), shows("silent"), 1, false),
        (Probed::Look("lamp".to_owned()), shows("dark"), 0, false),
    ];
    assert_eq!(read, expected, "{ran}");
    assert!(ran.stderr.contains("across F1 (S1 on): 0.02 V"), "the size alone: {ran}");
}

/// Typed wrong is answered with what would be accepted, and changes nothing.
#[test]
fn what_is_typed_wrong_is_answered_with_what_would_be_right() {
    let job = folder("wrong").join("job.yaml");
    let wrong = [
        ("K1.88 = 11.9", "did you mean `K1.85`?"),
        ("K1 = 11.9", "`K1` has the points K1.30, K1.85, K1.86, K1.87"),
        (
            "pump = 11.9",
            "no point called `pump` POINT = volts (against battery.-); POINT to POINT = volts; drop PART volts",
        ),
        ("K1.87 =", "no value stands there"),
        ("K1.87 = banana", "`banana` is no reading"),
        ("K1.87 = 200", "more than"),
        ("K1.87 = 1 with S9", "no control called `S9`"),
        ("K1.87 = 1 with S1=high", "`S1` has the positions off, on"),
        ("drop K1 0.4", "`K1` has not just two ends"),
        ("drop F9 0.4", "no part called `F9`; did you mean `F1`?"),
        ("drop F1", "no value stands there"),
        ("lamp green", "`lamp` can be"),
        ("correct", "type it so: correct 2 11.9"),
        ("correct 7 12", "there is no reading yet"),
        ("persn: Jo", "did you mean `person:`?"),
        ("note:", "type it so: note:"),
    ];
    for (line, says) in wrong {
        let ran = sitting(SMALL, &job, &with_complaint(&[line, "q"]));
        assert!(dense(&ran.stderr).contains(says), "{line}: {ran}");
        assert_eq!(typed_records(records(&job)), [], "{line}: {ran}");
        std::fs::remove_file(&job).unwrap();
        for line in ran.stderr.lines().filter(|l| !l.contains('/')) {
            assert!(line.chars().count() <= 56, "wider than the screen: {line}");
        }
    }
}

/// Notes and particulars are kept at any prompt, the first questions included; hostile text comes back as it was.
#[test]
fn notes_and_particulars_are_kept_at_any_prompt() {
    let job = folder("notes").join("job.yaml");
    let hostile = "\"it's\" \\ # {a: b}, [c] \u{1b}[2J 🔦 %";
    let note = format!("note: {hostile}");
    let owner = format!("owner: {hostile}");
    let lines = [
        "nonsense",
        &owner,
        "",
        "says: it went dark",
        "lamp",
        &note,
        "dark",
        "1",
        "1",
        "1",
        "changed: fuse",
        &note,
        "q",
    ];
    let ran = sitting(SMALL, &job, &lines);
    let mut kept: Vec<(String, String)> = Vec::new();
    for record in records(&job) {
        match record {
            Record::Note(text) => kept.push(("note".to_owned(), text)),
            Record::About(about) => kept.extend(about.0),
            _ => {}
        }
    }
    let pair = |name: &str, text: &str| (name.to_owned(), text.to_owned());
    let expected = [
        pair("owner", hostile),
        pair("says", "it went dark"),
        pair("note", hostile),
        pair("changed", "fuse"),
        pair("note", hostile),
    ];
    assert_eq!(kept, expected, "{ran}");
    assert!(!ran.stderr.contains('\u{1b}'), "nothing steers the screen: {ran}");
    let none: [&str; 0] = [];
    let again = sitting(SMALL, &job, &none);
    assert!(again.stderr.contains("says: `it went dark`"), "{again}");
    assert!(!again.stderr.contains('\u{1b}'), "nothing steers the screen: {again}");
}

#[test]
fn without_a_job_file_nothing_is_kept_and_that_is_said() {
    let lines: Vec<&str> = COMPLAINT[1..].iter().copied().chain(["note: wet", "K1.86 = 12.5", "q"]).collect();
    let ran = fed(&mut program(&["diagnose", SMALL, "--unrecorded"]), &lines);
    assert!(dense(&ran.stderr).contains("This job is not recorded, so nothing is kept"), "{ran}");
    assert!(ran.stderr.contains("K1.86 to battery.-"), "{ran}");
    assert!(!ran.stderr.contains("Recorded in"), "{ran}");
    // Line by line without `--job` is not recorded either.
    let ran = fed(&mut program(&["diagnose", SMALL]), &lines);
    assert!(!ran.stderr.contains("Recorded in"), "{ran}");
}

/// Letters in another encoding (here ISO 8859-1) spoil themselves and nothing else.
#[test]
fn a_line_that_is_no_utf_8_does_not_end_the_job() {
    let job = folder("encoding").join("job.yaml");
    let mut child = program(&["diagnose", SMALL, "--job", job.to_str().unwrap()])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let lines = with_complaint(&["n", "q"]).join("\n").into_bytes();
    child.stdin.take().unwrap().write_all(&[b"owner: M\xfcller\n".as_slice(), &lines, b"\n"].concat()).unwrap();
    child.wait().unwrap();
    let all = records(&job);
    assert!(all.iter().any(|r| matches!(r, Record::About(about) if about.0[0].1 == "M\u{fffd}ller")), "{all:?}");
    assert!(all.iter().any(|r| matches!(r, Record::Reading(_))), "{all:?}");
}

/// A job is recorded or played from a file, not both.
#[test]
fn a_job_file_and_an_answers_file_exclude_each_other() {
    let job = folder("both").join("job.yaml");
    let none: [&str; 0] = [];
    let arguments = ["diagnose", SMALL, "--answers", "tests/cli/coil-open.yaml", "--job", job.to_str().unwrap()];
    let ran = fed(&mut program(&arguments), &none);
    assert_eq!((ran.code, job.exists()), (Some(2), false), "{ran}");
}

/// The end of the input asks, and keeps the job.
#[test]
fn the_end_of_the_input_keeps_the_job() {
    let job = folder("end").join("job.yaml");
    let ran = sitting(SMALL, &job, &with_complaint(&["n"]));
    assert!(ran.stderr.contains("Leave? The job is kept"), "{ran}");
    assert_eq!(ran.code, Some(1), "{ran}");
    assert!(matches!(records(&job).last(), Some(Record::Left(_))), "{ran}");
    // Left before anything was said, no file stays.
    let job = folder("early").join("job.yaml");
    let ran = sitting(SMALL, &job, &["", "q"]);
    assert_eq!(ran.code, Some(1), "{ran}");
    assert!(!job.exists(), "{ran}");
    // With a note it does.
    let ran = sitting(SMALL, &job, &["note: called at nine", "q"]);
    assert!(job.exists(), "{ran}");
}

/// A file of another sort is never written to, and what is wrong with a job file is told with its place.
#[test]
fn other_files_and_damaged_ones_are_left_alone() {
    let folder = folder("other");
    let sample = std::fs::read_to_string(path("tests/jobfile/lamp.job.yaml")).unwrap();
    let second = sample.lines().nth(2).unwrap();
    let cases = [
        ("an install", std::fs::read_to_string(path(SMALL)).unwrap(), "is no job file"),
        ("a text", "hello".to_owned(), "is no job file"),
        ("a recorded job", "complaint: {what: [lamp], how: dark}\n".to_owned(), "is no job file"),
        ("another form", sample.replacen("job: 1", "job: 7", 1), "this program knows 1"),
        ("a wrong record", format!("{sample}- {{undoo: 1}}\n"), "did you mean `undo`?"),
        ("a wrong number", sample.replacen("reading: 1,", "reading: 2,", 1), "number 1 would be next"),
        ("a lost line", sample.replacen(&format!("{second}\n"), "", 1), ""),
        ("taken back twice", format!("{sample}- {{undo: 99, at: 2026-11-25T22:38:05Z}}\n"), "no reading 99"),
        ("no time", format!("{sample}- {{undo: 1}}\n"), "needs `at:`"),
        ("brackets", format!("{sample}{}\n", "[".repeat(100_000)), ""),
    ];
    for (what, text, says) in cases {
        let job = folder.join(format!("{what}.yaml"));
        std::fs::write(&job, &text).unwrap();
        let none: [&str; 0] = [];
        let ran = sitting(SMALL, &job, &none);
        if what == "a lost line" {
            // Only what stands there counts; a particular that is gone is no error.
            assert_ne!(ran.code, None, "{ran}");
            continue;
        }
        assert_eq!(ran.code, Some(2), "{what}: {ran}");
        assert!(dense(&ran.stderr).contains(says), "{what}: {ran}");
        assert_eq!(std::fs::read_to_string(&job).unwrap(), text, "{what}: it was written to");
    }
}

/// A closed job says so and takes nothing more; its last line tells it all.
#[test]
fn a_closed_job_takes_nothing_more() {
    let folder = folder("closed");
    let job = folder.join("job.yaml");
    let sample = std::fs::read_to_string(path("tests/jobfile/lamp.job.yaml")).unwrap();
    let closing = "- {repair: K1, done: new relay, minutes: 10, at: 2026-11-25T23:40:00Z}\n\
                   - {proof: 11, with: {S1: on}, by: \"eye, ear or hand\", look: lamp, shows: lit, minutes: 0.1, passed: yes, at: 2026-11-25T23:41:00Z}\n\
                   - {outcome: cured, says: \"owner has tried it\", at: 2026-11-25T23:42:00Z}\n\
                   - {closed: cured, install: Work lamp, began: 2026-11-25T22:38:05Z, complaint: lamp dark, finding: found, \
                     culprits: [{part: K1, fault: coil-open, sure: 0.999, repair: replace the relay}], repair: new relay, \
                     readings: 6, minutes: 25, at: 2026-11-25T23:43:00Z}\n";
    let text = format!("{sample}{closing}");
    std::fs::write(&job, &text).unwrap();
    let ran = sitting(SMALL, &job, &["n"]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(dense(&ran.stderr).contains("This job is closed: `lamp dark`, cured."), "{ran}");
    assert_eq!(std::fs::read_to_string(&job).unwrap(), text, "{ran}");
    let last = text.lines().last().unwrap();
    assert!(last.starts_with("- {closed: cured,"));
    std::fs::write(&job, format!("{text}- {{note: late, at: 2026-11-26T08:00:00Z}}\n")).unwrap();
    let ran = sitting(SMALL, &job, &["n"]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert!(ran.stderr.contains("nothing follows the closing record"), "{ran}");
}

/// A script types every kind of line, so that the tests that cut and kill see every record.
#[test]
fn the_script_of_these_tests_types_every_kind_of_line() {
    let job = folder("script").join("job.yaml");
    sitting(SMALL, &job, &super::script::from_the_start(&lines()));
    let all = records(&job);
    let has = |is: fn(&Record) -> bool| all.iter().any(is);
    assert!(has(|r| matches!(r, Record::Undo(_))) && has(|r| matches!(r, Record::Correct(_))));
    assert!(has(|r| matches!(r, Record::Note(_))) && has(|r| matches!(r, Record::About(_))));
    assert!(has(|r| matches!(r, Record::Reading(r) if !r.asked)) && has(|r| matches!(r, Record::Finding(_))));
    assert!(has(|r| matches!(r, Record::Reading(r) if matches!(r.got, Got::Skipped(_)))));
}

/// Who and what by arguments: they stand in the file as if they had been typed, and are not asked for.
#[test]
fn particulars_can_be_given_without_a_question() {
    let job = folder("about").join("job.yaml");
    let about =
        ["--about", "owner: A. Müller", "--about", "says: dark in the rain: \"odd\"", "--about", "note: wet plug"];
    let mut arguments = vec!["diagnose", SMALL, "--job", job.to_str().unwrap()];
    arguments.extend(about);
    let complaint: Vec<&str> = COMPLAINT[1..].iter().copied().chain(["q"]).collect();
    let ran = fed(&mut program(&arguments), &complaint);
    assert!(!ran.stderr.contains("record >") && ran.stderr.contains("Test 1"), "{ran}");
    let field = |name: &str, text: &str| Record::About(About(vec![(name.to_owned(), text.to_owned())]));
    let expected =
        [field("owner", "A. Müller"), field("says", "dark in the rain: \"odd\""), Record::Note("wet plug".to_owned())];
    assert_eq!(typed_records(records(&job)), expected);
    // Taken up they are added to.
    let more = ["diagnose", SMALL, "--job", job.to_str().unwrap(), "--about", "conditions: trailer loaded"];
    fed(&mut program(&more), &["q"]);
    assert_eq!(typed_records(records(&job)).last(), Some(&field("conditions", "trailer loaded")));
    let wrong = fed(&mut program(&["diagnose", SMALL, "--about", "ownr: x"]), &[""; 0]);
    assert_eq!(wrong.code, Some(2), "{wrong}");
    assert!(wrong.stderr.contains("`owner:`"), "{wrong}");
}
