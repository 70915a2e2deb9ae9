//! `halfsplit diagnose` with a person at the keyboard: a new job, or one taken up again.

use super::Ending;
use super::args::Diagnose;
use super::ask::{Asked, Asker};
use super::desk::Desk;
use super::diagnose::begin;
use super::interview;
use super::output::Output;
use super::sitting::Sitting;
use crate::document::{Source, read};
use crate::job::record::{Course, Described, Opened, Record};
use crate::job::{Complaint, System, offered};
use crate::network::Network;
use crate::show;
use crate::suspects::Learnt;

/// The program as a job file names it.
const PROGRAM: &str = concat!("halfsplit ", env!("CARGO_PKG_VERSION"));

pub(super) fn run(
    args: &Diagnose,
    source: &Source,
    mut system: System,
    learnt: Option<Learnt>,
    output: &Output,
) -> Ending {
    let Some((mut desk, course)) = Desk::open(args, output) else { return Ending::BadInput };
    if let Some(closed) = course.as_ref().and_then(|c| c.closed.as_ref()) {
        output.talk(&show::record::closed(closed));
        desk.close();
        return Ending::Good;
    }
    output.say(&show::finding::opening(&system));
    // A job keeps what it was begun with: else its suspects would be others each time that it is taken up.
    if course.is_some() && learnt.is_some() {
        output.talk("This job goes on as it was begun; what has come into the folder since does not count in it.");
    }
    let learnt = course.as_ref().map_or(learnt, |course| course.learnt.clone());
    if let Some(learnt) = &learnt {
        output.talk(&show::history::learnt(learnt));
        system.learn(learnt.clone());
    }
    let system = &system;
    let network = &Network::new(&system.circuit.netlist);
    // The install was read before, so that it is a document is known.
    let described = read(source).map(|node| Described::of(&node, system.resting())).unwrap_or_default();
    let began = match &course {
        Some(course) => taken_up(args, course, &described, &mut desk, output),
        None => {
            let first = [Record::Opened(opened(args, system)), Record::Described(described.clone())];
            desk.open_with(first.into_iter().chain(learnt.map(Record::History)))
        }
    };
    let complaint = if began { complaint(system, course.as_ref(), &mut desk, output) } else { None };
    let Some(complaint) = complaint else {
        desk.tell_unsaved();
        desk.tell_where(&args.install);
        desk.close();
        return Ending::NoVerdict;
    };
    let seed = course.as_ref().map_or(args.seed, |c| c.opened.seed);
    let Some(job) = begin(system, network, system.instruments(), complaint, seed, output) else {
        return Ending::BadInput;
    };
    let changed = course.as_ref().is_some_and(|c| c.described != described);
    Sitting::new(network, job, seed, desk, output).run(args, course.as_ref(), changed)
}

fn opened(args: &Diagnose, system: &System) -> Opened {
    let cautions = system.install.knowledge.cautions.values().filter(|c| c.opening);
    Opened {
        program: PROGRAM.to_owned(),
        install: system.install.title.clone(),
        file: args.install.display().to_string(),
        seed: args.seed,
        cautions: cautions.map(|c| c.says.clone()).collect(),
    }
}

/// Says what the job file holds and what is different since.
fn taken_up(args: &Diagnose, course: &Course, described: &Described, desk: &mut Desk<'_>, output: &Output) -> bool {
    output.talk(&show::record::taken_up(course));
    let program = PROGRAM.to_owned();
    if course.opened.program != program {
        let text = format!("It was begun with {}; this is {program}.", course.opened.program);
        output.talk(&text);
    }
    let mut records = vec![Record::Resumed { file: args.install.display().to_string(), program }];
    let differs = course.described.differs(described);
    if !differs.is_empty() {
        output.talk(&show::record::differs(&differs));
    }
    if course.described != *described {
        records.push(Record::Described(described.clone()));
    }
    desk.open_with(records)
}

/// The complaint of the record, or asked for.
fn complaint(system: &System, course: Option<&Course>, desk: &mut Desk<'_>, output: &Output) -> Option<Complaint> {
    if let Some((course, said)) = course.and_then(|c| Some((c, c.complaint.as_ref()?))) {
        match system.complaint_named(&course.described.rest, said) {
            Ok(complaint) => return Some(complaint),
            Err(gone) => {
                for gone in gone {
                    output.talk(&format!("The complaint does not fit the description any more: {}.", gone.says()));
                }
                output.talk("Once more:");
            }
        }
    } else if desk.records() {
        about(desk, output)?;
    }
    let complaint = interview::complaint(system, desk, output)?;
    desk.write(Record::Complaint(system.complained(&complaint))).then_some(complaint)
}

/// Who and what, as far as the person cares to say.
fn about(desk: &mut Desk<'_>, output: &Output) -> Option<()> {
    output.talk("For the record, now or at any prompt; Enter goes on:");
    output.talk(&format!("  {}", offered()));
    loop {
        // What is kept is kept at the desk and does not come here.
        match desk.ask("record >") {
            Asked::End => return None,
            Asked::Line(line) => match line.trim() {
                "" => return Some(()),
                "q" | "quit" => return None,
                _ => output.talk("a name, a colon and a text, such as owner: A. Miller; Enter goes on"),
            },
        }
    }
}
