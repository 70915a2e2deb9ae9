//! What hangs on the same feed or earth as what was repaired: a hand that mends one wire pulls another.

use super::{Proof, Proves};
use crate::belief::Probe;
use crate::choice::{Target, Test};
use crate::circuit::SetUp;
use crate::install::{PartId, Wiring};
use crate::job::{Diagnosis, System};
use crate::knowledge::{Notices, Role};
use std::collections::BTreeSet;

/// Most neighbours that are looked at, and most set-ups for it. Common practice, no source.
const MOST: usize = 4;
const MOST_SET_UPS: usize = 2;

/// A load that may have suffered by a repair.
struct Neighbour {
    load: PartId,
    sight: usize,
    shares: Vec<PartId>,
    /// A part that was repaired lies on its own way.
    disturbed: bool,
    /// Parts that both need.
    common: usize,
}

impl Diagnosis<'_> {
    /// Looks at the loads that share most with what was complained of, `repaired` being what was worked on.
    pub(super) fn neighbours(&self, repaired: &BTreeSet<PartId>) -> Vec<Proof> {
        let system = self.system();
        let mut found = neighbours(system, &self.complained_loads(), repaired);
        found.truncate(MOST);
        let mut groups: Vec<(SetUp, Vec<Neighbour>)> = Vec::new();
        for neighbour in found {
            let Some(usual) = self.set_up_of(neighbour.sight) else { continue };
            let joined = groups.iter().position(|(set_up, others)| {
                let both = system.moved_as(set_up.clone(), &usual);
                let all = others.iter().map(|other| other.sight).chain([neighbour.sight]);
                all.into_iter().all(|sight| works_when_well(system, sight, &both))
            });
            let room = groups.len() < MOST_SET_UPS;
            match joined.and_then(|at| groups.get_mut(at)) {
                Some((set_up, others)) => {
                    *set_up = system.moved_as(set_up.clone(), &usual);
                    others.push(neighbour);
                }
                None if room => groups.push((usual, vec![neighbour])),
                None => {}
            }
        }
        // With the switches of the complaint left on where all of them work so too, a switch less is set.
        for (set_up, others) in &mut groups {
            let with = system.moved_as(self.complaint().usual.clone(), set_up);
            if others.iter().all(|other| works_when_well(system, other.sight, &with)) {
                *set_up = with;
            }
        }
        let look = |set_up: &SetUp, neighbour: Neighbour| Proof {
            test: Test {
                set_up: set_up.clone(),
                probe: Probe::Look(neighbour.sight),
                at: Target::Part(neighbour.load),
            },
            proves: Proves::Neighbour { load: neighbour.load, shares: neighbour.shares },
        };
        groups.into_iter().flat_map(|(set_up, all)| all.into_iter().map(move |one| look(&set_up, one))).collect()
    }

    /// The switches with which a load works: as the complaint tells, else as they are found.
    fn set_up_of(&self, sight: usize) -> Option<SetUp> {
        let told = self.complaint().facts.iter().find(|fact| fact.sight == sight && !fact.wrong);
        told.map(|fact| fact.set_up.clone()).or_else(|| self.system().usual_set_up(sight))
    }

    /// The parts that are complained of.
    fn complained_loads(&self) -> Vec<PartId> {
        let facts = self.complaint().wrong().filter_map(|fact| self.system().sights.get(fact.sight));
        facts.map(|sight| sight.part).collect()
    }
}

/// Whether a healthy system makes it work in a set-up.
fn works_when_well(system: &System, sight: usize, set_up: &SetUp) -> bool {
    let good = system.good_word(sight);
    good.is_some() && system.word_when_well(sight, set_up) == good
}

/// The neighbours, those on whose way something was repaired first, then those that share most.
fn neighbours(system: &System, complained: &[PartId], repaired: &BTreeSet<PartId>) -> Vec<Neighbour> {
    let wiring = system.install.wiring();
    let ways: Vec<(PartId, Vec<PartId>)> =
        wiring.loads().into_iter().map(|load| (load, wiring.upstream(load))).collect();
    // What every load needs says nothing about which of them are near.
    let mut trunk: Option<BTreeSet<PartId>> = None;
    for (_, way) in &ways {
        let way: BTreeSet<PartId> = way.iter().copied().collect();
        trunk = Some(match trunk {
            Some(known) => known.intersection(&way).copied().collect(),
            None => way,
        });
    }
    let trunk = trunk.unwrap_or_default();
    let own: BTreeSet<PartId> =
        ways.iter().filter(|(load, _)| complained.contains(load)).flat_map(|(_, w)| w.clone()).collect();
    let mut found = Vec::new();
    for (load, way) in &ways {
        let sight = system.sights.iter().position(|s| s.part == *load && s.notices == Notices::Work);
        let Some(sight) = sight.filter(|_| !complained.contains(load)) else { continue };
        let common: Vec<PartId> = way.iter().copied().filter(|part| own.contains(part)).collect();
        let disturbed = way.iter().any(|part| repaired.contains(part));
        if common.is_empty() && !disturbed {
            continue;
        }
        let near = common.iter().filter(|part| !trunk.contains(part)).count();
        let shares = told(system, &wiring, *load, &own, repaired);
        found.push((near, Neighbour { load: *load, sight, shares, disturbed, common: common.len() }));
    }
    // Where none shares more than what all share, the one that shares most of that stands for all of them.
    let some = found.iter().any(|(near, neighbour)| *near > 0 || neighbour.disturbed);
    found.sort_by_key(|(near, n)| (!n.disturbed, std::cmp::Reverse(*near), std::cmp::Reverse(n.common), n.load));
    if some {
        found.retain(|(near, neighbour)| *near > 0 || neighbour.disturbed);
    } else {
        found.truncate(1);
    }
    found.into_iter().map(|(_, neighbour)| neighbour).collect()
}

/// What a neighbour shares, as it is told: what was repaired, else the last that both need of the feed and of the way back.
fn told(
    system: &System,
    wiring: &Wiring<'_>,
    load: PartId,
    own: &BTreeSet<PartId>,
    repaired: &BTreeSet<PartId>,
) -> Vec<PartId> {
    let Some((enter, leave)) = wiring.ends(load) else { return Vec::new() };
    // An end of a wire has no name that anybody knows it by.
    let known = |part: &PartId| {
        let of = &system.install.parts[*part];
        of.joint_of.is_none() && system.install.knowledge.kinds[of.kind].role != Role::Conductor
    };
    let mut shares = Vec::new();
    for way in [wiring.feed_of(enter), wiring.return_of(leave)] {
        let here = way.iter().copied().rfind(|part| repaired.contains(part));
        let last = || way.iter().copied().rfind(|part| own.contains(part) && known(part));
        shares.extend(here.or_else(last));
    }
    shares.dedup();
    shares
}
