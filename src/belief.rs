//! What the readings say: the joint likelihood of all of them under each suspect, the posterior, misfit and verdict.
//!
//! It deliberately does not know which test is good, nor how anything is shown.

mod blunders;
mod candidates;
mod density;
mod effect;
mod elsewhere;
mod evidence;
mod fit;
mod hearsay;
mod held;
mod inert;
mod integral;
mod joint;
mod left_out;
mod levels;
mod marks;
mod misfit;
mod neighbours;
mod notice;
mod occasion;
mod outlook;
mod posterior;
mod predict;
mod row;
mod sets;
mod spared;
mod spoilt;
mod strays;
mod track;
mod update;
mod verdict;
mod ways;
mod weigh;

pub use blunders::Blunder;
pub use density::Noise;
pub use evidence::{
    Answer, Evidence, Observation, Occasion, Probe, Repair, Seen, Senses, Shown, Sight, Timing, Vocabulary,
};
pub use hearsay::Hearsay;
pub use marks::Marks;
pub use misfit::Misfit;
pub use notice::seen;
pub use outlook::{Outlook, Reading, Within};
pub use posterior::Posterior;
pub use predict::{LEAST_OHMS, OPEN_OHMS, jumps, log_ohms, predict};
pub use spared::FACTOR as ROUGH_FACTOR;
pub use strays::{Strays, Supplies};
pub use track::{Path, Point, Predicted, Track, Tracks};
pub use update::Belief;
pub use verdict::{Limits, Verdict, likeliest};
