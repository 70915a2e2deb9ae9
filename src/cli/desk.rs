//! Where a person sits: prompts, with the job file at hand. Notes and particulars are taken at any prompt, leaving is asked
//! about, and a record that cannot be saved is said at once.

use super::args::Diagnose;
use super::ask::{self, Asked, Asker};
use super::clock;
use super::job_file;
use super::journal::{Journal, Refused};
use super::output::Output;
use crate::job::record::{Course, Line, Moment, Record};
use crate::job::{Command, read_command};
use crate::show;
use std::path::{Path, PathBuf};

/// The file cannot be used; why not has been said.
struct Said;

/// Prompts, and the file in which the job is recorded.
pub(super) struct Desk<'o> {
    asker: Box<dyn Asker>,
    output: &'o Output,
    journal: Option<Journal>,
    /// Records beyond those that open a job.
    kept: usize,
    /// The person goes on although records are not saved.
    unsaved: bool,
    /// The person has left.
    left: bool,
    /// When this sitting wrote its first record.
    began: Option<Moment>,
    /// The job so far, saved or not.
    course: Option<Course>,
}

impl<'o> Desk<'o> {
    /// Opens the desk with the job file that the arguments name, or with one beside the install where a person sits at a
    /// terminal; with the job that stands in it. `None`: what is wrong has been said.
    pub(super) fn open(args: &Diagnose, output: &'o Output) -> Option<(Self, Option<Course>)> {
        let asker = ask::asker(args.lines);
        let mut desk =
            Self { asker, output, journal: None, kept: 0, unsaved: false, left: false, began: None, course: None };
        let course = match &args.job {
            Some(path) => desk.take_up(path).ok()?,
            None => {
                if ask::is_terminal() && !args.unrecorded {
                    desk.begin_beside(args.install.as_deref().unwrap_or(Path::new(NO_INSTALL)))?;
                }
                None
            }
        };
        desk.course.clone_from(&course);
        Some((desk, course))
    }

    /// Whether the job is recorded.
    pub(super) fn records(&self) -> bool {
        self.journal.is_some()
    }

    /// When this sitting wrote its first record.
    pub(super) fn began(&self) -> Option<Moment> {
        self.began
    }

    /// The job so far.
    pub(super) fn course(&self) -> Option<&Course> {
        self.course.as_ref()
    }

    /// Whether the person has left because a record could not be saved.
    pub(super) fn is_left(&self) -> bool {
        self.left
    }

    /// Opens a job file that was named.
    fn take_up(&mut self, path: &Path) -> Result<Option<Course>, Said> {
        let name = path.display().to_string();
        let (mut journal, bytes) = match Journal::open(path) {
            Ok(opened) => opened,
            Err(refused) => {
                self.refused(&name, &refused);
                return Err(Said);
            }
        };
        let (course, torn) = job_file::course(&name, bytes, self.output).ok_or(Said)?;
        if let Some(torn) = torn {
            self.output.talk(&show::record::torn(&torn));
            if let Err(error) = journal.cut(torn.whole) {
                self.output.talk(&format!("error: {name}: it cannot be cut off: {error}"));
                return Err(Said);
            }
        }
        if course.is_none() {
            self.output.talk(&format!("Recorded in {name}"));
        }
        self.journal = Some(journal);
        Ok(course)
    }

    fn refused(&self, name: &str, refused: &Refused) {
        let why = match refused {
            Refused::Locked => {
                "another halfsplit is at work on this job. Leave it there first, or name another file.".to_owned()
            }
            Refused::Failed(error) => error.to_string(),
        };
        self.output.talk(&format!("error: {name}: {why}"));
    }

    /// Begins a job file with a dated name beside the install. `None`: the person does not want to go on without.
    fn begin_beside(&mut self, install: &Path) -> Option<()> {
        let mut taken = None;
        for count in 1..=MOST_A_DAY {
            let path = beside(install, count);
            match Journal::create(&path) {
                Ok(journal) => {
                    let before = taken.map_or(String::new(), |taken: PathBuf| {
                        format!("\n{} stays as it is; --job goes on with it.", taken.display())
                    });
                    self.output.talk(&format!("Recorded in {} (--unrecorded: not){before}", path.display()));
                    self.journal = Some(journal);
                    return Some(());
                }
                Err(Refused::Failed(error)) if error.kind() == std::io::ErrorKind::AlreadyExists => taken = Some(path),
                Err(refused) => {
                    self.refused(&path.display().to_string(), &refused);
                    break;
                }
            }
        }
        let prompt = "Not recorded. Enter goes on without, q leaves >";
        match self.asker.ask(prompt) {
            Asked::Line(line) if line.trim().is_empty() => Some(()),
            Asked::Line(_) | Asked::End => None,
        }
    }

    /// Records what opens a job, before anybody has said anything.
    pub(super) fn open_with(&mut self, records: impl IntoIterator<Item = Record>) -> bool {
        self.add(records);
        self.save()
    }

    /// Records something; it is on the disk before this returns. `false`: it could not be saved, and the person leaves.
    pub(super) fn write(&mut self, record: Record) -> bool {
        self.write_all([record])
    }

    /// The same of several that belong together.
    pub(super) fn write_all<const N: usize>(&mut self, records: [Record; N]) -> bool {
        self.kept += N;
        self.add(records);
        self.save()
    }

    fn add(&mut self, records: impl IntoIterator<Item = Record>) {
        for record in records {
            let at = clock::now();
            self.began.get_or_insert(at);
            let line = Line { at, record };
            if let Some(journal) = &mut self.journal {
                journal.add(&line.to_string());
            }
            match (&mut self.course, &line.record) {
                (Some(course), _) => {
                    // What follows here was made by this program, in order.
                    let _ = course.add(&line);
                }
                (None, Record::Opened(opened)) => self.course = Some(Course::begin(opened.clone(), at)),
                (None, _) => {}
            }
        }
    }

    fn save(&mut self) -> bool {
        loop {
            let Some(journal) = &mut self.journal else { return true };
            let Err(error) = journal.save() else {
                if self.unsaved {
                    self.output.talk(&format!("All is saved again in {}.", journal.path().display()));
                }
                self.unsaved = false;
                return true;
            };
            let (count, name) = (journal.unsaved(), journal.path().display().to_string());
            self.output.talk(&format!("NOT SAVED: {name}: {error}. {}", show::record::not_saved(count)));
            if self.unsaved {
                return true;
            }
            match self.asker.ask("Enter tries again, g goes on unsaved, q leaves >") {
                Asked::Line(line) if line.trim() == "g" => {
                    self.unsaved = true;
                    return true;
                }
                Asked::Line(line) if line.trim() == "q" => break,
                Asked::Line(_) => {}
                Asked::End => break,
            }
        }
        self.left = true;
        false
    }

    /// Closes the file. One in which nobody has said anything is taken away again.
    pub(super) fn close(self) {
        let Some(journal) = self.journal else { return };
        if self.kept == 0 {
            journal.discard();
        }
    }

    /// Tells where the job is, and how to go on with it.
    pub(super) fn tell_where(&self, install: Option<&Path>) {
        let Some(journal) = &self.journal else { return };
        let install = install.map_or(String::new(), |install| format!(" {}", install.display()));
        let name = journal.path().display();
        if self.kept > 0 {
            self.output.talk(&format!("It goes on with: halfsplit diagnose{install} --job {name}"));
        }
    }

    /// Tells what is lost, if anything is.
    pub(super) fn tell_unsaved(&self) {
        if let Some(journal) = self.journal.as_ref().filter(|journal| journal.unsaved() > 0) {
            let (count, name) = (journal.unsaved(), journal.path().display());
            self.output.talk(&format!("NOT SAVED in {name}: {}", show::record::not_saved(count)));
        }
    }

    /// Whether the person wants to leave, who has closed the input or pressed Ctrl-C.
    fn leaves(&mut self) -> bool {
        let kept = match &self.journal {
            Some(_) if self.course.is_none() => "Nothing is recorded yet.".to_owned(),
            Some(journal) => format!("The job is kept in {}.", journal.path().display()),
            None => "This job is not recorded.".to_owned(),
        };
        self.output.talk(&format!("Leave? {kept}"));
        match self.asker.ask("y leaves, Enter goes on >") {
            Asked::Line(line) => matches!(line.trim(), "y" | "yes" | "q"),
            Asked::End => true,
        }
    }

    fn keep(&mut self, record: Record) {
        if !self.records() {
            self.output.talk("This job is not recorded, so nothing is kept (--job FILE).");
            return;
        }
        let said = show::record::kept(&record);
        if self.write(record) {
            self.output.talk(&said);
        }
    }
}

impl Asker for Desk<'_> {
    fn ask(&mut self, prompt: &str) -> Asked {
        loop {
            if self.left {
                return Asked::End;
            }
            match self.asker.ask(prompt) {
                Asked::End if self.leaves() => return Asked::End,
                Asked::End => {}
                // Before the job is opened there is nothing that a note could stand behind.
                Asked::Line(line) if self.course.is_none() => return Asked::Line(line),
                Asked::Line(line) => match read_command(&line) {
                    Some(Ok(Command::Keep(record))) => self.keep(record),
                    Some(Err(message)) => self.output.talk(&message),
                    Some(Ok(Command::Correct { .. } | Command::Readings | Command::Because | Command::LeftAs(..)))
                    | None => {
                        return Asked::Line(line);
                    }
                },
            }
        }
    }
}

/// The file beside which a job without an install file is recorded; nobody makes it.
const NO_INSTALL: &str = "circuit.yaml";

/// Jobs on one install in one day, beyond which a name must be given.
const MOST_A_DAY: usize = 99;

/// `van.2026-11-25.job.yaml` beside `van.yaml`; the second one of the day is `van.2026-11-25-2.job.yaml`.
fn beside(install: &Path, count: usize) -> PathBuf {
    let stem = install.file_stem().unwrap_or_default().to_string_lossy();
    let more = if count > 1 { format!("-{count}") } else { String::new() };
    install.with_file_name(format!("{stem}.{}{more}.job.yaml", clock::now().date()))
}
