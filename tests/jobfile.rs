//! The job file: what is written is kept, what was torn off is seen, and a job taken up again is the job that was left.

mod at_hand;
mod corrected;
mod cut;
mod disk;
mod first_form;
#[cfg(unix)]
mod interrupted;
mod kill;
mod locked;
mod repair;
mod resume;
mod round_trip;
pub(crate) mod script;
mod sitting;
#[cfg(unix)]
mod terminal;
