//! What the finished jobs of a workshop tell: counted by hand on a few files.

use crate::cli::program::{Ran, program};
use crate::jobfile::script::{COMPLAINT, SMALL, fed, folder, lines_of, records};
use halfsplit::job::past::{Look, ending, whole};
use halfsplit::job::record::{
    Blamed, Closed, Complained, Ended, Failed, Finding, Line, Moment, Opened, Outcome, Record, Repair, Seen,
};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

fn blamed(part: &str, fault: &str) -> Blamed {
    Blamed { part: part.to_owned(), fault: fault.to_owned(), sure: 0.99, repair: "replace it".to_owned() }
}

fn failed(part: &str, kind: &str, fault: &str, right: bool) -> Failed {
    let place = if part == "F1" { None } else { Some("cab".to_owned()) };
    Failed { part: part.to_owned(), fault: fault.to_owned(), kind: Some(kind.to_owned()), place, right }
}

/// The closing record of a job that began in second `began`.
fn closed(began: i64, outcome: Outcome, minutes: f64, failed: Vec<Failed>) -> Closed {
    Closed {
        outcome,
        install: "Work lamp".to_owned(),
        began: Moment::from_seconds(began),
        complaint: "lamp dark".to_owned(),
        ended: Ended::Found,
        culprits: failed.iter().map(|f| blamed(&f.part, &f.fault)).collect(),
        failed,
        repair: Some("replace it".to_owned()),
        readings: 4,
        minutes,
        repair_minutes: None,
    }
}

fn opened() -> Record {
    let s = str::to_owned;
    Record::Opened(Opened {
        program: s("halfsplit 0.1.0"),
        install: s("Work lamp"),
        file: s("small.yaml"),
        seed: 1,
        cautions: Vec::new(),
    })
}

/// A job file of these records.
fn text(records: impl IntoIterator<Item = Record>) -> String {
    let records = std::iter::once(opened()).chain(records);
    records.map(|record| Line { at: Moment::from_seconds(1_000), record }.to_string()).collect()
}

fn write(folder: &Path, name: &str, text: &str) {
    fs::write(folder.join(name), text).unwrap();
}

/// Six closed jobs, and everything that is none. By hand: relay coils 3 (K1 twice, K2 once), a blown fuse 1 of two that
/// were named; the other repair of F1 cured nothing, and a job that was given up blamed the lamp.
fn workshop(name: &str) -> std::path::PathBuf {
    let folder = folder(name);
    let coil = |part: &str| failed(part, "relay", "coil-open", true);
    let jobs = [
        ("a", closed(1, Outcome::Cured, 5.0, vec![coil("K1")])),
        ("b", closed(2, Outcome::Cured, 9.0, vec![coil("K1")])),
        ("c", closed(3, Outcome::Cured, 10.0, vec![failed("F1", "blade fuse", "blown", false), coil("K2")])),
        ("d", closed(4, Outcome::Better, 20.0, vec![failed("F1", "blade fuse", "blown", true)])),
        ("e", closed(5, Outcome::GivenUp, 60.0, vec![failed("lamp", "filament lamp", "burnt-out", true)])),
    ];
    for (name, closed) in jobs {
        write(&folder, &format!("{name}.job.yaml"), &text([Record::Closed(closed)]));
    }
    fs::create_dir(folder.join("old")).unwrap();
    fs::copy(folder.join("a.job.yaml"), folder.join("old/a copy.job.yaml")).unwrap();
    // Written before kinds were: nothing repaired but what `culprits` names.
    let before = Closed {
        failed: Vec::new(),
        culprits: vec![blamed("K1", "coil-open")],
        ..closed(6, Outcome::Cured, 7.0, vec![])
    };
    write(&folder, "old/before.job.yaml", &text([Record::Closed(before)]));
    let finding = Finding { ended: Ended::NoFault, culprits: vec![], cautions: vec![], minutes: 3.0, open: vec![] };
    write(&folder, "open.job.yaml", &text([Record::Note("nothing yet".to_owned())]));
    write(&folder, "nothing.job.yaml", &text([Record::Finding(finding)]));
    let whole = text([Record::Note("x".to_owned())]);
    write(&folder, "torn.job.yaml", &whole[..whole.len() - 5]);
    write(&folder, "empty.job.yaml", "");
    write(&folder, "damaged.job.yaml", &(text([]) + "- {closed: cured, install: \n"));
    write(&folder, "install.yaml", "install: a van\n");
    fs::write(folder.join("noise.bin"), [0xff, 0xfe, 0x00, 0x1b]).unwrap();
    write(&folder, ".hidden", "not looked at");
    #[cfg(unix)]
    std::os::unix::fs::symlink("a.job.yaml", folder.join("link.job.yaml")).unwrap();
    folder
}

fn history(folder: &Path, more: &[&str]) -> Ran {
    fed(program().arg("history").arg(folder).args(more), &[""; 0])
}

#[test]
fn what_failed_is_counted() {
    let ran = history(&workshop("counted"), &["--format", "json"]);
    assert_eq!(ran.code, Some(0), "{ran}");
    let found: Value = serde_json::from_str(&ran.stdout).unwrap();
    assert_eq!(found["closed"], 6);
    assert_eq!(
        found["outcomes"],
        json!({"cured": 4, "better": 1, "not_cured": 0, "given_up": 1, "made_safe": 0, "temporary": 0, "part_awaited": 0})
    );
    let at = |part: &str, place: Value, times: usize| json!({"install": "Work lamp", "part": part, "place": place, "times": times});
    let expected = json!([
        {"kind": "relay", "fault": "coil-open", "times": 3, "minutes": [5.0, 9.0, 10.0], "minutes_median": 9.0,
            "at": [at("K1", json!("cab"), 2), at("K2", json!("cab"), 1)]},
        {"kind": null, "fault": "coil-open", "times": 1, "minutes": [7.0], "minutes_median": 7.0, "at": [at("K1", Value::Null, 1)]},
        {"kind": "blade fuse", "fault": "blown", "times": 1, "minutes": [20.0], "minutes_median": 20.0,
            "at": [at("F1", Value::Null, 1)]},
    ]);
    assert_eq!(found["failures"], expected, "{ran}");
    // Of the cured ones: 5, 7, 9, 10 minutes.
    assert_eq!(found["minutes_median"], 8.0);
    let wrong: Vec<_> = found["wrong"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| (&w["file"], &w["found"]["part"], &w["was"][0]["part"]))
        .collect();
    assert_eq!(wrong[0], (&json!("c.job.yaml"), &json!("F1"), &json!("K2")));
    assert_eq!((wrong.len(), wrong[1].0), (2, &json!("e.job.yaml")));
    let skipped: Vec<&str> = found["skipped"].as_array().unwrap().iter().map(|s| s["file"].as_str().unwrap()).collect();
    let mut expected = vec!["damaged.job.yaml", "empty.job.yaml", "install.yaml", "noise.bin", "old/a copy.job.yaml"];
    if cfg!(unix) {
        expected.insert(3, "link.job.yaml");
    }
    assert_eq!(skipped, expected);
    assert_eq!(found["torn"], json!(["torn.job.yaml"]));
    let open: Vec<_> = found["not_closed"].as_array().unwrap().iter().map(|o| (&o["file"], &o["finding"])).collect();
    let none = Value::Null;
    assert_eq!(
        open,
        [
            (&json!("nothing.job.yaml"), &json!("no fault found")),
            (&json!("open.job.yaml"), &none),
            (&json!("torn.job.yaml"), &none),
        ]
    );
}

#[test]
fn the_history_fits_the_screen_and_is_the_same_each_time() {
    let folder = workshop("screen");
    let ran = history(&folder, &[]);
    assert_eq!(ran.code, Some(0), "{ran}");
    for line in ran.stdout.lines() {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
    insta::assert_snapshot!("history", ran.stdout);
    assert_eq!(ran.stdout, history(&folder, &[]).stdout);
}

#[test]
fn a_folder_that_is_not_there_is_an_error_and_an_empty_one_is_not() {
    let folder = folder("no jobs");
    assert_eq!(history(&folder.join("none"), &[]).code, Some(2));
    let ran = history(&folder, &[]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(ran.stdout.contains("0 closed"), "{ran}");
}

/// What files are called and hold steers no screen.
#[test]
fn hostile_names_are_harmless() {
    let folder = folder("hostile history");
    let evil = "\u{1b}[2J\u{202e}evil";
    let bad = Failed { place: Some(evil.to_owned()), ..failed(evil, evil, evil, false) };
    let mut closed = closed(1, Outcome::Cured, 5.0, vec![bad.clone(), Failed { right: true, ..bad }]);
    closed.install = evil.to_owned();
    write(&folder, &format!("{evil}.job.yaml"), &text([Record::Closed(closed)]));
    write(&folder, &format!("{evil}.txt"), "x");
    let ran = history(&folder, &[]);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(!ran.stdout.contains(['\u{1b}', '\u{202e}']), "{:?}", ran.stdout);
}

/// Cut at every byte a job is closed, not closed, or read as a whole; it is never another.
#[test]
fn a_file_cut_anywhere_is_no_other_job() {
    let job = closed(1, Outcome::Cured, 5.0, vec![failed("K1", "relay", "coil-open", true)]);
    let outcome = Record::Outcome { outcome: Outcome::Cured, says: None, cautions: Vec::new() };
    let repair =
        Repair { part: "K1".to_owned(), done: "replace it".to_owned(), minutes: None, culprits: job.culprits.clone() };
    let complaint = Complained {
        what: vec!["lamp".to_owned()],
        facts: vec![Seen { with: vec![], look: "lamp".to_owned(), shows: "dark".to_owned(), wrong: true }],
        ..Complained::default()
    };
    let closing = Record::Closed(job.clone());
    let text = text([Record::Complaint(complaint), Record::Repair(repair), outcome, closing.clone()]);
    let last = Line { at: Moment::from_seconds(1_000), record: closing }.to_string().len();
    let (mut torn, mut remade) = (0, 0);
    for end in 1..=text.len() {
        let bytes = &text.as_bytes()[..end];
        let found = match ending(bytes).unwrap() {
            Some(found) => found,
            None => match whole(bytes) {
                Ok(found) => found,
                Err(why) => {
                    assert_eq!(why, "empty", "{end}");
                    continue;
                }
            },
        };
        assert_eq!(found.torn, bytes.last() != Some(&b'\n'), "{end}");
        torn += usize::from(found.torn);
        match found.look {
            Look::Closed(found) if end == text.len() => assert_eq!(*found, job),
            Look::Closed(found) => {
                assert!(end >= text.len() - last, "{end}");
                assert_eq!(
                    (found.outcome, found.complaint.as_str(), found.failed.len()),
                    (Outcome::Cured, "lamp dark", 1)
                );
                remade += 1;
            }
            Look::Open(found) => assert!(found.is_none() && end < text.len() - last, "{end}"),
        }
    }
    assert!(torn > 100 && remade == last, "{torn} {remade} {last}");
}

/// A job that was begun with a history keeps it: taken up without the folder its suspects are weighed the same, and its record
/// says with what.
#[test]
fn a_job_keeps_the_history_it_was_begun_with() {
    let jobs = workshop("kept");
    let job = folder("kept job").join("job.yaml");
    let name = job.to_str().unwrap();
    let mut begin: Vec<&str> = COMPLAINT.to_vec();
    begin.push("q");
    let first = fed(
        program().args(["diagnose", SMALL, "--job", name, "--history", jobs.to_str().unwrap(), "--format", "json"]),
        &begin,
    );
    assert!(first.stderr.contains("History: 4 faults in 6 closed"), "{first}");
    let history: Vec<_> = records(&job).into_iter().filter(|r| matches!(r, Record::History(_))).collect();
    let [Record::History(learnt)] = &history[..] else { panic!("{history:?}") };
    assert_eq!((learnt.counts.of("relay", "coil-open"), learnt.counts.of("blade fuse", "blown")), (3, 1));
    let resume =
        |more: &[&str]| fed(program().args(["diagnose", SMALL, "--job", name, "--format", "json"]).args(more), &["q"]);
    let known = resume(&[]);
    let suspects = |ran: &Ran| serde_json::from_str::<Value>(&ran.stdout).unwrap()["suspects"].clone();
    assert_eq!(suspects(&first), suspects(&known));
    let other = folder("other history");
    write(
        &other,
        "z.job.yaml",
        &text([Record::Closed(closed(
            9,
            Outcome::Cured,
            1.0,
            vec![failed("lamp", "filament lamp", "burnt-out", true)],
        ))]),
    );
    let again = resume(&["--history", other.to_str().unwrap()]);
    assert_eq!(suspects(&first), suspects(&again));
    assert!(again.stderr.contains("goes on as it was begun"), "{again}");
    // Without a history the coil is less likely.
    let plain = fed(program().args(["diagnose", SMALL, "--format", "json"]), &begin[1..]);
    let coil = |list: &Value| {
        let of = |s: &&Value| s["faults"][0]["mode"] == "coil-open";
        list.as_array().unwrap().iter().find(of).map_or(0.0, |s| s["probability"].as_f64().unwrap())
    };
    assert!(coil(&suspects(&first)) > 1.5 * coil(&suspects(&plain)), "{first}\n{plain}");
}

/// With a recorded job the history counts too, and the answer for programs says so.
#[test]
fn a_recorded_job_takes_a_history() {
    let jobs = workshop("recorded");
    let args = ["diagnose", SMALL, "--answers", "tests/cli/coil-open.yaml", "--format", "json", "--history"];
    let ran = fed(program().args(args).arg(&jobs), &[""; 0]);
    assert_eq!(ran.code, Some(0), "{ran}");
    let found: Value = serde_json::from_str(&ran.stdout).unwrap();
    assert_eq!((&found["history"]["jobs"], &found["history"]["strength"]), (&json!(6), &json!(100.0)));
    let bad = fed(program().args(args).arg(jobs.join("none")), &[""; 0]);
    assert_eq!(bad.code, Some(2), "{bad}");
    assert!(!lines_of(fs::read(jobs.join("a.job.yaml")).unwrap().as_slice()).is_empty(), "no file is touched");
}
