//! The tests that can be offered: every place that a probe reaches, in the set-ups near the complaint.

use super::parted::{Removable, is_at};
use super::test::{Target, Test};
use crate::belief::Probe;
use crate::circuit::{ControlId, ElementId, NodeId, SetUp};
use crate::index::Id;
use crate::install::{Install, PartId, PlaceId, PointId};
use crate::knowledge::Role;
use crate::network::{Instrument, Operating};
use std::collections::{BTreeMap, BTreeSet};

/// What is offered in one set-up; made once for an install.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Offer {
    /// Probes of a voltmeter: red, black.
    pub volts: Vec<(PointId, PointId)>,
    /// Test lamp clipped to a minus point: tip, clip.
    pub lamp_to_minus: Vec<(PointId, PointId)>,
    /// Test lamp clipped to a plus point, to find an earth: tip, clip.
    pub lamp_to_plus: Vec<(PointId, PointId)>,
    /// Parts that can be looked at or listened to, with the position of their sight.
    pub looks: Vec<(PartId, usize)>,
    /// Ends of wires that a clamp meter goes around, each with what carries the current there.
    pub amps: Vec<(PartId, ElementId)>,
    /// Parts that can be taken out.
    pub removable: Vec<Removable>,
}

/// The instruments at hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Instruments {
    /// The voltmeter.
    pub voltmeter: Option<Instrument>,
    /// The test lamp.
    pub test_lamp: Option<Instrument>,
    /// Whether there is a clamp meter for direct current. It changes nothing that it reads.
    pub clamp_meter: bool,
    /// Whether ohms are read where it is dead.
    pub ohmmeter: bool,
}

/// Potential against the reference, as a share of nominal, below which a point is a minus point, and above whose
/// complement it is a plus point.
const NEAR: f64 = 0.1;

impl Offer {
    /// Lists all places of an install that a probe reaches. `healthy` is an operating point with the complaint's set-up,
    /// `reference` the minus of the supply.
    pub fn new(
        install: &Install,
        node_of: impl Fn(PointId) -> NodeId,
        looks: Vec<(PartId, usize)>,
        healthy: &Operating<'_>,
        reference: PointId,
    ) -> Self {
        let points = reachable(install, &node_of);
        let volts = |p: PointId| healthy.voltage(node_of(p), node_of(reference));
        let near = NEAR * install.nominal.get();
        let mut minus_at: BTreeMap<Option<PlaceId>, PointId> = BTreeMap::new();
        let mut plus_at: BTreeMap<Option<PlaceId>, PointId> = BTreeMap::new();
        for &point in &points {
            let place = install.points[point].place;
            let Some(v) = volts(point) else { continue };
            if v.get().abs() < near && is_metal(install, point) {
                minus_at.entry(place).or_insert(point);
            }
            if (v - install.nominal).get() > -near {
                plus_at.entry(place).or_insert(point);
            }
        }
        let mut offer = Self { looks, ..Self::default() };
        for &red in &points {
            let place = install.points[red].place;
            // Nothing is known to be near a part whose place is not known.
            let local = place.and_then(|_| minus_at.get(&place).copied());
            let mut blacks: Vec<PointId> = local.into_iter().chain([reference]).collect();
            blacks.dedup();
            for black in blacks {
                if node_of(red) != node_of(black) {
                    offer.volts.push((red, black));
                    if place.is_some() && install.points[black].place == place {
                        offer.lamp_to_minus.push((red, black));
                    }
                }
            }
            let low = volts(red).is_some_and(|v| v.get().abs() < near);
            if let Some(&plus) = plus_at.get(&place).filter(|_| place.is_some())
                && low
                && node_of(plus) != node_of(red)
            {
                offer.lamp_to_plus.push((red, plus));
            }
        }
        // A reading across a part is named by its own terminals, so it goes before a like one between other names.
        let mut volts = across_parts(install, &points, &node_of);
        volts.append(&mut offer.volts);
        let mut seen = BTreeSet::new();
        volts.retain(|&(red, black)| {
            let at = |p: PointId| (node_of(p), install.points[p].place);
            let pair = if at(red) <= at(black) { (at(red), at(black)) } else { (at(black), at(red)) };
            seen.insert(pair)
        });
        offer.volts = volts;
        offer
    }

    /// Takes out whatever would be measured at some of the points.
    pub fn leave_out(&mut self, is_barred: impl Fn(PointId) -> bool) {
        let mut known: BTreeMap<PointId, bool> = BTreeMap::new();
        let mut is_barred = |point: PointId| *known.entry(point).or_insert_with(|| is_barred(point));
        for pairs in [&mut self.volts, &mut self.lamp_to_minus, &mut self.lamp_to_plus] {
            pairs.retain(|(red, black)| !is_barred(*red) && !is_barred(*black));
        }
    }

    /// The tests of this offer in `set_up` with the instruments at hand. While parts are taken out: looks, and what is measured
    /// at those parts. With a jumper in current flows again, and it is measured as ever.
    pub fn tests(&self, set_up: &SetUp, instruments: &Instruments, node_of: impl Fn(PointId) -> NodeId) -> Vec<Test> {
        let mut tests = self.everywhere(set_up, instruments, &node_of);
        if !set_up.by_hand.is_empty() {
            let out = || self.removable.iter().filter(|r| set_up.is_out(r.part));
            let nodes: BTreeSet<NodeId> = out().flat_map(|r| r.nodes(&node_of)).collect();
            // What is out is looked at as if it were in its place: no set-up of its own is needed for that.
            let in_the_hand = |test: &Test| matches!(test.at, Target::Part(part) if set_up.is_out(part));
            tests.retain(|test| (set_up.is_bridged() || is_at(&nodes, test)) && !in_the_hand(test));
            tests.extend(out().flat_map(|r| r.in_its_place(set_up, instruments, &node_of)));
        }
        tests
    }

    fn everywhere(&self, set_up: &SetUp, instruments: &Instruments, node_of: &impl Fn(PointId) -> NodeId) -> Vec<Test> {
        let mut tests: Vec<Test> = self
            .looks
            .iter()
            .map(|(part, sight)| Test { set_up: set_up.clone(), probe: Probe::Look(*sight), at: Target::Part(*part) })
            .collect();
        if let Some(instrument) = &instruments.voltmeter {
            tests.extend(self.volts.iter().map(|&(red, black)| Test {
                set_up: set_up.clone(),
                probe: Probe::Volts {
                    instrument: instrument.clone(),
                    red: node_of(red),
                    black: node_of(black),
                    unsigned: false,
                },
                at: Target::Points { red, black },
            }));
        }
        if let Some(instrument) = &instruments.test_lamp {
            let lamps = self.lamp_to_minus.iter().chain(&self.lamp_to_plus);
            tests.extend(lamps.map(|&(red, black)| Test {
                set_up: set_up.clone(),
                probe: Probe::Light { instrument: instrument.clone(), red: node_of(red), black: node_of(black) },
                at: Target::Points { red, black },
            }));
        }
        if instruments.clamp_meter {
            tests.extend(self.amps.iter().map(|&(end, element)| Test {
                set_up: set_up.clone(),
                probe: Probe::Amps { element, unsigned: true },
                at: Target::Part(end),
            }));
        }
        tests
    }
}

/// One named point for each piece of metal at each place, wires left out: their ends lie on the parts they join.
fn reachable(install: &Install, node_of: &impl Fn(PointId) -> NodeId) -> Vec<PointId> {
    let mut best: BTreeMap<(NodeId, Option<PlaceId>), PointId> = BTreeMap::new();
    for (id, point) in install.points.enumerate() {
        if let Some((part, _)) = point.of {
            let part = &install.parts[part];
            let kind = &install.knowledge.kinds[part.kind];
            if kind.role == Role::Conductor || part.joint_of.is_some() || kind.access == SEALED {
                continue;
            }
        }
        best.entry((node_of(id), point.place)).or_insert(id);
    }
    let mut points: Vec<PointId> = best.into_values().collect();
    points.sort();
    points
}

/// A clip needs bare metal that stands still: an earth point, a post, a junction.
fn is_metal(install: &Install, point: PointId) -> bool {
    match install.points[point].of {
        None => true,
        Some((part, _)) => {
            let role = install.knowledge.kinds[install.parts[part].kind].role;
            matches!(role, Role::Joint | Role::Supply)
        }
    }
}

/// Both ends of every part's elements, where both can be reached.
fn across_parts(
    install: &Install,
    points: &[PointId],
    node_of: &impl Fn(PointId) -> NodeId,
) -> Vec<(PointId, PointId)> {
    let reached: BTreeSet<NodeId> = points.iter().map(|p| node_of(*p)).collect();
    let mut pairs = Vec::new();
    for part in install.parts.iter() {
        let kind = &install.knowledge.kinds[part.kind];
        if kind.role == Role::Conductor || part.joint_of.is_some() || kind.access == SEALED {
            continue;
        }
        for element in &kind.elements {
            let terminal = |name: &str| {
                let at = kind.terminals.iter().position(|t| t.name == name)?;
                part.terminals.get(at).copied().filter(|p| reached.contains(&node_of(*p)))
            };
            if let (Some(red), Some(black)) = (terminal(&element.from), terminal(&element.to))
                && node_of(red) != node_of(black)
            {
                pairs.push((red, black));
            }
        }
    }
    pairs
}

/// The access of what cannot be probed.
const SEALED: &str = "sealed";

/// Set-ups one control away from the complaint's that are looked into, and those that are kept of them.
const LOOKED_INTO: usize = 40;
const KEPT: usize = 6;

/// The set-ups near a complaint: its own, the usual one in which current flows where the complaint is, all at rest, and of
/// those that differ from the usual one by one control the few that move the currents of the complaint most: what shares a feed or an earth with it. `currents` are those of the healthy system
/// in a set-up, of the elements that carry the complaint's current.
pub fn set_ups(
    install: &Install,
    [complaint, usual]: [&SetUp; 2],
    rest: &SetUp,
    currents: impl Fn(&SetUp) -> Option<Vec<f64>>,
) -> Vec<SetUp> {
    let mut list = vec![complaint.clone()];
    for other in [usual, rest] {
        if !list.contains(other) {
            list.push(other.clone());
        }
    }
    let Some(flow) = currents(usual) else { return list };
    let all = install.controls.enumerate().flat_map(|(id, control)| {
        let at = ControlId::new(id.position());
        (0..control.positions.len()).map(move |position| usual.clone().with(at, position))
    });
    let others = all.filter(|near| !list.contains(near)).take(LOOKED_INTO);
    let mut moved: Vec<(f64, SetUp)> = others
        .filter_map(|near| {
            let by: f64 = currents(&near)?.iter().zip(&flow).map(|(a, b)| (a - b).abs()).sum();
            Some((by, near))
        })
        .collect();
    moved.sort_by(|a, b| b.0.total_cmp(&a.0));
    list.extend(moved.into_iter().take(KEPT).map(|(_, near)| near));
    list
}
