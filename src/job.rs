//! One fault-finding job: complaint, tests, finding, as records that can be undone and taken up again.
//!
//! It deliberately knows no terminal, no files and no clock.

mod answers;
mod complaint;
mod diagnosis;
mod doubt;
mod expect;
mod finding;
mod reading;
mod retry;
mod sights;
mod system;
mod told;
mod trace;
mod usual;
mod vocabulary;

pub use answers::{Answers, Given, Heard, as_answer, load_answers};
pub use complaint::{Complaint, Fact, How, Said, Subject, Unclear};
pub use diagnosis::{BLUNDER, Diagnosis, Next, Taken, Told, meter_sigma};
pub use expect::Expect;
pub use finding::Culprit;
pub use reading::{Entry, Misread, Typed, read_entry};
pub use system::{SightOf, System};
pub use trace::{Step, Trace};
