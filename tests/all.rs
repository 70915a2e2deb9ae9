//! All integration tests, one binary.

mod install;
mod knowledge;
mod network;
mod support;
