//! Runs the program.

use serde_json::Value;
use std::fmt;
use std::io::Write;
use std::process::{Command, Stdio};

/// The install that most of these tests use.
pub(super) const GOOD: &str = "tests/install/good.yaml";

/// A small one, for whole jobs.
pub(crate) const SMALL: &str = "tests/cli/small.yaml";

/// What a run printed, and how it ended.
pub(crate) struct Ran {
    pub(crate) stdout: String,
    pub(crate) stderr: String,
    pub(crate) code: Option<i32>,
}

impl fmt::Display for Ran {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { stdout, stderr, code } = self;
        let code = code.map_or("by a signal".to_owned(), |c| c.to_string());
        write!(f, "exit: {code}\n--- stdout\n{stdout}--- stderr\n{stderr}")
    }
}

impl Ran {
    /// Standard output as JSON.
    #[track_caller]
    pub(super) fn json(&self) -> Value {
        serde_json::from_str(&self.stdout).unwrap_or_else(|e| panic!("{e}: {self}"))
    }
}

/// The program, to be run in the folder of the crate.
pub(crate) fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_halfsplit"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env_remove("NO_COLOR");
    command
}

/// Runs a prepared command with nothing on its standard input.
pub(super) fn finish(command: &mut Command) -> Ran {
    fed(command, &[""; 0])
}

/// Runs a command with these lines on its standard input.
pub(crate) fn fed<L: AsRef<str>>(command: &mut Command, lines: &[L]) -> Ran {
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let text: String = lines.iter().flat_map(|line| [line.as_ref(), "\n"]).collect();
    // A program that has ended already reads no more; what it said is looked at all the same.
    let _ = child.stdin.take().unwrap().write_all(text.as_bytes());
    let output = child.wait_with_output().unwrap();
    Ran {
        stdout: String::from_utf8(output.stdout).unwrap(),
        stderr: String::from_utf8(output.stderr).unwrap(),
        code: output.status.code(),
    }
}

/// Runs the program with these arguments.
pub(crate) fn run(arguments: &[&str]) -> Ran {
    finish(program().args(arguments))
}
