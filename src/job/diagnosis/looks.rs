//! Looks for what faults leave behind, and looks whose answer does not hang on the switches: which are asked for, and when not
//! again.

use super::Diagnosis;
use crate::belief::Probe;
use crate::choice::{Standing, Target, Test, minutes};
use crate::circuit::SetUp;
use crate::job::system::SightOf;
use std::collections::BTreeSet;

/// Minutes of way and of opening beyond which nobody is sent to look for marks: they are looked for where the person stands, or
/// next to it. In campaigns looks that had a way of their own cost more than they saved.
const NEAR: f64 = 0.5;

/// Suspects less likely than this are not looked for on their parts.
const LEAST_LIKELY: f64 = 1e-4;

impl Diagnosis<'_> {
    /// The looks for marks in a set-up: those at hand on which a likely suspect would have left something, while nothing has to be
    /// set for them.
    pub(super) fn looks_for_marks(&self, set_up: &SetUp) -> Vec<Test> {
        if *set_up != self.as_it_stands() {
            return Vec::new();
        }
        let look = |sight: usize| {
            let at = Target::Part(self.system.sights.get(sight)?.part);
            Some(Test { set_up: set_up.clone(), probe: Probe::Look(sight), at })
        };
        let standing = self.standing();
        let looks = self.telling_marks().into_iter().filter_map(look);
        looks.filter(|test| self.is_at_hand(&standing, test)).collect()
    }

    /// The sights on which a likely suspect would have left something: of all others a look tells nothing.
    fn telling_marks(&self) -> BTreeSet<usize> {
        let list = self.belief.suspects().list();
        let likely = self.posterior.probability.enumerate().filter(|(_, share)| **share > LEAST_LIKELY);
        let faults = likely.flat_map(|(suspect, _)| &list[suspect].faults);
        faults.filter_map(|fault| self.system.left_by.get(fault)).flatten().copied().collect()
    }

    /// Whether a look for marks has next to no way, and next to nothing to open.
    fn is_at_hand(&self, standing: &Standing, test: &Test) -> bool {
        let Probe::Look(sight) = test.probe else { return false };
        let handling = self.system.looks.get(sight).map_or(0.0, |look| look.minutes.get());
        minutes(&self.system.install, standing, test).get() - handling <= NEAR
    }

    /// The set-up in which marks are looked for: nothing has to be set for them.
    fn as_it_stands(&self) -> SetUp {
        let here = self.standing().set_up;
        if self.set_ups.contains(&here) { here } else { self.complaint.set_up.clone() }
    }

    pub(super) fn is_inspection(&self, test: &Test) -> bool {
        matches!(test.probe, Probe::Look(sight) if self.system.is_inspection(sight))
    }

    /// Whether two looks for marks are near copies: of the same kind, at a place that both are at. Who could not see one end of
    /// a wire for mud does not see the other terminals there either.
    pub(super) fn is_like(&self, one: &Test, other: &Test) -> bool {
        let look = |test: &Test| match test.probe {
            Probe::Look(sight) if self.system.is_inspection(sight) => {
                Some((&self.system.sights.get(sight)?.table, self.system.looks.get(sight)?))
            }
            _ => None,
        };
        look(one).zip(look(other)).is_some_and(|((table, at), (its, there))| {
            table.ask == its.ask && at.places.iter().any(|place| there.places.contains(place))
        })
    }

    /// Whether a fuse was looked at since the last repair: who took it for whole does so with other switches too.
    pub(super) fn is_seen(&self, test: &Test) -> bool {
        let Probe::Look(sight) = test.probe else { return false };
        let since = self.taken.iter().skip(self.last_repair().unwrap_or(0));
        self.system.sights.get(sight).is_some_and(SightOf::lasts)
            && since.into_iter().any(|t| t.test.probe == test.probe)
    }
}
