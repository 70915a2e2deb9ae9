//! The install file: a whole one resolved, every mistake at its place, hostile files.

mod errors;
mod hostile;
mod resolved;
