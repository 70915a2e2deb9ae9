//! What several tests need.

pub(crate) mod circuits;
