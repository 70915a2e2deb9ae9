//! All integration tests, one binary.

mod belief;
mod cli;
mod examples;
mod house;
mod install;
mod jobs;
mod knowledge;
mod network;
mod published;
mod support;
