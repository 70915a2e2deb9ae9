//! What a test costs in minutes: switches to set, places to reach and to open, handling.

use super::Test;
use super::test::Target;
use crate::circuit::SetUp;
use crate::index::Id;
use crate::install::{Install, PlaceId};
use crate::units::Minutes;
use std::collections::BTreeSet;

/// Minutes to set one control, once there. Common practice, no source.
const SET_CONTROL: f64 = 0.1;
/// Minutes to hold two probes and read. Common practice, no source.
const PROBE: f64 = 0.3;
/// Minutes to look or listen. Common practice, no source.
const LOOK: f64 = 0.1;
/// Minutes to lay a long lead to a black point at another place. Common practice, no source.
const LONG_LEAD: f64 = 0.7;

/// Where the person stands, and what is already set and open.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The place of the last test.
    pub place: Option<PlaceId>,
    /// Places already opened.
    pub opened: BTreeSet<PlaceId>,
    /// The set-up in force.
    pub set_up: SetUp,
}

/// The minutes of a test from where the person stands.
pub fn minutes(install: &Install, standing: &Standing, test: &Test) -> Minutes {
    let mut sum = 0.0;
    let mut here = standing.place;
    // Controls are set on the way; each place with a control to change is walked to once.
    let mut walked = BTreeSet::new();
    for (id, control) in install.controls.enumerate() {
        let position = id.position();
        let circuit_control = crate::circuit::ControlId::new(position);
        if test.set_up.positions.get(circuit_control) != standing.set_up.positions.get(circuit_control) {
            sum += SET_CONTROL;
            if let Some(place) = control.place {
                if here != Some(place) && walked.insert(place) {
                    sum += install.places[place].access.get();
                    here = Some(place);
                }
            }
        }
    }
    let (places, handling) = match &test.at {
        Target::Part(part) => (vec![install.parts[*part].place], LOOK),
        Target::Points { red, black } => {
            let (red, black) = (install.points[*red].place, install.points[*black].place);
            let far = if red == black { 0.0 } else { LONG_LEAD };
            (vec![red, black], PROBE + far)
        }
    };
    let looks = matches!(test.at, Target::Part(_));
    for place in places.into_iter().flatten() {
        if here != Some(place) && walked.insert(place) {
            sum += install.places[place].access.get();
            here = Some(place);
        }
        if !looks && !standing.opened.contains(&place) {
            sum += install.places[place].open.get();
        }
    }
    Minutes::try_from(sum + handling).unwrap_or(Minutes::ZERO)
}

impl Standing {
    /// Where the person stands after a test.
    pub fn after(&mut self, install: &Install, test: &Test) {
        self.set_up = test.set_up.clone();
        let points = match &test.at {
            Target::Part(part) => vec![install.parts[*part].place],
            Target::Points { red, black } => {
                vec![install.points[*black].place, install.points[*red].place]
            }
        };
        for place in points.into_iter().flatten() {
            self.place = Some(place);
            if matches!(test.at, Target::Points { .. }) {
                self.opened.insert(place);
            }
        }
    }
}
