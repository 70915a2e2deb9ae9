//! What was typed as the answer of a test, or what would be accepted.

use crate::belief::{Answer, Probe};
use crate::choice::Test;
use crate::diagnostic::quoted;
use crate::job::{Misread, System, Typed, measured, read_entry, unit};
use crate::show;

/// Amps that no clamp shows: the common ones read up to 400, 600 or 1,000 A, from memory.
const MOST_AMPS: f64 = 1000.0;

/// A line as the answer of a test.
///
/// # Errors
/// What to type instead.
pub(super) fn answer(system: &System, test: &Test, line: &str) -> Result<Answer, String> {
    let typed = read_entry(line, unit(&test.probe)).map_err(|misread| misread_text(&misread))?;
    understood(system, test, &typed)
}

/// A typed line as the answer of a test, or what to type instead.
pub(super) fn understood(system: &System, test: &Test, typed: &Typed) -> Result<Answer, String> {
    if matches!(typed, Typed::CannotTake | Typed::NotSure) {
        return Ok(Answer::NotTaken);
    }
    if let Some(words) = show::test::words(system, &test.probe) {
        let by_number = |n: f64| {
            let whole = n.fract().abs() < f64::EPSILON && n >= 1.0;
            let index = n as usize;
            (whole && index <= words.words.len()).then(|| index - 1)
        };
        let word = match typed {
            Typed::Values(values) => match values[..] {
                [entry] => by_number(entry.value),
                _ => None,
            },
            Typed::Word(word) => words.word(word),
            _ => None,
        };
        let known: Vec<&str> = words.words.iter().map(|w| w.says.as_str()).collect();
        let message = || format!("a number from 1 to {}, or one of: {}", known.len(), known.join(", "));
        return word.map(Answer::Word).ok_or_else(message);
    }
    let measured = measured(&test.probe);
    let amps = matches!(test.probe, Probe::Amps { .. });
    let is_ohms = matches!(test.probe, Probe::Ohms { .. });
    let such = match test.probe {
        Probe::Amps { .. } => ["4.2", "350m", "3..5"],
        Probe::Ohms { .. } => ["4.2", "12k", "3..5"],
        _ => ["12.4", "350m", "8..11"],
    };
    let answer = match typed {
        Typed::OverRange if !is_ohms => {
            return Err(match test.probe {
                Probe::Amps { .. } => "OL on amps: set a higher range".to_owned(),
                _ => "OL on volts: set a higher range, and check that the meter is not on ohms".to_owned(),
            });
        }
        Typed::Values(values) if values.len() > 1 => {
            return Err("one value is asked for here".to_owned());
        }
        Typed::Word(word) => {
            return Err(format!("{} is no reading: {measured}, such as {} or {}", quoted(word), such[0], such[1]));
        }
        _ => system
            .reading(&test.probe, typed)
            .ok_or_else(|| format!("{measured}, such as {}, {}, {} or jumps", such[0], such[1], such[2]))?,
    };
    let most = match test.probe {
        Probe::Amps { .. } => MOST_AMPS,
        Probe::Ohms { .. } => f64::INFINITY,
        _ => system.most_volts(),
    };
    let too_much = match &answer {
        Answer::Number { value, .. } => value.abs() > most,
        Answer::Between(low, high) => low.abs().max(high.abs()) > most,
        Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => false,
    };
    if too_much {
        return Err(format!(
            "more than {} cannot stand here: check range and decimal point ({} are typed as 350m)",
            if amps { show::text::amps(most) } else { show::text::volts(most) },
            if amps { "mA" } else { "mV" }
        ));
    }
    Ok(answer)
}

/// Why a line is no reading, and what would be one.
pub(super) fn misread_text(misread: &Misread) -> String {
    match misread {
        Misread::NotANumber(text) => format!("{} is no number: type it as 12.4, 12,4 or 350m", quoted(text)),
        Misread::WrongUnit { typed, wanted } => {
            let amps = *wanted == "V" && typed.ends_with(['A', 'a']);
            // The fuse of the meter, or the meter, goes with the next volts that are read so.
            let back = if amps {
                ". Is the red lead in the amps socket? Back to volts with it before it touches anything"
            } else {
                ""
            };
            format!("{} is asked for here, not {}{back}", wanted, quoted(typed))
        }
        Misread::BadRange(text) => {
            format!("{}: a range is typed from low to high, as 8..11", quoted(text))
        }
    }
}
