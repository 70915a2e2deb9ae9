//! `halfsplit diagnose`: complaint, tests one at a time, finding.

use super::Ending;
use super::args::Diagnose;
use super::output::Output;
use super::{attended, circuit, files, history};
use crate::belief::{Answer, Verdict};
use crate::choice::{Instruments, Ranked};
use crate::document::Source;
use crate::job::{Answers, Complaint, Diagnosis, Heard, Next, System, load_answers};
use crate::network::Network;
use crate::show;
use crate::suspects::Learnt;
use std::path::Path;

pub(super) fn run(args: &Diagnose, output: &Output) -> Ending {
    match &args.answers {
        _ if args.install.is_none() => circuit::run(args, output),
        None => attended_on(args, output),
        Some(path) => recorded(args, path, output),
    }
}

/// On the install that the arguments name, with a person at the keyboard.
pub(super) fn attended_on(args: &Diagnose, output: &Output) -> Ending {
    match read(args, output) {
        Ok((source, system, learnt)) => attended::run(args, &source, system, learnt, output),
        Err(ending) => ending,
    }
}

/// On the install that the arguments name, from a recorded job.
fn recorded(args: &Diagnose, path: &Path, output: &Output) -> Ending {
    let (mut system, learnt) = match read(args, output) {
        Ok((_, system, learnt)) => (system, learnt),
        Err(ending) => return ending,
    };
    let Some(source) = files::source(path, output) else { return Ending::BadInput };
    if let Some(learnt) = learnt {
        output.talk(&show::history::learnt(&learnt));
        system.learn(learnt);
    }
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments_at_hand(&args.at_hand.unwrap_or_default());
    match load_answers(&source, &system, &system.instruments()) {
        Ok(answers) => unattended(&system, &network, instruments, &answers, args.seed, output),
        Err(report) => {
            files::told(output, &report, &source);
            Ending::BadInput
        }
    }
}

/// The install that the arguments name, and what finished jobs teach.
///
/// # Errors
/// It cannot be read, which has been said.
fn read(args: &Diagnose, output: &Output) -> Result<(Source, System, Option<Learnt>), Ending> {
    let install = args.install.as_ref().ok_or(Ending::BadInput)?;
    let (source, system, _) = files::system(install, output).ok_or(Ending::BadInput)?;
    let learnt = history::learnt(args, &system.install.knowledge, output)?;
    Ok((source, system, learnt))
}

/// Begins the job of a complaint; `None`: why not has been said.
pub(super) fn begin<'n>(
    system: &'n System,
    network: &'n Network<'n>,
    instruments: Instruments,
    complaint: Complaint,
    seed: u64,
    output: &Output,
) -> Option<Diagnosis<'n>> {
    match Diagnosis::begin(system, network, instruments, complaint, seed) {
        Ok(job) => Some(job),
        Err(unsolvable) => {
            output.say(&format!("error: the circuit cannot be solved: {}", unsolvable.why));
            None
        }
    }
}

/// A recorded job: every test is answered from the file.
fn unattended<'n>(
    system: &'n System,
    network: &'n Network<'n>,
    instruments: Instruments,
    answers: &Answers,
    seed: u64,
    output: &Output,
) -> Ending {
    let Some(mut job) = begin(system, network, instruments, answers.complaint.clone(), seed, output) else {
        return Ending::BadInput;
    };
    let mut used = vec![false; answers.given.len()];
    let mut unused = Vec::new();
    let mut volunteered = false;
    let next = loop {
        match job.next() {
            Next::Take(ranked) => {
                let answer = match answers.hear(&ranked.test) {
                    Heard::Given(i, answer) => {
                        used[i] = true;
                        answer
                    }
                    Heard::NotTaken => Answer::NotTaken,
                };
                step(&mut job, &ranked, answer, output);
            }
            Next::Stop(Verdict::Misfit(_)) if volunteered && job.ask_mistakes_in() => {}
            Next::Stop(_) if !volunteered => {
                volunteered = true;
                for (given, used) in answers.given.iter().zip(&used) {
                    if !used && !job.volunteer(given) {
                        unused.push(given.text.clone());
                    }
                }
            }
            stop @ Next::Stop(_) => break stop,
        }
    };
    close(&job, &next, &unused, output)
}

/// Enters an answer and says what it told.
fn step(job: &mut Diagnosis<'_>, ranked: &Ranked, answer: Answer, output: &Output) {
    let system = job.system();
    let said = show::answer::given(system, &answer, &ranked.test.probe);
    let told = job.answer(ranked.test.clone(), answer);
    if !output.is_json() {
        let with = show::text::set_up(system, &ranked.test.set_up);
        output.talk(&format!("{} ({with}): {said}", show::test::brief(system, &ranked.test)));
        output.say(&show::answer::told(job, &told));
    }
}

/// Says the finding, or how the job stands.
pub(super) fn close(job: &Diagnosis<'_>, next: &Next, unused: &[String], output: &Output) -> Ending {
    let verdict = match next {
        Next::Stop(verdict) => verdict.clone(),
        Next::Take(_) => Verdict::Open,
    };
    if output.is_json() {
        output.json(&show::json::diagnosis(job, next, unused));
    } else {
        output.print(&show::finding::finding(job, &verdict));
        for text in unused {
            output.print(&format!("Changed nothing: {text}\n"));
        }
    }
    match verdict {
        Verdict::Found(_) | Verdict::Ambiguous(_) | Verdict::NoFault | Verdict::Cured => Ending::Good,
        Verdict::Misfit(_) | Verdict::Open => Ending::NoVerdict,
    }
}
