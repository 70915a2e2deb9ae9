//! All integration tests, one binary.

// mod house;
mod published;
