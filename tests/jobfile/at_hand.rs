//! What is at hand is kept in the job file, and known when the job is taken up again.

use super::script::{COMPLAINT, SMALL, fed, folder, program, records, sitting};
use halfsplit::job::AtHand;
use halfsplit::job::record::{Got, Probed, Record};
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

/// Amps of one's own are taken with any instruments named, kept in the file, undone and corrected like volts, and told in amps.
#[test]
fn amps_of_ones_own_are_readings_like_others() {
    let job = folder("amps").join("job.yaml");
    let typed = ["amps lamp/3.a 4,65", "amps f1 350m", "u", "correct 1 4.2", "r", "because", "q"];
    let lines: Vec<&str> = COMPLAINT.into_iter().chain(typed).collect();
    let ran = sitting(SMALL, &job, &lines);
    let read: Vec<(Probed, Got)> = records(&job)
        .into_iter()
        .filter_map(|r| if let Record::Reading(r) = r { Some((r.probed, r.got)) } else { None })
        .collect();
    let expected = [
        (Probed::Amps("lamp/3.a".to_owned()), Got::Reads("4,65".to_owned())),
        (Probed::Amps("F1".to_owned()), Got::Reads("350m".to_owned())),
    ];
    assert_eq!(read, expected, "{ran}");
    let said = ran.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in ["cab end (S1 on): 4.65 A", "amps of F1 (S1 on): 0.35 A", "it was 4.65 A", "(S1 on): 4.20 A", "Good 4."]
    {
        assert!(said.contains(part), "{part}: {ran}");
    }
    let sheet = fed(&mut program(&["report", job.to_str().unwrap()]), &[""; 0]);
    assert!(sheet.stdout.contains("amps of lamp/3.a") && sheet.stdout.contains("4.2 A"), "{sheet}");
    let json = fed(&mut program(&["report", job.to_str().unwrap(), "--format", "json"]), &[""; 0]);
    assert!(json.stdout.contains("\"amps of lamp/3.a\""), "{json}");
}

/// Ohms of one's own are taken only where the supply is off and volts between the very points say that it is dead.
#[test]
fn ohms_of_ones_own_come_after_the_proof_of_dead() {
    let job = folder("ohms").join("job.yaml");
    let typed = [
        "ohms F1 0.4",
        "ohms lamp 0.3 with S1, battery=out",
        "lamp.feed to lamp.return = 0.02 with S1, battery=out",
        "ohms lamp 0.3 with S1, battery=out",
        "ohms K1.86 to K1.85 = 90 with S1, battery=out",
        "K1.86 to K1.85 = 0.00 with S1, battery=out",
        "ohms K1.86 to K1.85 = OL with S1, battery=out",
        "r",
        "q",
    ];
    let lines: Vec<&str> = COMPLAINT.into_iter().chain(typed).collect();
    let ran = sitting(SMALL, &job, &lines);
    let read: Vec<(Probed, Got)> = records(&job)
        .into_iter()
        .filter_map(|r| if let Record::Reading(r) = r { Some((r.probed, r.got)) } else { None })
        .filter(|(probed, _)| matches!(probed, Probed::Ohms { .. }))
        .collect();
    let ohms = |red: &str, black: &str| Probed::Ohms { red: red.to_owned(), black: black.to_owned() };
    let expected = [
        (ohms("lamp.feed", "lamp.return"), Got::Reads("0.3".to_owned())),
        (ohms("K1.86", "K1.85"), Got::Reads("OL".to_owned())),
    ];
    assert_eq!(read, expected, "{ran}");
    let said = ran.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(said.matches("ohms only where it is dead").count(), 3, "{ran}");
    for part in ["ohms across lamp (S1 on; battery minus off): 0.3 Ω", "open (OL)"] {
        assert!(said.contains(part), "{part}: {ran}");
    }
    let again = sitting(SMALL, &job, &["r", "q"]);
    assert!(again.stderr.contains("(OL)"), "{again}");
    let sheet = fed(&mut program(&["report", job.to_str().unwrap()]), &[""; 0]);
    assert!(sheet.stdout.contains("ohms lamp.feed to lamp.return") && sheet.stdout.contains("0.3 Ω"), "{sheet}");
}

#[test]
fn amps_that_are_typed_wrong_are_answered_with_what_would_be_right() {
    let job = folder("amps-wrong").join("job.yaml");
    let wrong = [
        ("amps K1 2", "`K1` has more than one way for a current"),
        ("amps F9 2", "no part called `F9`; did you mean `F1`? amps PART amps"),
        ("amps F1", "no value stands there: amps PART amps"),
        ("amps F1 12 V", "A is asked for here, not `V`"),
        ("amps F1 2000", "more than 1000.0 A cannot stand here"),
        ("amps F1 banana", "`banana` is no reading: amps, such as 4.2"),
        ("amps F1 OL", "OL on amps"),
    ];
    let typed = COMPLAINT.into_iter().chain(wrong.iter().map(|(line, _)| *line)).chain(["q"]);
    let ran = sitting(SMALL, &job, &typed.collect::<Vec<_>>());
    let said = ran.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    for (line, says) in wrong {
        assert!(said.contains(says), "{line}: {ran}");
    }
    assert!(!records(&job).iter().any(|r| matches!(r, Record::Reading(_))), "{ran}");
}

/// Asked for, it says where the clamp goes, and once that one for AC does not do; what cannot be taken is not asked again.
#[test]
fn a_clamp_that_cannot_be_laid_is_not_asked_for_again() {
    let job = folder("amps-asked").join("job.yaml");
    let lines: Vec<&str> = COMPLAINT.into_iter().chain(["n"; 6]).chain(["q"]).collect();
    let ran = with(&job, "clamp-meter", &lines);
    let around: Vec<&str> = ran.stderr.lines().filter(|line| line.starts_with("Around")).collect();
    let different: std::collections::BTreeSet<&str> = around.iter().copied().collect();
    assert!(!around.is_empty(), "{ran}");
    assert!(different.len() + 1 >= around.len(), "the same wire again: {ran}");
    assert_eq!(ran.stderr.matches("A clamp for AC alone shows no DC").count(), 1, "{ran}");
    assert!(ran.stderr.contains("amps (h help) >"), "{ran}");
}
