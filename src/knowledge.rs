//! What is known of part kinds in general: terminals, inner elements, figures, failure modes, words that
//! people use for what they see, tables. All of it is data in `knowledge/`.
//!
//! It deliberately knows no single install.

mod amount;
mod behaviour;
mod complaints;
mod embedded;
mod error;
mod figures;
mod kind;
mod load;
mod parting;
mod raw;
mod resolve;
mod steps;
mod table;
mod words;

pub use behaviour::{ConductorSpec, DriveSpec, ElementSpec, PrimitiveSpec, Reset};
pub use complaints::{Complaints, History, Manner, Nature, Notices, Occasions, Origin, Situation};
pub use embedded::{CIRCUIT, FILES};
pub use error::{Mistake, Wrong};
pub use figures::{Figures, NoFigure, Spread};
pub use kind::{
    Amount, BenchWork, Bridging, Figure, Kind, KindId, Knowledge, Mode, ModeEffect, Parting, Role, Service, Severity,
    Sight, Terminal,
};
pub use load::NamedText;
pub use steps::{DropLimit, Piece, RepairSteps, Words};
pub use table::{Cause, Caution, Fact, LookupTable, Moment, Row, TerminalWord, Tolerances};
pub use words::{Effort, Noticed, NoticedState, SOUND, Word, WordTable};
