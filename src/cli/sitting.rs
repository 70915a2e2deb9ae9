//! One sitting at a job: tests asked and answered, readings of the person's own, undo and corrections, until a finding
//! or a repair that is proven.

mod ends;
mod incoming;

use super::args::Diagnose;
use super::ask::{Asked, Asker};
use super::attended::Sat;
use super::desk::Desk;
use super::diagnose::begin;
use super::output::Output;
use super::understood::{answer, misread_text, understood};
use crate::belief::{Answer, Probe, Verdict};
use crate::choice::{Ranked, Test};
use crate::install::PartId;
use crate::job::record::{Correction, Course, Gone, Mended, Moment, OnBench, Proven, Reading, Record, tenths};
use crate::job::{Again, Command, Diagnosis, Expect, Next, Taken, Typed, read_command, read_entry, unit};
use crate::network::Network;
use crate::show;
use crate::show::because::Telling;

/// A job at which a person sits.
pub(super) struct Sitting<'n, 'o> {
    network: &'n Network<'n>,
    job: Diagnosis<'n>,
    seed: u64,
    desk: Desk<'o>,
    output: &'o Output,
    /// The number of each reading, in order. Numbers of readings that the install does not know are left out.
    numbers: Vec<usize>,
    /// The readings of the record that the install does not know any more.
    lost: Vec<(usize, Reading, Gone)>,
    /// Cautions that the record holds.
    cautioned: Vec<String>,
    /// The record ends with the finding as it stands.
    found: bool,
    /// The finding as it stands has been said.
    said: bool,
    /// The repairs that count.
    repairs: Vec<Mended>,
    /// When the job began.
    began: Option<Moment>,
    /// What is good and what is bad is said behind the reading.
    lesson: bool,
}

/// What became of a line.
enum Did {
    /// The job is another.
    Changed,
    /// Nothing changed; the prompt comes again.
    Told,
    /// The test is to be told again.
    Again,
    /// The person leaves.
    Left,
}

impl<'n, 'o> Sitting<'n, 'o> {
    pub(super) fn new(
        network: &'n Network<'n>,
        job: Diagnosis<'n>,
        seed: u64,
        lesson: bool,
        desk: Desk<'o>,
        output: &'o Output,
    ) -> Self {
        Self {
            network,
            job,
            seed,
            desk,
            output,
            numbers: Vec::new(),
            lost: Vec::new(),
            cautioned: Vec::new(),
            found: false,
            said: false,
            repairs: Vec::new(),
            began: None,
            lesson,
        }
    }

    /// Goes on until there is a finding or the person leaves. `changed`: the description is not the one of the record. `doubts`:
    /// where nothing fits, the description is asked about first.
    pub(super) fn run(
        mut self,
        args: &Diagnose,
        course: Option<&Course>,
        on_bench: Option<&OnBench>,
        changed: bool,
        doubts: bool,
    ) -> Sat<'o> {
        self.began = course.map(|c| c.began).or_else(|| self.desk.began());
        if let Some(course) = course {
            self.take_up(course);
            self.found = course.finding.is_some() && !changed;
        }
        if let Some(bench) = on_bench
            && !self.comes_in(bench, course.map_or(&[], |course| &course.incoming))
        {
            let next = self.job.next();
            return Sat::Ended(self.end(args, &next));
        }
        // A job that is opened again with its finding is opened to change something.
        let mut reopened = course.is_some_and(|c| c.finding.is_some());
        let next = loop {
            let next = self.job.next();
            if doubts && matches!(next, Next::Stop(Verdict::Misfit(_))) {
                return Sat::Doubted(Box::new(self.desk));
            }
            if matches!(next, Next::Stop(Verdict::Misfit(_))) && self.job.ask_mistakes_in() {
                let text =
                    "No wear explains all this. What an installer can have done wrong is a suspect from here on.";
                self.output.talk(text);
                if !self.desk.write(Record::MistakesToo) {
                    break next;
                }
                continue;
            }
            if reopened && matches!(next, Next::Take(_)) {
                let text = "This job had its finding. As the readings are weighed now it wants more of them first.";
                self.output.talk(text);
                reopened = false;
            }
            let did = match &next {
                Next::Take(ranked) => self.ask(ranked),
                Next::Stop(verdict) if reopened => self.reopened(verdict),
                Next::Stop(Verdict::Cured) if !self.output.is_json() => self.proven(),
                Next::Stop(verdict) if self.can_be_repaired(verdict) => self.found(verdict),
                Next::Stop(_) => break next,
            };
            match did {
                Did::Left => break next,
                Did::Changed => (reopened, self.said) = (false, false),
                Did::Told | Did::Again => {}
            }
        };
        Sat::Ended(self.end(args, &next))
    }

    /// Enters what the record holds, and says what of it the install does not know.
    fn take_up(&mut self, course: &Course) {
        let system = self.job.system();
        let (known, lost) = system.again(&system.instruments(), course);
        self.repairs.clone_from(&course.repairs);
        for gone in self.job.enter_again(&known, &self.repairs, course.mistakes_since) {
            self.output.talk(&format!("A repair is kept as a note: {}.", gone.says()));
        }
        self.numbers = known.iter().map(|again| again.number).collect();
        self.cautioned.clone_from(&course.cautions);
        for (number, gone) in lost {
            let Some(entered) = course.readings.get(&number) else { continue };
            self.output.talk(&show::record::lost(number, &entered.reading, &gone.says()));
            self.lost.push((number, entered.reading.clone(), gone));
        }
    }

    fn next_number(&self) -> usize {
        let last = self.numbers.last().copied().max(self.lost.last().map(|(number, ..)| *number));
        last.map_or(1, |last| last.saturating_add(1))
    }

    /// Asks one test until there is an answer to it, or something else has changed the job.
    fn ask(&mut self, ranked: &Ranked) -> Did {
        let system = self.job.system();
        let expect = self.job.expect(&ranked.test);
        let mut tell = true;
        loop {
            if tell {
                self.output.say("");
                let number = self.next_number();
                let told = if self.lesson { expect.silent() } else { expect.clone() };
                self.output.say(&show::test::test_in(&self.job, number, ranked, &told));
            }
            let Asked::Line(line) = self.desk.ask(&show::test::prompt(system, &ranked.test)) else {
                return Did::Left;
            };
            let typed = read_entry(&line, unit(&ranked.test.probe));
            let answer = match &typed {
                Ok(typed) => understood(system, &ranked.test, typed),
                Err(misread) => Err(misread_text(misread)),
            };
            let did = match answer {
                // An answer comes before a command that is spelt alike.
                Ok(answer) => self.enter(&ranked.test, answer, &line, Some(&expect)),
                Err(_) => self.aside(&line, Some((ranked, &expect))),
            };
            match did {
                Did::Told => tell = false,
                Did::Again => tell = true,
                did => return did,
            }
        }
    }

    /// A line that is not the answer of the test that is asked.
    fn aside(&mut self, line: &str, asked: Option<(&Ranked, &Expect)>) -> Did {
        match read_command(line) {
            Some(Ok(Command::Readings)) => {
                self.tell_readings();
                return Did::Told;
            }
            Some(Ok(Command::Because)) => {
                self.tell_reasoning();
                return Did::Told;
            }
            Some(Ok(Command::LeftAs(outcome, says))) => return self.left_as(outcome, &says),
            Some(Ok(Command::Correct { number, value })) => return self.correct(number, &value),
            // Kept at the desk.
            Some(Ok(Command::Keep(_)) | Err(_)) | None => {}
        }
        match read_entry(line, asked.map_or("V", |(ranked, _)| unit(&ranked.test.probe))) {
            Ok(Typed::Repeat) => Did::Again,
            Ok(Typed::Quit) => Did::Left,
            Ok(Typed::Undo) => self.undo(),
            Ok(Typed::Suspects) => {
                self.output.say(&show::answer::suspects(&self.job));
                Did::Told
            }
            Ok(Typed::Why) => {
                match asked {
                    Some(_) if self.lesson => self.output.talk("In a lesson that is said behind the reading."),
                    Some((ranked, expect)) => {
                        let second = self.job.ranked().into_iter().find(|r| r.test != ranked.test);
                        self.output.say(&show::answer::why(&self.job, ranked, expect, second.as_ref()));
                    }
                    None => self.tell_reasoning(),
                }
                Did::Told
            }
            Ok(Typed::Word(word)) if word == "h" || word == "help" => {
                self.output.say(&show::test::help(&self.job, asked.map(|(ranked, _)| &ranked.test)));
                Did::Told
            }
            typed => self.own_reading(line, asked.map(|(ranked, _)| ranked), typed.ok().as_ref()),
        }
    }

    /// A reading of the person's own, or what would be accepted.
    fn own_reading(&mut self, line: &str, asked: Option<&Ranked>, typed: Option<&Typed>) -> Did {
        let system = self.job.system();
        let set_up = asked.map_or_else(|| self.job.standing().set_up, |ranked| ranked.test.set_up.clone());
        let already = system.already(&system.instruments(), line, &set_up);
        let message = match already {
            Some(Ok(already)) if self.looked_before(&already.test).is_some() => {
                let number = self.looked_before(&already.test).unwrap_or_default();
                format!("that was looked at: correct {number} {} gives it another word", already.value)
            }
            Some(Ok(already)) if !self.job.may_be_read(&already.test) => {
                "ohms only where it is dead: every supply off, then volts between these very points under 0.1 V"
                    .to_owned()
            }
            Some(Ok(already)) => match answer(system, &already.test, &already.value) {
                Ok(Answer::NotTaken) => "a reading of your own has a value".to_owned(),
                Ok(answer) => return self.enter(&already.test, answer, &already.value, None),
                Err(message) => message,
            },
            Some(Err(message)) => message,
            None => match (asked, typed) {
                (Some(ranked), Some(typed)) => understood(system, &ranked.test, typed).err().unwrap_or_default(),
                (Some(ranked), None) => {
                    read_entry(line, unit(&ranked.test.probe)).err().map(|m| misread_text(&m)).unwrap_or_default()
                }
                (None, _) if self.found => format!("{} {}", show::finding::behind(), system.already_forms()),
                (None, _) => system.already_forms(),
            },
        };
        self.output.talk(&message);
        Did::Told
    }

    /// Enters an answer, records it and says what it told; `expect`: what the screen said, where it was asked for.
    fn enter(&mut self, test: &Test, answer: Answer, typed: &str, expect: Option<&Expect>) -> Did {
        let system = self.job.system();
        let said = show::answer::given(system, &answer, &test.probe);
        let got = system.got(test, &answer, typed);
        let proving = show::proof::shows(&self.job, test);
        let limit = show::proof::limit(&self.job, test);
        let told = self.job.answer(test.clone(), answer);
        let held = self.job.taken().last().and_then(|taken| taken.proof);
        let position = self.job.taken().len().saturating_sub(1);
        let good = match expect {
            Some(expect) => expect.good.clone(),
            None => self.job.expected(position),
        };
        let minutes = self.job.taken().last().map_or(0.0, |t| tenths(t.minutes.get()));
        let number = self.next_number();
        let reading = Reading {
            number,
            with: system.setting(&test.set_up),
            probed: system.probed(test),
            got,
            expected: limit.or_else(|| good.map(|good| show::test::would_show(system, &test.probe, &good))),
            minutes,
            cautions: expect.map_or_else(Vec::new, |expect| self.new_cautions(test, &expect.energised)),
            asked: expect.is_some(),
            proof: held.map(|held| Proven { held, shows: proving.unwrap_or_default() }),
        };
        self.numbers.push(number);
        self.found = false;
        // Nothing is said of an answer before it is on the disk.
        if !self.desk.write(Record::Reading(reading)) {
            return Did::Left;
        }
        if !self.output.is_json() {
            let with = show::text::set_up(system, &test.set_up);
            self.output.talk(&format!("{} ({with}): {said}", show::test::brief(system, test)));
            if let Some(expect) = expect.filter(|_| self.lesson) {
                let (good, bad) = (expect.good.as_ref(), expect.bad.as_ref());
                self.output.say(&show::test::good_and_bad(system, &test.probe, good, bad));
            }
            let proof = held.and_then(|held| show::proof::told(&self.job, test, held));
            self.output.say(&proof.unwrap_or_else(|| show::answer::told(&self.job, &told)));
        }
        Did::Changed
    }

    /// The cautions that stood with a test and are not in the record yet.
    fn new_cautions(&mut self, test: &Test, energised: &[PartId]) -> Vec<String> {
        let mut cautions = self.job.system().cautions_at_test(test, energised);
        cautions.retain(|caution| !self.cautioned.contains(caution));
        self.cautioned.extend_from_slice(&cautions);
        cautions
    }

    fn undo(&mut self) -> Did {
        let Some(taken) = self.job.undo() else {
            self.output.say("nothing to take back");
            return Did::Told;
        };
        let number = self.numbers.pop().unwrap_or_default();
        let last = self.numbers.last().copied().unwrap_or(0);
        let repairs = self.repairs.len();
        self.repairs.retain(|mended| mended.after < last);
        self.found = false;
        if !self.desk.write(Record::Undo(number)) {
            return Did::Left;
        }
        self.output.talk(&format!("Taken back: {}", show::test::brief(self.job.system(), &taken.test)));
        if self.repairs.len() < repairs {
            self.output.talk("The repair is taken back with it.");
        }
        Did::Changed
    }

    /// Gives an earlier reading another value, as if it had been entered so.
    fn correct(&mut self, number: usize, value: &str) -> Did {
        let Some(old) = self.numbered().find(|(n, _)| *n == number).map(|(_, taken)| taken.clone()) else {
            let message = match self.lost.iter().find(|(n, ..)| *n == number) {
                Some((_, reading, gone)) => show::record::lost(number, reading, &gone.says()),
                None if self.numbers.is_empty() => "there is no reading yet".to_owned(),
                None => format!("there is no reading {number}; r lists them"),
            };
            self.output.talk(&message);
            return Did::Told;
        };
        let system = self.job.system();
        let new = match answer(system, &old.test, value) {
            Ok(new) => new,
            Err(message) => {
                self.output.talk(&message);
                return Did::Told;
            }
        };
        let got = system.got(&old.test, &new, value);
        let again: Vec<Again> = self
            .numbered()
            .map(|(each, taken)| {
                let answer = if each == number { new.clone() } else { taken.answer.clone() };
                Again { number: each, test: taken.test.clone(), answer }
            })
            .collect();
        let complaint = self.job.complaint().clone();
        let instruments = self.job.instruments().clone();
        let Some(mut job) = begin(system, self.network, instruments, complaint, self.seed, self.output) else {
            return Did::Told;
        };
        job.enter_again(&again, &self.repairs, None);
        self.job = job;
        let held = self.numbered().find(|(each, _)| *each == number).and_then(|(_, taken)| taken.proof);
        self.found = false;
        if !self.desk.write(Record::Correct(Correction { number, got, held })) {
            return Did::Left;
        }
        let [was, is] = [&old.answer, &new].map(|answer| show::answer::given(system, answer, &old.test.probe));
        let with = show::text::set_up(system, &old.test.set_up);
        let text = format!("Corrected: {} ({with}): {is}; it was {was}.", show::test::brief(system, &old.test));
        self.output.talk(&text);
        self.output.talk(&format!("{}.", show::answer::remain(self.job.remaining().len())));
        Did::Changed
    }

    /// The readings that count, each with its number.
    fn numbered(&self) -> impl Iterator<Item = (usize, &Taken)> {
        self.numbers.iter().copied().zip(self.job.taken().iter().filter(|t| !t.complaint))
    }

    /// The number of an earlier look at the same marks, which are the same each time.
    fn looked_before(&self, test: &Test) -> Option<usize> {
        let Probe::Look(sight) = test.probe else { return None };
        let same = |taken: &Taken| taken.test.probe == test.probe && taken.answer != Answer::NotTaken;
        let mut looks = self.numbered().filter(|_| self.job.system().is_inspection(sight));
        looks.find(|(_, taken)| same(taken)).map(|(number, _)| number)
    }

    /// The same text as `halfsplit because` has.
    fn tell_reasoning(&self) {
        let reasoning = self.job.reasoning();
        let telling =
            Telling { job: &self.job, numbers: &self.numbers, reasoning: &reasoning, odds: false, all: false };
        self.output.say(&show::because::text(&telling));
    }

    fn tell_readings(&self) {
        let system = self.job.system();
        if self.numbers.is_empty() {
            self.output.talk("no readings yet");
        }
        for (number, taken) in self.numbered() {
            let with = show::text::set_up(system, &taken.test.set_up);
            let said = show::answer::given(system, &taken.answer, &taken.test.probe);
            self.output.talk(&format!("{number}. {} ({with}): {said}", show::test::brief(system, &taken.test)));
        }
        for (number, reading, gone) in &self.lost {
            self.output.talk(&show::record::lost(*number, reading, &gone.says()));
        }
    }
}
