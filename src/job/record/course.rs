//! What the records of a job come to: what was taken back is gone, what was corrected is as if it had been read so.

use super::{
    About, Closed, Complained, Correction, Described, Finding, Left, Line, Moment, OnBench, Opened, Outcome, Reading,
    Record, Repair, Setting,
};
use crate::diagnostic::{Diagnostic, Report, Span};
use crate::job::AtHand;
use crate::suspects::Learnt;
use std::collections::BTreeMap;

/// A job as its file tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// Its start.
    pub opened: Opened,
    /// When it started.
    pub began: Moment,
    /// The install file, as it was named last.
    pub file: String,
    /// The last description.
    pub described: Described,
    /// Free fields; of two with one name the later.
    pub about: About,
    /// What was answered of a circuit that has no install file.
    pub circuit: Option<Setting>,
    /// What a workshop's jobs had taught when it began.
    pub learnt: Option<Learnt>,
    /// What stands in on the workshop bench, where the job is done there.
    pub bench: Option<OnBench>,
    /// The instruments at hand.
    pub at_hand: AtHand,
    /// It is a lesson.
    pub lesson: bool,
    /// What was looked for when it came in, and what was said.
    pub incoming: Vec<(String, String)>,
    /// The last complaint.
    pub complaint: Option<Complained>,
    /// The readings that count, by number.
    pub readings: BTreeMap<usize, Entered>,
    /// The repairs that count, in order.
    pub repairs: Vec<Mended>,
    /// Cautions that were shown with readings, findings and where it was left, those that were taken back included.
    pub cautions: Vec<String>,
    /// Mistakes of wiring are suspects since this many readings had been numbered.
    pub mistakes_since: Option<usize>,
    /// Notes, each with its time.
    pub notes: Vec<(Moment, String)>,
    /// The last finding, if nothing was read, taken back, corrected or repaired since.
    pub finding: Option<Finding>,
    /// What was open when the person left last.
    pub left: Option<Left>,
    /// Repairs that were noted by hand and name no fault.
    pub works: Vec<Repair>,
    /// How it came out, and in the person's own words.
    pub outcome: Option<(Outcome, Option<String>)>,
    /// The job in short, once it is closed.
    pub closed: Option<Closed>,
}

/// A reading that counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Entered {
    /// The reading, with what it was corrected to.
    pub reading: Reading,
    /// When it was entered.
    pub at: Moment,
    /// What its controls were at rest with, then.
    pub rest: Setting,
    /// It was corrected.
    pub corrected: bool,
}

/// A repair that counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Mended {
    /// The number of the last reading before it; 0 before the first.
    pub after: usize,
    /// What was repaired.
    pub repair: Repair,
}

impl Course {
    /// Follows the records of a file; `None` when there is none.
    ///
    /// # Errors
    /// Records that cannot follow those before them, each with its place.
    pub fn follow(lines: &[(Span, Line)]) -> Result<Option<Self>, Report> {
        let Some(((span, first), rest)) = lines.split_first() else { return Ok(None) };
        let Record::Opened(opened) = &first.record else {
            return Err(wrong(*span, "a job file begins with `job`").into());
        };
        let mut course = Self::begin(opened.clone(), first.at);
        let mut report = Report::new();
        for (span, line) in rest {
            if let Err(message) = course.add(line) {
                report.push(wrong(*span, &message));
            }
        }
        if report.has_errors() { Err(report) } else { Ok(Some(course)) }
    }

    /// A job that has just begun.
    pub fn begin(opened: Opened, began: Moment) -> Self {
        Self {
            file: opened.file.clone(),
            opened,
            began,
            described: Described::default(),
            about: About::default(),
            circuit: None,
            learnt: None,
            bench: None,
            at_hand: AtHand::default(),
            lesson: false,
            incoming: Vec::new(),
            complaint: None,
            readings: BTreeMap::new(),
            repairs: Vec::new(),
            cautions: Vec::new(),
            mistakes_since: None,
            notes: Vec::new(),
            finding: None,
            left: None,
            works: Vec::new(),
            outcome: None,
            closed: None,
        }
    }

    /// The number of the next reading.
    pub fn next_number(&self) -> usize {
        self.readings.last_key_value().map_or(1, |(last, _)| last.saturating_add(1))
    }

    /// Adds one record.
    ///
    /// # Errors
    /// Why it cannot follow what is there.
    pub fn add(&mut self, line: &Line) -> Result<(), String> {
        if self.closed.is_some() {
            return Err("nothing follows the closing record".to_owned());
        }
        match &line.record {
            Record::Opened(_) => return Err("a second job begins here; a file holds one".to_owned()),
            Record::Described(described) => self.described = described.clone(),
            Record::About(about) => about.0.iter().for_each(|field| self.about.set(field.clone())),
            Record::Circuit(said) => self.circuit = Some(said.clone()),
            Record::History(learnt) => self.learnt = Some(learnt.clone()),
            Record::Bench(bench) => self.bench = Some(bench.clone()),
            Record::AtHand(at_hand) => self.at_hand = *at_hand,
            Record::Lesson => self.lesson = true,
            Record::Incoming { about, says } => self.incoming.push((about.clone(), says.clone())),
            Record::Complaint(complaint) => self.complaint = Some(complaint.clone()),
            Record::Reading(reading) => self.enter(reading, line.at)?,
            Record::Undo(number) => {
                let gone = self.readings.remove(number);
                gone.ok_or_else(|| format!("no reading {number} that could be taken back"))?;
                // With the first reading behind a repair the repair goes too: the person stands before the finding again.
                let last = self.readings.range(..number).next_back().map_or(0, |(last, _)| *last);
                self.repairs.retain(|mended| mended.after < last);
                self.finding = None;
            }
            Record::Correct(correction) => self.correct(correction)?,
            Record::Note(text) => self.notes.push((line.at, text.clone())),
            Record::MistakesToo => self.mistakes_since = Some(self.next_number().saturating_sub(1)),
            Record::Finding(finding) => {
                // They were shown, whatever is read behind it.
                self.cautions.extend_from_slice(&finding.cautions);
                self.finding = Some(finding.clone());
            }
            Record::Closed(closed) => self.closed = Some(closed.clone()),
            // One that was added by hand names no fault and is kept as a note.
            Record::Repair(repair) if !repair.culprits.is_empty() => {
                let after = self.next_number().saturating_sub(1);
                self.repairs.push(Mended { after, repair: repair.clone() });
                self.finding = None;
                self.outcome = None;
            }
            Record::Left(left) => {
                self.cautions.extend_from_slice(&left.cautions);
                self.left = Some(left.clone());
            }
            Record::Resumed { file, .. } => self.file.clone_from(file),
            Record::Repair(repair) => self.works.push(repair.clone()),
            Record::Outcome { outcome, says, cautions } => {
                self.cautions.extend_from_slice(cautions);
                self.outcome = Some((*outcome, says.clone()));
            }
        }
        Ok(())
    }

    fn enter(&mut self, reading: &Reading, at: Moment) -> Result<(), String> {
        if self.complaint.is_none() {
            return Err("a reading stands here before the complaint".to_owned());
        }
        let next = self.next_number();
        if reading.number != next {
            return Err(format!("this is reading {}; number {next} would be next", reading.number));
        }
        let entered = Entered { reading: reading.clone(), at, rest: self.described.rest.clone(), corrected: false };
        self.readings.insert(next, entered);
        self.cautions.extend_from_slice(&reading.cautions);
        self.finding = None;
        Ok(())
    }

    fn correct(&mut self, correction: &Correction) -> Result<(), String> {
        let number = correction.number;
        let entered = self.readings.get_mut(&number);
        let entered = entered.ok_or_else(|| format!("no reading {number} that could be corrected"))?;
        entered.reading.got = correction.got.clone();
        if let (Some(proof), Some(held)) = (&mut entered.reading.proof, correction.held) {
            proof.held = held;
        }
        entered.corrected = true;
        // What nothing fitted may fit now: whether mistakes are asked in is seen anew.
        self.mistakes_since = None;
        self.finding = None;
        Ok(())
    }
}

impl About {
    /// Sets a field.
    fn set(&mut self, (name, text): (String, String)) {
        match self.0.iter_mut().find(|(known, _)| *known == name) {
            Some((_, old)) => *old = text,
            None => self.0.push((name, text)),
        }
    }
}

fn wrong(span: Span, message: &str) -> Diagnostic {
    Diagnostic::error("out-of-order", Span { len: 0, ..span }, message)
}
