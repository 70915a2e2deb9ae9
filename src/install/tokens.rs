//! The text of one step, in tokens: words, figures with their units, names in quotes.

use crate::units::{Figure, FigureError, is_unit, parse_figure, scan_number};
use std::ops::Range;

/// A token and the bytes that it takes in the text it came from.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Token {
    pub(super) range: Range<usize>,
    pub(super) kind: TokenKind,
}

/// What a token is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum TokenKind {
    /// A word as it is written.
    Word(String),
    /// A figure, or what is wrong with it.
    Figure(Result<Figure, FigureError>),
    /// A name in quotes.
    Quoted(String),
    /// Quotes that are never closed.
    Unclosed,
}

/// Splits `text` into tokens; `start` is added to all their ranges.
pub(super) fn tokens(text: &str, start: usize) -> Vec<Token> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(rest) = text.get(at..).filter(|r| !r.is_empty()) {
        let blank = rest.len() - rest.trim_start().len();
        if blank > 0 {
            at += blank;
            continue;
        }
        let (len, kind) = next(rest);
        let len = len.max(1);
        found.push(Token { range: start + at..start + at + len, kind });
        at += len;
    }
    found
}

/// The token at the start of `rest`, which starts with no blank, and its length.
fn next(rest: &str) -> (usize, TokenKind) {
    if let Some(inside) = rest.strip_prefix('"') {
        return match inside.find('"') {
            Some(end) => (end + 2, TokenKind::Quoted(inside.get(..end).unwrap_or_default().trim().to_owned())),
            None => (rest.len(), TokenKind::Unclosed),
        };
    }
    let word_len = word_len(rest);
    let word = rest.get(..word_len).unwrap_or_default();
    let (number_len, broken) = match scan_number(word) {
        Ok((_, len)) => (len, false),
        Err(FigureError::TooLarge) => (word_len, true),
        Err(_) => return (word_len, TokenKind::Word(word.to_owned())),
    };
    if broken {
        return (word_len, TokenKind::Figure(Err(FigureError::TooLarge)));
    }
    if number_len < word_len {
        // The unit stands directly behind the number; `7-way` or `30>87` is a word.
        let behind = word.get(number_len..).unwrap_or_default();
        if is_unit(behind) || behind.chars().all(char::is_alphabetic) {
            return (word_len, TokenKind::Figure(parse_figure(word)));
        }
        return (word_len, TokenKind::Word(word.to_owned()));
    }
    let after = rest.get(word_len..).unwrap_or_default();
    let gap = after.len() - after.trim_start().len();
    let unit = after.trim_start();
    let unit = unit.get(..self::word_len(unit)).unwrap_or_default();
    if is_unit(unit) {
        let len = word_len + gap + unit.len();
        let text = rest.get(..len).unwrap_or_default();
        return (len, TokenKind::Figure(parse_figure(text)));
    }
    (word_len, TokenKind::Figure(Err(FigureError::NoUnit)))
}

/// Length of the word at the start of `text`: up to a blank or a quote.
fn word_len(text: &str) -> usize {
    text.find(|c: char| c.is_whitespace() || c == '"').unwrap_or(text.len())
}

/// The pieces of a run between its bars, each trimmed, with the byte where it starts.
pub(super) fn steps(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut start = 0;
    let mut quoted = false;
    let mut cut = |from: usize, to: usize| {
        let piece = text.get(from..to).unwrap_or_default();
        let lead = piece.len() - piece.trim_start().len();
        found.push((from + lead, piece.trim()));
    };
    for (i, c) in text.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '|' if !quoted => {
                cut(start, i);
                start = i + 1;
            }
            _ => {}
        }
    }
    cut(start, text.len());
    found
}

#[cfg(test)]
mod tests {
    use super::{TokenKind, steps, tokens};

    fn said(text: &str) -> Vec<String> {
        tokens(text, 0)
            .into_iter()
            .map(|t| match t.kind {
                TokenKind::Word(w) => w,
                TokenKind::Quoted(q) => format!("\"{q}\""),
                TokenKind::Figure(Ok(f)) => format!("{:.3} {}", f.value, f.dimension.symbol()),
                TokenKind::Figure(Err(e)) => format!("{e:?}"),
                TokenKind::Unclosed => "unclosed".to_owned(),
            })
            .collect()
    }

    #[test]
    fn a_step_is_words_figures_and_names() {
        // Cases made up for this test, in the form of the install grammar.
        assert_eq!(said("brown 2,5mm² 3 m"), ["brown", "2.500 mm²", "3.000 m"]);
        assert_eq!(said("filament lamp 55 W \"mast light\""), ["filament", "lamp", "55.000 W", "\"mast light\""]);
        assert_eq!(said("motor 96 \"pump\""), ["motor", "NoUnit", "\"pump\""]);
        assert_eq!(said("K1.30>87"), ["K1.30>87"]);
        assert_eq!(said("30>87 7-way"), ["30>87", "7-way"]);
        assert_eq!(said("lamp \"x"), ["lamp", "unclosed"]);
        assert_eq!(said("|é"), ["|é"]);
    }

    #[test]
    fn bars_divide_a_run_but_not_inside_quotes() {
        assert_eq!(steps("a | b \"x|y\" |c"), [(0, "a"), (4, "b \"x|y\""), (13, "c")]);
        assert_eq!(steps(""), [(0, "")]);
        assert_eq!(steps("a |"), [(0, "a"), (3, "")]);
    }
}
