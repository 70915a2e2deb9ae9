//! The program killed (SIGKILL) at random moments: no answer that it has acknowledged is lost, and nothing is made up.

use super::script::{PROMPT, SMALL, folder, from_the_start, lines, program, records, sitting, typed_records};
use halfsplit::job::record::Record;
use std::io::{Read, Write};
use std::path::Path;
use std::process::Stdio;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Kills, if `KILLS` does not say otherwise.
const KILLS: usize = 60;

/// Runs that are killed at the same time.
const AT_ONCE: usize = 2;

/// How many lines have made their record, and whether the complaint is in.
fn so_far(job: &Path) -> (usize, bool, Vec<Record>) {
    if !job.exists() {
        return (0, false, Vec::new());
    }
    let all = records(job);
    let complaint = all.iter().any(|r| matches!(r, Record::Complaint(_)));
    let typed = typed_records(all);
    (typed.len(), complaint, typed)
}

/// When a run is killed.
#[derive(Clone, Copy, Debug)]
enum When {
    /// So long after it was started.
    After(Duration),
    /// So long after it has come to this many prompts.
    AtPrompt(usize, Duration),
    /// At once when it has acknowledged so many lines: what is said before it is on the disk is lost then.
    AtWord(usize),
}

/// How a line of the screen begins that acknowledges what was typed.
const ACKNOWLEDGED: [&str; 5] = ["Excludes ", "Taken back: ", "Noted.", "Kept: ", "Corrected: "];

fn acknowledged(said: &str) -> usize {
    said.lines().filter(|line| ACKNOWLEDGED.iter().any(|word| line.starts_with(word))).count()
}

/// One run with all lines that are left, killed; how many of them it has acknowledged.
fn killed(job: &Path, lines: &[String], when: When) -> usize {
    let mut child = program(&["diagnose", SMALL, "--job", job.to_str().unwrap()])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let text = lines.join("\n") + "\n";
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(text.as_bytes()).unwrap();
    // The prompt behind a finding would wait for ever.
    drop(stdin);
    let start = Instant::now();
    let mut stderr = child.stderr.take().unwrap();
    let child = Mutex::new(child);
    let said = Mutex::new(String::new());
    let end = || child.lock().unwrap().kill().unwrap();
    let read = || {
        let mut some = [0; 4096];
        while let Ok(n @ 1..) = stderr.read(&mut some) {
            let mut said = said.lock().unwrap();
            said.push_str(&String::from_utf8_lossy(&some[..n]));
            if matches!(when, When::AtWord(count) if acknowledged(&said) >= count) {
                end();
            }
        }
    };
    std::thread::scope(|scope| {
        let reader = scope.spawn(read);
        let mut seen = None;
        while !reader.is_finished() {
            let due = match when {
                When::After(time) => start.elapsed() >= time,
                When::AtWord(_) => false,
                When::AtPrompt(count, time) => {
                    if seen.is_none() && said.lock().unwrap().matches(PROMPT).count() >= count {
                        seen = Some(Instant::now());
                    }
                    seen.is_some_and(|seen| seen.elapsed() >= time)
                }
            };
            if due {
                end();
                break;
            }
            std::thread::sleep(Duration::from_micros(200));
        }
    });
    child.into_inner().unwrap().wait().unwrap();
    let said = said.into_inner().unwrap();
    let heard = acknowledged(&said);
    assert!(heard + 1 >= said.matches(PROMPT).count(), "a prompt without a word for the line before it: {said}");
    heard
}

fn campaign(name: &str, kills: usize, lines: &[String], expected: &[Record], whole: Duration) -> [usize; 3] {
    let folder = folder(name);
    let mut random = fastrand::Rng::with_seed(name.bytes().map(u64::from).sum());
    let (mut jobs, mut torn, mut acknowledged) = (0, 0, 0);
    let mut job = folder.join("0.yaml");
    for kill in 0..kills {
        let (done, complaint, _) = so_far(&job);
        let rest = lines.get(done..).unwrap_or_default();
        let typed = if complaint { rest.to_vec() } else { from_the_start(rest) };
        // Anywhere in a run, or near the record of one of the next answers.
        let when = match kill % 4 {
            0 => When::After(whole.mul_f64(random.f64())),
            1 => When::AtPrompt(random.usize(1..5), (whole / 10).mul_f64(random.f64())),
            _ => When::AtWord(random.usize(1..5)),
        };
        let heard = killed(&job, &typed, when);
        if job.exists() {
            let bytes = std::fs::read(&job).unwrap();
            torn += usize::from(!bytes.is_empty() && !bytes.ends_with(b"\n"));
        }
        let (now, _, typed) = so_far(&job);
        acknowledged += heard;
        assert!(now >= done + heard, "kill {kill}, {when:?}: {heard} answers acknowledged, {} kept", now - done);
        assert_eq!(typed, expected[..now.min(expected.len())], "kill {kill}: what is kept is what was typed");
        assert!(now <= expected.len(), "kill {kill}: something was made up");
        if now == expected.len() {
            jobs += 1;
            job = folder.join(format!("{jobs}.yaml"));
        }
    }
    // The last one goes on to its end.
    let (done, complaint, _) = so_far(&job);
    let rest = lines.get(done..).unwrap_or_default();
    let ran = sitting(SMALL, &job, &if complaint { rest.to_vec() } else { from_the_start(rest) });
    assert_eq!(ran.code, Some(0), "{ran}");
    assert_eq!(typed_records(records(&job)), expected);
    [jobs, torn, acknowledged]
}

#[test]
fn no_acknowledged_answer_is_lost_to_a_kill() {
    let kills = std::env::var("KILLS").ok().and_then(|k| k.parse().ok()).unwrap_or(KILLS);
    let lines = lines();
    let folder = folder("kill");
    let job = folder.join("whole.yaml");
    let start = Instant::now();
    let ran = sitting(SMALL, &job, &from_the_start(&lines));
    let whole = start.elapsed();
    assert_eq!(ran.code, Some(0), "{ran}");
    let expected = typed_records(records(&job));
    // Every line its record, and the finding.
    assert_eq!(expected.len(), lines.len() + 1, "{lines:?} {ran}");
    let start = Instant::now();
    let results: Vec<[usize; 3]> = std::thread::scope(|scope| {
        let (lines, expected) = (&lines, &expected);
        let runs: Vec<_> = (0..AT_ONCE)
            .map(|i| scope.spawn(move || campaign(&format!("kill-{i}"), kills / AT_ONCE, lines, expected, whole)))
            .collect();
        runs.into_iter().map(|run| run.join().unwrap()).collect()
    });
    let sum = |i: usize| results.iter().map(|r| r[i]).sum::<usize>();
    assert!(sum(2) > kills / 2, "the kills came before any answer: {results:?}");
    println!(
        "{kills} kills in {:?}: {} jobs finished, {} torn ends, {} answers acknowledged",
        start.elapsed(),
        sum(0),
        sum(1),
        sum(2)
    );
}
