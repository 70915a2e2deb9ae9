//! All integration tests, one binary.

mod published;
