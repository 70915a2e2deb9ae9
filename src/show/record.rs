//! What a job file holds, in words.

use crate::diagnostic::quoted;
use crate::job::Untold;
use crate::job::record::{Change, Closed, Course, Differs, Gone, Got, Outcome, Probed, Reading, Record, Setting, Torn};
use std::fmt::Write;

/// That the end of the file was torn off.
pub fn torn(torn: &Torn) -> String {
    format!("{} It is cut off; everything before it stands.", torn_off(torn))
}

/// The same where the file is left as it is.
pub fn torn_end(torn: &Torn) -> String {
    format!("{} It counts for nothing; everything before it stands.", torn_off(torn))
}

fn torn_off(torn: &Torn) -> String {
    let rest = torn.rest.trim_end_matches(['\0', '\n']);
    let rest = if rest.is_empty() { "nothing that can be read".to_owned() } else { quoted(rest) };
    format!("The last record was torn off by a crash or a full disk: {rest}.")
}

/// Why a job cannot be told once more.
pub fn untold(untold: &Untold) -> String {
    match untold {
        Untold::NoComplaint => "this job has no complaint yet: there is nothing to reason about.".to_owned(),
        Untold::Complaint(gone) => {
            let gone: Vec<String> = gone.iter().map(Gone::says).collect();
            format!("the complaint does not fit the description any more: {}.", gone.join("; "))
        }
        Untold::Unsolvable(why) => format!("the circuit cannot be solved: {why}"),
    }
}

/// That something was kept.
pub fn kept(record: &Record) -> String {
    match record {
        Record::About(about) => {
            let names: Vec<&str> = about.0.iter().map(|(name, _)| name.as_str()).collect();
            format!("Kept: {}.", names.join(", "))
        }
        Record::Note(_) => "Noted.".to_owned(),
        _ => "Kept.".to_owned(),
    }
}

/// How many records are in the program alone.
pub fn not_saved(count: usize) -> String {
    match count {
        1 => "1 record is not in the file.".to_owned(),
        n => format!("{n} records are not in the file."),
    }
}

/// A job that is taken up again, in a few lines.
pub fn taken_up(course: &Course) -> String {
    let readings = match course.readings.len() {
        1 => "1 reading".to_owned(),
        n => format!("{n} readings"),
    };
    let mut out = format!("Job of {}, {readings} so far.", course.began.date());
    for (name, text) in &course.about.0 {
        // Writing to a string does not fail.
        let _ = write!(out, "\n{}: {}", quoted(name).trim_matches('`'), quoted(text));
    }
    out
}

/// What of the description was corrected since the job was last worked on.
pub fn differs(differs: &[Differs]) -> String {
    let one = |d: &Differs| {
        let name = d.name.as_ref().map_or(String::new(), |name| format!(" {}", quoted(name)));
        let change = match d.change {
            Change::Added => "new",
            Change::Altered => "altered",
            Change::Removed => "gone",
        };
        format!("{}{name} ({change})", quoted(&d.group).trim_matches('`'))
    };
    let list: Vec<String> = differs.iter().map(one).collect();
    format!("The description was changed since: {}. All readings are weighed anew.", list.join(", "))
}

/// A job that is closed.
pub fn closed(closed: &Closed) -> String {
    let outcome = Outcome::ALL.iter().find(|(one, _)| *one == closed.outcome).map_or("", |(_, word)| word);
    format!("This job is closed: {}, {outcome}. Nothing can be added to it.", quoted(&closed.complaint))
}

/// A reading that the install does not know any more.
pub fn lost(number: usize, reading: &Reading, why: &str) -> String {
    format!("Reading {number} is kept as a note, and counts no more: {}. There is {why}.", recorded(reading))
}

/// A reading in the words of its record.
pub fn recorded(reading: &Reading) -> String {
    let place = match &reading.probed {
        Probed::Volts { red, black } => format!("{} to {}", quoted(red), quoted(black)),
        Probed::Drop(part) => format!("drop of {}", quoted(part)),
        Probed::Amps(part) => format!("amps of {}", quoted(part)),
        Probed::Ohms { red, black } => format!("ohms {} to {}", quoted(red), quoted(black)),
        Probed::Lamp { tip, clip } => format!("test lamp {} to {}", quoted(tip), quoted(clip)),
        Probed::Look(look) => format!("look at {}", quoted(look)),
    };
    let got = match &reading.got {
        Got::Reads(text) | Got::Shows(text) => quoted(text),
        Got::Skipped(why) => format!("not taken ({})", quoted(why).trim_matches('`')),
    };
    format!("{place}{}: {got}", with(&reading.with))
}

fn with(setting: &Setting) -> String {
    if setting.is_empty() {
        return String::new();
    }
    let list: Vec<String> = setting.iter().map(|(name, position)| format!("{name} {position}")).collect();
    format!(" (with {})", list.join(", "))
}
