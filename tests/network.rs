//! The network solver against hand calculations, published examples, another simulator and itself.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test that fails says where, and figures are there to be read"
)]

mod core;
mod edits;
mod fuses;
mod instruments;
mod islands;
mod loads;
mod numeric;
mod other_simulator;
mod reference;
mod sensitivities;
mod speed;
mod states;
