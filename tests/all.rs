//! All integration tests, one binary.

mod install;
mod published;
