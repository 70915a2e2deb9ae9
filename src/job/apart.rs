//! Parts taken out for a test, or bridged, by name and in words.

use super::{Diagnosis, System};
use crate::choice::Removable;
use crate::circuit::{ByHand, Move, SetUp};
use crate::install::PartId;
use crate::knowledge::{Bridging, Parting};
use crate::units::Amps;

/// The word that is understood for any part, beside its own (`pulled`).
const OUT: &str = "out";

impl System {
    /// How a part is taken out; `None`: it is not.
    pub fn parting(&self, part: PartId) -> Option<&Parting> {
        let kind = self.install.parts.get(part)?.kind;
        self.install.knowledge.kinds.get(kind)?.parting.as_ref()
    }

    /// How a part is bridged; `None`: it is not.
    pub(super) fn bridging(&self, part: PartId) -> Option<&Bridging> {
        self.parting(part)?.bridging.as_ref()
    }

    /// A set-up with the part of this name taken out or bridged, if `state` is a word for that.
    pub(super) fn with_by_hand(&self, set_up: &SetUp, name: &str, state: &str) -> Option<SetUp> {
        let part = self.part(name)?;
        let parting = self.parting(part)?;
        if state == OUT || parting.state == state {
            return Some(self.circuit.out_of(set_up, part));
        }
        self.bridging(part).filter(|bridging| bridging.state == state)?;
        self.circuit.bridged(&self.install, set_up, part)
    }

    /// The words for what can be done by hand to the part of this name (`pulled`, `out`, `bridged`); none where it stays in its place.
    pub(super) fn words_by_hand(&self, name: &str) -> Vec<&str> {
        let Some(parting) = self.part(name).and_then(|part| self.parting(part)) else { return Vec::new() };
        let bridged = parting.bridging.as_ref().map(|bridging| bridging.state.as_str());
        [parting.state.as_str(), OUT].into_iter().chain(bridged).collect()
    }

    /// The set-up in which a sight shows what is seen: a fuse in the hand is whole or blown as it was in its place.
    pub(super) fn as_seen(&self, set_up: SetUp, sight: usize) -> SetUp {
        match self.sights.get(sight).filter(|sight| sight.lasts()) {
            Some(sight) => self.circuit.in_its_place(set_up, sight.part),
            None => set_up,
        }
    }

    /// The parts to which something is done by hand in a set-up, each with the word for it.
    pub fn by_hand(&self, set_up: &SetUp) -> Vec<(PartId, &str)> {
        let word = |(part, how): &(PartId, ByHand)| match how {
            ByHand::TakenOut => Some((*part, self.parting(*part)?.state.as_str())),
            ByHand::Bridged(..) => Some((*part, self.bridging(*part)?.state.as_str())),
        };
        set_up.by_hand.iter().filter_map(word).collect()
    }

    /// The fuse in the jumper through a part's socket; `None` where none may be put in.
    fn jumper_fuse(&self, part: PartId) -> Option<Amps> {
        Some(self.circuit.jumper(&self.install, &self.install.wiring(), part)?.fuse)
    }

    /// What to do with a part before a test, behind its name.
    pub fn to_do(&self, moved: Move) -> String {
        let Some(parting) = self.parting(moved.part) else { return String::new() };
        let bridged = |how: Option<ByHand>| parting.bridging.as_ref().filter(|_| how.is_some_and(ByHand::is_bridged));
        let mut steps: Vec<String> = Vec::new();
        if moved.from.is_none() {
            steps.push(parting.how.clone());
        }
        match (bridged(moved.from), bridged(moved.to)) {
            (None, Some(bridging)) => {
                let fuse = self.jumper_fuse(moved.part);
                let fuse =
                    fuse.map_or("a fuse no larger than that of its way".to_owned(), |fuse| format!("a {fuse} fuse"));
                steps.push(format!("{}, with {fuse} in it", bridging.how));
            }
            (Some(bridging), None) => steps.push(bridging.back.clone()),
            (None, None) | (Some(_), Some(_)) => {}
        }
        if moved.to.is_none() {
            steps.push(parting.back.clone());
        }
        steps.join("; ")
    }

    /// Leaves no jumper for what none may feed: a part of its way, or a load behind it, says so by its kind or its name.
    pub(super) fn bar_jumpers(&self, removable: &mut [Removable]) {
        if removable.iter().all(|one| one.jumper.is_none()) {
            return;
        }
        let wiring = self.install.wiring();
        let barred: Vec<PartId> = wiring.loads().into_iter().filter(|load| self.bars_jumpers(*load)).collect();
        for one in removable {
            let feeds = |load: &PartId| wiring.upstream(*load).contains(&one.part);
            if self.bars_jumpers(one.part) || barred.iter().any(feeds) {
                one.jumper = None;
            }
        }
    }
}

impl Diagnosis<'_> {
    /// What has to be done by hand to come into a set-up. What goes back comes first.
    pub(super) fn moves_into(&self, set_up: &SetUp) -> Vec<Move> {
        set_up.moves_from(&self.standing().set_up)
    }
}
