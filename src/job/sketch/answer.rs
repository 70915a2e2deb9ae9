//! Answers as a person types them.

use super::NONE;
use crate::diagnostic::quoted;
use crate::knowledge::Kind;
use crate::units::{Dimension, Figure, Volts, parse_figure};

/// What an answer comes to.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    /// One word of each group.
    Words(Vec<String>),
    /// It is not there.
    None,
    /// The rating of a fuse.
    Amps(f64),
    /// It is there, at this place.
    Place(String),
    /// A load: the name of its kind, watts where they were given, what it is called.
    Load { kind: String, watts: Option<f64>, name: String },
}

/// Longest name that is taken from an answer, in letters.
const LONGEST: usize = 30;
/// Largest load and fuse that are taken, in watts and amps: what a 24 V system carries at the very most.
const MOST_WATTS: f64 = 20_000.0;
const MOST_AMPS: f64 = 1_000.0;

/// One word of each group, in any order; of a group that is not mentioned the first.
pub(super) fn words(groups: &[Vec<String>], line: &str) -> Result<Value, String> {
    let mut chosen: Vec<Option<&String>> = vec![None; groups.len()];
    let offered = || {
        let groups: Vec<String> = groups.iter().map(|group| group.join(" or ")).collect();
        groups.join(", and ")
    };
    for word in line.split(|c: char| c.is_whitespace() || c == ',').filter(|word| !word.is_empty()) {
        let lower = word.to_lowercase();
        // `12 V` and `12V` mean what `12` does, and `y` what `yes` does.
        let bare = lower.strip_suffix('v').unwrap_or(&lower);
        if bare.is_empty() {
            continue;
        }
        let fits =
            |known: &&String| **known == lower || **known == bare || (lower.len() == 1 && known.starts_with(&lower));
        let found = groups.iter().enumerate().find_map(|(i, group)| Some((i, group.iter().find(fits)?)));
        let slot = found.and_then(|(i, known)| Some((chosen.get_mut(i)?, known)));
        match slot {
            Some((slot @ None, known)) => *slot = Some(known),
            Some((Some(_), _)) => return Err(format!("only one of them: {}", offered())),
            None => return Err(format!("{} is none of them: {}", quoted(word), offered())),
        }
    }
    if !chosen.is_empty() && chosen.iter().all(Option::is_none) {
        return Err(offered());
    }
    let words = chosen.iter().zip(groups).filter_map(|(chosen, group)| chosen.or_else(|| group.first()).cloned());
    Ok(Value::Words(words.collect()))
}

/// `10`, `7,5 A`, `none`.
pub(super) fn amps(line: &str) -> Result<Value, String> {
    if is_none(line) {
        return Ok(Value::None);
    }
    let amps = parse_figure(line).or_else(|_| parse_figure(&format!("{line} A")));
    match amps {
        Ok(Figure { dimension: Dimension::Amps, value }) if (0.1..=MOST_AMPS).contains(&value) => {
            Ok(Value::Amps(value))
        }
        _ => Err(format!("amps, such as 10 or 7.5, at most {MOST_AMPS}; or none")),
    }
}

/// Where something is; `none` where it is not. `yes` is no place: its own name stands for it.
pub(super) fn place(name: &str, line: &str) -> Value {
    if is_none(line) {
        return Value::None;
    }
    let there = matches!(line.to_lowercase().as_str(), "y" | "yes" | "?");
    Value::Place(plain(&line.to_lowercase()).filter(|_| !there).unwrap_or_else(|| name.to_owned()))
}

/// `pump 8 A`, `work lamp 55 W`, `heater`: a kind of load under any of its names, and watts or amps.
pub(super) fn load<'k>(kinds: impl Iterator<Item = &'k Kind>, volts: Volts, line: &str) -> Result<Value, String> {
    let (words, figure) = figure_of(line);
    let name = plain(&words);
    let lower = format!(" {} ", words.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" "));
    let mut best: Option<(usize, &Kind)> = None;
    let mut known: Vec<&str> = Vec::new();
    for kind in kinds {
        known.push(&kind.name);
        for name in std::iter::once(&kind.name).chain(&kind.aliases) {
            let longer = best.is_none_or(|(length, _)| name.len() > length);
            if longer && lower.contains(&format!(" {name} ")) {
                best = Some((name.len(), kind));
            }
        }
    }
    let Some((_, kind)) = best else {
        return Err(format!("what kind of load? One of these words must be in it: {}", known.join(", ")));
    };
    let watts = match figure {
        None => None,
        Some(Figure { dimension: Dimension::Watts, value }) => Some(value),
        Some(Figure { dimension: Dimension::Amps, value }) => Some(value * volts.get()),
        Some(_) => return Err("watts or amps, such as 55 W or 8 A".to_owned()),
    };
    if watts.is_some_and(|watts| !(0.1..=MOST_WATTS).contains(&watts)) {
        return Err(format!("watts from 0.1 to {MOST_WATTS}"));
    }
    Ok(Value::Load { kind: kind.name.clone(), watts, name: name.unwrap_or_else(|| kind.name.clone()) })
}

/// The first figure in a line (`8 A`, `55W`), and the line without it.
fn figure_of(line: &str) -> (String, Option<Figure>) {
    let words: Vec<&str> = line.split_whitespace().collect();
    for at in 0..words.len() {
        for len in [2, 1] {
            let Some(text) = words.get(at..at + len).map(|words| words.join(" ")) else { continue };
            if let Ok(figure) = parse_figure(&text) {
                let rest = words.iter().take(at).chain(words.iter().skip(at + len));
                return (rest.copied().collect::<Vec<_>>().join(" "), Some(figure));
            }
        }
    }
    (words.join(" "), None)
}

fn is_none(line: &str) -> bool {
    matches!(line.to_lowercase().as_str(), "n" | "no") || line.eq_ignore_ascii_case(NONE)
}

/// A name that can stand in an install file as it is: letters, digits, blanks and hyphens, a letter first.
pub(super) fn plain(text: &str) -> Option<String> {
    let kept: String = text.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { ' ' }).collect();
    let words: Vec<&str> = kept.split_whitespace().collect();
    let name: String = words.join(" ").chars().take(LONGEST).collect();
    let name = name.trim_end().to_owned();
    name.starts_with(char::is_alphabetic).then_some(name)
}
