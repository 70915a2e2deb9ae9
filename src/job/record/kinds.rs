//! The records, in the words of the person and of the install file: names, not positions, so that a job outlives a
//! corrected description.

use super::{Described, Moment};
use crate::job::{AtHand, Held};
use crate::suspects::Learnt;

/// A record with its time.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// When it was written.
    pub at: Moment,
    /// What it says.
    pub record: Record,
}

/// One thing that happened in a job.
#[derive(Clone, Debug, PartialEq)]
pub enum Record {
    /// The job began; always the first.
    Opened(Opened),
    /// The description of the system that is used from here on.
    Described(Described),
    /// Who and what: person, vehicle, owner, hours.
    About(About),
    /// What was answered of a circuit that has no install file; a later one replaces it.
    Circuit(Setting),
    /// What a workshop's jobs had taught when this one began: its suspects are weighed with it.
    History(Learnt),
    /// The job is done on the workshop bench.
    Bench(OnBench),
    /// The instruments at hand from here on, where they are not the usual ones or were others before.
    AtHand(AtHand),
    /// The job is a lesson: what is good and what is bad is said behind the reading.
    Lesson,
    /// The complaint as facts; a later one replaces it.
    Complaint(Complained),
    /// What was found when it came in, before power was put on: what was looked for, and what was said.
    Incoming {
        /// The key of the question.
        about: String,
        /// What was said.
        says: String,
    },
    /// Something observed, or asked for and not taken.
    Reading(Reading),
    /// This reading does not count.
    Undo(usize),
    /// This reading was another.
    Correct(Correction),
    /// Anything worth keeping.
    Note(String),
    /// Mistakes of wiring are suspects from here on.
    MistakesToo,
    /// What was found.
    Finding(Finding),
    /// The person left before there was a finding.
    Left(Left),
    /// The job went on with this install file.
    Resumed {
        /// The install file.
        file: String,
        /// The program.
        program: String,
    },
    /// A repair that was made.
    Repair(Repair),
    /// How it came out.
    Outcome {
        /// In one word.
        outcome: Outcome,
        /// In the person's own.
        says: Option<String>,
        /// Cautions that were shown with it.
        cautions: Vec<String>,
    },
    /// The job in short; always the last.
    Closed(Closed),
}

/// The start of a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Opened {
    /// The program with its version.
    pub program: String,
    /// The title of the install.
    pub install: String,
    /// The install file.
    pub file: String,
    /// The seed of its draws.
    pub seed: u64,
    /// Cautions that were shown.
    pub cautions: Vec<String>,
}

/// What stands in on the workshop bench for what is not there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OnBench {
    /// The current limit of the supply in amps.
    pub limit: f64,
    /// The loads that stayed on the vehicle.
    pub dummies: Vec<String>,
}

/// Free fields about a job, in the order in which they were given: `person`, `vehicle`, `owner`, `hours`, `says`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct About(pub Vec<(String, String)>);

/// Controls off rest, each with its position.
pub type Setting = Vec<(String, String)>;

/// A complaint as facts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Complained {
    /// The parts that it is about.
    pub what: Vec<String>,
    /// What was seen.
    pub facts: Vec<Seen>,
    /// The set-up in which it shows.
    pub with: Setting,
    /// A set-up in which current flows there when all is well.
    pub usual: Setting,
    /// When it shows: a word of the knowledge base.
    pub when: Option<String>,
    /// What was before: a word of the knowledge base.
    pub history: Option<String>,
    /// Somebody beside the customer has seen it.
    pub seen: bool,
}

/// Something seen of a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// Controls off rest.
    pub with: Setting,
    /// What is looked at.
    pub look: String,
    /// The word for what was seen.
    pub shows: String,
    /// It is what is complained of.
    pub wrong: bool,
}

/// Something observed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reading {
    /// Its number in the job, from 1 on.
    pub number: usize,
    /// Controls off rest.
    pub with: Setting,
    /// Instrument and place.
    pub probed: Probed,
    /// What was read.
    pub got: Got,
    /// What a good circuit shows, as it stood on the screen.
    pub expected: Option<String>,
    /// Minutes that it cost.
    pub minutes: f64,
    /// Cautions that were shown with it for the first time in the job.
    pub cautions: Vec<String>,
    /// It was asked for; else the person entered it of his own.
    pub asked: bool,
    /// What it proves of a repair, where it was taken for that.
    pub proof: Option<Proven>,
}

/// What a reading proves of a repair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proven {
    /// How it came out.
    pub held: Held,
    /// What was to be shown, as it stood on the screen.
    pub shows: String,
}

impl Held {
    /// All of them with their words.
    pub const ALL: [(Self, &'static str); 3] = [(Self::Yes, "yes"), (Self::No, "no"), (Self::NotTaken, "not taken")];
}

/// With what and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Probed {
    /// A voltmeter between two points.
    Volts {
        /// Red lead.
        red: String,
        /// Black lead.
        black: String,
    },
    /// A voltmeter across the ends of a part, without regard to the sign.
    Drop(String),
    /// A clamp meter around a wire, or the current of a part, without regard to the sign.
    Amps(String),
    /// Ohms between two points.
    Ohms {
        /// First lead.
        red: String,
        /// Second lead.
        black: String,
    },
    /// A test lamp between two points.
    Lamp {
        /// Its tip.
        tip: String,
        /// Its clip.
        clip: String,
    },
    /// Looked at, listened to or felt.
    Look(String),
}

impl Default for Probed {
    fn default() -> Self {
        Self::Look(String::new())
    }
}

/// What was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Got {
    /// A value as typed.
    Reads(String),
    /// A word.
    Shows(String),
    /// Nothing, and why.
    Skipped(String),
}

impl Default for Got {
    fn default() -> Self {
        Self::Skipped(String::new())
    }
}

/// Another value for an earlier reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correction {
    /// The number of the reading.
    pub number: usize,
    /// What it was.
    pub got: Got,
    /// What that proves, where the reading is part of a proof.
    pub held: Option<Held>,
}

/// How the search for a fault ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// One repair is left.
    Found,
    /// A few are left that cannot be told apart.
    Alike,
    /// Nothing shows.
    NoFault,
    /// The readings fit nothing.
    NoFit,
    /// Not enough is known.
    Open,
}

impl Ended {
    /// All of them with their words.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Found, "found"),
        (Self::Alike, "cannot be told apart"),
        (Self::NoFault, "no fault found"),
        (Self::NoFit, "readings do not fit"),
        (Self::Open, "open"),
    ];
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The verdict.
    pub ended: Ended,
    /// The faults that it names, likeliest first.
    pub culprits: Vec<Blamed>,
    /// Cautions that were shown with it.
    pub cautions: Vec<String>,
    /// Minutes of all readings.
    pub minutes: f64,
    /// What was not taken, stays in doubt or is still suspected.
    pub open: Vec<String>,
}

/// A fault that a finding names.
#[derive(Clone, Debug, PartialEq)]
pub struct Blamed {
    /// The part.
    pub part: String,
    /// What is wrong with it: a mode of its kind.
    pub fault: String,
    /// Its probability, 0 to 1.
    pub sure: f64,
    /// The usual repair.
    pub repair: String,
}

/// Leaving in the middle.
#[derive(Clone, Debug, PartialEq)]
pub struct Left {
    /// Minutes of all readings so far.
    pub minutes: f64,
    /// Cautions that were shown with it.
    pub cautions: Vec<String>,
    /// What was not taken, stays in doubt or is still suspected.
    pub open: Vec<String>,
}

/// A repair.
#[derive(Clone, Debug, PartialEq)]
pub struct Repair {
    /// The part, or several.
    pub part: String,
    /// What was done.
    pub done: String,
    /// Minutes of work.
    pub minutes: Option<f64>,
    /// The faults that it is to cure, as the finding named them. Without them it is a note: the job does not count with it.
    pub culprits: Vec<Blamed>,
}

/// How a job came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// What was complained of is gone.
    Cured,
    /// It is less.
    Better,
    /// It is as it was.
    NotCured,
    /// Nobody goes on with it.
    GivenUp,
    /// Not repaired: fuse out, wire insulated, tagged, not to be used.
    MadeSafe,
    /// Repaired so that it holds for a while.
    Temporary,
    /// Not repaired yet: a part is awaited.
    Awaited,
}

impl Outcome {
    /// All of them with their words.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::Cured, "cured"),
        (Self::Better, "better"),
        (Self::NotCured, "not cured"),
        (Self::GivenUp, "given up"),
        (Self::MadeSafe, "made safe"),
        (Self::Temporary, "temporary"),
        (Self::Awaited, "part awaited"),
    ];
}

/// A part that was repaired, for a history that has no install file at hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failed {
    /// The part.
    pub part: String,
    /// What was wrong with it: a mode of its kind.
    pub fault: String,
    /// Its kind, where it is known.
    pub kind: Option<String>,
    /// Its place, where it has one.
    pub place: Option<String>,
    /// All that was read to the end says that it was at fault; else the finding was wrong, and the repair did not cure.
    pub right: bool,
}

/// A job in short, for a history that reads the last line alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Closed {
    /// How it came out.
    pub outcome: Outcome,
    /// The title of the install.
    pub install: String,
    /// When the job began.
    pub began: Moment,
    /// The complaint in a few words.
    pub complaint: String,
    /// What was found.
    pub ended: Ended,
    /// The faults.
    pub culprits: Vec<Blamed>,
    /// What was repaired, each with its kind and place; empty in files of before there was a history.
    pub failed: Vec<Failed>,
    /// What was done.
    pub repair: Option<String>,
    /// Readings that were taken.
    pub readings: usize,
    /// Minutes of all readings, to the proof.
    pub minutes: f64,
    /// Minutes of the work of repairs, where they were said.
    pub repair_minutes: Option<f64>,
}
