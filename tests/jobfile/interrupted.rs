//! Ctrl-C at a terminal that redraws nothing, and while the engine computes: it asks before it leaves, a second one leaves at
//! once, and either way the job goes on where it was.

use super::script::{COMPLAINT, PROMPT, SMALL, folder, program, records};
use crate::cli::boards::generator;
use halfsplit::job::record::Record;
use rexpect::process::WaitStatus;
use rexpect::reader::Options;
use rexpect::session::PtySession;
use rexpect::spawn_with_options;
use std::path::Path;
use std::time::{Duration, Instant};

const ASKS: &str = "y leaves, Enter goes on >";
const NOTED: &str = "It is still working.";

fn lines(arguments: &[&str]) -> PtySession {
    let mut command = program(arguments);
    command.arg("--lines").env("TERM", "xterm");
    spawn_with_options(command, Options::new().timeout_ms(Some(60_000))).unwrap()
}

fn say(session: &mut PtySession, prompt: &str, line: &str) {
    session.exp_string(prompt).unwrap();
    session.send(line).unwrap();
    session.send("\r").unwrap();
    session.flush().unwrap();
}

fn control_c(session: &mut PtySession) {
    session.send_control('c').unwrap();
    session.flush().unwrap();
}

/// Everything up to the first test.
fn complain(session: &mut PtySession) {
    let prompts = ["record >", "name or letter >", "or word >", "number >", "number >", "y or n >", "names >"];
    for (prompt, line) in prompts.into_iter().zip(COMPLAINT) {
        say(session, prompt, line);
    }
}

fn exits_with(session: &mut PtySession, code: i32) -> String {
    let rest = session.exp_eof().unwrap();
    let status = session.process().wait();
    assert!(matches!(status, Ok(WaitStatus::Exited(_, c)) if c == code), "{status:?} {rest}");
    rest
}

#[test]
fn in_line_mode_it_asks_and_the_job_goes_on() {
    let job = folder("interrupted-lines").join("job.yaml");
    let mut session = lines(&["diagnose", SMALL, "--job", job.to_str().unwrap()]);
    complain(&mut session);
    say(&mut session, PROMPT, "n");
    // In the middle of an answer: the terminal drops what was typed so far, and the answer is typed anew.
    session.exp_string(PROMPT).unwrap();
    session.send("12").unwrap();
    control_c(&mut session);
    session.exp_string("Leave? The job is kept in").unwrap();
    say(&mut session, ASKS, "");
    say(&mut session, PROMPT, "n");
    session.exp_string(PROMPT).unwrap();
    control_c(&mut session);
    say(&mut session, ASKS, "y");
    assert!(exits_with(&mut session, 1).contains("It goes on with:"));
    let all = records(&job);
    assert_eq!(all.iter().filter(|r| matches!(r, Record::Reading(_))).count(), 2, "{all:?}");
    assert!(matches!(all.last(), Some(Record::Left(_))), "{all:?}");
}

#[test]
fn a_second_one_leaves_without_an_answer() {
    let job = folder("interrupted-twice").join("job.yaml");
    let mut session = lines(&["diagnose", SMALL, "--job", job.to_str().unwrap()]);
    complain(&mut session);
    session.exp_string(PROMPT).unwrap();
    control_c(&mut session);
    session.exp_string(ASKS).unwrap();
    control_c(&mut session);
    exits_with(&mut session, 1);
    assert!(matches!(records(&job).last(), Some(Record::Left(_))));
}

/// A large install, whose first question takes a second or more, and the moment at which it is being worked out: its complaint is
/// on the disk, and no test has been asked.
fn computing(name: &str) -> (PtySession, std::path::PathBuf) {
    let folder = folder(name);
    let (install, job) = (folder.join("boards.yaml"), folder.join("job.yaml"));
    std::fs::write(&install, generator::install(50)).unwrap();
    let mut session = lines(&["diagnose", install.to_str().unwrap(), "--job", job.to_str().unwrap()]);
    let prompts =
        ["record >", "name or letter >", "or word >", "number >", "number >", "y or n >", "names >", "or n >"];
    for (prompt, line) in prompts.into_iter().zip(["", "lamp 1", "dark", "1", "1", "y", "1", "n"]) {
        say(&mut session, prompt, line);
    }
    let start = Instant::now();
    while !has_complaint(&job) {
        assert!(start.elapsed() < Duration::from_secs(60), "no complaint was recorded");
        std::thread::sleep(Duration::from_millis(2));
    }
    control_c(&mut session);
    let before = session.exp_string(NOTED).unwrap();
    assert!(!before.contains("Test 1"), "it came too late to be noted: {before}");
    (session, job)
}

fn has_complaint(job: &Path) -> bool {
    records(job).iter().any(|record| matches!(record, Record::Complaint(_)))
}

#[test]
fn while_it_computes_it_is_noted_and_asked_at_the_next_prompt() {
    let (mut session, job) = computing("interrupted-computing");
    // The test is told, then the question comes in place of its prompt.
    session.exp_string("Test 1").unwrap();
    say(&mut session, ASKS, "");
    say(&mut session, PROMPT, "n");
    say(&mut session, PROMPT, "q");
    exits_with(&mut session, 1);
    assert!(matches!(records(&job).last(), Some(Record::Left(_))));
}

#[test]
fn while_it_computes_a_second_one_leaves_at_once() {
    let (mut session, job) = computing("interrupted-computing-twice");
    control_c(&mut session);
    let rest = exits_with(&mut session, 130);
    assert!(!rest.contains("Test 1"), "{rest}");
    // Nothing was acknowledged behind the complaint, and it goes on from there.
    assert!(matches!(records(&job).last(), Some(Record::Complaint(_))));
    let install = job.with_file_name("boards.yaml");
    let mut session = lines(&["diagnose", install.to_str().unwrap(), "--job", job.to_str().unwrap()]);
    say(&mut session, PROMPT, "q");
    exits_with(&mut session, 1);
}
