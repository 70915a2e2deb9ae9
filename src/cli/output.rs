//! Where text goes: standard output for what was asked for, standard error for the talk around it.

use super::args::{Colour, Format};
use colored::Colorize;
use std::io::{self, IsTerminal, Write};

/// The two streams, and how they are written.
pub(super) struct Output {
    pub format: Format,
    pub colour: bool,
}

// What is printed goes through this one value, so that nothing else prints.
#[expect(clippy::unused_self, reason = "the streams are the process's own; the value says who may write to them")]
impl Output {
    pub(super) fn new(colour: Colour, format: Format) -> Self {
        let no_color = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
        let on = match colour {
            Colour::Always => true,
            Colour::Never => false,
            Colour::Auto => io::stderr().is_terminal() && io::stdout().is_terminal() && !no_color,
        };
        colored::control::set_override(on);
        Self { format, colour: on }
    }

    /// Whether the answer is for programs.
    pub(super) fn is_json(&self) -> bool {
        self.format == Format::Json
    }

    /// Prints what was asked for. A closed pipe ends the program quietly elsewhere; here it is no error.
    pub(super) fn print(&self, text: &str) {
        let mut out = io::stdout().lock();
        let _ = out.write_all(clean(text).as_bytes());
        let _ = out.flush();
    }

    /// Prints a value for programs.
    pub(super) fn json(&self, value: &serde_json::Value) {
        let text = serde_json::to_string_pretty(value).unwrap_or_default();
        self.print(&format!("{text}\n"));
    }

    /// The same with every `<` and `&` as an escape, so that it may stand in a page. JSON has them in texts alone.
    pub(super) fn json_for_pages(&self, value: &serde_json::Value) {
        let text = serde_json::to_string_pretty(value).unwrap_or_default();
        let text = text.replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026");
        self.print(&format!("{text}\n"));
    }

    /// The same streams, for people.
    pub(super) fn as_text(&self) -> Self {
        Self { format: Format::Text, colour: self.colour }
    }

    /// Says something beside the answer; headings and cautions stand out where there is colour.
    pub(super) fn say(&self, text: &str) {
        let mut out = io::stderr().lock();
        for line in clean(text).lines() {
            let shown = match line.split_whitespace().next() {
                Some("CAUTION") => line.yellow().bold().to_string(),
                Some("Test" | "FOUND" | "THE" | "THESE" | "OPEN:" | "NO") if !line.starts_with(' ') => {
                    line.bold().to_string()
                }
                _ => line.to_owned(),
            };
            let _ = writeln!(out, "{shown}");
        }
        let _ = out.flush();
    }

    /// Says a message of any length, in lines that fit the screen.
    pub(super) fn talk(&self, text: &str) {
        self.say(&crate::show::text::wrapped(text));
    }

    /// Prints drawn diagnostics, colour codes and all.
    pub(super) fn drawn(&self, text: &str) {
        let mut out = io::stderr().lock();
        let _ = out.write_all(text.as_bytes());
        let _ = out.flush();
    }
}

/// Names come from files: nothing in them may steer the terminal.
pub(super) fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && c != '\n' { '\u{fffd}' } else { c }).collect()
}
