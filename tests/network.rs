//! The network solver against hand calculations, published examples, another simulator and itself.

mod fuses;
mod instruments;
mod islands;
mod loads;
mod numeric;
mod other_simulator;
mod sensitivities;
mod states;
