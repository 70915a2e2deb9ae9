//! The job file: one record a line, written when it happens and never changed after.
//!
//! Every line is a YAML flow map with its newline last, so that a record is either whole or seen to be torn: a number that
//! lost its last digits with the end of its line is no record. What was taken back or corrected stays in the file; the
//! later record says so, and [`Course`] is what all of them come to. It deliberately knows no files and no clock.

mod course;
mod described;
mod finding;
mod kinds;
mod moment;
mod named;
mod parse;
mod print;
mod torn;

pub use course::{Course, Entered, Mended};
pub use described::{Change, Described, Differs};
pub use finding::tenths;
pub use kinds::{
    About, Blamed, Closed, Complained, Correction, Ended, Failed, Finding, Got, Left, Line, OnBench, Opened, Outcome,
    Probed, Proven, Reading, Record, Repair, Seen, Setting,
};
pub use moment::Moment;
pub use named::{Gone, sized};
pub use parse::read_lines;
pub use torn::{Torn, whole_lines};

/// The version of the form of job files.
pub const FORMAT: &str = "1";
