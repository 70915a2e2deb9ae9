//! Campaigns: the engine plays job after job against the mock-up, and its verdicts are held against what was hidden.
//!
//! Terms are those of IEEE Std 1522: a fault is *detected* when it causes a complaint, and *isolated* to an ambiguity group
//! of `n` when the verdict names it among at most `n` repairs. It deliberately knows no terminal and no files.

mod alike;
mod ask;
mod baseline;
mod campaign;
mod cases;
mod complaint;
mod figures;
mod further;
mod mark;
mod offered;
mod reduced;
mod repair;
mod scene;
mod trial;
mod trust;

pub use crate::bench::{Change, Difference};
pub use baseline::{Baselines, Beside, Habitual};
pub use campaign::{Campaign, Faults, Plan, Trouble, campaign};
pub use figures::{Figures, Group};
pub use further::{Alike, Fitted, Further};
pub use mark::Mark;
pub use reduced::Reduced;
pub use trial::{Hid, Second, Trial};
pub use trust::{Reliability, Step, Stop};
