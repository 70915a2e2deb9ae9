//! The installed system, resolved: every reference points at something, every part has its figures.
//!
//! It deliberately knows no solved number.

mod model;

pub use model::{
    Control, ControlId, Install, JointOf, Part, PartId, Place, PlaceId, Point, PointId, Run, RunId,
};
