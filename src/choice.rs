//! Which test to take next: its information about the repair, per minute, and when to stop.
//!
//! It deliberately does not know how a test is asked.

mod closely;
mod cost;
mod foresight;
mod in_play;
mod information;
mod offer;
mod parted;
mod rank;
mod table;
mod tabulate;
mod test;

pub use cost::{LookCost, Standing, minutes};
pub use foresight::Foresight;
pub use in_play::{Hypothesis, in_play};
pub use information::{Outcome, gain};
pub use offer::{Instruments, Offer, set_ups};
pub use parted::Removable;
pub use rank::{Accuracy, Ranked, Ranking, Worth};
pub use table::{MOST_SUSPECTS, Rule, Table, Ways};
pub use test::{Target, Test};
