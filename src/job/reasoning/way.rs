//! The way of a current that should flow, with what was read along it and the two sides of the fault.

use super::{Heard, Means};
use crate::belief::{Answer, Probe};
use crate::circuit::{NodeId, SetUp};
use crate::install::{PartId, PointId};
use crate::job::{Diagnosis, Fact, Step, Trace};
use crate::knowledge::Role;
use std::collections::BTreeSet;

/// The way of one current, from the supply's plus through a load or a coil and back to its minus.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Its steps.
    pub steps: Vec<Step>,
    /// The step that the current is for: the load, or the part with the coil.
    pub load: usize,
    /// The current only controls `load`.
    pub controls: bool,
    /// What was read along it.
    pub marks: Vec<Mark>,
    /// Between which two places the voltage is lost, if the readings along it say so.
    pub sides: Option<Sides>,
    /// The set-ups in which the current should flow, of those in which something was read.
    flowing: Vec<SetUp>,
}

/// A place on a way at which a lead was held, with the reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// The place: 0 before the first step, k behind the k-th.
    pub at: usize,
    /// The point that the lead was on.
    pub point: PointId,
    /// The place of the other lead.
    pub other: usize,
    /// The observation: its position in `Diagnosis::taken`.
    pub taken: usize,
}

/// The stretch of a way on which the voltage is lost: places as in [`Mark::at`]. The fault lies there, or what it has blown does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sides {
    /// Up to this place all is well.
    pub from: usize,
    /// From this one on it is not.
    pub to: usize,
}

/// What of a way lies between two leads: places as in [`Mark::at`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stretch {
    /// The load does.
    Around {
        /// Upstream lead.
        from: usize,
        /// Downstream lead.
        to: usize,
    },
    /// It does not.
    Within {
        /// Upstream lead.
        from: usize,
        /// Downstream lead.
        to: usize,
    },
}

/// Loads whose ways are told, where a complaint is about many.
const MOST_LOADS: usize = 2;

impl Way {
    fn new(trace: Trace, controls: bool) -> Self {
        let load = trace.feed.len();
        let steps = trace.feed.into_iter().chain([trace.load]).chain(trace.back).collect();
        Self { steps, load, controls, marks: Vec::new(), sides: None, flowing: Vec::new() }
    }

    /// The place of a node; the supply's minus is the end of the way, not its start.
    pub fn place(&self, node: NodeId) -> Option<usize> {
        let behind = self.steps.iter().position(|step| step.leave == node).map(|k| k + 1);
        behind.or_else(|| self.steps.first().filter(|step| step.enter == node).map(|_| 0))
    }

    /// Whether the current should flow in this set-up.
    pub(super) fn flows(&self, set_up: &SetUp) -> bool {
        self.flowing.contains(set_up)
    }

    /// The stretch between two leads that both stand on the way, and -1 where red stands behind black.
    pub(super) fn stretch(&self, red: NodeId, black: NodeId) -> Option<(Stretch, f64)> {
        let (red, black) = (self.place(red)?, self.place(black)?);
        let (from, to, sign) = if red <= black { (red, black, 1.0) } else { (black, red, -1.0) };
        let around = from <= self.load && self.load < to;
        Some((if around { Stretch::Around { from, to } } else { Stretch::Within { from, to } }, sign))
    }
}

impl Diagnosis<'_> {
    /// The ways of what is complained of, with all that was read along them.
    pub(super) fn ways(&self) -> Vec<Way> {
        let network = self.belief().network();
        let healthy = |set_up: &SetUp| {
            let branches = network.enter(&[], &network.fresh(), set_up).ok()?;
            branches.into_iter().next().map(|branch| branch.state)
        };
        let system = self.system();
        let Some(state) = healthy(&self.complaint().usual) else { return Vec::new() };
        let traces = system.traces_in(&state);
        let what = &self.complaint().what;
        let named = |trace: &&Trace| what.contains(&trace.load.part);
        let mut of: Vec<Trace> = traces.iter().filter(named).take(MOST_LOADS).cloned().collect();
        if of.is_empty() {
            // A fuse that blows, a part that runs hot: the way of the first current through it.
            let through = |trace: &&Trace| trace.feed.iter().chain(&trace.back).any(|step| what.contains(&step.part));
            of.extend(traces.iter().find(through).cloned());
        }
        let mut ways: Vec<Way> = of.into_iter().map(|trace| Way::new(trace, false)).collect();
        let switching = |step: &&Step| self.role(step.part) == Some(Role::Switching);
        let relays: BTreeSet<PartId> =
            ways.iter().flat_map(|way| &way.steps).filter(switching).map(|step| step.part).collect();
        let coils = relays.into_iter().flat_map(|relay| system.coil_traces_in(&state, relay));
        ways.extend(coils.map(|trace| Way::new(trace, true)));
        let mut set_ups: Vec<&SetUp> = Vec::new();
        for taken in self.taken() {
            if !set_ups.contains(&&taken.test.set_up) {
                set_ups.push(&taken.test.set_up);
            }
        }
        let states: Vec<_> = set_ups.into_iter().filter_map(|set_up| Some((set_up, healthy(set_up)?))).collect();
        for way in &mut ways {
            let Some(load) = way.steps.get(way.load).map(|step| step.part) else { continue };
            let amps = |state: &crate::network::Operating<'_>| {
                let inner = system.circuit.elements_of[load].iter();
                inner
                    .filter(|i| way.controls == is_coil(&system.circuit.netlist.elements[i.element].primitive))
                    .map(|i| state.current(i.element).get().abs())
                    .fold(0.0, f64::max)
            };
            let least = FLOWS.max(SHARE * amps(&state));
            let carries = |state: &crate::network::Operating<'_>| amps(state) > least;
            way.flowing =
                states.iter().filter(|(_, state)| carries(state)).map(|(set_up, _)| (*set_up).clone()).collect();
            way.marks = self.marks(way);
        }
        ways
    }

    fn role(&self, part: PartId) -> Option<Role> {
        let install = &self.system().install;
        Some(install.knowledge.kinds.get(install.parts.get(part)?.kind)?.role)
    }

    fn marks(&self, way: &Way) -> Vec<Mark> {
        let mut marks = Vec::new();
        for (position, taken) in self.taken().iter().enumerate().filter(|(_, t)| t.answer != Answer::NotTaken) {
            let (Probe::Volts { red, black, .. } | Probe::Light { red, black, .. }) = &taken.test.probe else {
                continue;
            };
            let crate::choice::Target::Points { red: point, .. } = taken.test.at else { continue };
            let (Some(at), Some(other)) = (way.place(*red), way.place(*black)) else { continue };
            if way.flows(&taken.test.set_up) {
                marks.push(Mark { at, point, other, taken: position });
            }
        }
        marks.sort_by_key(|mark| (mark.at, mark.taken));
        marks
    }

    /// The stretch on which the readings between two repairs leave the fault; those behind the last one only if it is not `cured`.
    pub(super) fn sides(&self, way: &Way, heard: &[Heard], cured: bool) -> Option<Sides> {
        // Where something works that should not, no voltage is lost.
        let should_work = |fact: &Fact| {
            let well = self.system().word_when_well(fact.sight, &fact.set_up);
            well.is_some() && well == self.system().good_word(fact.sight)
        };
        if !self.complaint().facts.iter().any(|fact| fact.wrong && way.flows(&fact.set_up) && should_work(fact)) {
            return None;
        }
        let mut ends: Vec<usize> = self.repairs_before().collect();
        ends.dedup();
        if !cured {
            ends.push(self.taken().len());
        }
        let starts = std::iter::once(0).chain(ends.iter().copied()).collect::<Vec<_>>();
        starts.into_iter().zip(ends).rev().find_map(|(start, end)| between(way, heard, start..end))
    }
}

/// The one stretch on which these readings leave the fault.
fn between(way: &Way, heard: &[Heard], readings: std::ops::Range<usize>) -> Option<Sides> {
    let mut left: Vec<bool> = way.steps.iter().map(|_| true).collect();
    let mut told = false;
    for mark in way.marks.iter().filter(|mark| readings.contains(&mark.taken)) {
        let Some(heard) = heard.get(mark.taken).filter(|heard| !heard.doubtful) else { continue };
        let inside = mark.at.min(mark.other)..mark.at.max(mark.other);
        // What the reading leaves: the inside of the two leads, or all but that.
        let keeps_inside = match heard.means {
            Means::Arrives | Means::Loses(_) => true,
            Means::Dead | Means::Missing(_) | Means::Sound => false,
            Means::Nothing | Means::Right | Means::Wrong => continue,
        };
        told |= heard.means != Means::Sound;
        for (k, left) in left.iter_mut().enumerate() {
            *left &= inside.contains(&k) == keeps_inside;
        }
    }
    // What is written down as one place is no stretch: a step between two equal nodes.
    let (first, last) = (left.iter().position(|l| *l)?, left.iter().rposition(|l| *l)?);
    let whole = left.get(first..=last)?.iter().all(|l| *l);
    let narrowed = last - first + 1 < left.len();
    (told && whole && narrowed).then_some(Sides { from: first, to: last + 1 })
}

/// Current in amps from which something flows.
const FLOWS: f64 = 1e-3;

/// Share of the current that should flow, from which it does. The lamp of a generator that charges carries a little.
const SHARE: f64 = 0.1;

fn is_coil(primitive: &crate::circuit::Primitive) -> bool {
    matches!(primitive, crate::circuit::Primitive::Coil { .. })
}
