//! The arguments as typed.

use crate::job::record::Record;
use crate::job::{AtHand, Command as Typed, offered, read_command};
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Find the fault in a relay-switched 12/24 V system, reading by reading
#[derive(Debug, Parser)]
#[command(
    version,
    after_help = "Exit codes: 0 found, ambiguous, or nothing wrong; 1 no verdict; 2 bad usage or a bad file.\n\
                  Local codes come first. Above 50 V DC, mains and shore power: a licensed person."
)]
pub(super) struct Args {
    #[command(subcommand)]
    pub command: Command,
    /// Output for people or for programs
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Colour: auto follows the terminal and `NO_COLOR`
    #[arg(long, global = true, value_enum, default_value_t = Colour::Auto)]
    pub color: Colour,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Find a fault: complaint, tests one at a time, finding
    Diagnose(Diagnose),
    /// Show what every point along the way of each load's current should read
    Volts(Volts),
    /// Check an install file: every error at once, each with its place
    Check(Check),
    /// What the finished jobs of a workshop tell: what fails, where, how long it took, which findings were wrong
    History(History),
    /// The reasoning of a job: what each reading said, and what it ruled out
    Because(Because),
    /// The job sheet: complaint, cause, correction, readings, proof
    Report(Report),
    /// How well the faults of an install are found: this program against a mock-up of it
    Testability(Testability),
}

#[derive(Clone, Debug, ClapArgs)]
#[command(after_help = "Examples:\n  halfsplit diagnose\n  halfsplit diagnose examples/sprayer/install.yaml\n  \
    halfsplit diagnose examples/sprayer/install.yaml --job monday.yaml\n  \
    halfsplit diagnose examples/sprayer/install.yaml --on bench\n  \
    halfsplit diagnose examples/sprayer/install.yaml --with test-lamp\n  \
    halfsplit diagnose examples/sprayer/install.yaml --answers examples/sprayer/jobs/burnt-contact.yaml")]
pub(super) struct Diagnose {
    /// The install file; without one a few questions describe the one circuit that fails, and a job goes on with the one that it names
    pub install: Option<PathBuf>,
    /// Take complaint and readings from this file instead of asking
    #[arg(long, value_name = "FILE", requires = "install")]
    pub answers: Option<PathBuf>,
    /// Record the job here, or go on with the one that is [default: a dated file beside the install, in a terminal]
    #[arg(long, value_name = "FILE", conflicts_with = "answers")]
    pub job: Option<PathBuf>,
    /// Who and what, for the record, instead of being asked ('owner: A. Miller', 'says: dark in the rain', 'note: ...'); may be repeated
    #[arg(long, value_name = "FIELD: TEXT", value_parser = particular, conflicts_with = "answers")]
    pub about: Vec<Record>,
    /// Weigh the suspects with the finished jobs in this folder too
    #[arg(long, value_name = "DIR")]
    pub history: Option<PathBuf>,
    /// Without an install file: save the circuit here, as the start of one
    #[arg(long, value_name = "FILE", conflicts_with = "install")]
    pub save: Option<PathBuf>,
    /// Where it is done: on the bench a supply with a current limit and dummy lamps stand in for what is not there
    #[arg(long, value_enum, requires = "install", conflicts_with = "answers")]
    pub on: Option<Where>,
    /// The instruments at hand, divided by commas: multimeter, test-lamp, clamp-meter, ohmmeter [default: the first two, or as the job was begun]
    #[arg(long = "with", value_name = "INSTRUMENTS", value_parser = AtHand::read)]
    pub at_hand: Option<AtHand>,
    /// A lesson: what a good and a bad circuit read is said behind the reading, not before it
    #[arg(long, conflicts_with = "answers")]
    pub lesson: bool,
    /// Record nothing
    #[arg(long, conflicts_with = "job")]
    pub unrecorded: bool,
    /// One line out, one line in, nothing redrawn: for a screen reader or a plain terminal (so with TERM=dumb)
    #[arg(long)]
    pub lines: bool,
    /// Seed of the simulation behind 'the readings do not fit'
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:\n  halfsplit volts examples/sprayer/install.yaml --on \"pump switch\"\n  \
    halfsplit volts examples/sprayer/install.yaml --on \"pump switch\" --fault 'B.1.relay coil-open'\n  \
    halfsplit volts examples/sprayer/install.yaml --fault 'pump/2.a corroded 2 ohm'")]
pub(super) struct Volts {
    /// The install file
    pub install: PathBuf,
    /// A control that is on (its first position off rest), or CONTROL=POSITION; may be repeated
    #[arg(long, value_name = "CONTROL")]
    pub on: Vec<String>,
    /// A fault: part, mode and, for a soft one, its size ('pump/2.a corroded 2 ohm')
    #[arg(long, value_name = "FAULT")]
    pub fault: Option<String>,
}

#[derive(Debug, ClapArgs)]
#[command(after_help = "Example:\n  halfsplit because monday.yaml --with-odds")]
pub(super) struct Because {
    /// The job file
    pub job: PathBuf,
    /// The install file [default: the one that the job names, from here or beside the job file]
    #[arg(long, value_name = "FILE")]
    pub install: Option<PathBuf>,
    /// Say how likely each of those that are left is
    #[arg(long)]
    pub with_odds: bool,
    /// Name every suspect that was ruled out, not the first few of each reading
    #[arg(long)]
    pub all: bool,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  halfsplit report monday.yaml\n  halfsplit report monday.yaml --format html > monday.html"
)]
pub(super) struct Report {
    /// The job file
    pub job: PathBuf,
    /// The install file [default: the one that the job names, from here or beside the job file]
    #[arg(long, value_name = "FILE")]
    pub install: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
#[command(after_help = "Example:\n  halfsplit check examples/sprayer/install.yaml")]
pub(super) struct Check {
    /// The install file
    pub install: PathBuf,
}

#[derive(Debug, ClapArgs)]
#[command(after_help = "Example:\n  halfsplit history ~/jobs\n\n\
    `halfsplit diagnose INSTALL --history ~/jobs` weighs its suspects with it. Nothing leaves this machine.")]
pub(super) struct History {
    /// The folder with the job files, and those in it
    pub folder: PathBuf,
}

#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:\n  halfsplit testability examples/sprayer/install.yaml --trials 50\n  \
    halfsplit testability examples/sprayer/install.yaml --noise --trials 1000 --trace trials.jsonl")]
pub(super) struct Testability {
    /// The install file
    pub install: PathBuf,
    /// What is hidden in the mock-up
    #[arg(long, value_enum, default_value_t = Hide::Single)]
    pub faults: Hide,
    /// Parts, supply, meter and person as they are, instead of exact ones
    #[arg(long)]
    pub noise: bool,
    /// Factor on the spreads of parts, with --noise
    #[arg(long, value_name = "X", default_value_t = 1.0, value_parser = scale)]
    pub tolerance_scale: f64,
    /// The instruments at hand, divided by commas: multimeter, test-lamp, clamp-meter, ohmmeter [default: the first two]
    #[arg(long = "with", value_name = "INSTRUMENTS", value_parser = AtHand::read)]
    pub at_hand: Option<AtHand>,
    /// How many trials [default: all single faults at five sizes; 200 where they are drawn]
    #[arg(long, value_name = "N")]
    pub trials: Option<usize>,
    /// Beside so many trials, play half-split and supply-to-earth too [default: of single faults a tenth, at least 5]
    #[arg(long, value_name = "N")]
    pub baselines: Option<usize>,
    /// Seed of all draws
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Write each trial here: hidden state, every test and reading, verdict; one JSON line a trial
    #[arg(long, value_name = "FILE")]
    pub trace: Option<PathBuf>,
}

/// A particular or a note, as it is typed at a prompt.
fn particular(text: &str) -> Result<Record, String> {
    match read_command(text) {
        Some(Ok(Typed::Keep(record))) => Ok(record),
        Some(Err(message)) => Err(message),
        Some(Ok(_)) | None => Err(format!("a name, a colon and a text: {}", offered())),
    }
}

/// A factor from 0 to 10.
fn scale(text: &str) -> Result<f64, String> {
    let scale: f64 = text.parse().map_err(|_| "a number such as 1.5".to_owned())?;
    if (0.0..=10.0).contains(&scale) { Ok(scale) } else { Err("from 0 to 10".to_owned()) }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Where {
    /// Where it is built in
    Vehicle,
    /// On the workshop bench, without its vehicle
    Bench,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Hide {
    /// One fault
    Single,
    /// Two faults
    Pair,
    /// One mistake of wiring; the owner says that it never worked
    Wiring,
    /// The system differs from its description: another load, a wire or load added, a part left out
    Altered,
    /// Nothing: the complaint is mistaken
    None,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For people
    Text,
    /// For programs
    Json,
    /// `report` alone: for notes and wikis
    Markdown,
    /// `report` alone: one page to print or to send
    Html,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Colour {
    /// As the terminal and `NO_COLOR` say
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}
