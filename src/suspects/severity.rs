//! How bad a soft fault is: a resistance spread evenly over the logarithm.

use crate::units::Ohms;

/// The range of a soft fault in ohms; every ratio inside is equally likely beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Severity {
    /// Lower end, above zero.
    pub low: Ohms,
    /// Upper end, above the lower one.
    pub high: Ohms,
}

/// Severities at even steps of the logarithm, both ends of the range included.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// The resistances, ascending.
    pub ohms: Vec<Ohms>,
}

impl Severity {
    /// How wide the range is, in decades.
    pub fn decades(self) -> f64 {
        (self.high.get() / self.low.get()).log10()
    }

    /// A grid of at least `cells_per_decade` cells a decade; a hard fault has one point and no cell.
    pub fn grid(self, cells_per_decade: usize) -> Grid {
        let (low, high) = (self.low.get().ln(), self.high.get().ln());
        let decades = (high - low) / std::f64::consts::LN_10;
        let cells = ((decades * cells_per_decade as f64).ceil() as usize).max(1);
        let ohms = (0..=cells)
            .map(|i| (low + (high - low) * i as f64 / cells as f64).exp())
            .filter_map(|r| Ohms::try_from(r).ok())
            .collect();
        Grid { ohms }
    }
}

impl Grid {
    /// The grid of a hard fault: one point.
    pub fn hard() -> Self {
        Self { ohms: vec![Ohms::ZERO] }
    }
}
