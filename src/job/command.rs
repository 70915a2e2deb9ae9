//! What a person may type at any prompt beside the answer: notes, who and what, a correction.

use super::record::{About, Outcome, Record};
use crate::diagnostic::{nearest, quoted};

/// Something typed that is no answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// To be kept: a note, or a field about the job.
    Keep(Record),
    /// `correct 2 11.9`: another value for a reading.
    Correct {
        /// Its number.
        number: usize,
        /// As typed.
        value: String,
    },
    /// `r`: the readings so far, with their numbers.
    Readings,
    /// `because`: the reasoning so far.
    Because,
    /// `safe: fuse out, tagged`: how it is left where it is not repaired for good.
    LeftAs(Outcome, String),
}

/// How a system can be left, with the word that is typed and the form of what follows.
const LEFT_AS: [(&str, Outcome, &str); 3] = [
    ("safe", Outcome::MadeSafe, "safe: what was done (fuse out, wire insulated, tagged)"),
    ("temporary", Outcome::Temporary, "temporary: what, and until when"),
    ("awaits", Outcome::Awaited, "awaits: the part"),
];

/// The forms in which it is said how a system is left.
pub fn left_as_forms() -> String {
    LEFT_AS.iter().map(|(_, _, form)| *form).collect::<Vec<_>>().join("; ")
}

/// The fields about a job that can be typed, in the order in which they are offered.
pub const ABOUT: [&str; 13] = [
    "person",
    "owner",
    "vehicle",
    "boat",
    "plate",
    "odometer",
    "hours",
    "place",
    "weather",
    "conditions",
    "says",
    "changed",
    "parts",
];

/// Longest text that is kept, in bytes: a page of dictation, and far below what a file may hold.
pub const LONGEST: usize = 16_384;

const NOTE: &str = "note";
const CORRECT: [&str; 2] = ["correct", "c"];

/// Reads a line as a command; `None` when it is none.
///
/// # Errors
/// What would be accepted, where it is half a command.
pub fn read_command(line: &str) -> Option<Result<Command, String>> {
    let line = line.trim();
    match line.to_lowercase().as_str() {
        "r" | "readings" => return Some(Ok(Command::Readings)),
        "because" => return Some(Ok(Command::Because)),
        _ => {}
    }
    let end = line.find(|c: char| c.is_whitespace() || c == ':').unwrap_or(line.len());
    let (word, rest) = line.split_at(end);
    let word = word.to_lowercase();
    let (colon, text) = match rest.strip_prefix(':') {
        Some(text) => (true, text.trim()),
        None => (false, rest.trim()),
    };
    if CORRECT.contains(&word.as_str()) {
        return Some(correct(text));
    }
    if word == NOTE {
        return Some(kept(text, "note: what is to be kept").map(|text| Command::Keep(Record::Note(text))));
    }
    // A part may be called `boat`: without a colon it is none of ours.
    if !colon || !word.chars().all(char::is_alphabetic) {
        return None;
    }
    if let Some((_, outcome, form)) = LEFT_AS.iter().find(|(left, ..)| *left == word) {
        return Some(kept(text, form).map(|text| Command::LeftAs(*outcome, text)));
    }
    match ABOUT.iter().find(|about| **about == word) {
        Some(about) => {
            let field = |text| Command::Keep(Record::About(About(vec![((*about).to_owned(), text)])));
            Some(kept(text, &format!("{about}: some text")).map(field))
        }
        None => {
            let near = nearest(&word, ABOUT.into_iter().chain([NOTE]));
            let hint = near.map_or(".".to_owned(), |near| format!("; did you mean `{near}:`?"));
            Some(Err(format!("nothing is kept under {}{hint} There are {}", quoted(&word), offered())))
        }
    }
}

/// The fields that can be typed, in one line.
pub fn offered() -> String {
    let fields: Vec<String> = ABOUT.iter().chain([&NOTE]).map(|about| format!("{about}:")).collect();
    fields.join(" ")
}

fn kept(text: &str, form: &str) -> Result<String, String> {
    match text.len() {
        0 => Err(format!("type it so: {form}")),
        n if n > LONGEST => Err(format!("that is too long to keep: at most {LONGEST} bytes at a time")),
        _ => Ok(text.to_owned()),
    }
}

fn correct(text: &str) -> Result<Command, String> {
    let form = || "type it so: correct 2 11.9 (number of the reading, then what it was; r lists them)".to_owned();
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let (number, value) = text.split_at(end);
    let number: usize = number.parse().map_err(|_| form())?;
    let value = value.trim_start().trim_start_matches([':', '=']).trim();
    // `correct 2.5` names no reading.
    if value.is_empty() || text.get(end..).is_none_or(|rest| rest.starts_with(['.', ','])) {
        return Err(form());
    }
    Ok(Command::Correct { number, value: value.to_owned() })
}

#[cfg(test)]
mod tests {
    use super::{Command, read_command};
    use crate::job::record::{About, Outcome, Record};

    #[track_caller]
    fn keeps(line: &str, record: Record) {
        assert_eq!(read_command(line), Some(Ok(Command::Keep(record))), "{line}");
    }

    #[test]
    fn notes_and_fields_are_kept_as_typed() {
        keeps("note plug was wet", Record::Note("plug was wet".to_owned()));
        keeps("Note: \"wet\": # yes", Record::Note("\"wet\": # yes".to_owned()));
        keeps("owner:  A. Miller ", Record::About(About(vec![("owner".to_owned(), "A. Miller".to_owned())])));
    }

    #[test]
    fn corrections_name_a_reading_and_a_value() {
        for line in ["correct 2 11.9", "correct 2 = 11.9", "c 2: 11.9"] {
            let expected = Command::Correct { number: 2, value: "11.9".to_owned() };
            assert_eq!(read_command(line), Some(Ok(expected)), "{line}");
        }
        for line in ["correct", "correct x", "correct 2", "correct 2.5"] {
            assert!(matches!(read_command(line), Some(Err(_))), "{line}");
        }
    }

    #[test]
    fn how_it_is_left_is_said_with_a_colon() {
        let safe = Command::LeftAs(Outcome::MadeSafe, "F1 out, tagged".to_owned());
        assert_eq!(read_command("Safe: F1 out, tagged"), Some(Ok(safe)));
        assert!(matches!(read_command("awaits:"), Some(Err(why)) if why.contains("the part")));
        assert_eq!(read_command("safe to say"), None);
    }

    #[test]
    fn answers_are_no_commands() {
        for line in ["12.4", "n", "w", "lit", "boat dark", "noted", "K1.87 = 11.9", ""] {
            assert_eq!(read_command(line), None, "{line}");
        }
        assert!(matches!(read_command("persn: Jo"), Some(Err(why)) if why.contains("`person:`")));
    }
}
