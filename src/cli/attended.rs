//! `halfsplit diagnose` with a person at the keyboard: a new job, or one taken up again.

use super::Ending;
use super::args::Diagnose;
use super::ask::{Asked, Asker};
use super::bench::{self, Laid};
use super::desk::Desk;
use super::diagnose::begin;
use super::interview;
use super::output::Output;
use super::sitting::Sitting;
use crate::document::{Source, read};
use crate::job::record::{Course, Described, OnBench, Opened, Record, Setting};
use crate::job::{AtHand, Complaint, System, offered};
use crate::network::Network;
use crate::show;
use crate::suspects::Learnt;

/// The program as a job file names it.
const PROGRAM: &str = concat!("halfsplit ", env!("CARGO_PKG_VERSION"));

/// What a person sits at.
pub(super) struct Seat<'a> {
    /// The arguments.
    pub args: &'a Diagnose,
    /// The install file, or what was made in its place.
    pub source: &'a Source,
    /// What was answered of a circuit that has no install file.
    pub circuit: Option<Setting>,
    /// What stands in on the workshop bench, where the job is done there.
    pub on_bench: Option<OnBench>,
    /// Where nothing fits, the description is asked about first.
    pub doubts: bool,
    /// The person has sat here all the time, and was asked about the description.
    pub again: bool,
}

/// How a sitting ended.
pub(super) enum Sat<'o> {
    /// For good.
    Ended(Ending),
    /// The readings do not fit, and the description is to be asked about.
    Doubted(Box<Desk<'o>>),
}

pub(super) fn run(args: &Diagnose, source: &Source, system: System, learnt: Option<Learnt>, output: &Output) -> Ending {
    let Some((mut desk, course)) = Desk::open(args, output) else { return Ending::BadInput };
    if is_closed(course.as_ref(), output) {
        desk.close();
        return Ending::Good;
    }
    let (system, on_bench) = match bench::laid_out(args, system, course.as_ref(), &mut desk, output) {
        Laid::Out(system, bench) => (*system, bench),
        Laid::Left(ending) => {
            desk.close();
            return ending;
        }
    };
    let seat = Seat { args, source, circuit: None, on_bench, doubts: false, again: false };
    match sit(&seat, system, learnt, desk, course.as_ref(), output) {
        Sat::Ended(ending) => ending,
        Sat::Doubted(desk) => {
            desk.close();
            Ending::NoVerdict
        }
    }
}

/// Whether a job is closed; that is said.
pub(super) fn is_closed(course: Option<&Course>, output: &Output) -> bool {
    let closed = course.and_then(|course| course.closed.as_ref());
    if let Some(closed) = closed {
        output.talk(&show::record::closed(closed));
    }
    closed.is_some()
}

/// One sitting: a new job, or one that goes on where `course` ends.
pub(super) fn sit<'o>(
    seat: &Seat<'_>,
    mut system: System,
    learnt: Option<Learnt>,
    mut desk: Desk<'o>,
    course: Option<&Course>,
    output: &'o Output,
) -> Sat<'o> {
    let args = seat.args;
    if !seat.again {
        output.say(&show::finding::opening(&system));
    }
    // A job keeps what it was begun with: else its suspects would be others each time that it is taken up.
    if course.is_some() && learnt.is_some() && !seat.again {
        output.talk("This job goes on as it was begun; what has come into the folder since does not count in it.");
    }
    let learnt = course.map_or(learnt, |course| course.learnt.clone());
    if let Some(learnt) = &learnt {
        if !seat.again {
            output.talk(&show::history::learnt(learnt));
        }
        system.learn(learnt.clone());
    }
    let before = course.map_or_else(AtHand::default, |course| course.at_hand);
    let at_hand = args.at_hand.unwrap_or(before);
    if at_hand != AtHand::default() && !seat.again {
        output.talk(&format!("At hand: {at_hand}."));
    }
    let others = (at_hand != before).then_some(Record::AtHand(at_hand));
    let system = &system;
    let network = &Network::new(&system.circuit.netlist);
    // The install was read before, so that it is a document is known.
    let described = read(seat.source).map(|node| Described::of(&node, system.resting())).unwrap_or_default();
    let began = match course {
        Some(course) => taken_up(seat, course, &described, &mut desk, output) && desk.open_with(others),
        None => {
            let first = [Record::Opened(opened(args, system)), Record::Described(described.clone())];
            let circuit = seat.circuit.clone().map(Record::Circuit);
            let bench = seat.on_bench.clone().map(Record::Bench);
            let lesson = args.lesson.then_some(Record::Lesson);
            let more = circuit.into_iter().chain(bench).chain(others).chain(lesson);
            let more = more.chain(learnt.map(Record::History));
            desk.open_with(first.into_iter().chain(more))
        }
    };
    // Particulars are no answers: a job in which nothing else was said is none.
    let began = began && (seat.again || desk.open_with(args.about.iter().cloned()));
    if !args.about.is_empty() && !desk.records() {
        output.talk("This job is not recorded, so nothing is kept (--job FILE).");
    }
    let ask_about = args.about.is_empty();
    let complaint = if began { complaint(system, course, ask_about, &mut desk, output) } else { None };
    let Some(complaint) = complaint else {
        desk.tell_unsaved();
        desk.tell_where(args.install.as_deref());
        desk.close();
        return Sat::Ended(Ending::NoVerdict);
    };
    let seed = course.map_or(args.seed, |c| c.opened.seed);
    let instruments = system.instruments_at_hand(&at_hand);
    let Some(job) = begin(system, network, instruments, complaint, seed, output) else {
        return Sat::Ended(Ending::BadInput);
    };
    let changed = course.is_some_and(|c| c.described != described);
    // A job stays the lesson that it was begun as.
    let lesson = course.map_or(args.lesson, |course| course.lesson);
    let on_bench = seat.on_bench.as_ref();
    Sitting::new(network, job, seed, lesson, desk, output).run(args, course, on_bench, changed, seat.doubts)
}

fn opened(args: &Diagnose, system: &System) -> Opened {
    Opened {
        program: PROGRAM.to_owned(),
        install: system.install.title.clone(),
        file: args.install.as_ref().map_or(String::new(), |install| install.display().to_string()),
        seed: args.seed,
        cautions: system.cautions_before(),
    }
}

/// Says what the job file holds and what is different since.
fn taken_up(seat: &Seat<'_>, course: &Course, described: &Described, desk: &mut Desk<'_>, output: &Output) -> bool {
    let mut records = Vec::new();
    if !seat.again {
        output.talk(&show::record::taken_up(course));
        let program = PROGRAM.to_owned();
        if course.opened.program != program {
            let text = format!("It was begun with {}; this is {program}.", course.opened.program);
            output.talk(&text);
        }
        let file = seat.args.install.as_ref().map_or(String::new(), |install| install.display().to_string());
        records.push(Record::Resumed { file, program });
        let differs = course.described.differs(described);
        if !differs.is_empty() {
            output.talk(&show::record::differs(&differs));
        }
    }
    if let Some(circuit) = seat.circuit.clone().filter(|circuit| course.circuit.as_ref() != Some(circuit)) {
        records.push(Record::Circuit(circuit));
    }
    if course.described != *described {
        records.push(Record::Described(described.clone()));
    }
    desk.open_with(records)
}

/// The complaint of the record, or asked for; `ask_about`: who and what are asked for before it.
fn complaint(
    system: &System,
    course: Option<&Course>,
    ask_about: bool,
    desk: &mut Desk<'_>,
    output: &Output,
) -> Option<Complaint> {
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
    } else if ask_about && desk.records() {
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
