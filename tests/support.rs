//! What several tests need.

pub(crate) mod circuits;
pub(crate) mod kirchhoff;
pub(crate) mod ngspice;
pub(crate) mod random;
