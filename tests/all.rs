//! All integration tests, one binary.

// mod install;
mod knowledge;
mod network;
mod published;
mod support;
