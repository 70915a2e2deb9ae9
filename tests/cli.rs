//! The program as a person runs it: what it prints, where, and how it ends.

pub(crate) mod because;
pub(crate) mod boards;
mod check;
mod diagnose;
#[cfg(unix)]
mod examples;
mod hostile;
pub(crate) mod program;
mod report;
mod screen;
#[cfg(unix)]
mod session;
mod testability;
#[cfg(unix)]
mod uses;
mod volts;
