//! The command line: arguments, files, the terminal, exit codes; one file per command.
//!
//! It deliberately knows no electricity.

mod args;
mod ask;
mod attended;
mod because;
mod bench;
mod check;
mod circuit;
mod clock;
mod desk;
mod diagnose;
mod files;
mod history;
mod interview;
mod job_file;
mod journal;
mod keyboard;
mod output;
mod report;
mod sitting;
mod testability;
mod understood;
mod volts;

use args::{Args, Command, Format};
use clap::{CommandFactory, Parser};
use output::Output;
use std::process::ExitCode;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ending {
    /// Nothing wrong, or a verdict.
    Good,
    /// Ended without a verdict.
    NoVerdict,
    /// Bad usage or a bad file.
    BadInput,
}

impl From<Ending> for ExitCode {
    fn from(ending: Ending) -> Self {
        match ending {
            Ending::Good => Self::SUCCESS,
            Ending::NoVerdict => Self::from(1),
            Ending::BadInput => Self::from(2),
        }
    }
}

/// Runs the program with the arguments of the process.
pub fn run() -> ExitCode {
    let args = Args::parse();
    if matches!(args.format, Format::Markdown | Format::Html) && !matches!(args.command, Command::Report(_)) {
        let text = "`--format markdown` and `--format html` are for `report` alone; here there are text and json";
        Args::command().error(clap::error::ErrorKind::ArgumentConflict, text).exit();
    }
    let mut output = Output::new(args.color, args.format);
    let ending = match &args.command {
        Command::Check(check) => check::run(check, &mut output),
        Command::Volts(volts) => volts::run(volts, &mut output),
        Command::Report(report) => report::run(report, &mut output),
        Command::Because(because) => because::run(because, &mut output),
        Command::Testability(args) => testability::run(args, &mut output),
        Command::History(args) => history::run(args, &mut output),
        Command::Diagnose(diagnose) => diagnose::run(diagnose, &output),
    };
    ending.into()
}
