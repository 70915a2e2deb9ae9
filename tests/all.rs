//! All integration tests, one binary.

mod network;
mod support;
