//! `halfsplit diagnose`: complaint, tests one at a time, finding.

use super::Ending;
use super::args::Diagnose;
use super::ask::{Asked, Asker, asker};
use super::output::Output;
use super::{files, interview};
use crate::belief::{Answer, Verdict};
use crate::choice::{Instruments, Ranked};
use crate::diagnostic::quoted;
use crate::job::{
    Answers, Complaint, Diagnosis, Heard, Misread, Next, System, Typed, as_answer, load_answers, read_entry,
};
use crate::network::Network;
use crate::show;

pub(super) fn run(args: &Diagnose, output: &mut Output) -> Ending {
    let Some((_, system, _)) = files::system(&args.install, output) else {
        return Ending::BadInput;
    };
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments();
    match &args.answers {
        Some(path) => {
            let Some(source) = files::source(path, output) else { return Ending::BadInput };
            match load_answers(&source, &system, &instruments) {
                Ok(answers) => unattended(&system, &network, instruments, &answers, args.seed, output),
                Err(report) => {
                    files::told(output, &report, &source);
                    Ending::BadInput
                }
            }
        }
        None => attended(&system, &network, instruments, args.seed, output),
    }
}

fn begin<'n>(
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

fn close(job: &Diagnosis<'_>, next: &Next, unused: &[String], output: &Output) -> Ending {
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

/// A person at the keyboard.
fn attended<'n>(
    system: &'n System,
    network: &'n Network<'n>,
    instruments: Instruments,
    seed: u64,
    output: &Output,
) -> Ending {
    let mut asker = asker();
    output.say(&show::finding::opening(system));
    let Some(complaint) = interview::complaint(system, asker.as_mut(), output) else {
        return Ending::NoVerdict;
    };
    let Some(mut job) = begin(system, network, instruments, complaint, seed, output) else {
        return Ending::BadInput;
    };
    loop {
        let next = job.next();
        if matches!(next, Next::Stop(Verdict::Misfit(_))) && job.ask_mistakes_in() {
            output.talk("No wear explains all this. What an installer can have done wrong is a suspect from here on.");
            continue;
        }
        let Next::Take(ranked) = &next else { return close(&job, &next, &[], output) };
        match ask(&mut job, ranked, asker.as_mut(), output) {
            Answered::Entered | Answered::Undone => {}
            Answered::Quit => return close(&job, &next, &[], output),
        }
    }
}

/// How a test was answered.
enum Answered {
    Entered,
    Undone,
    Quit,
}

/// Asks one test until there is an answer to it.
fn ask(job: &mut Diagnosis<'_>, ranked: &Ranked, asker: &mut dyn Asker, output: &Output) -> Answered {
    let system = job.system();
    let number = job.taken().iter().filter(|t| !t.complaint).count() + 1;
    let expect = job.expect(&ranked.test);
    let mut tell = true;
    loop {
        if tell {
            output.say("");
            output.say(&show::test::test(system, number, ranked, &expect));
            tell = false;
        }
        let Asked::Line(line) = asker.ask(&show::test::prompt(system, &ranked.test)) else {
            return Answered::Quit;
        };
        let typed = match read_entry(&line, "V") {
            Ok(typed) => typed,
            Err(misread) => {
                output.talk(&misread_text(&misread));
                continue;
            }
        };
        match &typed {
            Typed::Repeat => tell = true,
            Typed::Why => {
                let second = job.ranked().into_iter().find(|r| r.test != ranked.test);
                output.say(&show::answer::why(job, ranked, &expect, second.as_ref()));
            }
            Typed::Suspects => output.say(&show::answer::suspects(job)),
            Typed::Undo => match job.undo() {
                Some(taken) => {
                    output.talk(&format!("Taken back: {}", show::test::brief(system, &taken.test)));
                    return Answered::Undone;
                }
                None => output.say("nothing to take back"),
            },
            Typed::Quit => return Answered::Quit,
            Typed::Word(word) if word == "h" || word == "help" => {
                output.say(&show::test::help(system, &ranked.test));
            }
            _ => match understood(system, ranked, &typed) {
                Ok(answer) => {
                    step(job, ranked, answer, output);
                    return Answered::Entered;
                }
                Err(message) => output.talk(&message),
            },
        }
    }
}

/// A typed line as the answer of this test, or what to type instead.
fn understood(system: &System, ranked: &Ranked, typed: &Typed) -> Result<Answer, String> {
    if matches!(typed, Typed::CannotTake | Typed::NotSure) {
        return Ok(Answer::NotTaken);
    }
    if let Some(words) = show::test::words(system, &ranked.test.probe) {
        let by_number = |n: f64| {
            let whole = n.fract().abs() < f64::EPSILON && n >= 1.0;
            let index = n as usize;
            (whole && index <= words.words.len()).then(|| index - 1)
        };
        let word = match typed {
            Typed::Values(values) => match values[..] {
                [entry] => by_number(entry.value),
                _ => None,
            },
            Typed::Word(word) => words.word(word),
            _ => None,
        };
        let known: Vec<&str> = words.words.iter().map(|w| w.says.as_str()).collect();
        let message = || format!("a number from 1 to {}, or one of: {}", known.len(), known.join(", "));
        return word.map(Answer::Word).ok_or_else(message);
    }
    let answer = match typed {
        Typed::OverRange => {
            return Err("OL on volts: set a higher range, and check that the meter is not on ohms".to_owned());
        }
        Typed::Values(values) if values.len() > 1 => {
            return Err("one value is asked for here".to_owned());
        }
        Typed::Word(word) => return Err(format!("{} is no reading: volts, such as 12.4 or 350m", quoted(word))),
        _ => as_answer(typed).ok_or_else(|| "volts, such as 12.4, 350m, 8..11 or jumps".to_owned())?,
    };
    let most = system.most_volts();
    let too_much = match &answer {
        Answer::Number { value, .. } => value.abs() > most,
        Answer::Between(low, high) => low.abs().max(high.abs()) > most,
        Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => false,
    };
    if too_much {
        return Err(format!(
            "more than {} cannot stand here: check range and decimal point (mV are typed as 350m)",
            show::text::volts(most)
        ));
    }
    Ok(answer)
}

fn misread_text(misread: &Misread) -> String {
    match misread {
        Misread::NotANumber(text) => format!("{} is no number: type it as 12.4, 12,4 or 350m", quoted(text)),
        Misread::WrongUnit { typed, wanted } => format!("{} is asked for here, not {}", wanted, quoted(typed)),
        Misread::BadRange(text) => {
            format!("{}: a range is typed from low to high, as 8..11", quoted(text))
        }
    }
}
