//! One fault-finding job: complaint, tests, finding, as records that can be undone and taken up again.
//!
//! It deliberately knows no terminal, no files and no clock.

mod answers;
mod diagnosis;
mod expect;
mod finding;
mod reading;
mod system;
mod trace;
mod usual;
mod vocabulary;

pub use answers::{Answers, Given, Heard, as_answer, load_answers};
pub use diagnosis::{BLUNDER, Complaint, Diagnosis, Next, Taken, Told, meter_sigma};
pub use expect::Expect;
pub use finding::Culprit;
pub use reading::{Entry, Misread, Typed, read_entry};
pub use system::System;
pub use trace::{Step, Trace};
pub use usual::BLOWS;
