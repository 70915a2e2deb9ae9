//! Text and JSON from the data of the layers below: one function per view, no decisions.
//!
//! It deliberately does not know how anything is computed, nor where it is printed.

pub mod answer;
mod baselines;
pub mod because;
mod diagnostics;
mod doubt;
pub mod finding;
pub mod history;
pub mod json;
mod no_fault;
pub mod proof;
pub mod record;
pub mod sheet;
pub mod test;
pub mod testability;
pub mod text;
pub mod volts;
mod way;

pub use diagnostics::diagnostics;
