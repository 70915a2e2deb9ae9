//! A job file as the first version of the program that had any wrote it (commit d088e32): it reads today, with its findings, and
//! the job goes on. The file is that program's own; nobody has touched it since.

use super::script::{SMALL, course, fed, folder, path, program, records, sitting};
use halfsplit::job::record::{Ended, Got, Record};

const FIRST: &str = "tests/jobfile/first.job.yaml";

#[test]
fn a_job_file_of_the_first_form_is_read() {
    let bytes = std::fs::read(path(FIRST)).unwrap();
    let course = course(&bytes).unwrap();
    let got: Vec<&Got> = course.readings.values().map(|entered| &entered.reading.got).collect();
    let reads = |text: &str| Got::Reads(text.to_owned());
    let skipped = Got::Skipped("cannot take it".to_owned());
    // Taken back, read again and corrected; not taken; of the person's own; then three that were asked.
    let all = [reads("0.02"), skipped, reads("12.60"), reads("12.6"), reads("12.6"), reads("12.6")];
    assert_eq!(got, all.iter().collect::<Vec<_>>());
    assert_eq!(course.notes.len(), 1);
    assert_eq!(course.about.0, [("vehicle".to_owned(), "tractor, \"the old one\"".to_owned())]);
    let finding = course.finding.unwrap();
    assert_eq!(finding.ended, Ended::Found);
    assert_eq!((finding.culprits[0].part.as_str(), finding.culprits[0].fault.as_str()), ("K1", "contact-stuck-open"));
    for command in ["report", "because"] {
        let ran = fed(&mut program(&[command, FIRST]), &[""; 0]);
        assert_eq!(ran.code, Some(0), "{ran}");
        assert!(ran.stdout.contains("K1") && ran.stdout.contains("12.6 V"), "{ran}");
    }
}

#[test]
fn and_its_job_goes_on() {
    let job = folder("first-form").join("job.yaml");
    std::fs::copy(path(FIRST), &job).unwrap();
    let before = records(&job);
    let ran = sitting(SMALL, &job, &["n", "q"]);
    assert!(ran.stderr.contains("6 readings so far"), "{ran}");
    // The install file is the same to this day, and so is its mark.
    assert!(!ran.stderr.contains("changed"), "{ran}");
    // What was sure enough for that program wants one reading more now; that is said, not passed over.
    assert!(ran.stderr.contains("This job had its finding.") && ran.stderr.contains("Test 7"), "{ran}");
    let records = records(&job);
    assert_eq!(records[..before.len()], before);
    let read = records.iter().skip(before.len()).any(|r| matches!(r, Record::Reading(reading) if reading.number == 7));
    assert!(read && matches!(records.last(), Some(Record::Left(_))), "{records:?}");
}
