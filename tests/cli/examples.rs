//! Whole jobs on the other examples, each from the complaint to the proof, at a terminal that redraws nothing: as a screen reader
//! has it, without colour. Every line fits the screen, and what is typed wrong is answered with what would be accepted.

use super::program::program;
use super::session::{Asked, Bench, ENDS, Talk, options};
use halfsplit::job::record::{Outcome, Record, read_lines};
use rexpect::process::WaitStatus;
use rexpect::session::PtySession;
use rexpect::spawn_with_options;
use std::path::{Path, PathBuf};

/// A job on an example.
struct Job {
    install: &'static str,
    fault: [&'static str; 2],
    /// Prompts of the complaint, and answers.
    complaint: &'static [(&'static str, &'static str)],
    /// What the finding says.
    finds: &'static str,
}

const JOBS: [Job; 3] = [
    Job {
        install: "examples/van/install.yaml",
        fault: ["B.3.relay", "coil-open"],
        complaint: &[
            ("name or letter >", "water pump"),
            ("or word >", "dead"),
            ("number >", "1"),
            ("number >", "1"),
            ("y or n >", "y"),
            ("1, or names >", "1"),
            ("numbers or n >", "left stall lamp, right stall lamp"),
        ],
        finds: "relay of B.3: open coil",
    },
    Job {
        install: "examples/workboat/install.yaml",
        fault: ["K1", "contact-stuck-open"],
        complaint: &[
            ("name or letter >", "port flood, starboard flood"),
            ("or word >", "dark"),
            ("number >", "1"),
            ("number >", "1"),
            ("y or n >", "y"),
            ("1, or names >", "1"),
            ("numbers or n >", "n"),
        ],
        finds: "K1: ",
    },
    Job {
        install: "examples/taillift/install.yaml",
        fault: ["guard", "output-dead"],
        complaint: &[
            ("name or letter >", "lift valve"),
            ("or word >", "dead"),
            ("number >", "1"),
            ("number >", "1"),
            ("y or n >", "y"),
            ("1, or names >", "1"),
        ],
        finds: "guard: ",
    },
];

/// A line that is no answer to anything.
const GARBAGE: &str = "§%$ 7x";

type Sitting = Talk<PtySession>;

fn start(job: &Job, file: &Path) -> Sitting {
    let mut command = program();
    command.args(["diagnose", job.install, "--lines", "--job", file.to_str().unwrap(), "--about", "owner: A. Miller"]);
    command.env("TERM", "xterm").env("NO_COLOR", "1");
    let session = spawn_with_options(command, options().strip_ansi_escape_codes(false)).unwrap();
    Talk { session, enter: "\r", log: String::new() }
}

/// The file of a job of this name, in an empty folder.
fn file(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("examples");
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join(format!("{name}.job.yaml"));
    let _ = std::fs::remove_file(&file);
    file
}

/// Waits for test `number` or an end; the screen of the test.
fn screen(sitting: &mut Sitting, number: usize) -> Option<String> {
    let title = format!("Test {number}, ");
    let needles: Vec<&str> = ENDS.into_iter().chain([title.as_str(), "PROVEN"]).collect();
    let (_, found) = sitting.expect(&needles);
    (found == title).then(|| sitting.expect(&["(h help) >"]).0)
}

fn play(job: &Job) {
    let name = job.install.split('/').nth(1).unwrap();
    let file = file(name);
    let bench = Bench::of(job.install, job.fault);
    let mut sitting = start(job, &file);
    for (prompt, line) in job.complaint {
        sitting.say(&[(prompt, GARBAGE)]);
        sitting.say(&[(prompt, line)]);
    }
    let mut number = 1;
    while let Some(screen) = screen(&mut sitting, number) {
        assert!(number < 40, "no end:\n{}", sitting.log);
        sitting.send(GARBAGE);
        let (told, _) = sitting.expect(&["(h help) >"]);
        assert!(told.contains("such as") || told.contains("one of:") || told.contains("type it as"), "{told}");
        sitting.send(&bench.answer(&Asked::parse(&screen)));
        number += 1;
    }
    let (said, _) = sitting.expect(&["Repaired?"]);
    assert!(said.contains(job.finds), "{}", sitting.log);
    sitting.send(GARBAGE);
    sitting.expect(&["POINT = volts"]);
    sitting.say(&[("Repaired?", "y 20 min")]);
    let bench = bench.mended();
    while let Some(screen) = screen(&mut sitting, number) {
        assert!(number < 60 && screen.contains("Proof  "), "{}", sitting.log);
        sitting.send(&bench.answer(&Asked::parse(&screen)));
        number += 1;
    }
    sitting.say(&[("Enter closes the job", "")]);
    let mut log = sitting.log;
    log += &sitting.session.exp_eof().unwrap();
    assert!(matches!(sitting.session.process().wait(), Ok(WaitStatus::Exited(_, 0))), "{log}");
    std::fs::write(file.with_extension("log"), &log).unwrap();
    assert!(!log.contains('\u{1b}'), "something is redrawn or coloured:\n{log}");
    // This terminal does not echo what is typed nor its end; a path cannot be wrapped.
    for line in log.lines().filter(|line| !line.contains(".job.yaml")) {
        let line = line.rsplit(" > ").next().unwrap_or(line);
        assert!(line.trim_end().chars().count() <= 60, "wider than the screen: {line}");
    }
    let source = halfsplit::document::Source::from_bytes("job", std::fs::read(&file).unwrap()).unwrap();
    let records: Vec<Record> = read_lines(&source).unwrap().into_iter().map(|(_, line)| line.record).collect();
    assert!(matches!(records.last(), Some(Record::Closed(closed)) if closed.outcome == Outcome::Cured), "{records:?}");
}

#[test]
fn a_whole_job_on_each_of_the_other_examples_line_by_line() {
    JOBS.iter().for_each(play);
}
