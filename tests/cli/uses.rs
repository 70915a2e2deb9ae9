//! Whole jobs in the real program for its three uses: at the roadside, on the workshop bench, in a lesson. Each in four ways:
//! straight through, with a wrong reading that is corrected later, with tests that cannot be taken, and killed (SIGKILL) in
//! the middle and taken up again. The circuit behind the answers is that of `session`: the coil of K1 is open.

use super::program::{SMALL, program};
use super::session::{Asked, Bench, COMPLAINT, Talk, options};
use halfsplit::job::record::{Record, read_lines};
use rexpect::process::{Signal, WaitStatus};
use rexpect::session::PtySession;
use rexpect::spawn_with_options;
use std::path::{Path, PathBuf};

/// A use of the program.
struct Use {
    name: &'static str,
    arguments: &'static [&'static str],
    /// Prompts before the complaint, and answers.
    before: &'static [(&'static str, &'static str)],
    /// The same behind it.
    behind: &'static [(&'static str, &'static str)],
}

const ROADSIDE: Use = Use { name: "roadside", arguments: &[], before: &[], behind: &[] };
const WORKSHOP: Use = Use {
    name: "workshop",
    arguments: &["--on", "bench"],
    before: &[("current limit in amps [10] >", "8"), ("Enter: all here >", "")],
    behind: &[
        ("Enter: nothing >", "feed/2.a green"),
        ("Enter: nothing >", "smells of smoke near the cab"),
        ("Enter: nothing >", ""),
        ("Enter: nothing >", ""),
        ("Enter: nothing >", ""),
    ],
};
const LESSON: Use = Use { name: "lesson", arguments: &["--lesson"], before: &[], behind: &[] };

/// How a job goes.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    Straight,
    Corrected,
    NotTaken,
    Killed,
}

/// A sitting at a job in a terminal.
type Sitting = Talk<PtySession>;

fn start(of: &Use, job: &Path) -> Sitting {
    let mut command = program();
    command.args(["diagnose", SMALL, "--job", job.to_str().unwrap()]).args(of.arguments).env("TERM", "xterm");
    Talk { session: spawn_with_options(command, options()).unwrap(), enter: "\r", log: String::new() }
}

fn end(mut sitting: Sitting) -> String {
    sitting.send("");
    let end = sitting.session.exp_eof().unwrap();
    assert!(matches!(sitting.session.process().wait(), Ok(WaitStatus::Exited(_, 0))), "{}{end}", sitting.log);
    sitting.log
}

fn folder(of: &Use, way: Way) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("uses").join(format!("{}-{way:?}", of.name));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn records(job: &Path) -> Vec<Record> {
    let source = halfsplit::document::Source::from_bytes("job", std::fs::read(job).unwrap()).unwrap();
    read_lines(&source).unwrap().into_iter().map(|(_, line)| line.record).collect()
}

/// A whole job up to its finding.
fn play(of: &Use, way: Way) {
    let bench = if of.arguments.contains(&"bench") { Bench::on_bench(8.0) } else { Bench::new() };
    let job = folder(of, way).join("job.yaml");
    let mut sitting = start(of, &job);
    for talk in [of.before, &[("record >", "")], &COMPLAINT, of.behind] {
        sitting.say(talk);
    }
    // The incoming look has given a reading of its own.
    let mut number = 1 + of.behind.iter().filter(|(_, line)| line.ends_with(" green")).count();
    let (mut wrong, mut taken, mut killed, mut corrected) = (None, 0, false, false);
    while let Some(screen) = sitting.screen(number) {
        assert!(number < 40, "no end:\n{}", sitting.log);
        let hidden = of.arguments.contains(&"--lesson");
        assert!(!(hidden && screen.contains("Good  ")), "told before the reading:\n{screen}");
        let asked = Asked::parse(&screen);
        let right = bench.answer(&asked);
        match way {
            Way::NotTaken if taken < 2 => sitting.send("n"),
            Way::Corrected if asked.is_volts() && wrong.is_none() => {
                let high = right.parse::<f64>().unwrap().abs() > 6.0;
                wrong = Some((number, right));
                sitting.send(if high { "0.30" } else { "12.4" });
            }
            Way::Corrected if !corrected && wrong.as_ref().is_some_and(|(at, _)| number == at + 2) => {
                corrected = true;
                let (at, right) = wrong.clone().unwrap();
                sitting.send(&format!("correct {at} {right}"));
                sitting.expect(&["Corrected:"]);
                continue;
            }
            Way::Killed if taken == 2 && !killed => {
                killed = true;
                sitting.session.process_mut().kill(Signal::SIGKILL).unwrap();
                let log = sitting.log;
                // Where it is done and what it is stand in the file.
                let again = Use { arguments: &[], ..*of };
                sitting = start(&again, &job);
                sitting.log = log;
                sitting.expect(&["so far."]);
                continue;
            }
            _ => sitting.send(&right),
        }
        if hidden && way == Way::Straight {
            sitting.expect(&["Good  "]);
        }
        taken += 1;
        number += 1;
    }
    assert!(way != Way::Killed || killed, "it ended before it was killed:\n{}", sitting.log);
    assert!(way != Way::Corrected || corrected, "it ended before it was corrected:\n{}", sitting.log);
    let (said, _) = sitting.expect(&["Repaired?"]);
    assert!(said.contains("K1: open coil"), "{way:?}\n{}{said}", sitting.log);
    end(sitting);
    let records = records(&job);
    let has = |is: &dyn Fn(&Record) -> bool| records.iter().any(is);
    assert_eq!(has(&|r| matches!(r, Record::Lesson)), of.arguments.contains(&"--lesson"));
    let limit = records.iter().find_map(|r| if let Record::Bench(bench) = r { Some(bench.limit) } else { None });
    assert_eq!(limit, of.arguments.contains(&"bench").then_some(8.0));
    let incoming = records.iter().filter(|r| matches!(r, Record::Incoming { .. })).count();
    assert_eq!(incoming, of.behind.len());
    assert!(has(&|r| matches!(r, Record::Finding(_))));
}

#[test]
fn at_the_roadside() {
    for way in [Way::Straight, Way::Corrected, Way::NotTaken, Way::Killed] {
        play(&ROADSIDE, way);
    }
}

#[test]
fn on_the_workshop_bench() {
    for way in [Way::Straight, Way::Corrected, Way::NotTaken, Way::Killed] {
        play(&WORKSHOP, way);
    }
}

#[test]
fn in_a_lesson() {
    for way in [Way::Straight, Way::Corrected, Way::NotTaken, Way::Killed] {
        play(&LESSON, way);
    }
}

/// Waits for test `number` of a proof; its screen, or `None` when all is proven.
fn proof(sitting: &mut Sitting, number: usize) -> Option<String> {
    let title = format!("Test {number}, ");
    let (_, found) = sitting.expect(&[&title, "PROVEN"]);
    (found == title).then(|| sitting.expect(&["(h help) >"]).0)
}

/// Killed at each test of the proof with half an answer typed, it goes on at that very test: nothing of the proof is asked twice
/// or left out, and what was repaired is not asked again.
#[test]
fn killed_in_the_middle_of_a_proof_it_goes_on_at_that_very_test() {
    let folder = folder(&ROADSIDE, Way::Killed).with_file_name("proof-killed");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let job = folder.join("job.yaml");
    let bench = Bench::new();
    let mut sitting = start(&ROADSIDE, &job);
    sitting.say(&[("record >", "")]);
    sitting.say(&COMPLAINT);
    let mut number = 1;
    while let Some(screen) = sitting.screen(number) {
        sitting.send(&bench.answer(&Asked::parse(&screen)));
        number += 1;
    }
    sitting.say(&[("Repaired?", "y 12 min")]);
    let bench = bench.mended();
    let (first, mut killed) = (number, 0);
    while let Some(screen) = proof(&mut sitting, number) {
        assert!(number < first + 20, "no end:\n{}", sitting.log);
        assert!(screen.contains("Proof  "), "{screen}");
        sitting.session.send("0.").unwrap();
        sitting.session.flush().unwrap();
        sitting.session.process_mut().kill(Signal::SIGKILL).unwrap();
        let log = sitting.log;
        sitting = start(&ROADSIDE, &job);
        sitting.log = log;
        let again = proof(&mut sitting, number).unwrap_or_else(|| panic!("{}", sitting.log));
        assert_eq!(again, screen, "another test than the one at which it was killed");
        killed += 1;
        sitting.send(&bench.answer(&Asked::parse(&screen)));
        number += 1;
    }
    assert!(killed >= 2, "the complaint tried again, and volts across the part: {}", sitting.log);
    end(sitting);
    let records = records(&job);
    let proofs = records.iter().filter(|r| matches!(r, Record::Reading(reading) if reading.proof.is_some())).count();
    assert_eq!(proofs, killed);
    assert_eq!(records.iter().filter(|r| matches!(r, Record::Repair(_))).count(), 1);
    let Some(Record::Closed(closed)) = records.last() else { panic!("{records:?}") };
    assert_eq!((closed.readings, closed.repair_minutes), (number - 1, Some(12.0)));
}
