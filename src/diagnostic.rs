//! What is wrong with a file, and where: severity, a stable code, a place, labels and hints.
//!
//! It deliberately knows no drawing (that is `show`) and no file system: places are lines, columns and bytes
//! of one text.

mod names;
mod report;

pub use names::{harmless, nearest, quoted, with_article};
pub use report::Report;

/// A stretch of a file's text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// Byte offset of its start in the text.
    pub offset: usize,
    /// Line, 1-based.
    pub line: usize,
    /// Column in characters, 1-based.
    pub column: usize,
    /// Length in bytes.
    pub len: usize,
}

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The file cannot be used.
    Error,
    /// The file can be used; something in it is doubtful.
    Warning,
}

/// A second place that explains the first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// Where.
    pub span: Span,
    /// What is there.
    pub text: String,
}

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// How bad it is.
    pub severity: Severity,
    /// Stable kebab-case code (`unknown-part`).
    pub code: &'static str,
    /// What is wrong: lower case, no full stop, the user's words in backticks.
    pub message: String,
    /// Where.
    pub span: Span,
    /// Further places.
    pub labels: Vec<Label>,
    /// What would be right.
    pub hints: Vec<String>,
}

impl Diagnostic {
    /// Makes an error.
    pub fn error(code: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self { severity: Severity::Error, code, message: message.into(), span, labels: Vec::new(), hints: Vec::new() }
    }

    /// Makes a warning.
    pub fn warning(code: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(code, span, message) }
    }

    /// Adds a second place.
    #[must_use]
    pub fn label(mut self, span: Span, text: impl Into<String>) -> Self {
        self.labels.push(Label { span, text: text.into() });
        self
    }

    /// Adds what would be right.
    #[must_use]
    pub fn hint(mut self, text: impl Into<String>) -> Self {
        self.hints.push(text.into());
        self
    }
}
