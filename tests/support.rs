//! What several tests need.
#![allow(
    clippy::unwrap_used,
    dead_code,
    reason = "a test that fails says where; not every helper has found all its users yet"
)]

pub(crate) mod circuits;
pub(crate) mod kirchhoff;
pub(crate) mod ngspice;
pub(crate) mod random;
