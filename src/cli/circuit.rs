//! `halfsplit diagnose` without an install file: a few questions describe the one circuit that fails.

use super::args::Diagnose;
use super::ask::{Asked, Asker, asker};
use super::attended::{Sat, Seat, is_closed, sit};
use super::desk::Desk;
use super::interview::is_quit;
use super::output::Output;
use super::{Ending, diagnose, files, history, job_file};
use crate::diagnostic::{harmless, quoted};
use crate::document::Source;
use crate::job::record::Course;
use crate::job::{Question, Sketch};
use crate::knowledge::Knowledge;
use crate::show::text::WIDTH;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;

/// What a circuit without an install file is called.
pub(super) const NAME: &str = "the circuit";

pub(super) fn run(args: &Diagnose, output: &Output) -> Ending {
    if let Some(path) = args.save.as_ref().filter(|path| path.exists()) {
        output.talk(&format!("error: {} is there already. It was left as it is.", path.display()));
        return Ending::BadInput;
    }
    let knowledge = Knowledge::built_in();
    let learnt = match history::learnt(args, &knowledge, output) {
        Ok(learnt) => learnt,
        Err(ending) => return ending,
    };
    let Some((mut desk, mut course)) = Desk::open(args, output) else { return Ending::BadInput };
    if is_closed(course.as_ref(), output) {
        desk.close();
        return Ending::Good;
    }
    let mut sketch = match course.as_ref().map(|course| (course.circuit.as_ref(), course)) {
        Some((Some(said), _)) => Sketch::with(&knowledge, said),
        Some((None, course)) => {
            // It was begun on an install file, and goes on with that one.
            desk.close();
            return on_its_install(args, course, output);
        }
        None => match describe(&knowledge, &mut desk, output) {
            Some(sketch) => sketch,
            None => {
                desk.close();
                return Ending::NoVerdict;
            }
        },
    };
    let (mut doubts, mut again) = (true, false);
    loop {
        let text = sketch.text();
        if let Some(path) = &args.save
            && let Err(error) = std::fs::write(path, &text)
        {
            output.talk(&format!("error: {}: {error}", path.display()));
            desk.close();
            return Ending::BadInput;
        }
        let source = Source::new(NAME, text);
        let Some(system) = files::system_of(&source, output) else { return Ending::BadInput };
        let seat = Seat { args, source: &source, circuit: Some(sketch.said()), on_bench: None, doubts, again };
        match sit(&seat, system, learnt.clone(), desk, course.as_ref(), output) {
            Sat::Ended(ending) => {
                if args.save.is_none() && !output.is_json() {
                    offer(&sketch, args.lines, output);
                }
                return ending;
            }
            Sat::Doubted(back) => {
                desk = *back;
                match amend(&mut sketch, &mut desk, output) {
                    Some(changed) => doubts = changed,
                    None => {
                        desk.tell_unsaved();
                        desk.tell_where(None);
                        desk.close();
                        return Ending::NoVerdict;
                    }
                }
                course = desk.course().cloned();
                again = true;
            }
        }
    }
}

/// Goes on with a job on the install file that it names.
fn on_its_install(args: &Diagnose, course: &Course, output: &Output) -> Ending {
    if args.save.is_some() {
        output.talk("error: this job has its install file; --save is for a circuit without one.");
        return Ending::BadInput;
    }
    let named = args.job.as_deref().map(|job| job_file::install(course, job, None));
    let Some(install) = named.filter(|install| install.exists()) else {
        // Never shortened: the name of the file stands at the end of its path.
        let file = harmless(&course.file);
        output.talk(&format!("error: this job was begun with the install file `{file}`, which is not here: name it."));
        return Ending::BadInput;
    };
    output.talk(&format!("Install: {}", install.display()));
    diagnose::attended_on(&Diagnose { install: Some(install), ..args.clone() }, output)
}

/// Asks all questions; `None`: the person leaves.
fn describe<'k>(knowledge: &'k Knowledge, asker: &mut dyn Asker, output: &Output) -> Option<Sketch<'k>> {
    let mut sketch = Sketch::new(knowledge);
    let questions = sketch.questions().to_vec();
    let count = questions.len();
    output.talk(&format!(
        "No install file: {count} questions about the one circuit that fails. Enter takes what stands in brackets."
    ));
    for (i, question) in questions.iter().enumerate() {
        ask(&mut sketch, question, &format!("{}/{count} ", i + 1), asker, output)?;
    }
    let assumed: Vec<String> =
        sketch.assumptions().into_iter().map(|(name, stands)| format!("{name}: {stands}")).collect();
    if !assumed.is_empty() {
        output.talk(&format!("Assumed: {}.", assumed.join("; ")));
    }
    output.talk("Of wires no size and no length is known.");
    Some(sketch)
}

/// Asks one question until the answer can be understood.
fn ask(
    sketch: &mut Sketch<'_>,
    question: &Question,
    number: &str,
    asker: &mut dyn Asker,
    output: &Output,
) -> Option<()> {
    output.talk(&format!("{number}{}", question.asks));
    loop {
        let mut prompt = format!("[{}] >", sketch.stands(question));
        if prompt.chars().count() > WIDTH / 2 {
            output.talk(&format!("[{}]", sketch.stands(question)));
            ">".clone_into(&mut prompt);
        }
        let Asked::Line(line) = asker.ask(&prompt) else { return None };
        if is_quit(&line) {
            return None;
        }
        // What stands is kept: asked for a second time it may have been said before.
        if line.trim().is_empty() {
            return Some(());
        }
        match sketch.answer(question, &line) {
            Ok(()) => return Some(()),
            Err(message) => output.talk(&message),
        }
    }
}

/// The readings do not fit: what of the description is not so? `Some(false)`: all of it is right; `None`: the person leaves.
fn amend(sketch: &mut Sketch<'_>, asker: &mut dyn Asker, output: &Output) -> Option<bool> {
    output.talk("The readings do not fit this circuit. Is it described as it is?");
    let questions = sketch.questions().to_vec();
    for (i, question) in questions.iter().enumerate() {
        let assumed = if sketch.is_assumed(question) { " (assumed)" } else { "" };
        output.talk(&format!("  {} {}: {}{assumed}", i + 1, question.name, sketch.stands(question)));
    }
    let before = sketch.text();
    loop {
        let Asked::Line(line) = asker.ask("number of what is not so, Enter: all is right >") else { return None };
        let line = line.trim();
        if is_quit(line) {
            return None;
        }
        if line.is_empty() {
            return Some(sketch.text() != before);
        }
        let chosen = line.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        let named = || questions.iter().find(|question| question.name == line);
        match chosen.and_then(|at| questions.get(at)).or_else(named) {
            Some(question) => ask(sketch, question, "", asker, output)?,
            None => output.talk(&format!("a number from 1 to {}, or Enter", questions.len())),
        }
    }
}

/// Offers to keep the circuit as a file.
fn offer(sketch: &Sketch<'_>, lines: bool, output: &Output) {
    let mut asker = asker(lines);
    output.talk("Keep this circuit as the start of an install file?");
    loop {
        let Asked::Line(line) = asker.ask("file name, Enter: no >") else { return };
        let name = line.trim();
        if name.is_empty() || is_quit(name) {
            return;
        }
        let file = OpenOptions::new().write(true).create_new(true).open(Path::new(name));
        match file.and_then(|mut file| file.write_all(sketch.text().as_bytes())) {
            Ok(()) => return output.talk(&format!("Kept in {name}.")),
            Err(error) => output.talk(&format!("{}: {error}", quoted(name))),
        }
    }
}
