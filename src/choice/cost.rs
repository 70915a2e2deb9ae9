//! What a test costs in minutes: switches to set, places to reach and to open, handling.

use super::Test;
use super::test::Target;
use crate::belief::Probe;
use crate::circuit::{ByHand, Move, SetUp};
use crate::index::Id;
use crate::install::{Install, PlaceId, Point, PointId};
use crate::knowledge::{Effort, Parting};
use crate::units::Minutes;
use std::collections::BTreeSet;
use std::rc::Rc;

/// Minutes to set one control, once there. Common practice, no source.
const SET_CONTROL: f64 = 0.1;
/// Minutes to hold two probes and read. Common practice, no source.
const PROBE: f64 = 0.3;
/// Minutes to set a clamp meter to zero, lay it around a wire and read. Common practice, no source.
const CLAMP: f64 = 0.4;
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
    /// What each look costs beside the way, by the position of its sight.
    pub looks: Rc<[LookCost]>,
}

/// What a look costs beside the way.
#[derive(Clone, Debug, PartialEq)]
pub struct LookCost {
    /// Handling.
    pub minutes: Minutes,
    /// Every place that is looked at has to be opened.
    pub opens: bool,
    /// Where it is, one after the other; a part that is long has several.
    pub places: Vec<PlaceId>,
}

/// The minutes that it takes to bring the controls from where they stand into a set-up.
pub(super) fn switching(install: &Install, standing: &Standing, set_up: &SetUp) -> Minutes {
    let mut way = Way::from(standing);
    way.switch(install, standing, set_up);
    Minutes::try_from(way.minutes).unwrap_or(Minutes::ZERO)
}

/// A way from place to place; each is walked to once.
struct Way {
    here: Option<PlaceId>,
    walked: BTreeSet<PlaceId>,
    opened: BTreeSet<PlaceId>,
    minutes: f64,
}

impl Way {
    fn from(standing: &Standing) -> Self {
        Self { here: standing.place, walked: BTreeSet::new(), opened: BTreeSet::new(), minutes: 0.0 }
    }

    fn walk(&mut self, install: &Install, place: PlaceId) {
        if self.here != Some(place) && self.walked.insert(place) {
            self.minutes += install.places[place].access.get();
            self.here = Some(place);
        }
    }

    fn switch(&mut self, install: &Install, standing: &Standing, set_up: &SetUp) {
        for (id, control) in install.controls.enumerate() {
            let at = crate::circuit::ControlId::new(id.position());
            if set_up.positions.get(at) != standing.set_up.positions.get(at) {
                self.minutes += SET_CONTROL;
                if let Some(place) = control.place {
                    self.walk(install, place);
                }
            }
        }
        for moved in set_up.moves_from(&standing.set_up) {
            let part = moved.part;
            let kind = &install.knowledge.kinds[install.parts[part].kind];
            self.minutes += kind.parting.as_ref().map_or(0.0, |parting| handling(parting, moved));
            if let Some(place) = install.parts[part].place {
                self.walk(install, place);
                self.open(install, standing, place);
            }
        }
    }

    fn open(&mut self, install: &Install, standing: &Standing, place: PlaceId) {
        if !standing.opened.contains(&place) && self.opened.insert(place) {
            self.minutes += install.places[place].open.get();
        }
    }
}

/// The minutes of what is done to a part: out or back, a jumper in or out.
fn handling(parting: &Parting, Move { from, to, .. }: Move) -> f64 {
    let has_jumper = |how: Option<ByHand>| how.is_some_and(ByHand::is_bridged);
    let part = if from.is_some() == to.is_some() { 0.0 } else { parting.minutes };
    let bridging = parting.bridging.as_ref().filter(|_| has_jumper(from) != has_jumper(to));
    part + bridging.map_or(0.0, |bridging| bridging.minutes)
}

/// The minutes of a test from where the person stands.
pub fn minutes(install: &Install, standing: &Standing, test: &Test) -> Minutes {
    let mut way = Way::from(standing);
    way.switch(install, standing, &test.set_up);
    let look = standing.look(test);
    let (places, handling) = match &test.at {
        Target::Part(part) => match look {
            Some(look) => (look.places.iter().copied().map(Some).collect(), look.minutes.get()),
            None if clamps(test) => (vec![install.parts[*part].place], CLAMP),
            None => (vec![install.parts[*part].place], Effort::default().minutes),
        },
        Target::Points { red, black } => {
            let far = if together(install, *red, *black) { 0.0 } else { LONG_LEAD };
            (vec![install.points[*red].place, install.points[*black].place], PROBE + far)
        }
    };
    let opens = opens(look, test);
    for place in places.into_iter().flatten() {
        way.walk(install, place);
        if opens {
            way.open(install, standing, place);
        }
    }
    Minutes::try_from(way.minutes + handling).unwrap_or(Minutes::ZERO)
}

/// Whether both probes reach their points from one spot: the same place, or the same part where that is not known.
fn together(install: &Install, red: PointId, black: PointId) -> bool {
    let (red, black) = (&install.points[red], &install.points[black]);
    let part = |p: &Point| p.of.map(|(part, _)| part);
    match (red.place, black.place) {
        (Some(a), Some(b)) => a == b,
        _ => part(red).is_some() && part(red) == part(black),
    }
}

/// Whether a test needs its places opened: a probe or a clamp does, a look by its nature.
fn opens(look: Option<&LookCost>, test: &Test) -> bool {
    look.map_or(matches!(test.at, Target::Points { .. }) || clamps(test), |look| look.opens)
}

/// Whether a clamp is laid around a wire.
fn clamps(test: &Test) -> bool {
    matches!(test.probe, Probe::Amps { .. })
}

impl Standing {
    fn look(&self, test: &Test) -> Option<&LookCost> {
        if let Probe::Look(sight) = test.probe { self.looks.get(sight) } else { None }
    }

    /// Where the person stands after a test.
    pub fn after(&mut self, install: &Install, test: &Test) {
        for moved in test.set_up.moves_from(&self.set_up) {
            self.opened.extend(install.parts[moved.part].place);
        }
        self.set_up = test.set_up.clone();
        let look = self.look(test).cloned();
        let opens = opens(look.as_ref(), test);
        let points = match &test.at {
            Target::Part(part) => match look {
                Some(look) => look.places.into_iter().map(Some).collect(),
                None => vec![install.parts[*part].place],
            },
            Target::Points { red, black } => {
                vec![install.points[*black].place, install.points[*red].place]
            }
        };
        for place in points.into_iter().flatten() {
            self.place = Some(place);
            if opens {
                self.opened.insert(place);
            }
        }
    }
}
