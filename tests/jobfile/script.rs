//! A job on the small install, as lines typed at the program, and the records that come of it. The answers are those of
//! `tests/cli/coil-open.yaml`: volts by hand, the coil of K1 open.

pub(crate) use crate::cli::program::{Ran, SMALL, fed};
use halfsplit::belief::Answer;
use halfsplit::choice::Instruments;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::record::{Complained, Course, Line, Record, Seen, read_lines, whole_lines};
use halfsplit::job::{Answers, Diagnosis, Heard, Next, System, as_answer, load_answers, read_entry};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The lines that answer the first questions: nothing for the record, then the lamp is dark with S1 on.
pub(crate) const COMPLAINT: [&str; 7] = ["", "lamp", "dark", "1", "1", "y", "1"];

/// The prompt of a test.
pub(super) const PROMPT: &str = "(h help) >";

pub(super) fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// An empty folder of this name.
pub(crate) fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("jobfile").join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

pub(super) fn small() -> System {
    system(&std::fs::read_to_string(path(SMALL)).unwrap())
}

pub(super) fn system(install: &str) -> System {
    let (install, _) = load(&Source::new("small.yaml", install), &Knowledge::built_in()).unwrap();
    System::new(install).unwrap()
}

/// That the lamp is dark with S1 on; it has worked before.
pub(super) fn complained() -> Complained {
    let on = vec![("S1".to_owned(), "on".to_owned())];
    Complained {
        what: vec!["lamp".to_owned()],
        facts: vec![Seen { with: on.clone(), look: "lamp".to_owned(), shows: "dark".to_owned(), wrong: true }],
        with: on.clone(),
        usual: on,
        when: Some("always".to_owned()),
        history: Some("worked".to_owned()),
        seen: true,
    }
}

pub(super) fn begin<'n>(system: &'n System, network: &'n Network<'n>) -> Diagnosis<'n> {
    let complaint = system.complaint_named(&system.resting(), &complained()).unwrap();
    Diagnosis::begin(system, network, system.instruments(), complaint, 1).unwrap()
}

pub(super) fn answers(system: &System, instruments: &Instruments) -> Answers {
    let text = std::fs::read_to_string(path("tests/cli/coil-open.yaml")).unwrap();
    load_answers(&Source::new("coil-open.yaml", text), system, instruments).unwrap()
}

/// What is typed for an answer.
pub(super) fn typed(answer: &Answer) -> String {
    match answer {
        Answer::Number { value, .. } => format!("{value:.2}"),
        Answer::Between(low, high) => format!("{low}..{high}"),
        Answer::Unsteady => "jumps".to_owned(),
        Answer::Word(word) => (word + 1).to_string(),
        Answer::NotTaken => "n".to_owned(),
    }
}

/// The job as the library plays it, line by line.
struct Play<'n> {
    job: Diagnosis<'n>,
    answers: Answers,
    lines: Vec<String>,
}

impl Play<'_> {
    /// Answers the next test; `false` when there is none.
    fn answer(&mut self, other: Option<Answer>) -> bool {
        let Next::Take(ranked) = self.job.next() else { return false };
        let heard = match self.answers.hear(&ranked.test) {
            Heard::Given(_, answer) => answer,
            Heard::NotTaken => Answer::NotTaken,
        };
        let line = typed(&other.unwrap_or(heard));
        let answer = match read_entry(&line, "V").ok().filter(|_| line.contains('.') || line == "n") {
            Some(read) => as_answer(&read).unwrap(),
            None => Answer::Word(line.parse::<usize>().unwrap() - 1),
        };
        self.job.answer(ranked.test.clone(), answer);
        self.lines.push(line);
        true
    }
}

/// Everything that can be typed at a test, up to the finding; each line makes one record.
pub(super) fn lines() -> Vec<String> {
    let system = small();
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments();
    let mut play = Play { job: begin(&system, &network), answers: answers(&system, &instruments), lines: Vec::new() };
    assert!(play.answer(None));
    play.job.undo();
    play.lines.push("u".to_owned());
    play.lines.push("note: \"wet\" # plug: {green}".to_owned());
    assert!(play.answer(Some(Answer::NotTaken)));
    let line = "F1.out = 12.60 with S1=off";
    let rest = system.set_up_named(&system.resting(), &Vec::new()).unwrap();
    let already = system.already(&instruments, line, &rest).unwrap().unwrap();
    let read = as_answer(&read_entry(&already.value, "V").unwrap()).unwrap();
    play.job.answer(already.test, read);
    play.lines.push(line.to_owned());
    play.lines.push("owner: A. Müller, \"the mill\"".to_owned());
    assert!(play.answer(None));
    // A line that leaves the job as it is, for the number of the last reading is corrected to what it was.
    let last = play.lines.last().unwrap().clone();
    play.lines.push(format!("correct 3 {last}"));
    while play.answer(None) {
        assert!(play.lines.len() < 40, "no end: {:?}", play.lines);
    }
    play.lines
}

pub(super) fn program(arguments: &[&str]) -> Command {
    let mut command = crate::cli::program::program();
    command.args(arguments);
    command
}

/// One sitting at a job file.
pub(crate) fn sitting<L: AsRef<str>>(install: &str, job: &Path, lines: &[L]) -> Ran {
    fed(&mut program(&["diagnose", install, "--job", job.to_str().unwrap()]), lines)
}

/// All lines of a whole job from its start.
pub(super) fn from_the_start(lines: &[String]) -> Vec<String> {
    COMPLAINT.iter().map(|l| (*l).to_owned()).chain(lines.iter().cloned()).collect()
}

/// The records of a job file.
#[track_caller]
pub(crate) fn records(job: &Path) -> Vec<Record> {
    lines_of(&std::fs::read(job).unwrap()).into_iter().map(|line| line.record).collect()
}

/// The whole lines of a job file's bytes.
#[track_caller]
pub(crate) fn lines_of(bytes: &[u8]) -> Vec<Line> {
    placed(bytes).into_iter().map(|(_, line)| line).collect()
}

#[track_caller]
fn placed(bytes: &[u8]) -> Vec<(halfsplit::diagnostic::Span, Line)> {
    let whole = match whole_lines(bytes).expect("it is a job file") {
        Ok(whole) => whole,
        Err(torn) => torn.whole,
    };
    let source = Source::from_bytes("job", bytes[..whole].to_vec()).unwrap();
    read_lines(&source).unwrap_or_else(|e| panic!("{e:?}\n{}", source.text()))
}

/// What a job file's bytes come to.
#[track_caller]
pub(super) fn course(bytes: &[u8]) -> Option<Course> {
    Course::follow(&placed(bytes)).unwrap()
}

/// The records that a line typed at a test makes, and the finding: what opens and closes a sitting left out.
pub(super) fn typed_records(records: Vec<Record>) -> Vec<Record> {
    let typed = |r: &Record| {
        !matches!(
            r,
            Record::Opened(_) | Record::Described(_) | Record::Complaint(_) | Record::Resumed { .. } | Record::Left(_)
        )
    };
    records.into_iter().filter(typed).collect()
}
