//! Parts taken out for a test, by name and in words.

use super::{Diagnosis, System};
use crate::circuit::SetUp;
use crate::install::PartId;
use crate::knowledge::Parting;

/// The word that is understood for any part, beside its own (`pulled`).
const OUT: &str = "out";

impl System {
    /// How a part is taken out; `None`: it is not.
    pub fn parting(&self, part: PartId) -> Option<&Parting> {
        let kind = self.install.parts.get(part)?.kind;
        self.install.knowledge.kinds.get(kind)?.parting.as_ref()
    }

    /// A set-up with the part of this name taken out, if `state` is a word for that.
    pub(super) fn with_out(&self, set_up: &SetUp, name: &str, state: &str) -> Option<SetUp> {
        let part = self.part(name)?;
        let says = self.parting(part).is_some_and(|parting| state == OUT || parting.state == state);
        says.then(|| set_up.clone().without(part, self.circuit.parting_of.get(part).map_or(&[][..], Vec::as_slice)))
    }

    /// A set-up with a part put back.
    pub(super) fn in_its_place(&self, set_up: SetUp, part: PartId) -> SetUp {
        set_up.with_back(part, self.circuit.parting_of.get(part).map_or(&[][..], Vec::as_slice))
    }

    /// The set-up in which a sight shows what is seen: a fuse in the hand is whole or blown as it was in its place.
    pub(super) fn as_seen(&self, set_up: SetUp, sight: usize) -> SetUp {
        match self.sights.get(sight).filter(|sight| sight.lasts()) {
            Some(sight) => self.in_its_place(set_up, sight.part),
            None => set_up,
        }
    }

    /// The parts that are out in a set-up, each with the word for it.
    pub fn taken_out(&self, set_up: &SetUp) -> Vec<(PartId, &str)> {
        let word = |part: &PartId| Some((*part, self.parting(*part)?.state.as_str()));
        set_up.taken_out.iter().filter_map(word).collect()
    }
}

impl Diagnosis<'_> {
    /// What has to be done by hand to come into a set-up: the parts, and whether each is taken out. What goes back comes first.
    pub(super) fn moves_into(&self, set_up: &SetUp) -> Vec<(PartId, bool)> {
        let now = self.standing().set_up.taken_out;
        let back = now.iter().filter(|part| !set_up.taken_out.contains(part)).map(|part| (*part, false));
        let out = set_up.taken_out.iter().filter(|part| !now.contains(part)).map(|part| (*part, true));
        back.chain(out).collect()
    }
}
