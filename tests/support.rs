//! What several tests need.
#![allow(
    clippy::unwrap_used,
    dead_code,
    reason = "a test that fails says where; not every helper has found all its users yet"
)]

pub(crate) mod circuits;
pub(crate) mod complaint;
pub(crate) mod kirchhoff;
pub(crate) mod ngspice;
pub(crate) mod random;

use halfsplit::suspects::Shares;

/// Prior shares as in `knowledge/tolerances.yaml`.
pub(crate) const SHARES: Shares = Shares { nothing: 0.02, unknown: 0.02, another: 0.1, no_good: 0.05 };
