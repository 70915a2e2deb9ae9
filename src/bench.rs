//! The mock-up: a circuit with something hidden in it, that answers like the real one would.
//!
//! It is written apart from the engine, from the primitives' own descriptions and the laws behind them, so that each can
//! catch the other's errors: an elimination that pivots, its own islands, its own state loop, its own way of putting faults
//! and tolerances into a circuit. It deliberately knows nothing of the engine that is tried against it.
//!
//! * **One state** (`point`, `law`, `elimination`): Kirchhoff's current law at every node of every island that something drives,
//!   solved by Newton's method with a full factorization at each step. Constant powers are first left out and then put in,
//!   so that the solution found is the one with the high voltage. Diodes and source limits are turned over one at a
//!   time, the worst first.
//! * **The loop** (`machine`): electronics, trips, coils with their contacts, motors, and when all of these rest a
//!   fuse. States that come again are chatter; what is read then is the mean.
//! * **What is not nominal** (`draws`): parts, supply and meter as a trial draws them.
//! * **The person** (`person`): reads, looks, and in a noisy trial blunders.

mod change;
mod complaint;
mod draws;
mod elimination;
mod hidden;
mod kept;
mod law;
mod machine;
mod mock_up;
mod person;
mod point;
mod slips;
mod switches;
mod wired;

pub use change::{Change, Difference};
pub use complaint::{Grievance, Uses};
pub use draws::Draws;
pub use hidden::Hidden;
pub use mock_up::{Instrument, Met, MockUp, NoAnswer, Stands};
pub use person::{Person, Said};
