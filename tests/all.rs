//! All integration tests, one binary.

mod knowledge;
mod network;
mod support;
