//! Names from a file, as they may appear on a screen; the nearest known name to a wrong one.

use std::borrow::Cow;

/// Longest name that a message repeats, in characters.
const LONGEST: usize = 60;

/// Longest name, in characters, for which a nearest one is sought (the search is quadratic in it).
const LONGEST_COMPARED: usize = 40;

/// Makes `text` harmless on a terminal: control characters, line breaks and marks that turn the direction of
/// writing are shown as `\u{1b}`. Nothing else is changed.
pub fn harmless(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_harmful) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if is_harmful(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// `a relay`, `an isolator`: a word with its article, by its first letter.
pub fn with_article(word: &str) -> String {
    let vowel = word.chars().next().is_some_and(|c| "aeiou".contains(c.to_ascii_lowercase()));
    format!("{} {word}", if vowel { "an" } else { "a" })
}

/// Whether a character does something else than stand there: the C0 and C1 controls, the line and paragraph
/// separators, bidirectional controls and invisible joiners (Unicode categories Cc, Zl, Zp and parts of Cf).
fn is_harmful(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

/// The user's word in backticks, harmless and not too long.
pub fn quoted(text: &str) -> String {
    let mut short: String = text.chars().take(LONGEST).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    format!("`{}`", harmless(&short))
}

/// The name nearest to `wrong` among `known`, if one is near enough to be meant: the fewest letters changed,
/// left out, added or exchanged, upper and lower case taken as equal; ties go to the first.
pub fn nearest<'n>(wrong: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    let wrong: Vec<char> = wrong.to_lowercase().chars().collect();
    if wrong.len() > LONGEST_COMPARED {
        return None;
    }
    let most = match wrong.len() {
        0 => return None,
        1..=4 => 1,
        5..=8 => 2,
        _ => 3,
    };
    let mut best: Option<(usize, &str)> = None;
    for name in known {
        let letters: Vec<char> = name.to_lowercase().chars().take(LONGEST_COMPARED + 4).collect();
        if letters.len().abs_diff(wrong.len()) > most {
            continue;
        }
        let far = distance(&wrong, &letters);
        if far <= most && best.is_none_or(|(least, _)| far < least) {
            best = Some((far, name));
        }
    }
    best.map(|(_, name)| name)
}

/// Edit distance with exchanges of neighbours (optimal string alignment; from memory).
fn distance(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let at = |list: &[usize], k: usize| list.get(k).copied().unwrap_or(usize::MAX / 2);
            let mut cost = at(&last, j) + usize::from(x != y);
            cost = cost.min(at(&last, j + 1) + 1).min(at(&row, j) + 1);
            let exchanged = i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x);
            if exchanged {
                cost = cost.min(at(&before, j - 1) + 1);
            }
            row.push(cost);
        }
        before = std::mem::replace(&mut last, row);
    }
    last.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::{harmless, nearest, quoted};

    #[test]
    fn a_wrong_name_finds_the_nearest_known_one() {
        let known = ["K1", "K2", "cab live", "mast foot"];
        // Cases made up for this test.
        assert_eq!(nearest("K3", known), Some("K1"));
        assert_eq!(nearest("cab liev", known), Some("cab live"));
        assert_eq!(nearest("MAST FOOT", known), Some("mast foot"));
        assert_eq!(nearest("bilge pump", known), None);
    }

    #[test]
    fn control_characters_are_shown_and_do_nothing() {
        // ESC starts terminal commands (ECMA-48); U+202E turns the direction of writing (Unicode, UAX 9).
        assert_eq!(harmless("a\u{1b}[2Jb"), "a\\u{1b}[2Jb");
        assert_eq!(harmless("a\u{202e}b"), "a\\u{202e}b");
        assert_eq!(harmless("Ω mm² ä"), "Ω mm² ä");
        assert_eq!(quoted(&"x".repeat(100)).chars().count(), 63);
    }
}
