//! The install file is corrected between two sittings: it is said, readings are weighed anew, and none is lost.

use super::script::{COMPLAINT, SMALL, fed, folder, path, program, records, sitting};
use halfsplit::job::record::Record;

fn readings(records: &[Record]) -> Vec<usize> {
    records.iter().filter_map(|r| if let Record::Reading(r) = r { Some(r.number) } else { None }).collect()
}

#[test]
fn what_was_corrected_is_said_and_what_is_gone_is_kept() {
    let folder = folder("corrected");
    let install = folder.join("install.yaml");
    let install = install.to_str().unwrap();
    let job = folder.join("job.yaml");
    let described = std::fs::read_to_string(path(SMALL)).unwrap();
    std::fs::write(install, &described).unwrap();
    let lines: Vec<&str> = COMPLAINT.into_iter().chain(["F1.out = 12.6", "K1.87 = 0.0", "K1.86 = 12.5"]).collect();
    let ran = sitting(install, &job, &lines);
    assert_eq!(ran.code, Some(1), "{ran}");

    // The fuse has another name, and the lamp's wire is thinner than the description said.
    let other = described.replace("F1", "F7").replace("2.5 mm² 4 m | filament", "1.5 mm² 4 m | filament");
    assert_ne!(other, described);
    std::fs::write(install, other).unwrap();
    let ran = sitting(install, &job, &["r", "drop F7 0.02", "correct 1 12"]);
    let said: String = ran.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("The description was changed since: runs `feed` (altered), runs `lamp` (altered)."), "{ran}");
    let lost = "Reading 1 is kept as a note, and counts no more: `F1.out` to `battery.-` (with S1 on): `12.6`. \
                There is no point called `F1.out`.";
    assert!(said.contains(lost), "{ran}");
    assert!(said.contains("2. K1.87 to battery.- (S1 on): 0.00 V"), "{ran}");
    // The numbers go on behind the one that is gone, which cannot be corrected.
    assert_eq!(readings(&records(&job)), [1, 2, 3, 4], "{ran}");
    assert!(said.contains("Test 5"), "{ran}");
    assert!(!records(&job).iter().any(|r| matches!(r, Record::Correct(_))), "{ran}");

    // Said once, and the reading counts again when the name is back.
    let none: [&str; 0] = [];
    let ran = sitting(install, &job, &none);
    assert!(!ran.stderr.contains("changed since"), "{ran}");
    std::fs::write(install, &described).unwrap();
    let ran = sitting(install, &job, &["r"]);
    assert!(ran.stderr.contains("1. F1.out to battery.- (S1 on): 12.6 V"), "{ran}");
    assert!(ran.stderr.contains("Reading 4 is kept as a note"), "{ran}");
}

/// A switch that rested off rests on in the corrected description: an old reading was still taken with it off.
#[test]
fn set_ups_stay_what_they_were_when_a_rest_position_changes() {
    let folder = folder("rest");
    let install = folder.join("install.yaml");
    let install = install.to_str().unwrap();
    let job = folder.join("job.yaml");
    let described = std::fs::read_to_string(path(SMALL)).unwrap();
    std::fs::write(install, &described).unwrap();
    let lines: Vec<&str> = COMPLAINT.into_iter().chain(["K1.86 = 0.0 with all off", "K1.86 = 12.5"]).collect();
    sitting(install, &job, &lines);
    // An isolator rests on.
    let other = described.replace("S1: {is: switch, place: cab}", "S1: {is: isolator, place: cab}");
    assert_ne!(other, described);
    std::fs::write(install, other).unwrap();
    let ran = sitting(install, &job, &["r"]);
    assert!(ran.stderr.contains("1. K1.86 to battery.- (S1 off): 0.00 V"), "{ran}");
    assert!(ran.stderr.contains("2. K1.86 to battery.- (all at rest): 12.5 V"), "{ran}");
}

/// The part that is complained of is called otherwise: the complaint is asked once more, the readings stay.
#[test]
fn a_complaint_that_does_not_fit_any_more_is_asked_again() {
    let folder = folder("complaint");
    let install = folder.join("install.yaml");
    let install = install.to_str().unwrap();
    let job = folder.join("job.yaml");
    let described = std::fs::read_to_string(path(SMALL)).unwrap();
    std::fs::write(install, &described).unwrap();
    let lines: Vec<&str> = COMPLAINT.into_iter().chain(["K1.86 = 12.5"]).collect();
    sitting(install, &job, &lines);
    std::fs::write(install, described.replace("\"lamp\"", "\"work lamp\"")).unwrap();
    let ran = sitting(install, &job, &["work lamp", "dark", "1", "1", "y", "1", "r"]);
    let said: String = ran.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("does not fit the description any more: nothing of `lamp` can be seen"), "{ran}");
    assert!(said.contains("1. K1.86 to battery.- (S1 on): 12.5 V"), "{ran}");
    let complaints = records(&job).iter().filter(|r| matches!(r, Record::Complaint(_))).count();
    assert_eq!(complaints, 2, "{ran}");
}

/// The job file alone is enough: it names its install file, which is also looked for beside it.
#[test]
fn a_job_goes_on_with_the_install_that_it_names() {
    let folder = folder("named");
    let install = folder.join("lorry.yaml");
    let job = folder.join("job.yaml");
    std::fs::copy(path(SMALL), &install).unwrap();
    let lines: Vec<&str> = COMPLAINT.into_iter().chain(["F1.out = 12.6"]).collect();
    sitting(install.to_str().unwrap(), &job, &lines);
    let again = |job: &std::path::Path| fed(&mut program(&["diagnose", "--job", job.to_str().unwrap()]), &["n", "q"]);
    let ran = again(&job);
    assert!(ran.stderr.contains("1 reading so far") && ran.stderr.contains("Test 3"), "{ran}");
    assert_eq!(readings(&records(&job)), [1, 2], "{ran}");
    // Both were moved to another folder.
    let elsewhere = self::folder("named elsewhere");
    for name in ["lorry.yaml", "job.yaml"] {
        std::fs::rename(folder.join(name), elsewhere.join(name)).unwrap();
    }
    let moved = elsewhere.join("job.yaml");
    assert!(again(&moved).stderr.contains("2 readings so far"));
    // Without the install nothing can be asked; the job stays as it is.
    std::fs::remove_file(elsewhere.join("lorry.yaml")).unwrap();
    let before = std::fs::read(&moved).unwrap();
    let ran = again(&moved);
    assert_eq!(ran.code, Some(2), "{ran}");
    // Where a line ends depends on how long the path of this checkout is; the path is never cut short.
    let said: String = ran.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    let gone = elsewhere.join("lorry.yaml");
    assert!(said.contains(&format!("install file `{}`, which is not here: name it.", gone.display())), "{ran}");
    assert_eq!(std::fs::read(&moved).unwrap(), before);
}
