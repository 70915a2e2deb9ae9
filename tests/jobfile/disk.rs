//! A disk that fills up: it is said at once, nothing half written stays, and the person says whether to go on.

use super::script::{COMPLAINT, SMALL, fed, folder, lines_of, typed_records};
use halfsplit::job::record::whole_lines;
use std::path::Path;
use std::process::Command;

/// The program where no file may grow beyond `blocks` of 512 or 1024 bytes (`ulimit -f`, POSIX): a write beyond is cut short and
/// then fails, as on a full disk.
fn limited(blocks: u32, job: &Path) -> Command {
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$@\"");
    let mut command = Command::new("sh");
    command.args(["-c", &script, "sh", env!("CARGO_BIN_EXE_halfsplit"), "diagnose", SMALL, "--job"]).arg(job);
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

/// A long note fills the room that is left.
fn lines(rest: &[&str]) -> Vec<String> {
    let note = format!("note: {}", "x".repeat(12_000));
    COMPLAINT
        .iter()
        .chain(&["K1.86 = 12.5"])
        .map(|l| (*l).to_owned())
        .chain([note])
        .chain(rest.iter().map(|l| (*l).to_owned()))
        .collect()
}

/// The text as one line: where it wraps hangs on the length of the path.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(unix)]
#[test]
fn a_write_that_fails_is_said_at_once_and_leaves_whole_records() {
    let folder = folder("disk");
    let job = folder.join("left.yaml");
    // Once more in vain, then leave.
    let ran = fed(&mut limited(9, &job), &lines(&["", "q"]));
    assert_eq!(ran.stderr.matches("NOT SAVED").count(), 3, "{ran}");
    assert!(unwrapped(&ran.stderr).contains("1 record is not in the file"), "{ran}");
    assert_eq!(ran.code, Some(1), "{ran}");
    let bytes = std::fs::read(&job).unwrap();
    assert!(whole_lines(&bytes).unwrap().is_ok(), "half a record stayed");
    assert_eq!(typed_records(lines_of(&bytes).into_iter().map(|l| l.record).collect()).len(), 1, "the reading alone");

    // Going on unsaved, every answer says so, and so does the end.
    let job = folder.join("on.yaml");
    let ran = fed(&mut limited(9, &job), &lines(&["g", "K1.85 = 0.0", "q"]));
    assert!(ran.stderr.contains("K1.85 to battery.- (S1 on): 0.00 V"), "{ran}");
    assert!(unwrapped(&ran.stderr).contains("2 records are not in the file"), "{ran}");
    assert!(ran.stderr.matches("NOT SAVED").count() >= 3, "{ran}");
    let bytes = std::fs::read(&job).unwrap();
    assert!(whole_lines(&bytes).unwrap().is_ok(), "half a record stayed");
}

/// No room for the first record even.
#[cfg(unix)]
#[test]
fn no_room_at_all_is_said_before_anything_is_asked() {
    let job = folder("no-room").join("job.yaml");
    let ran = fed(&mut limited(0, &job), &["q"]);
    assert!(ran.stderr.contains("NOT SAVED"), "{ran}");
    assert!(!ran.stderr.contains("What is wrong?"), "{ran}");
    assert_eq!(ran.code, Some(1), "{ran}");
}
