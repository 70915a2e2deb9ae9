//! All integration tests, one binary.

mod cli;
mod examples;
mod belief;
mod house;
mod install;
mod jobs;
mod knowledge;
mod network;
mod published;
mod support;
