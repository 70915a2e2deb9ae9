//! All integration tests, one binary.

#![allow(unreachable_pub, reason = "a test binary has no public surface; `pub` only crosses its modules")]
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test fails by panicking, and says what it ran")]
#![allow(
    clippy::many_single_char_names,
    clippy::similar_names,
    reason = "hand calculations keep the symbols of the formula"
)]

mod belief;
mod bench;
mod choice;
mod cli;
mod complaints;
mod examples;
mod history;
mod house;
mod install;
mod jobfile;
mod jobs;
mod knowledge;
mod looks;
mod network;
mod published;
mod readme;
mod sketch;
mod support;
mod testability;

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;
