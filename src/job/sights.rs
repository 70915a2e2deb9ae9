//! What can be seen, heard and felt of an install: the sights of its circuit with the words for them.

use super::System;
use super::system::SightOf;
use super::vocabulary::Said;
use crate::belief::{Marks, Shown, Sight};
use crate::choice::LookCost;
use crate::circuit::{Circuit, NodeId, PossibleFault, Sighted};
use crate::index::IdVec;
use crate::install::{Install, PartId, PlaceId};
use crate::knowledge::{Figures, KindId, Notices, SOUND, WordTable};
use crate::suspects::FaultId;
use crate::units::{Dimension, Minutes};
use std::collections::BTreeMap;
use std::rc::Rc;

/// The sights of a circuit, and what stands behind each, in the same order.
pub(super) fn sights(
    install: &Install,
    circuit: &Circuit,
    possible: &IdVec<FaultId, PossibleFault>,
) -> (Vec<SightOf>, Vec<Sight>) {
    let mut of_part: BTreeMap<PartId, Vec<FaultId>> = BTreeMap::new();
    for (id, fault) in possible.enumerate() {
        of_part.entry(fault.part).or_default().push(id);
    }
    let mut tables: BTreeMap<(KindId, Option<usize>), Option<Rc<WordTable>>> = BTreeMap::new();
    let mut sights = Vec::new();
    let mut seen = Vec::new();
    for sighted in &circuit.sights {
        let kind = install.parts[sighted.part].kind;
        let own = sighted.sight.and_then(|i| install.knowledge.kinds[kind].sights.get(i));
        let table = tables.entry((kind, sighted.sight)).or_insert_with(|| {
            let mut table = install.knowledge.words.get(&sighted.table)?.clone();
            // The words of the kind stand on the screen; those of the table are understood all the same.
            for word in &mut table.words {
                if let Some(says) = own.and_then(|own| own.words.get(&word.key)) {
                    word.also.push(std::mem::replace(&mut word.says, says.clone()));
                }
            }
            Some(Rc::new(table))
        });
        let Some(table) = table else { continue };
        let shown = match sighted.notices {
            Notices::Marks => {
                let faults = of_part.get(&sighted.part).map_or(&[][..], Vec::as_slice);
                marks(sighted, table, possible, faults).map(Shown::Marks)
            }
            Notices::Work | Notices::Heat | Notices::Standing | Notices::Charge => shown(install, circuit, sighted),
        };
        let Some(shown) = shown else { continue };
        seen.push(Sight { shown, vocabulary: Box::new(Said(Rc::clone(table))) });
        sights.push(SightOf {
            part: sighted.part,
            name: own.map_or_else(String::new, |own| own.name.clone()),
            kind_sight: sighted.sight,
            notices: sighted.notices,
            table: Rc::clone(table),
        });
    }
    (sights, seen)
}

fn shown(install: &Install, circuit: &Circuit, sighted: &Sighted) -> Option<Shown> {
    let nominal = sighted.nominal.max(1e-9);
    let first = sighted.elements.first().copied()?;
    Some(match sighted.notices {
        Notices::Work => Shown::Work { element: first, nominal },
        Notices::Heat => Shown::Heat { elements: sighted.elements.clone(), hot: nominal },
        Notices::Standing => Shown::Standing {
            source: first,
            posts: posts(install, circuit, sighted.part)?,
            drain: nominal,
            nominal: nominal_volts(install, sighted.part),
        },
        Notices::Charge => Shown::Charge { posts: posts(install, circuit, sighted.part)?, nominal },
        Notices::Marks => return None,
    })
}

/// What the faults of a part leave to be seen of it.
fn marks(
    sighted: &Sighted,
    table: &WordTable,
    possible: &IdVec<FaultId, PossibleFault>,
    of_part: &[FaultId],
) -> Option<Marks> {
    let rows = of_part.iter().filter_map(|id| {
        let [low, high] = sighted.marks.get(&possible.get(*id)?.mode)?;
        Some((*id, [table.marked(low)?, table.marked(high)?]))
    });
    Some(Marks { sound: table.marked(SOUND)?, of: rows.collect() })
}

/// For each fault the sights on which it leaves something.
pub(super) fn left_by(sights: &[Sight]) -> BTreeMap<FaultId, Vec<usize>> {
    let mut all: BTreeMap<FaultId, Vec<usize>> = BTreeMap::new();
    for (number, sight) in sights.iter().enumerate() {
        if let Shown::Marks(marks) = &sight.shown {
            marks.of.keys().for_each(|fault| all.entry(*fault).or_default().push(number));
        }
    }
    all
}

/// What each look costs beside the way, in the order of the sights.
pub(super) fn costs(install: &Install, sights: &[SightOf]) -> Rc<[LookCost]> {
    let mut ends: BTreeMap<PartId, Vec<PlaceId>> = BTreeMap::new();
    for joint in install.parts.iter() {
        if let Some(of) = &joint.joint_of {
            ends.entry(of.conductor).or_default().extend(joint.place);
        }
    }
    let cost = |sight: &SightOf| {
        let (part, effort) = (&install.parts[sight.part], &sight.table.effort);
        let kind = &install.knowledge.kinds[part.kind];
        let figures =
            Figures { kind, stated: &part.figures, nominal: install.nominal, tables: &install.knowledge.tables };
        let long = kind.figures.iter().find(|figure| figure.unit == Dimension::Metres);
        let metres = long.and_then(|figure| figures.value(&figure.key).ok()).map_or(0.0, |length| length.value);
        let mut places: Vec<PlaceId> = match part.place {
            Some(place) => vec![place],
            None => ends.get(&sight.part).cloned().unwrap_or_default(),
        };
        if places.is_empty() {
            // A frame, a plug of which only the run is known: it is where what it joins is.
            places = install
                .points
                .iter()
                .filter(|p| p.of.is_some_and(|(of, _)| of == sight.part))
                .filter_map(|p| p.place)
                .collect();
        }
        places.sort();
        places.dedup();
        let minutes = Minutes::try_from(effort.minutes + effort.a_metre * metres).unwrap_or(Minutes::ZERO);
        LookCost { minutes, opens: effort.opens, places }
    };
    sights.iter().map(cost).collect()
}

/// The nominal voltage of a part.
fn nominal_volts(install: &Install, part: PartId) -> f64 {
    let part = &install.parts[part];
    let kind = &install.knowledge.kinds[part.kind];
    Figures { kind, stated: &part.figures, nominal: install.nominal, tables: &install.knowledge.tables }.nominal()
}

/// The first two terminals of a supply: plus and minus.
fn posts(install: &Install, circuit: &Circuit, part: PartId) -> Option<(NodeId, NodeId)> {
    match install.parts[part].terminals[..] {
        [plus, minus, ..] => Some((circuit.node_of[plus], circuit.node_of[minus])),
        _ => None,
    }
}

impl System {
    /// The position of what a part does: its first sight.
    pub fn sight(&self, part: PartId) -> Option<usize> {
        self.sight_as(part, Notices::Work)
    }

    /// The position of a part's first sight of this sort.
    pub fn sight_as(&self, part: PartId, notices: Notices) -> Option<usize> {
        self.sights.iter().position(|s| s.part == part && s.notices == notices)
    }

    /// The sight called `left lamp`, or `headlamp.main beam` where a part has several.
    pub fn sight_called(&self, name: &str) -> Option<usize> {
        if let Some(sight) = self.part(name).and_then(|part| self.sight(part)) {
            return Some(sight);
        }
        self.sights.iter().position(|s| !s.name.is_empty() && self.sight_name(s) == name)
    }

    /// A sight by name: that of its part, and its own behind a dot where the part has several.
    pub fn sight_name(&self, sight: &SightOf) -> String {
        let part = &self.install.parts[sight.part].id;
        if sight.name.is_empty() { part.clone() } else { format!("{part}.{}", sight.name) }
    }

    /// The sights that show what faults have left on a part: they look the same however the switches stand.
    pub fn inspections(&self) -> Vec<(PartId, usize)> {
        let marks = self.sights.iter().enumerate().filter(|(_, s)| s.notices == Notices::Marks);
        marks.map(|(sight, s)| (s.part, sight)).collect()
    }

    /// Whether a sight shows what faults have left on a part.
    pub fn is_inspection(&self, sight: usize) -> bool {
        self.sights.get(sight).is_some_and(|s| s.notices == Notices::Marks)
    }

    /// The sights that a person can be sent to: what parts do.
    pub fn looks(&self) -> Vec<(PartId, usize)> {
        let works = self.sights.iter().enumerate().filter(|(_, s)| s.notices == Notices::Work);
        works.map(|(sight, s)| (s.part, sight)).collect()
    }
}
