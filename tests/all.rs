//! All integration tests, one binary.
mod install;
