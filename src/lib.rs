//! Fault finding for relay-switched 12/24 V systems.
//!
//! Data flows one way, from the install file and the knowledge base to a proven repair; each module
//! may import only from those above it in this list (a test holds it to that).

pub mod belief;
pub mod bench;
pub mod choice;
pub mod circuit;
#[cfg(not(target_family = "wasm"))]
pub mod cli;
pub mod diagnostic;
pub mod document;
pub mod index;
pub mod install;
pub mod job;
pub mod knowledge;
pub mod network;
pub mod show;
pub mod suspects;
pub mod testability;
pub mod units;
