//! What a person types at a test: a reading, a word for it, or one of the few commands.

/// One value as typed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// In volts (or the unit asked for).
    pub value: f64,
    /// One step of the last digit typed, in the same unit.
    pub digit: f64,
}

/// A line as understood.
#[derive(Clone, Debug, PartialEq)]
pub enum Typed {
    /// Values, in the order typed.
    Values(Vec<Entry>),
    /// `8..11`: it wanders between two values.
    Between(Entry, Entry),
    /// `jumps`: it does not settle.
    Jumps,
    /// `OL`: over range.
    OverRange,
    /// `n`: cannot take it.
    CannotTake,
    /// `x`: not sure.
    NotSure,
    /// `w`: why this test.
    Why,
    /// `s`: the suspects.
    Suspects,
    /// `u`: take the last answer back.
    Undo,
    /// `q`: stop here.
    Quit,
    /// An empty line: say the test again.
    Repeat,
    /// Some other word, lower case.
    Word(String),
}

/// Why a line was not understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Misread {
    /// Not a number, nor a word that is known here.
    NotANumber(String),
    /// A number with a unit that does not belong here.
    WrongUnit {
        /// The unit typed.
        typed: String,
        /// The unit asked for.
        wanted: &'static str,
    },
    /// `11..8`, or a range without both ends.
    BadRange(String),
}

/// Reads a line; `unit` is the symbol asked for (`V`, `A`).
///
/// # Errors
/// When a part of the line looks like a value and is none.
pub fn read_entry(line: &str, unit: &'static str) -> Result<Typed, Misread> {
    let line = line.trim();
    let word = line.to_lowercase();
    let command = match word.as_str() {
        "" => Some(Typed::Repeat),
        "n" | "cannot" | "can't" | "cannot take it" => Some(Typed::CannotTake),
        "x" | "not sure" | "unsure" => Some(Typed::NotSure),
        "w" | "why" => Some(Typed::Why),
        "s" | "suspects" => Some(Typed::Suspects),
        "u" | "undo" => Some(Typed::Undo),
        "q" | "quit" => Some(Typed::Quit),
        "j" | "jumps" | "jumping" => Some(Typed::Jumps),
        "ol" | "o.l" | "0l" | "0.l" => Some(Typed::OverRange),
        _ => None,
    };
    if let Some(command) = command {
        return Ok(command);
    }
    if !word.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.' | ',' | '\u{2212}')) {
        return Ok(Typed::Word(word));
    }
    if let Some((low, high)) = line.split_once("..") {
        let bad = || Misread::BadRange(line.to_owned());
        let (low, high) = (one(low, unit)?, one(high, unit)?);
        return if low.value < high.value { Ok(Typed::Between(low, high)) } else { Err(bad()) };
    }
    let mut values = Vec::new();
    for piece in pieces(line) {
        values.push(one(&piece, unit)?);
    }
    Ok(Typed::Values(values))
}

/// Splits at white space, but keeps a unit with its number (`350 mV`).
fn pieces(line: &str) -> Vec<String> {
    let mut pieces: Vec<String> = Vec::new();
    for word in line.split_whitespace() {
        let is_unit = word.chars().all(|c| c.is_alphabetic() || c == 'µ' || c == 'Ω');
        match pieces.last_mut() {
            Some(last) if is_unit => last.push_str(word),
            _ => pieces.push(word.to_owned()),
        }
    }
    pieces
}

fn one(text: &str, unit: &'static str) -> Result<Entry, Misread> {
    let text = text.trim().replace('\u{2212}', "-").replace(',', ".");
    let end = text.find(|c: char| c.is_alphabetic() || c == 'µ' || c == 'Ω').unwrap_or(text.len());
    let (number, suffix) = text.split_at(end);
    let number = number.trim();
    let not_a_number = || Misread::NotANumber(text.clone());
    let value: f64 = number.parse().map_err(|_| not_a_number())?;
    if !value.is_finite() {
        return Err(not_a_number());
    }
    let scale = scale_of(suffix.trim(), unit)
        .ok_or_else(|| Misread::WrongUnit { typed: suffix.trim().to_owned(), wanted: unit })?;
    let decimals = number.split_once('.').map_or(0, |(_, after)| after.len());
    let digit = 10_f64.powi(-i32::try_from(decimals).unwrap_or(9));
    Ok(Entry { value: value * scale, digit: digit * scale })
}

fn scale_of(suffix: &str, unit: &str) -> Option<f64> {
    if unit != OHM {
        return scale_of_unit(suffix, unit);
    }
    let bare = ["ohms", "ohm", "R", OHM].iter().find_map(|word| suffix.strip_suffix(word)).unwrap_or(suffix).trim();
    // A megohm is typed; a milliohm no meter shows, but it is what `m` means everywhere.
    if matches!(bare, "M" | "Meg") { Some(1e6) } else { scale_of_unit(bare, unit) }
}

const OHM: &str = "Ω";

fn scale_of_unit(suffix: &str, unit: &str) -> Option<f64> {
    let prefix = suffix.strip_suffix(unit).or_else(|| suffix.strip_suffix(&unit.to_lowercase()));
    match prefix.unwrap_or(suffix) {
        "" => Some(1.0),
        "m" => Some(1e-3),
        "u" | "µ" | "μ" => Some(1e-6),
        "k" => Some(1e3),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::{Entry, Misread, Typed, read_entry};

    #[track_caller]
    fn reads(line: &str, value: f64, digit: f64) {
        match read_entry(line, "V") {
            Ok(Typed::Values(values)) => {
                let [Entry { value: v, digit: d }] = values[..] else { panic!("{values:?}") };
                assert!((v - value).abs() < 1e-12 && (d - digit).abs() < 1e-12, "{line}: {v} {d}");
            }
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn values_as_people_type_them() {
        reads("12.4", 12.4, 0.1);
        reads("12,4", 12.4, 0.1);
        reads("-0.3", -0.3, 0.1);
        reads("12.4 V", 12.4, 0.1);
        reads("12.40v", 12.4, 0.01);
        reads("1240m", 1.24, 0.001);
        reads("350 mV", 0.35, 0.001);
        reads(".5", 0.5, 0.1);
        reads("0", 0.0, 1.0);
    }

    #[test]
    fn several_values_on_a_line() {
        let Ok(Typed::Values(values)) = read_entry("12.4 350 mV 11,9", "V") else { panic!() };
        let got: Vec<f64> = values.iter().map(|e| e.value).collect();
        assert!(got.iter().zip([12.4, 0.35, 11.9]).all(|(a, b)| (a - b).abs() < 1e-9), "{got:?}");
    }

    #[test]
    fn words_for_a_reading() {
        assert_eq!(read_entry("jumps", "V"), Ok(Typed::Jumps));
        assert_eq!(read_entry("OL", "V"), Ok(Typed::OverRange));
        assert_eq!(read_entry("n", "V"), Ok(Typed::CannotTake));
        assert_eq!(read_entry("", "V"), Ok(Typed::Repeat));
        assert_eq!(read_entry("Dark", "V"), Ok(Typed::Word("dark".to_owned())));
        let Ok(Typed::Between(low, high)) = read_entry("8..11", "V") else { panic!() };
        assert_eq!((low.value, high.value), (8.0, 11.0));
    }

    #[test]
    fn ohms_as_people_type_them() {
        for (line, ohms) in [
            ("0.4", 0.4),
            ("85 Ω", 85.0),
            ("4,7k", 4700.0),
            ("1.5M", 1.5e6),
            ("1.5 MΩ", 1.5e6),
            ("12 kohm", 12e3),
            ("3 ohms", 3.0),
            ("85R", 85.0),
        ] {
            let Ok(Typed::Values(values)) = read_entry(line, "Ω") else { panic!("{line}") };
            assert!(values.len() == 1 && (values[0].value - ohms).abs() < 1e-9 * ohms, "{line}: {values:?}");
        }
        assert!(read_entry("12 V", "Ω").is_err());
        assert_eq!(read_entry("OL", "Ω"), Ok(Typed::OverRange));
    }

    #[test]
    fn nonsense_is_said() {
        assert_eq!(read_entry("12.4.1", "V"), Err(Misread::NotANumber("12.4.1".to_owned())));
        assert_eq!(read_entry("12 A", "V"), Err(Misread::WrongUnit { typed: "A".to_owned(), wanted: "V" }));
        assert!(matches!(read_entry("11..8", "V"), Err(Misread::BadRange(_))));
        assert!(read_entry("1e999", "V").is_err());
    }
}
