//! What the readings say: the joint likelihood of all of them under each suspect, the posterior, misfit and verdict.
//!
//! It deliberately does not know which test is good, nor how anything is shown.

mod density;
mod evidence;
mod inert;
mod integral;
mod misfit;
mod notice;
mod occasion;
mod posterior;
mod track;
mod verdict;

pub use density::Noise;
pub use evidence::{Answer, Evidence, Observation, Occasion, Probe, Seen, Senses, Shown, Sight, Timing, Vocabulary};
pub use misfit::Misfit;
pub use notice::seen;
pub use posterior::{Belief, Posterior};
pub use track::{Path, Point, Predicted, Track, Tracks, predict};
pub use verdict::{Limits, Verdict, likeliest};
