//! The reasoning of a job, as a technician tells it: along the way of the current, reading by reading, suspect by suspect.
//!
//! It adds nothing to what the belief knows. It only says which reading did what.

mod excluded;
mod means;
mod way;

pub use excluded::Excluded;
pub use means::Means;
pub use way::{Mark, Sides, Way};

use super::{Diagnosis, Next};
use crate::belief::{Predicted, Verdict};

/// Why a job stands where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Reasoning {
    /// The ways of the currents that should flow: that of the load first, then those that control it.
    pub ways: Vec<Way>,
    /// What each observation told, in the order of `Diagnosis::taken`.
    pub heard: Vec<Heard>,
    /// Suspects that no single observation rules out, but all of them together.
    pub together: Vec<crate::suspects::SuspectId>,
    /// How the job ends, or why it goes on.
    pub next: Next,
}

/// What one observation told.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// What a good circuit would have shown, with the supplies as they were found.
    pub expected: Option<Predicted>,
    /// What it means for the way of the current.
    pub means: Means,
    /// It is in doubt.
    pub doubtful: bool,
    /// The suspects that it rules out, each with what it should have been under it.
    pub excluded: Vec<Excluded>,
}

impl Diagnosis<'_> {
    /// The reasoning of the job as it stands.
    pub fn reasoning(&self) -> Reasoning {
        let next = self.next();
        let mut ways = self.ways();
        let mut heard: Vec<Heard> = (0..self.taken().len()).map(|i| self.heard(&ways, i)).collect();
        let cured = matches!(next, Next::Stop(Verdict::Cured));
        for way in &mut ways {
            way.sides = self.sides(way, &heard, cured);
        }
        let together = self.exclude(&mut heard);
        Reasoning { ways, heard, together, next }
    }

    fn heard(&self, ways: &[Way], position: usize) -> Heard {
        let expected = self.expected(position);
        let means = self.means(ways, position, expected.as_ref());
        Heard { expected, means, doubtful: self.is_doubtful(position), excluded: Vec::new() }
    }
}
