//! What is at hand is kept in the job file, and known when the job is taken up again.

use super::script::{COMPLAINT, SMALL, fed, folder, program, records, sitting};
use halfsplit::job::AtHand;
use halfsplit::job::record::Record;
use std::path::Path;

fn with(job: &Path, at_hand: &str, lines: &[&str]) -> super::script::Ran {
    fed(&mut program(&["diagnose", SMALL, "--job", job.to_str().unwrap(), "--with", at_hand]), lines)
}

fn kept(job: &Path) -> Vec<AtHand> {
    let at_hand = |r: Record| if let Record::AtHand(at_hand) = r { Some(at_hand) } else { None };
    records(job).into_iter().filter_map(at_hand).collect()
}

#[test]
fn a_job_keeps_its_instruments_until_others_are_named() {
    let job = folder("at-hand").join("job.yaml");
    let lamp = AtHand::read("test-lamp").unwrap();
    let began: Vec<&str> = COMPLAINT.into_iter().chain(["q"]).collect();
    let ran = with(&job, "test-lamp", &began);
    assert!(ran.stderr.contains("At hand: test-lamp.") && !ran.stderr.contains("DC volts"), "{ran}");
    assert_eq!(kept(&job), [lamp], "{ran}");
    let again = sitting(SMALL, &job, &["q"]);
    assert!(again.stderr.contains("At hand: test-lamp.") && !again.stderr.contains("DC volts"), "{again}");
    assert_eq!(kept(&job), [lamp], "nothing new: {again}");
    // A reading of one's own says that the meter was there after all.
    let own = with(&job, "multimeter", &["F1.in to body = 12.6", "q"]);
    assert!(
        own.stderr.contains("At hand: multimeter.") && own.stderr.contains("F1.in to body (S1 on): 12.6 V"),
        "{own}"
    );
    assert_eq!(kept(&job), [lamp, AtHand::read("multimeter").unwrap()], "{own}");
    let usual = with(&job, "test-lamp,multimeter", &["q"]);
    assert!(!usual.stderr.contains("At hand"), "{usual}");
    assert_eq!(kept(&job).last(), Some(&AtHand::USUAL), "{usual}");
}

#[test]
fn nothing_is_kept_of_the_usual_instruments() {
    let job = folder("at-hand-usual").join("job.yaml");
    let began: Vec<&str> = COMPLAINT.into_iter().chain(["q"]).collect();
    with(&job, "multimeter,test-lamp", &began);
    assert_eq!(kept(&job), []);
}

#[test]
fn all_unknown_instruments_are_said_at_once() {
    let job = folder("at-hand-wrong").join("job.yaml");
    let ran = with(&job, "hammer,multimetre", &[]);
    assert_eq!(ran.code, Some(2), "{ran}");
    for part in ["`hammer`", "`multimetre` (did you mean `multimeter`?)", "there are multimeter, test-lamp"] {
        assert!(ran.stderr.contains(part), "{ran}");
    }
    assert!(!job.exists());
}
