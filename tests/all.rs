//! All integration tests, one binary.

mod knowledge;
