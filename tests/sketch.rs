//! A circuit without an install file: every combination of answers is an install, and a whole job on one.

use crate::cli::program::{Ran, fed, program, run};
use crate::jobfile::script::{folder, records};
use halfsplit::belief::{Answer, Predicted, Probe, Verdict, predict};
use halfsplit::choice::Test;
use halfsplit::circuit::SetUp;
use halfsplit::document::Source;
use halfsplit::install::{Install, load};
use halfsplit::job::record::{Complained, Record};
use halfsplit::job::{Diagnosis, Form, Next, Sketch, System, Template, load_answers};
use halfsplit::knowledge::{CIRCUIT, Knowledge, Role};
use halfsplit::network::Network;
use halfsplit::units::Ohms;
use std::fs;

#[track_caller]
fn sketch<'k>(knowledge: &'k Knowledge, answers: &[&str]) -> Sketch<'k> {
    let mut sketch = Sketch::new(knowledge);
    let questions = sketch.questions().to_vec();
    for (question, line) in questions.iter().zip(answers) {
        sketch.answer(question, line).unwrap_or_else(|why| panic!("{}: {line}: {why}", question.name));
    }
    sketch
}

#[track_caller]
fn loaded(knowledge: &Knowledge, text: &str) -> Install {
    match load(&Source::new("circuit", text), knowledge) {
        Ok((install, warnings)) => {
            assert!(warnings.is_empty(), "{warnings:?}\n{text}");
            install
        }
        Err(report) => panic!("{report:?}\n{text}"),
    }
}

#[test]
fn the_questions_are_at_most_eight_and_their_file_is_read() {
    assert!(Template::read(CIRCUIT).is_ok(), "line {:?}", Template::read(CIRCUIT).err());
    let knowledge = Knowledge::built_in();
    assert_eq!(Sketch::new(&knowledge).questions().len(), 8);
    assert_eq!(Template::read("ask volts words: ?\nlet x\n"), Err(2));
}

/// 2 volts x 2 loads x 2 fuses x 2 relays x 2 sides x 3 controls x 2 earths x 2 plugs x 2 engines: all load without an error or
/// a warning, can be made ready, and the load works in the set-up that is meant for it.
#[test]
fn every_combination_of_answers_is_an_install() {
    let knowledge = Knowledge::built_in();
    let choices: [&[&str]; 8] = [
        &["12", "24 V"],
        &["bilge pump 8 A", "work lamp 55W"],
        &["none", "15"],
        &["none", "board"],
        &["plus switch", "plus key", "plus button", "minus switch", "minus key", "minus button"],
        &["chassis", "return"],
        &["no", "stern"],
        &["no", "yes"],
    ];
    let count: usize = choices.iter().map(|c| c.len()).product();
    for mut number in 0..count {
        let mut answers = Vec::new();
        for list in choices {
            answers.push(list[number % list.len()]);
            number /= list.len();
        }
        let sketch = sketch(&knowledge, &answers);
        assert_eq!(sketch.assumptions(), []);
        let system = System::new(loaded(&knowledge, &sketch.text())).unwrap();
        let loads = system.install.parts.iter().filter(|p| system.install.knowledge.kinds[p.kind].role == Role::Load);
        assert_eq!(loads.count(), 1, "{answers:?}");
        assert_eq!(system.install.nominal.get().to_string(), answers[0].trim_end_matches(" V"));
        let joints = system.install.parts.iter().any(|p| p.id == "plug");
        assert_eq!((joints, system.part("K1").is_some()), (answers[6] != "no", answers[3] != "none"), "{answers:?}");
        works(&system, &answers);
    }
}

/// With the one control on, and nothing else, current flows in the load; at rest none does.
#[track_caller]
fn works(system: &System, answers: &[&str]) {
    let network = Network::new(&system.circuit.netlist);
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let name = answers[4].split(' ').nth(1).unwrap();
    let on = system.switched(rest.clone(), if name == "key" { "key=on" } else { name }).unwrap();
    let (load, _) = system
        .install
        .parts
        .enumerate()
        .find(|(_, p)| system.install.knowledge.kinds[p.kind].role == Role::Load)
        .unwrap();
    let most = |set_up: &SetUp| {
        let state = network.enter(&[], &network.fresh(), set_up).unwrap().remove(0).state;
        let amps = system.circuit.elements_of[load].iter().map(|inner| state.current(inner.element).get().abs());
        amps.fold(0.0, f64::max)
    };
    assert!(most(&rest) < 0.01 && most(&on) > 1.0, "{answers:?}: {} {}", most(&rest), most(&on));
}

/// Every kind of load that may be named, with its usual watts.
#[test]
fn every_load_can_be_named() {
    let knowledge = Knowledge::built_in();
    let mut named = 0;
    for kind in knowledge.kinds.iter().filter(|kind| kind.role == Role::Load) {
        let mut sketch = Sketch::new(&knowledge);
        let question = sketch.questions().iter().find(|q| q.form == Form::Load).unwrap().clone();
        if sketch.answer(&question, &kind.name).is_ok() {
            named += 1;
            assert!(System::new(loaded(&knowledge, &sketch.text())).is_ok(), "{}", kind.name);
            assert!(sketch.text().contains("# assumed: watts, fuse"), "{}", sketch.text());
        }
    }
    assert!(named >= 5, "{named}");
}

/// A fuse by hand: 8 A times 1.5 is 12 A, so the next size is 15 A; 55 W at 24 V is 2.3 A, times 1.5 is 3.4 A: 5 A.
#[test]
fn the_fuse_that_is_assumed_carries_the_load() {
    let knowledge = Knowledge::built_in();
    let fuse = |answers: &[&str]| {
        let sketch = sketch(&knowledge, answers);
        sketch.stands(&sketch.questions()[2])
    };
    assert_eq!(fuse(&["12", "pump 8 A"]), "15 A");
    assert_eq!(fuse(&["24", "lamp 55 W"]), "5 A");
}

#[test]
fn what_is_assumed_is_marked() {
    let knowledge = Knowledge::built_in();
    let text = sketch(&knowledge, &[]).text();
    for line in ["nominal: 12 V # assumed: volts", "# assumed: load, fuse, earthed, plug, relay"] {
        assert!(text.contains(line), "{text}");
    }
    let text = sketch(&knowledge, &["12", "horn 4 A", "none", "none", "plus button", "chassis", "none"]).text();
    assert!(text.contains("nominal: 12 V\n") && text.contains("{is: push button, place: panel}\n"), "{text}");
    assert!(text.contains("horn 48 W \"horn\" at load | wire | chassis\n") && !text.contains("fuse"), "{text}");
}

#[test]
fn what_cannot_be_understood_is_said_and_changes_nothing() {
    let knowledge = Knowledge::built_in();
    let mut sketch = Sketch::new(&knowledge);
    let questions = sketch.questions().to_vec();
    let before = sketch.text();
    let long = "x".repeat(100_000);
    let garbage = ["\u{1b}[2J", "\"|#{}: *", "-1", "1e999 A", "9999 A", long.as_str(), "12 24", "plus minus", "<load>"];
    for (i, question) in questions.iter().enumerate().filter(|(_, q)| q.form != Form::Place) {
        for line in garbage {
            assert!(sketch.answer(question, line).is_err(), "{i}: {line}");
        }
    }
    assert_eq!(sketch.text(), before);
    // A place may be called anything; what could be taken for something else is left out of it.
    for line in garbage.into_iter().chain(["null", "yes", "battery", "Load", "~", "off", "K1", "Größe 3"]) {
        for question in questions.iter().filter(|q| q.form == Form::Place) {
            sketch.answer(question, line).unwrap();
        }
        loaded(&knowledge, &sketch.text());
    }
    // So may a load, as long as its kind is in it.
    for line in ["\u{1b}\"lamp\" | # {x}: *", "lamp: 55 W", "lamp 3 ohm lamp 55 W"] {
        let _ = sketch.answer(&questions[1], line);
        loaded(&knowledge, &sketch.text());
    }
}

/// The answers of a person whose lamp does not light: the switch is open for good. The first line of each job describes it.
struct Owner<'k> {
    sketch: Sketch<'k>,
    system: System,
    answers: &'static [&'static str],
}

/// A work lamp over a relay, and its complaint: nothing for the record, the lamp is dark with the switch on, seen.
const ANSWERS: [&str; 8] = ["12", "work lamp 55 W", "10", "board", "plus switch", "chassis", "none", "no"];
const COMPLAINT: [&str; 7] = ["", "1", "dark", "1", "1", "y", "1"];

impl<'k> Owner<'k> {
    fn new(knowledge: &'k Knowledge, answers: &'static [&'static str]) -> Self {
        let sketch = sketch(knowledge, answers);
        let system = System::new(loaded(knowledge, &sketch.text())).unwrap();
        Self { sketch, system, answers }
    }

    /// What the circuit with a fault answers, line by line, up to the verdict.
    fn lines(&self, part: &str, mode: &str) -> (Vec<String>, Verdict) {
        self.play(|network, test, _| self.read(network, test, part, mode))
    }

    /// Lines that no circuit can answer: whatever is measured is now half of nominal, now a quarter, and every look shows the
    /// first of its words.
    fn odd(&self) -> (Vec<String>, Verdict) {
        self.play(|_, test, number| match test.probe {
            Probe::Volts { .. } => {
                let line = if number % 2 == 0 { "6.3" } else { "3.1" };
                let read = halfsplit::job::read_entry(line, "V").unwrap();
                (line.to_owned(), halfsplit::job::as_answer(&read).unwrap())
            }
            _ => ("1".to_owned(), Answer::Word(0)),
        })
    }

    fn play(&self, answer: impl Fn(&Network<'_>, &Test, usize) -> (String, Answer)) -> (Vec<String>, Verdict) {
        let text = "complaint: {what: [work lamp], how: dead, with: {switch: on}}\nreadings: []\n";
        let instruments = self.system.instruments();
        let given = load_answers(&Source::new("answers", text), &self.system, &instruments).unwrap();
        let mut complaint = given.complaint;
        let complained = self.system.complained(&complaint);
        // As the interview says it: always, and it has worked.
        let said = Complained { when: Some("always".to_owned()), history: Some("worked".to_owned()), ..complained };
        complaint = self.system.complaint_named(&self.system.resting(), &said).unwrap_or(complaint);
        let network = Network::new(&self.system.circuit.netlist);
        let mut job = Diagnosis::begin(&self.system, &network, instruments, complaint, 1).unwrap();
        let mut lines = Vec::new();
        loop {
            assert!(lines.len() < 60, "no end: {lines:?}");
            match job.next() {
                Next::Take(ranked) => {
                    let (line, answer) = answer(&network, &ranked.test, lines.len());
                    job.answer(ranked.test.clone(), answer);
                    lines.push(line);
                }
                Next::Stop(verdict) => return (lines, verdict),
            }
        }
    }

    fn read(&self, network: &Network<'_>, test: &Test, part: &str, mode: &str) -> (String, Answer) {
        let fault = self.system.fault(part, mode).unwrap_or_else(|| panic!("no fault {part} {mode}"));
        let edits = self.system.suspects.faults()[fault].effect.edits(Ohms::ZERO);
        let rest = SetUp::at_rest(&self.system.circuit.netlist.controls);
        let rest = network.enter(&edits, &network.fresh(), &rest).unwrap().remove(0).state;
        let state = network.enter(&edits, rest.memory(), &test.set_up).unwrap().remove(0).state;
        match predict(network, &self.system.senses, &state, &test.probe, |e| rest.state(e)) {
            Predicted::Number { mean, floating, .. } => {
                let line = format!("{:.2}", if floating { 0.0 } else { mean });
                let read = halfsplit::job::read_entry(&line, "V").unwrap();
                (line, halfsplit::job::as_answer(&read).unwrap())
            }
            Predicted::Words(shares) => {
                let best = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap();
                ((best + 1).to_string(), Answer::Word(best))
            }
        }
    }

    /// All that is typed up to and with these lines.
    fn typed(&self, lines: &[String]) -> Vec<String> {
        let all = self.answers.iter().chain(&COMPLAINT).map(|line| (*line).to_owned());
        all.chain(lines.iter().cloned()).collect()
    }
}

fn diagnose(arguments: &[&str], lines: &[String]) -> Ran {
    fed(program().arg("diagnose").args(arguments), lines)
}

/// The whole job in line mode; the same left in the middle and taken up by its job file alone.
#[test]
fn a_whole_job_without_an_install_file() {
    let knowledge = Knowledge::built_in();
    let owner = Owner::new(&knowledge, &ANSWERS);
    let (lines, verdict) = owner.lines("K1", "coil-open");
    assert!(matches!(verdict, Verdict::Found(_)), "{verdict:?}");
    let place = folder("no install");
    let kept = place.join("kept.yaml");
    let mut typed = owner.typed(&lines);
    // Nothing is repaired; the circuit is kept under this name.
    typed.extend([String::new(), kept.display().to_string()]);
    let ran = diagnose(&[], &typed);
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(ran.stdout.contains("FOUND") && ran.stdout.contains("K1: open coil"), "{ran}");
    for line in ran.stdout.lines().chain(ran.stderr.lines().filter(|l| !l.contains('/'))) {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
    assert_eq!(fs::read_to_string(&kept).unwrap(), owner.sketch.text());

    let job = place.join("job.yaml");
    let name = job.to_str().unwrap();
    let saved = place.join("saved.yaml");
    let (first, rest) = lines.split_at(lines.len() / 2);
    let mut begun = owner.typed(first);
    begun.push("q".to_owned());
    let left = diagnose(&["--job", name, "--save", saved.to_str().unwrap()], &begun);
    assert_eq!(left.code, Some(1), "{left}");
    assert!(left.stderr.contains("halfsplit diagnose --job"), "{left}");
    assert_eq!(fs::read_to_string(&saved).unwrap(), owner.sketch.text());
    let ended = diagnose(&["--job", name], rest);
    assert_eq!(ended.code, Some(0), "{ended}");
    assert!(ended.stdout.contains("K1: open coil"), "{ended}");
    // Its reasoning and its sheet need no install file either.
    let told = run(&["because", name]);
    assert!(told.code == Some(0) && told.stdout.contains("K1: open coil"), "{told}");
    let sheet = run(&["report", name, "--format", "html"]);
    assert!(sheet.stdout.contains("<svg") && sheet.stderr.is_empty(), "{sheet}");
    // The saved file is an install file like any other, and the job goes on with it as well.
    let with = diagnose(&[saved.to_str().unwrap(), "--job", name], &[String::new()]);
    assert_eq!(with.code, Some(0), "{with}");
    assert!(!with.stderr.contains("The description was changed"), "{with}");
    let again = diagnose(&["--save", saved.to_str().unwrap()], &[]);
    assert_eq!(again.code, Some(2), "a file that is there is not written over: {again}");
}

/// A job that was begun with an install file goes on with that one, and is no circuit that could be saved.
#[test]
fn a_job_on_a_file_is_not_taken_for_one_without() {
    let job = folder("needs install").join("job.yaml");
    let name = job.to_str().unwrap();
    let lines: Vec<String> = crate::jobfile::script::COMPLAINT.iter().map(|l| (*l).to_owned()).collect();
    diagnose(&[crate::cli::program::SMALL, "--job", name], &lines);
    let ran = diagnose(&["--job", name], &[]);
    assert_eq!(ran.code, Some(1), "{ran}");
    assert!(ran.stderr.contains("Install: tests/cli/small.yaml") && ran.stderr.contains("Test 1"), "{ran}");
    assert!(!ran.stderr.contains("No install file"), "{ran}");
    let saved = job.with_file_name("saved.yaml");
    let ran = diagnose(&["--job", name, "--save", saved.to_str().unwrap()], &[]);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert!(ran.stderr.contains("--save is for a") && !saved.exists(), "{ran}");
}

/// Readings that no fault of the circuit explains: what was answered is asked about first. If all is said to be right, mistakes of
/// wiring are suspects; else the circuit is another, and the job goes on with its readings.
#[test]
fn a_misfit_asks_about_the_description_first() {
    let knowledge = Knowledge::built_in();
    let owner = Owner::new(&knowledge, &ANSWERS);
    let (lines, verdict) = owner.odd();
    assert!(matches!(verdict, Verdict::Misfit(_)), "{verdict:?}");
    let typed = owner.typed(&lines);
    let with = |more: &[&str]| [typed.clone(), more.iter().map(|line| (*line).to_owned()).collect()].concat();
    let ran = diagnose(&[], &with(&["", "q"]));
    let Some(asked) = ran.stderr.find("The readings do not fit this circuit") else { panic!("{ran}") };
    let (before, behind) = ran.stderr.split_at(asked);
    assert!(behind.contains("7 plug: none") && behind.contains("No wear explains all this"), "{ran}");
    assert!(!before.contains("No wear explains"), "{ran}");

    let job = folder("misfit amended").join("job.yaml");
    let name = job.to_str().unwrap();
    let ran = diagnose(&["--job", name], &with(&["99", "7", "roof", "", "q"]));
    assert!(ran.stderr.contains("a number from 1 to 8"), "{ran}");
    let circuits: Vec<_> = records(&job).into_iter().filter(|r| matches!(r, Record::Circuit(_))).collect();
    let [Record::Circuit(first), Record::Circuit(second)] = &circuits[..] else { panic!("{circuits:?} {ran}") };
    let plug = |said: &[(String, String)]| said.iter().find(|(name, _)| name == "plug").map(|(_, place)| place.clone());
    assert_eq!((plug(first).as_deref(), plug(second).as_deref()), (Some("none"), Some("roof")));
    // Taken up, it is the circuit as it was put right, with all readings.
    let again = diagnose(&["--job", name], &["q".to_owned()]);
    assert!(again.stderr.contains(&format!("{} readings so far", lines.len())), "{again}");
}

/// Without input, with empty lines alone, and with garbage at each question: it ends, and nothing panics.
#[test]
fn empty_garbage_and_no_answers_end_in_good_order() {
    let none: [String; 0] = [];
    let ran = diagnose(&[], &none);
    assert_eq!(ran.code, Some(1), "{ran}");
    let empty = vec![String::new(); 9];
    let ran = diagnose(&[], &empty);
    assert_eq!(ran.code, Some(1), "{ran}");
    assert!(ran.stderr.contains("Assumed: volts: 12"), "{ran}");
    let garbage: Vec<String> = (0..20).map(|i| format!("\u{1b}[2J{i} | # {{\u{7}")).collect();
    let ran = diagnose(&[], &garbage);
    assert_eq!(ran.code, Some(1), "{ran}");
    assert!(!ran.stderr.contains('\u{1b}'), "{ran}");
    let job = folder("no answers").join("job.yaml");
    for lines in [&none[..], &empty[..3], &["q".to_owned()]] {
        diagnose(&["--job", job.to_str().unwrap()], lines);
        assert!(!job.exists(), "a job in which nothing was said leaves no file");
    }
    let ran = diagnose(&["--job", job.to_str().unwrap(), "--history", "no such folder"], &empty);
    assert_eq!(ran.code, Some(2), "{ran}");
    assert!(!job.exists() && !ran.stderr.contains("1/8"), "it is said before anything is asked: {ran}");
}
