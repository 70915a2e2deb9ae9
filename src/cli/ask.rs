//! Where answers come from: a terminal, or lines on standard input.

use super::output::clean;
use std::io::{self, BufRead, IsTerminal, Write};

/// What came back from a prompt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// A line.
    Line(String),
    /// No more input, or the person pressed Ctrl-C or Esc.
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
        let mut out = io::stderr().lock();
        // A closed standard error must not end the job.
        let _ = write!(out, "{prompt} ");
        let _ = out.flush();
        let mut line = Vec::new();
        match io::stdin().lock().read_until(b'\n', &mut line) {
            Ok(0) | Err(_) => {
                // What is said next stands on a line of its own.
                let _ = writeln!(out);
                Asked::End
            }
            Ok(_) => {
                // A letter in another encoding spoils itself, not the job.
                let line = String::from_utf8_lossy(&line).into_owned();
                if self.echo {
                    let _ = writeln!(out, "{}", clean(line.trim_end()));
                }
                Asked::Line(line)
            }
        }
    }
}
