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
                output.talk("that is none of them: type what stands in front of it, or a name as it stands there");
            }
        }
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
