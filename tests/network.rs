//! The network solver against hand calculations, published examples, another simulator and itself.

mod numeric;
mod states;
