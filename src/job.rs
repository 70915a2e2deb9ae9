//! One fault-finding job: complaint, tests, finding, as records that can be undone and taken up again.
//!
//! It deliberately knows no terminal, no files and no clock.

mod reading;

pub use reading::{Entry, Misread, Typed, read_entry};
