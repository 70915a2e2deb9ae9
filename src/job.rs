//! One fault-finding job: complaint, tests, finding, as records that can be undone and taken up again.
//!
//! It deliberately knows no terminal, no files and no clock.

mod already;
mod answers;
mod apart;
mod at_hand;
mod bench;
mod cautions;
mod command;
mod complaint;
mod diagnosis;
mod doubt;
mod expect;
mod finding;
pub mod past;
mod proof;
mod reading;
pub mod reasoning;
pub mod record;
mod replay;
mod retry;
mod sights;
mod sketch;
mod system;
mod told;
mod trace;
mod usual;
mod vocabulary;

pub use already::{AMPS_FORM, Already, OHMS_FORM};
pub use answers::{Answers, Given, Heard, as_answer, load_answers};
pub use at_hand::{AtHand, Tool, measured, unit};
pub use bench::OffBench;
pub use command::{ABOUT, Command, LONGEST, left_as_forms, offered, read_command};
pub use complaint::{Complaint, Fact, How, Said, Subject, Unclear};
pub use diagnosis::{BLUNDER, Diagnosis, Division, Next, Taken, Told, meter_sigma};
pub use expect::Expect;
pub use finding::{Culprit, Steps};
pub use proof::{Held, Limit, Proof, Proves};
pub use reading::{Entry, Misread, Typed, read_entry};
pub use reasoning::Reasoning;
pub use replay::{Again, Retold, Untold};
pub use sketch::{Form, Question, Sketch, Template};
pub use system::{SightOf, System};
pub use trace::{Step, Trace};
