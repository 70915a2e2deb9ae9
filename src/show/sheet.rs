//! The job sheet: what a workshop keeps of a job, as sections that every format draws in its own way.
//!
//! All text in it stands on one line and holds nothing that a screen obeys; what a format itself would obey is the business of
//! that format.

mod content;
mod drawing;
mod html;
mod markdown;
mod plain;
mod readings;
mod value;

pub use html::html;
pub use markdown::markdown;
pub use plain::plain;
pub use value::value;

use crate::diagnostic::harmless;
use crate::job::reasoning::Reasoning;
use crate::job::record::Course;
use crate::job::{Retold, System};

/// What a sheet is made of.
pub struct Told<'a, 'n> {
    /// The records.
    pub course: &'a Course,
    /// The install, if it can be read.
    pub system: Option<&'a System>,
    /// The job told once more in it, if it can be, with its reasoning.
    pub retold: Option<(&'a Retold<'n>, &'a Reasoning)>,
}

/// A job sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The install.
    title: String,
    /// How the job stands.
    state: String,
    sections: Vec<Section>,
    /// The circuit of the fault.
    ways: Vec<drawing::Drawing>,
}

/// A part of a sheet.
#[derive(Clone, Debug, PartialEq)]
struct Section {
    heading: &'static str,
    block: Block,
}

/// What stands in a section.
#[derive(Clone, Debug, PartialEq)]
enum Block {
    /// Names and what is said of them.
    Fields(Vec<(String, String)>),
    /// Rows under a head.
    Table {
        /// The head.
        head: &'static [&'static str],
        /// The rows, each as long as the head.
        rows: Vec<Vec<String>>,
    },
    /// Items.
    List(Vec<String>),
}

impl Block {
    fn is_empty(&self) -> bool {
        match self {
            Self::Fields(fields) => fields.is_empty(),
            Self::Table { rows, .. } => rows.is_empty(),
            Self::List(items) => items.is_empty(),
        }
    }
}

impl Sheet {
    /// The sheet of a job.
    pub fn of(told: &Told<'_, '_>) -> Self {
        Self {
            title: clean(&told.course.opened.install),
            state: content::state(told.course),
            sections: content::sections(told),
            ways: drawing::drawings(told),
        }
    }
}

/// A text on one line, with nothing in it that a screen obeys.
fn clean(text: &str) -> String {
    let line: Vec<&str> = text.split(['\n', '\r', '\t', '\u{b}', '\u{c}', '\u{85}', '\u{2028}', '\u{2029}']).collect();
    harmless(line.join(" ").trim()).into_owned()
}
