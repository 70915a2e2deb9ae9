//! Many diagnostics, sorted by place.

use super::{Diagnostic, Severity};

/// More than this many are never drawn: a file full of mistakes has one cause.
const MOST: usize = 100;

/// Everything that was found in one file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Report {
    items: Vec<Diagnostic>,
    errors: usize,
    left_out: usize,
}

impl Report {
    /// An empty report.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a diagnostic. The first hundred of either severity are kept, the others counted.
    pub fn push(&mut self, diagnostic: Diagnostic) {
        let is_error = diagnostic.severity == Severity::Error;
        let of_its_kind = if is_error { self.errors } else { self.items.len().saturating_sub(self.errors) };
        if of_its_kind >= MOST {
            self.left_out += 1;
            return;
        }
        self.errors += usize::from(is_error);
        self.items.push(diagnostic);
    }

    /// Adds all of another report.
    pub fn extend(&mut self, other: Self) {
        self.left_out += other.left_out;
        for item in other.items {
            self.push(item);
        }
    }

    /// Whether an error is among them.
    pub fn has_errors(&self) -> bool {
        self.errors > 0
    }

    /// Whether no further error is kept: then a hint for one need not be sought.
    pub fn is_full(&self) -> bool {
        self.errors >= MOST
    }

    /// How many errors there are (of those kept).
    pub fn errors(&self) -> usize {
        self.errors
    }

    /// How many more there were than are kept.
    pub fn left_out(&self) -> usize {
        self.left_out
    }

    /// Whether nothing was found.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// All of them by place; at one place errors first.
    pub fn sorted(&self) -> Vec<&Diagnostic> {
        let mut all: Vec<&Diagnostic> = self.items.iter().collect();
        all.sort_by_key(|d| (d.span.offset, d.severity, d.code));
        all
    }
}

impl From<Diagnostic> for Report {
    fn from(diagnostic: Diagnostic) -> Self {
        let mut report = Self::new();
        report.push(diagnostic);
        report
    }
}
