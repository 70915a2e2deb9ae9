//! One job, one process.

use super::script::{COMPLAINT, PROMPT, SMALL, folder, program, records, sitting};
use std::io::{Read, Write};
use std::process::Stdio;

#[test]
fn a_second_process_is_refused_and_a_kill_leaves_no_lock() {
    let job = folder("locked").join("job.yaml");
    let mut first = program(&["diagnose", SMALL, "--job", job.to_str().unwrap()])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = first.stdin.take().unwrap();
    writeln!(stdin, "{}", COMPLAINT.join("\n")).unwrap();
    let mut stderr = first.stderr.take().unwrap();
    let mut said = Vec::new();
    while !String::from_utf8_lossy(&said).contains(PROMPT) {
        let mut some = [0; 4096];
        let n = stderr.read(&mut some).unwrap();
        assert!(n > 0, "{}", String::from_utf8_lossy(&said));
        said.extend_from_slice(&some[..n]);
    }
    let before = std::fs::read(&job).unwrap();
    let second = sitting(SMALL, &job, &["n"]);
    assert_eq!(second.code, Some(2), "{second}");
    let said = second.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("another halfsplit is at work"), "{second}");
    assert_eq!(std::fs::read(&job).unwrap(), before, "the second process wrote nothing");
    first.kill().unwrap();
    first.wait().unwrap();
    let third = sitting(SMALL, &job, &["n"]);
    assert_eq!(third.code, Some(1), "{third}");
    assert!(records(&job).len() > 3);
}
