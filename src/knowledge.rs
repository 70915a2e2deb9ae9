//! What is known of part kinds in general: terminals, inner elements, figures, failure modes, words that
//! people use for what they see, tables. All of it is data in `knowledge/`.
//!
//! It deliberately knows no single install.

mod kind;

pub use kind::{
    Amount, ConductorSpec, DriveSpec, ElementSpec, Figure, Kind, KindId, Knowledge, Mode,
    ModeEffect, PrimitiveSpec, Role, Severity, Sight, Terminal, Unit,
};
