//! Where answers come from: a terminal, or lines on standard input.

use super::keyboard::{self, Heard};
use super::output::clean;
use std::io::{self, IsTerminal, Write};

/// What came back from a prompt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// A line.
    Line(String),
    /// No more input, or the person pressed Ctrl-C or Esc, or had pressed Ctrl-C where nothing could be asked.
    End,
}

/// Asks for one line at a time.
pub(super) trait Asker {
    /// Shows `prompt` and waits for a line.
    fn ask(&mut self, prompt: &str) -> Asked;
}

/// The asker that suits the terminal: a line that can be edited only where both ends are a terminal that can redraw it, and where
/// nobody has asked for plain `lines`.
pub(super) fn asker(lines: bool) -> Box<dyn Asker> {
    keyboard::heed();
    if is_terminal() && !lines && !is_dumb() {
        Box::new(Terminal)
    } else {
        // What is typed at a terminal stands there already.
        Box::new(Lines { echo: !io::stdin().is_terminal() })
    }
}

/// Whether the terminal says of itself that it cannot redraw a line.
fn is_dumb() -> bool {
    std::env::var_os("TERM").is_some_and(|term| term == "dumb")
}

/// Whether a person sits at a terminal.
pub(super) fn is_terminal() -> bool {
    io::stdin().is_terminal() && io::stderr().is_terminal()
}

/// Prompts in a terminal.
struct Terminal;

impl Asker for Terminal {
    fn ask(&mut self, prompt: &str) -> Asked {
        if keyboard::was_pressed() {
            return Asked::End;
        }
        let config = inquire::ui::RenderConfig::empty()
            .with_prompt_prefix(inquire::ui::Styled::new(""))
            .with_answered_prompt_prefix(inquire::ui::Styled::new(""));
        match inquire::Text::new(prompt).with_render_config(config).prompt() {
            Ok(line) => Asked::Line(line),
            Err(_) => Asked::End,
        }
    }
}

/// One answer a line, for pipes, screen readers and tests.
struct Lines {
    /// What is read is written behind its prompt.
    echo: bool,
}

impl Asker for Lines {
    fn ask(&mut self, prompt: &str) -> Asked {
        if keyboard::was_pressed() {
            return Asked::End;
        }
        // A closed standard error must not end the job.
        let _ = write!(io::stderr(), "{prompt} ");
        let _ = io::stderr().flush();
        match keyboard::line() {
            Heard::End | Heard::Interrupted => {
                // What is said next stands on a line of its own.
                let _ = writeln!(io::stderr());
                Asked::End
            }
            Heard::Line(line) => {
                // A letter in another encoding spoils itself, not the job.
                let line = String::from_utf8_lossy(&line).into_owned();
                if self.echo {
                    let _ = writeln!(io::stderr(), "{}", clean(line.trim_end()));
                }
                Asked::Line(line)
            }
        }
    }
}
