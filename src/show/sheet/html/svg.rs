//! The way from supply to ground as a drawing: one line down, parts on it, readings to its left, names to its right.

use super::escaped;
use crate::show::sheet::drawing::{Drawing, Is, Item, Symbol};
use std::fmt::Write;

/// Width of a drawing, and where its line stands.
const WIDTH: u32 = 356;
const LINE: u32 = 146;
/// Height of a part and of a reading.
const PART: u32 = 30;
const MARK: u32 = 15;
/// Room for the symbols at both ends.
const END: u32 = 26;

/// A drawing with its title.
pub(super) fn figure(drawing: &Drawing) -> String {
    let mut body = String::new();
    let mut y = END;
    // Writing to a string does not fail.
    let _ = write!(body, "{}", text(LINE + 22, y - 8, "start", "", "supply +"));
    let _ = write!(body, "<path d=\"M{} {}h18m-9 -9v18M{LINE} {y}v-2\"/>", LINE - 9, y - 13);
    for item in &drawing.items {
        match item {
            Item::Part { symbol, label, culprit } => {
                part(&mut body, *symbol, label, *culprit, y);
                y += PART;
            }
            Item::Mark { number, read, good, is, across, .. } => {
                let number = number.map_or(String::new(), |number| format!("{number} "));
                let across = if *across { " across" } else { "" };
                mark(&mut body, &format!("{number}{}: {read}{across}", is.word()), good, *is, y);
                y += MARK;
            }
            Item::LastGood => {
                side(&mut body, "good up to here", y);
                y += MARK;
            }
            Item::FirstBad => {
                side(&mut body, "not from here on", y);
                y += MARK;
            }
        }
    }
    // Ground: three bars, each shorter than the one before (IEC 60617, 02-15-01).
    let _ = write!(
        body,
        "<path d=\"M{LINE} {y}v6M{} {}h24M{} {}h16M{} {}h8\"/>{}",
        LINE - 12,
        y + 6,
        LINE - 8,
        y + 11,
        LINE - 4,
        y + 16,
        text(LINE + 22, y + 13, "start", "", &drawing.ground)
    );
    let height = y + END;
    let title = escaped(&drawing.title);
    format!(
        "<figure><figcaption>{title}</figcaption>\n<svg viewBox=\"0 0 {WIDTH} {height}\" width=\"{WIDTH}\" height=\"{height}\" role=\"img\" \
         aria-label=\"{title}\" font-family=\"sans-serif\" font-size=\"11\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.4\">\n{body}\n</svg></figure>\n"
    )
}

/// A text; `style`: further attributes.
fn text(x: u32, y: u32, anchor: &str, style: &str, says: &str) -> String {
    format!(
        "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" fill=\"#000\" stroke=\"none\" {style}>{}</text>\n",
        escaped(says)
    )
}

fn part(body: &mut String, symbol: Symbol, label: &str, culprit: bool, y: u32) {
    let middle = y + PART / 2;
    let shape = match symbol {
        Symbol::Protection => format!(
            "<path d=\"M{LINE} {y}v{PART}\"/><rect x=\"{}\" y=\"{}\" width=\"12\" height=\"20\"/>",
            LINE - 6,
            y + 5
        ),
        Symbol::Contact => format!(
            "<path d=\"M{LINE} {y}v7m0 16v7M{LINE} {}l-9 -15\"/><circle cx=\"{LINE}\" cy=\"{}\" r=\"1.5\"/>",
            y + 23,
            y + 7
        ),
        Symbol::Load => format!(
            "<path d=\"M{LINE} {y}v5m0 20v5\"/><circle cx=\"{LINE}\" cy=\"{middle}\" r=\"10\"/><path d=\"M{} {}l14 14m0 -14l-14 14\"/>",
            LINE - 7,
            middle - 7
        ),
        Symbol::Joint => {
            format!("<path d=\"M{LINE} {y}v{PART}\"/><circle cx=\"{LINE}\" cy=\"{middle}\" r=\"3\" fill=\"#000\"/>")
        }
        Symbol::Other => format!(
            "<path d=\"M{LINE} {y}v5m0 20v5\"/><rect x=\"{}\" y=\"{}\" width=\"20\" height=\"20\"/>",
            LINE - 10,
            y + 5
        ),
    };
    body.push_str(&shape);
    if culprit {
        // A double frame and a word, so that it stands out on a grey print too.
        let _ = write!(
            body,
            "<rect x=\"{}\" y=\"{}\" width=\"36\" height=\"28\" stroke=\"#b00\" stroke-width=\"1\"/>\
             <rect x=\"{}\" y=\"{}\" width=\"42\" height=\"34\" stroke=\"#b00\" stroke-width=\"2\"/>{}",
            LINE - 18,
            y + 1,
            LINE - 21,
            y.saturating_sub(2),
            text(LINE - 26, middle + 4, "end", "font-weight=\"bold\"", "FAULT")
        );
    }
    let weight = if culprit { "font-weight=\"bold\"" } else { "" };
    // A long name takes two lines.
    let (first, second) = halves(label);
    let up = if second.is_empty() { 4 } else { 0 };
    body.push_str(&text(LINE + 26, middle - 2 + up + 2, "start", weight, &first));
    if !second.is_empty() {
        body.push_str(&text(LINE + 26, middle + 13, "start", weight, &second));
    }
}

fn mark(body: &mut String, says: &str, good: &str, is: Is, y: u32) {
    let middle = y + MARK / 2;
    let shape = match is {
        Is::Good => format!("<circle cx=\"{LINE}\" cy=\"{middle}\" r=\"3.5\" fill=\"#fff\"/>"),
        Is::Bad => format!("<path d=\"M{} {}l8 8m0 -8l-8 8\" stroke-width=\"2\"/>", LINE - 4, middle - 4),
        Is::InDoubt => {
            format!("<rect x=\"{}\" y=\"{}\" width=\"7\" height=\"7\" fill=\"#fff\"/>", LINE - 3, middle - 3)
        }
    };
    let _ = write!(body, "<path d=\"M{LINE} {y}v{MARK}\"/>{shape}");
    body.push_str(&text(LINE - 10, middle + 4, "end", "", says));
    if is != Is::Good {
        body.push_str(&text(LINE + 10, middle + 4, "start", "font-style=\"italic\"", &format!("should be {good}")));
    }
}

/// One of the two sides of the fault: a dashed line across.
fn side(body: &mut String, says: &str, y: u32) {
    let middle = y + MARK / 2;
    let _ = write!(
        body,
        "<path d=\"M{LINE} {y}v{MARK}\"/><path d=\"M6 {middle}h{}M{} {middle}h{}\" stroke-dasharray=\"5 3\"/>{}",
        LINE + 10,
        WIDTH - 90,
        84,
        text(LINE + 20, middle + 4, "start", "font-style=\"italic\"", says)
    );
}

/// A label in two lines where it is too long for one.
fn halves(label: &str) -> (String, String) {
    const ONE: usize = 26;
    if label.chars().count() <= ONE {
        return (label.to_owned(), String::new());
    }
    let at = label.char_indices().take(ONE).filter(|(_, c)| *c == ' ').last();
    let at = at.map(|(at, _)| at).or_else(|| label.char_indices().nth(ONE).map(|(at, _)| at)).unwrap_or(label.len());
    let (first, second) = label.split_at(at);
    (first.to_owned(), second.trim_start().to_owned())
}
