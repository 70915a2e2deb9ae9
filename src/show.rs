//! Draws data as text: one function per view, no decisions.
//!
//! It deliberately does not compute, print, or know the terminal.

mod diagnostics;

pub use diagnostics::diagnostics;
