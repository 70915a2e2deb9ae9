//! What is done to parts by hand for a test, as changes of a set-up: a part taken out of its place, a jumper through its socket.

use super::{Circuit, Edit, ElementId, NodeId, Primitive, SetUp};
use crate::install::{Install, PartId, PointId, Wiring};
use crate::knowledge::{Bridging, Role};
use crate::units::{Amps, Ohms};

/// What is done to a part by hand for a test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ByHand {
    /// It is out of its place: its elements conduct nothing.
    TakenOut,
    /// The same, and a jumper with a fuse in it joins two points of its socket.
    Bridged(NodeId, NodeId),
}

impl ByHand {
    /// Whether a jumper is in.
    pub fn is_bridged(self) -> bool {
        matches!(self, Self::Bridged(..))
    }
}

/// What has to be done to a part to come from one set-up into another; `None`: it is in its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Move {
    /// The part.
    pub part: PartId,
    /// How it was.
    pub from: Option<ByHand>,
    /// How it is to be.
    pub to: Option<ByHand>,
}

/// A jumper through the socket of a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jumper {
    /// The nodes that it joins, the fed one first.
    pub ends: [NodeId; 2],
    /// Its resistance.
    pub ohms: Ohms,
    /// What protects the way that it closes.
    pub protection: ElementId,
    /// The fuse in it: no larger than that protection.
    pub fuse: Amps,
}

impl SetUp {
    /// How a part is; `None`: in its place.
    pub fn how(&self, part: PartId) -> Option<ByHand> {
        self.by_hand.iter().find(|(known, _)| *known == part).map(|(_, how)| *how)
    }

    /// The parts that are out of their places, with a jumper instead or not; ascending.
    pub fn taken_out(&self) -> impl Iterator<Item = PartId> + '_ {
        self.by_hand.iter().map(|(part, _)| *part)
    }

    /// Whether a part is out of its place.
    pub fn is_out(&self, part: PartId) -> bool {
        self.how(part).is_some()
    }

    /// Whether a jumper is in anywhere.
    pub fn is_bridged(&self) -> bool {
        self.by_hand.iter().any(|(_, how)| how.is_bridged())
    }

    /// The same with a part taken out, whose `elements` conduct nothing then; a jumper in its place comes out too. In the order of
    /// the parts, so that it does not matter what was taken out first.
    #[must_use]
    pub fn without(self, part: PartId, elements: &[ElementId]) -> Self {
        self.handled(part, ByHand::TakenOut, elements, None)
    }

    /// The same with a part taken out, whose `elements` conduct nothing then, and a jumper of some ohms from node to node.
    #[must_use]
    pub fn bridged(self, part: PartId, elements: &[ElementId], ([from, to], ohms): ([NodeId; 2], Ohms)) -> Self {
        self.handled(part, ByHand::Bridged(from, to), elements, Some(Edit::Bridge(from, to, ohms)))
    }

    fn handled(self, part: PartId, how: ByHand, elements: &[ElementId], jumper: Option<Edit>) -> Self {
        if self.how(part) == Some(how) {
            return self;
        }
        let mut set_up = self.with_back(part, elements);
        let place = set_up.by_hand.partition_point(|(known, _)| *known < part);
        set_up.by_hand.insert(place, (part, how));
        set_up.interventions.extend(elements.iter().map(|element| Edit::Open(*element)).chain(jumper));
        set_up.interventions.sort_by_key(|edit| match edit {
            Edit::Open(element) => (Some(*element), None),
            Edit::Bridge(from, to, _) => (None, Some((*from, *to))),
            Edit::Replace(..) | Edit::Series(..) | Edit::Stuck(..) | Edit::Move { .. } => (None, None),
        });
        set_up
    }

    /// The same with a part back in its place, whose `elements` conduct again.
    #[must_use]
    pub fn with_back(mut self, part: PartId, elements: &[ElementId]) -> Self {
        let Some(how) = self.how(part) else { return self };
        self.by_hand.retain(|(known, _)| *known != part);
        self.interventions.retain(|edit| !matches!(edit, Edit::Open(element) if elements.contains(element)));
        // Of two jumpers between the same nodes the other one stays.
        let jumper = |edit: &Edit| matches!((edit, how), (Edit::Bridge(a, b, _), ByHand::Bridged(from, to)) if (*a, *b) == (from, to));
        if let Some(at) = self.interventions.iter().position(jumper) {
            self.interventions.remove(at);
        }
        self
    }

    /// The same with every part back in its place.
    #[must_use]
    pub fn whole(mut self) -> Self {
        self.by_hand.clear();
        self.interventions.clear();
        self
    }

    /// What has to be done by hand to come here from `now`. What goes back comes first.
    pub fn moves_from(&self, now: &Self) -> Vec<Move> {
        let back = now.by_hand.iter().filter(|(part, _)| !self.is_out(*part));
        let back = back.map(|(part, how)| Move { part: *part, from: Some(*how), to: None });
        let then = self.by_hand.iter().map(|(part, how)| Move { part: *part, from: now.how(*part), to: Some(*how) });
        back.chain(then.filter(|moved| moved.from != moved.to)).collect()
    }
}

impl Circuit {
    /// A set-up with a part taken out.
    pub fn out_of(&self, set_up: &SetUp, part: PartId) -> SetUp {
        set_up.clone().without(part, self.opened_by(part))
    }

    /// A set-up with a part back in its place.
    pub fn in_its_place(&self, set_up: SetUp, part: PartId) -> SetUp {
        set_up.with_back(part, self.opened_by(part))
    }

    /// A set-up with a part taken out and a jumper through its socket; `None`: it is never bridged.
    pub fn bridged(&self, install: &Install, set_up: &SetUp, part: PartId) -> Option<SetUp> {
        let (bridging, points) = bridging(install, part)?;
        let [from, to] = points.map(|point| self.node_of.get(point).copied());
        Some(set_up.clone().bridged(part, self.opened_by(part), ([from?, to?], bridging.ohms)))
    }

    /// The jumper that may be put through the socket of a part. `None` where its kind is never bridged, where nothing protects
    /// the way that would be closed, and where more is drawn than a jumper is for.
    pub fn jumper(&self, install: &Install, wiring: &Wiring<'_>, part: PartId) -> Option<Jumper> {
        let (bridging, [from, to]) = bridging(install, part)?;
        let protects = |part: &&PartId| install.knowledge.kinds[install.parts[**part].kind].role == Role::Protection;
        let feed = wiring.feed_of(from);
        // The smallest of all on the way.
        let rated = feed.iter().filter(protects).flat_map(|part| &self.elements_of[*part]).filter_map(|inner| {
            match &self.netlist.elements.get(inner.element)?.primitive {
                Primitive::Fuse { rating, .. } => Some((inner.element, *rating)),
                _ => None,
            }
        });
        let (protection, fuse) = rated.min_by(|a, b| a.1.get().total_cmp(&b.1.get()))?;
        let ends = [*self.node_of.get(from)?, *self.node_of.get(to)?];
        (fuse <= bridging.most).then_some(Jumper { ends, ohms: bridging.ohms, protection, fuse })
    }

    fn opened_by(&self, part: PartId) -> &[ElementId] {
        self.parting_of.get(part).map_or(&[], Vec::as_slice)
    }
}

/// How a part is bridged, and between which of its points.
fn bridging(install: &Install, part: PartId) -> Option<(&Bridging, [PointId; 2])> {
    let part = install.parts.get(part)?;
    let bridging = install.knowledge.kinds.get(part.kind)?.parting.as_ref()?.bridging.as_ref()?;
    let (from, to) = bridging.ends;
    Some((bridging, [*part.terminals.get(from)?, *part.terminals.get(to)?]))
}
