//! What is wrong in a knowledge file, and where.

use std::fmt;

/// A mistake in a knowledge file or in an install's own `kinds:`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// The file that it stands in, as named by the caller.
    pub file: String,
    /// Line, 1-based; 0 when the file as a whole is meant.
    pub line: usize,
    /// Column, 1-based.
    pub column: usize,
    /// Its nature.
    pub wrong: Wrong,
}

/// The nature of a mistake.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wrong {
    /// Not YAML, or not of the expected form; the reader's own words.
    Form(String),
    /// A name that is given twice where it must be unique.
    Twice(String),
    /// A name that is not known here: what kind of thing, and the name.
    Unknown {
        /// `terminal`, `figure`, `element`, ...
        what: &'static str,
        /// As written.
        name: String,
    },
    /// Exactly one of several was to be given.
    OneOf {
        /// What was to be chosen among.
        choices: &'static str,
        /// How many stood there.
        given: usize,
    },
    /// A text that does not read as what it should be.
    Unreadable {
        /// As written.
        text: String,
        /// What was expected.
        expected: &'static str,
    },
    /// A number outside its range.
    OutOfRange {
        /// As written.
        text: String,
        /// The range in words.
        expected: &'static str,
    },
    /// Something that must be said is missing.
    Missing(&'static str),
    /// No kind serves as something that install files call for.
    NotServed(&'static str),
    /// An effect that this sort of element cannot show.
    Unfit {
        /// The element.
        element: String,
        /// The effect.
        effect: &'static str,
    },
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Form(text) => f.write_str(text),
            Self::Twice(name) => write!(f, "`{name}` is given twice"),
            Self::Unknown { what, name } => write!(f, "no {what} called `{name}` here"),
            Self::OneOf { choices, given } => {
                write!(f, "exactly one of {choices} is wanted, {given} are given")
            }
            Self::Unreadable { text, expected } => {
                write!(f, "`{text}` does not read as {expected}")
            }
            Self::OutOfRange { text, expected } => write!(f, "`{text}` is not {expected}"),
            Self::Missing(what) => write!(f, "{what} is missing"),
            Self::NotServed(service) => write!(f, "no kind says `serves: [{service}]`"),
            Self::Unfit { element, effect } => {
                write!(f, "element `{element}` cannot have {effect}")
            }
        }
    }
}

impl fmt::Display for Mistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { file, line, column, wrong } = self;
        write!(f, "{file}:{line}:{column}: {wrong}")
    }
}

impl std::error::Error for Mistake {}
