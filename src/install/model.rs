//! The resolved install.

use crate::id_type;
use crate::index::IdVec;
use crate::knowledge::{KindId, Knowledge};
use crate::units::{Minutes, Volts};
use std::collections::BTreeMap;

id_type! {
    /// A part: declared, written in a run, or expanded from a board.
    PartId;
    /// A place.
    PlaceId;
    /// A terminal of a part or a junction.
    PointId;
    /// A control.
    ControlId;
    /// A run.
    RunId;
}

/// An installed system.
#[derive(Clone, Debug, PartialEq)]
pub struct Install {
    /// Its title.
    pub title: String,
    /// Nominal voltage.
    pub nominal: Volts,
    /// `trailer`, `boat`, ...: picks limits and cautions.
    pub setting: String,
    /// What its engine burns, where that is stated.
    pub fuel: String,
    /// What the owner calls the return: earth, ground, negative, chassis.
    pub earth_word: String,
    /// The kinds that this install uses: the built-in ones and its own.
    pub knowledge: Knowledge,
    /// Places.
    pub places: IdVec<PlaceId, Place>,
    /// Parts, in the order of the file; a wire stands between its two end joints.
    pub parts: IdVec<PartId, Part>,
    /// Points, before joining.
    pub points: IdVec<PointId, Point>,
    /// Points that are one piece of metal (ideal joins).
    pub joins: Vec<(PointId, PointId)>,
    /// Controls in file order.
    pub controls: IdVec<ControlId, Control>,
    /// Runs in file order.
    pub runs: IdVec<RunId, Run>,
    /// The point that stands for ground: where `short to earth` goes (the frame; else the first supply's minus).
    pub earth: PointId,
}

/// A place where parts are.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Its name.
    pub name: String,
    /// Minutes to get a probe there.
    pub access: Minutes,
    /// Minutes to open it, once.
    pub open: Minutes,
    /// What to beware of.
    pub caution: Option<String>,
}

/// A part.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Stable id: the name, or `run/step`, `B.1.fuse`, `pump/2.a`.
    pub id: String,
    /// How the screen names it (`brown wire of "pump", board end`).
    pub label: String,
    /// Its kind.
    pub kind: KindId,
    /// Where it is.
    pub place: Option<PlaceId>,
    /// Figures given in the file, in the unit of the kind's figure.
    pub figures: BTreeMap<String, f64>,
    /// Its terminals in the order of the kind (for `per_pin` kinds: pin by pin).
    pub terminals: Vec<PointId>,
    /// Names of its pins, for `per_pin` kinds.
    pub pins: Vec<String>,
    /// Wire colour or mark, as written.
    pub colour: Option<String>,
    /// For an end joint: the conductor it belongs to.
    pub joint_of: Option<JointOf>,
    /// Where it stands in the file: line and column, 1-based.
    pub line: usize,
    /// Column, 1-based.
    pub column: usize,
}

/// The conductor that an end joint belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct JointOf {
    /// The conductor.
    pub conductor: PartId,
    /// `true`: the end where current enters (`.a`).
    pub first_end: bool,
}

/// A terminal or a junction.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Point {
    /// Name as a person finds it: `K1.87`, `power plug.minus`, `bus`.
    pub name: String,
    /// The part and the position in its terminals; `None` for a junction.
    pub of: Option<(PartId, usize)>,
    /// Where it is.
    pub place: Option<PlaceId>,
}

/// A control.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Control {
    /// Its name.
    pub name: String,
    /// The part that it sets.
    pub part: PartId,
    /// Positions; the first is the rest position.
    pub positions: Vec<String>,
    /// It springs back when let go.
    pub momentary: bool,
    /// Where it is.
    pub place: Option<PlaceId>,
}

/// A run: the path of a current, as points in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// Its name.
    pub name: String,
    /// Steps: the part passed (`None` at a junction) and the points where the run enters and leaves it.
    pub steps: Vec<(Option<PartId>, PointId, PointId)>,
}
