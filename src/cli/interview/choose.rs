//! One question with numbered answers.

use super::super::ask::{Asked, Asker};
use super::super::output::Output;

/// An answer that can be chosen.
pub(super) struct Choice {
    /// What is typed: a number, or a letter.
    pub(super) typed: String,
    /// Words that are understood as well.
    pub(super) also: Vec<String>,
    /// On the screen.
    pub(super) says: String,
}

impl Choice {
    /// A choice by number; `index` counts from 0.
    pub(super) fn numbered(index: usize, says: &str, also: &[&str]) -> Self {
        let also = also.iter().map(|a| (*a).to_owned()).collect();
        Self { typed: (index + 1).to_string(), also, says: says.to_owned() }
    }

    /// A choice by letter.
    pub(super) fn letter(letter: &str, says: &str) -> Self {
        Self { typed: letter.to_owned(), also: Vec::new(), says: says.to_owned() }
    }
}

/// Asks until at least one of the choices is named; several by spaces or commas. `None` when the person leaves.
pub(super) fn choose(
    asker: &mut dyn Asker,
    output: &Output,
    heading: &str,
    choices: &[Choice],
    prompt: &str,
) -> Option<Vec<usize>> {
    let mut tell = true;
    loop {
        if tell {
            output.talk(heading);
            for choice in choices {
                output.talk(&format!("  {} {}", choice.typed, choice.says));
            }
        }
        let Asked::Line(line) = asker.ask(prompt) else { return None };
        let line = line.trim();
        if is_quit(line) {
            return None;
        }
        match find(choices, line) {
            Some(found) => return Some(found),
            None if line.is_empty() => tell = true,
            None => {
                tell = false;
                output.talk(&format!("that is none of them: type {}", accepted(choices)));
            }
        }
    }
}

/// What would be accepted, in few words: `y or n`; `a number from 1 to 9, n, or a name as it stands there`.
fn accepted(choices: &[Choice]) -> String {
    let number = |c: &&Choice| c.typed.parse::<usize>().is_ok();
    let count = choices.iter().filter(number).count();
    let mut forms: Vec<String> = match count {
        0 => Vec::new(),
        1 => vec!["1".to_owned()],
        n => vec![format!("a number from 1 to {n}")],
    };
    forms.extend(choices.iter().filter(|c| !number(c)).map(|c| c.typed.clone()));
    if count > 0 {
        forms.push("a name as it stands there".to_owned());
    }
    match forms.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, [only])) => format!("{only} or {last}"),
        Some((last, others)) => format!("{}, or {last}", others.join(", ")),
        None => "Enter".to_owned(),
    }
}

fn find(choices: &[Choice], line: &str) -> Option<Vec<usize>> {
    let one = |text: &str| {
        let lower = text.to_lowercase();
        let named = |c: &Choice| c.also.iter().any(|a| a == text || *a == lower);
        choices.iter().position(|c| c.typed == lower || named(c) || c.says == lower)
    };
    // A name may hold spaces, so the whole line is tried first, then what stands between commas, then words.
    if let Some(found) = one(line) {
        return Some(vec![found]);
    }
    let all = |separator: &[char]| -> Option<Vec<usize>> {
        line.split(separator).map(str::trim).filter(|w| !w.is_empty()).map(one).collect()
    };
    all(&[',']).or_else(|| all(&[' ', ','])).filter(|list| !list.is_empty())
}

/// Whether a line ends the job.
pub(in crate::cli) fn is_quit(line: &str) -> bool {
    matches!(line.trim(), "q" | "quit")
}

#[cfg(test)]
mod tests {
    use super::{Choice, accepted};

    #[test]
    fn what_would_be_accepted_is_said_in_few_words() {
        let letters = |list: &[&str]| list.iter().map(|l| Choice::letter(l, "x")).collect::<Vec<_>>();
        assert_eq!(accepted(&letters(&["y", "n"])), "y or n");
        assert_eq!(accepted(&letters(&["y", "n", "t"])), "y, n, or t");
        let mut numbers: Vec<Choice> = (0..9).map(|i| Choice::numbered(i, "x", &[])).collect();
        assert_eq!(accepted(&numbers), "a number from 1 to 9 or a name as it stands there");
        numbers.extend(letters(&["n"]));
        assert_eq!(accepted(&numbers), "a number from 1 to 9, n, or a name as it stands there");
    }
}
