//! Text for a narrow screen: wrapping, figures, names.

use crate::belief::{LEAST_OHMS, OPEN_OHMS, Predicted};
use crate::circuit::{ControlId, SetUp};
use crate::install::{PartId, PlaceId, PointId};
use crate::job::System;
use crate::knowledge::{Role, WordTable};
use std::fmt::Write;

/// Columns of the narrowest screen that must read well.
pub const WIDTH: usize = 56;

/// Wraps `text` behind a heading; further lines stand below its first word.
pub fn row(out: &mut String, heading: &str, text: &str) {
    const INDENT: usize = 10;
    let first = if heading.chars().count() < INDENT { format!("{heading:<INDENT$}") } else { format!("{heading} ") };
    let rest = " ".repeat(INDENT);
    let options = textwrap::Options::new(WIDTH).initial_indent(&first).subsequent_indent(&rest);
    line(out, &textwrap::fill(text, options));
}

/// Wraps a step of a list behind its number.
pub fn numbered(out: &mut String, number: usize, text: &str) {
    let options = textwrap::Options::new(WIDTH);
    let first = format!("  {number}. ");
    line(out, &textwrap::fill(text, options.initial_indent(&first).subsequent_indent("     ")));
}

/// Wraps `text` with an indent.
pub fn paragraph(out: &mut String, indent: usize, text: &str) {
    let blank = " ".repeat(indent);
    let options = textwrap::Options::new(WIDTH).initial_indent(&blank).subsequent_indent(&blank);
    line(out, &textwrap::fill(text, options));
}

/// So many of what takes an `s` where it is not one.
pub fn counted(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

/// Adds a line.
pub fn line(out: &mut String, text: &str) {
    // Writing to a string does not fail.
    let _ = writeln!(out, "{}", text.trim_end());
}

/// Volts as a meter shows them: two digits below 10 V, one above, zero below 5 mV.
pub fn volts(value: f64) -> String {
    let size = value.abs();
    let digits = if size < 9.995 { 2 } else { 1 };
    let value = if size < 0.005 { 0.0 } else { value };
    format!("{value:.digits$} V")
}

/// Amps with three digits.
pub fn amps(value: f64) -> String {
    let size = value.abs();
    match size {
        _ if size < 5e-5 => "0 A".to_owned(),
        _ if size < 0.1 => format!("{:.1} mA", value * 1e3),
        _ if size < 9.995 => format!("{value:.2} A"),
        _ => format!("{value:.1} A"),
    }
}

/// Ohms by the logarithm that stands for them.
pub fn ohms(log: f64) -> String {
    let value = 10_f64.powf(log);
    match value {
        _ if value >= 0.5 * OPEN_OHMS => "open (OL)".to_owned(),
        _ if value >= 1e6 => format!("{:.1} MΩ", value * 1e-6),
        _ if value >= 1e3 => format!("{:.1} kΩ", value * 1e-3),
        _ if value >= 99.95 => format!("{value:.0} Ω"),
        _ if value > 1.05 * LEAST_OHMS => format!("{value:.1} Ω"),
        _ => "next to 0 Ω".to_owned(),
    }
}

/// A predicted answer in words.
pub fn predicted(predicted: &Predicted, words: Option<&WordTable>) -> String {
    match predicted {
        Predicted::Number { jumps, .. } if *jumps >= 0.5 => "jumps".to_owned(),
        Predicted::Number { floating: true, .. } => "open line, near 0 V".to_owned(),
        Predicted::Number { mean, .. } => volts(*mean),
        Predicted::Words(shares) => {
            let best = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]));
            let word = best.and_then(|b| words?.words.get(b));
            word.map_or_else(|| "?".to_owned(), |w| w.says.clone())
        }
    }
}

/// Positions at rest in which nothing is on.
const RESTS_OFF: [&str; 3] = ["off", "released", "down"];

/// The controls of a set-up that are not at rest.
pub fn set_up(system: &System, set_up: &SetUp) -> String {
    let controls = &system.install.controls;
    let mut on = Vec::new();
    // What rests closed or in a socket is not off.
    let mut others = "off";
    for (id, control) in controls.enumerate() {
        let at: ControlId = system.circuit.control_of[id];
        let position = set_up.positions.get(at).copied().unwrap_or(0);
        if position != system.circuit.netlist.controls[at].rest {
            let name = control.positions.get(position).map_or("?", String::as_str);
            on.push(format!("{} {name}", control.name));
        } else if control.positions.get(position).is_none_or(|p| !RESTS_OFF.contains(&p.as_str())) {
            others = "at rest";
        }
    }
    let mut text = match (on.len(), controls.len()) {
        (0, _) => format!("all {others}"),
        (n, all) if n == all => on.join(", "),
        _ => format!("{}, all others {others}", on.join(", ")),
    };
    for (part, state) in system.by_hand(set_up) {
        let _ = write!(text, "; {} {state}", system.install.parts[part].label);
    }
    text
}

/// The name of a place.
pub fn place(system: &System, place: Option<PlaceId>) -> Option<&str> {
    place.and_then(|p| system.install.places.get(p)).map(|p| p.name.as_str())
}

/// A part as a person finds it.
pub fn part(system: &System, part: PartId) -> String {
    let part = &system.install.parts[part];
    let kind = &system.install.knowledge.kinds[part.kind].name;
    let label = &part.label;
    if label.contains(kind.as_str()) { label.clone() } else { format!("{label} ({kind})") }
}

/// A point as a person finds it: part, terminal and its meaning, wires that end there.
pub fn point(system: &System, point: PointId) -> String {
    let at = &system.install.points[point];
    let mut text = match at.of {
        None => format!("junction \"{}\"", at.name),
        Some((part, terminal)) => {
            let part = &system.install.parts[part];
            let kind = &system.install.knowledge.kinds[part.kind];
            let of_pin = kind.terminals.len().max(1);
            let label = match part.pins.get(terminal / of_pin) {
                Some(pin) => format!("{}, {} {pin}", part.label, kind.pin_word),
                None => part.label.clone(),
            };
            match kind.terminals.get(terminal % of_pin) {
                // The sides of a joint carry no mark that could be read off it.
                Some(t) if of_pin > 1 && kind.role == Role::Joint && !t.meaning.is_empty() => {
                    format!("{label}, {}", t.meaning)
                }
                Some(t) if of_pin > 1 && !t.meaning.is_empty() => {
                    format!("{label}, {} ({})", terminal_name(&t.name), t.meaning)
                }
                Some(t) if of_pin > 1 => format!("{label}, {}", terminal_name(&t.name)),
                _ => label,
            }
        }
    };
    let wires = wires_at(system, point);
    if !wires.is_empty() {
        let _ = write!(text, ", {} wire", wires.join(" and "));
    }
    text
}

/// A terminal's mark as it reads in a sentence: `30` and `-` need a word, `out` does not.
fn terminal_name(mark: &str) -> String {
    if mark.chars().any(char::is_alphabetic) { mark.to_owned() } else { format!("terminal {mark}") }
}

/// Wraps every line of a message that is too long for the screen.
pub fn wrapped(text: &str) -> String {
    let mut out = String::new();
    for line in text.lines() {
        let own = line.trim_start();
        paragraph(&mut out, line.len() - own.len(), own);
    }
    out
}

/// Colours or marks of the wires that end on a point's metal at its place.
fn wires_at(system: &System, point: PointId) -> Vec<String> {
    let node = system.node(point);
    let parts = &system.install.parts;
    let mut colours: Vec<String> = parts
        .iter()
        .filter(|part| part.terminals.iter().any(|t| system.node(*t) == node))
        .filter(|part| part.place.is_none() || part.place == system.install.points[point].place)
        .filter_map(|part| parts[part.joint_of?.conductor].colour.clone())
        .collect();
    colours.sort();
    colours.dedup();
    colours
}

/// How sure a probability is, in words.
pub fn sure(probability: f64) -> &'static str {
    match probability {
        p if p >= 0.99 => "nearly certain",
        p if p >= 0.6 => "likely",
        _ => "possible",
    }
}
