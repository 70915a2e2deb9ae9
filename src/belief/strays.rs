//! How far healthy parts stray from their description: the unknowns that all readings of a job share.

use crate::circuit::ElementId;
use crate::index::IdVec;

/// Spreads of healthy parts, each one standard deviation as a share of the figure. None by default.
///
/// The EMF of a supply is its part's own unknown, the same in all readings, and besides it one for each stay and one that
/// grows from reading to reading (a random walk).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Strays {
    /// Of the figure that describes each element: EMF of a source, forward voltage of a diode, strength of all others.
    pub leading: IdVec<ElementId, f64>,
    /// Of the internal resistance of each source.
    pub internal: IdVec<ElementId, f64>,
    /// How supplies commonly move during a job.
    pub steady: Supplies,
    /// How they move in a job during which a supply runs down or is charged.
    pub sagging: Supplies,
    /// Prior probability of such a job.
    pub sags: f64,
}

/// How the EMF of supplies moves during a job.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Supplies {
    /// Further spread of the EMF in each stay.
    pub own: f64,
    /// Spread of its step from one observation to the next.
    pub drift: f64,
}

impl Strays {
    /// Whether nothing strays.
    pub(super) fn is_none(&self) -> bool {
        self.leading.is_empty()
    }
}

impl Supplies {
    /// Covariance of a supply's relative EMF, beyond what the whole job shares, between two observations given as
    /// (position in the evidence, stay).
    pub(super) fn shared(self, a: (usize, usize), b: (usize, usize)) -> f64 {
        let own = if a.1 == b.1 { self.own * self.own } else { 0.0 };
        own + self.drift * self.drift * a.0.min(b.0) as f64
    }
}
