//! The readings of a job as rows: expected beside read, with the set-up; what was taken back is not among them.

use super::{Told, clean};
use crate::job::System;
use crate::job::record::{Course, Entered, Got, Probed, Reading, Setting};
use crate::show::proof::word;

/// The head of a table of readings.
pub(super) const HEAD: &[&str] = &["no", "where", "with", "good", "read", "remark"];
/// The same of what proves a repair.
pub(super) const PROOF_HEAD: &[&str] = &["no", "where", "with", "limit", "read", "remark"];

/// The readings that led to the finding.
pub(super) fn readings(told: &Told<'_, '_>) -> Vec<Vec<String>> {
    let searched = told.course.readings.iter().filter(|(_, entered)| !is_proof(told.course, entered));
    searched.map(|(number, entered)| one(told, *number, entered)).collect()
}

/// What was taken to prove a repair.
pub(super) fn proof(told: &Told<'_, '_>) -> Vec<Vec<String>> {
    let proofs = told.course.readings.iter().filter(|(_, entered)| is_proof(told.course, entered));
    proofs.map(|(number, entered)| one(told, *number, entered)).collect()
}

/// Whether a reading proves something; in files of before there were such, everything behind the last repair.
pub(super) fn is_proof(course: &Course, entered: &Entered) -> bool {
    let any = course.readings.values().any(|each| each.reading.proof.is_some());
    let last = course.repairs.last().map_or(usize::MAX, |mended| mended.after);
    if any { entered.reading.proof.is_some() } else { entered.reading.number > last }
}

fn one(told: &Told<'_, '_>, number: usize, entered: &Entered) -> Vec<String> {
    let mut remarks = Vec::new();
    if is_doubtful(told, number) {
        remarks.push("doubtful");
    }
    if entered.corrected {
        remarks.push("corrected");
    }
    if !entered.reading.asked {
        remarks.push("own reading");
    }
    let mut remark = remarks.join(", ");
    if let Some(proof) = &entered.reading.proof {
        let word = word(proof.held);
        let more = if remark.is_empty() { String::new() } else { format!(" ({remark})") };
        remark = format!("{word}: {}{more}", proof.shows);
    }
    row(told.system, &entered.reading, remark)
}

/// Whether the readings as a whole put this one in doubt.
pub(super) fn is_doubtful(told: &Told<'_, '_>, number: usize) -> bool {
    let Some((retold, reasoning)) = told.retold else { return false };
    let complained = retold.job.taken().iter().take_while(|taken| taken.complaint).count();
    let position = retold.numbers.iter().position(|known| *known == number);
    position.and_then(|at| reasoning.heard.get(complained + at)).is_some_and(|heard| heard.doubtful)
}

fn row(system: Option<&System>, reading: &Reading, remark: String) -> Vec<String> {
    let look = match &reading.probed {
        Probed::Look(look) => look.as_str(),
        Probed::Volts { .. } | Probed::Drop(_) | Probed::Amps(_) | Probed::Ohms { .. } | Probed::Lamp { .. } => "",
    };
    let read = match &reading.got {
        Got::Reads(text) => with_unit(text, &reading.probed),
        Got::Shows(word) => shown(system, look, word),
        Got::Skipped(why) => format!("not taken: {why}"),
    };
    let good = reading.expected.clone().unwrap_or_default();
    let cells = [reading.number.to_string(), place(&reading.probed), setting(&reading.with), good, read, remark];
    cells.iter().map(|cell| clean(cell)).collect()
}

/// A value with its unit, where it was typed without one.
fn with_unit(text: &str, probed: &Probed) -> String {
    let unit = match probed {
        Probed::Amps(_) => "A",
        Probed::Ohms { .. } => "Ω",
        Probed::Volts { .. } | Probed::Drop(_) | Probed::Lamp { .. } | Probed::Look(_) => "V",
    };
    let bare = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || " .,+-\u{2212}".contains(c));
    if bare { format!("{text} {unit}") } else { text.to_owned() }
}

/// Where something was read.
pub(super) fn place(probed: &Probed) -> String {
    match probed {
        Probed::Volts { red, black } => format!("{red} to {black}"),
        Probed::Drop(part) => format!("across {part}"),
        Probed::Amps(part) => format!("amps of {part}"),
        Probed::Ohms { red, black } => format!("ohms {red} to {black}"),
        Probed::Lamp { tip, clip } => format!("test lamp {tip} to {clip}"),
        Probed::Look(look) => format!("look at {look}"),
    }
}

/// Controls off rest.
pub(super) fn setting(setting: &Setting) -> String {
    if setting.is_empty() {
        return "all at rest".to_owned();
    }
    let list: Vec<String> = setting.iter().map(|(name, position)| format!("{name} {position}")).collect();
    list.join(", ")
}

/// A word as it stands on the screen, where the install knows it.
pub(super) fn shown(system: Option<&System>, look: &str, word: &str) -> String {
    let known = system.and_then(|system| {
        let table = match system.sight_called(look) {
            Some(sight) => system.words(sight)?,
            None => system.tester_words()?,
        };
        Some(table.words.get(table.word(word)?)?.says.clone())
    });
    known.unwrap_or_else(|| word.to_owned())
}
