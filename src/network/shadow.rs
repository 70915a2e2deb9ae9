//! The healthy circuit's way through a set-up, kept so that a suspect can be followed beside it: as long as
//! the few branches that a suspect changes alter no decision, its states are the healthy ones, and only the
//! state in which the two part (or the last) has to be solved for the suspect itself.
//!
//! Whether a decision is altered is told from the first-order change of each voltage that something senses,
//! and twice that change (what is left out is of second order); where that is not plain, the suspect is
//! followed for itself from there.

use super::base::{Base, Engine, key};
use super::law::{Branch, Law, Part, Status};
use super::point::{Point, dark_ring};
use super::solver::{Change, Port};
use super::wiring::Wiring;
use crate::circuit::Reset;
use std::mem::discriminant;
use std::sync::Arc;

/// With more edits than this a suspect goes its own way at once.
const EDITS: usize = 6;
/// A change below this many volts is none.
const NOTHING: f64 = 1e-9;
/// An update whose denominator is below this is left to the real solver.
const SINGULAR: f64 = 1e-6;

/// The states that the healthy circuit goes through on its way into a set-up.
#[derive(Clone)]
pub(super) struct Trace {
    pub(super) steps: Vec<Step>,
    /// Parts that sense a voltage or a current.
    sensing: Vec<u32>,
    /// From here on suspects cannot be followed beside it.
    closed: bool,
}

/// One solved state.
#[derive(Clone)]
pub(super) struct Step {
    /// How many controls have been moved.
    pub(super) stage: usize,
    /// The positions of all controls.
    pub(super) positions: Arc<[usize]>,
    /// The state as it was entered, before diodes and limits were put right.
    pub(super) entered: Vec<Status>,
    status: Vec<Status>,
    point: Point,
    base: Arc<Base>,
    /// Which of the sensing parts want to switch.
    wants: Vec<bool>,
}

impl Trace {
    /// A trace of `wiring` with no steps yet.
    pub(super) fn new(wiring: &Wiring) -> Self {
        let senses = |part: &Part| match part.law {
            Law::Coil { .. }
            | Law::Motor { .. }
            | Law::Power { .. }
            | Law::ConverterInput { .. }
            | Law::Fuse { .. }
            | Law::Diode { .. } => true,
            Law::Source { limit, .. } | Law::ConverterOutput { limit, .. } => limit.is_some(),
            Law::Switch { trip, .. } => trip.is_some(),
            Law::Resistance { .. } | Law::Filament { .. } | Law::Contact { .. } => false,
        };
        Self {
            steps: Vec::new(),
            closed: false,
            sensing: (0_u32..).zip(&wiring.parts).filter(|(_, part)| senses(part)).map(|(index, _)| index).collect(),
        }
    }

    /// Writes nothing more down: what comes now depends on more than the decision of each part.
    pub(super) fn close(&mut self) {
        self.closed = true;
    }

    /// Adds a solved state, up to the first beside which suspects cannot be followed.
    pub(super) fn push(
        &mut self,
        engine: &Engine,
        wiring: &Wiring,
        stage: usize,
        entered: Vec<Status>,
        status: &[Status],
        point: &Point,
    ) {
        if self.closed {
            return;
        }
        let Some((base, 0)) = engine.nearest(&key(&wiring.parts, status)) else {
            self.close();
            return;
        };
        let wants: Vec<bool> = self
            .sensing
            .iter()
            .map(|index| {
                let part = &wiring.parts[*index as usize];
                wants(wiring, part, status[*index as usize], point.drop(part))
            })
            .collect();
        // Where it is the order that matters (several cut out, a fuse opens) the decision is not that of
        // each part alone; nor is it where something closes again by itself.
        let (mut failing, mut overloaded, mut blown, mut others) = (0, false, false, false);
        for (index, wants) in self.sensing.iter().zip(&wants) {
            let on = status[*index as usize].on;
            match wiring.parts[*index as usize].law {
                Law::Fuse { reset, .. } => {
                    overloaded |= wants;
                    blown |= on && matches!(reset, Reset::ByItself | Reset::WhenDead);
                }
                Law::Power { .. } | Law::ConverterInput { .. } if *wants && on => failing += 1,
                _ => others |= wants,
            }
        }
        let orderly = failing <= 1 && !blown && (!overloaded || others || failing > 0);
        if !orderly || dark_ring(wiring, status, point) {
            self.close();
            return;
        }
        self.steps.push(Step {
            stage,
            positions: Arc::clone(&wiring.positions),
            entered,
            status: status.to_vec(),
            point: point.clone(),
            base,
            wants,
        });
    }

    /// The first step that a suspect has to be solved in for itself, the last at the latest.
    pub(super) fn parting(&self, engine: &Engine, suspect: &Wiring) -> Option<&Step> {
        let healthy = &engine.wiring;
        let mut changed: Vec<usize> = Vec::new();
        for (index, (before, now)) in healthy.parts.iter().zip(&suspect.parts).enumerate() {
            if before.differs(now) {
                changed.push(index);
            }
        }
        changed.extend(healthy.parts.len()..suspect.parts.len());
        let last = self.steps.len().checked_sub(1)?;
        if changed.len() > EDITS {
            return self.steps.first();
        }
        let parts = self.steps[..last].iter().find(|step| !self.agrees(engine, step, suspect, &changed));
        parts.or_else(|| self.steps.last())
    }

    /// Whether every decision in `step` is the same for the suspect.
    fn agrees(&self, engine: &Engine, step: &Step, suspect: &Wiring, changed: &[usize]) -> bool {
        let mut change = Change::default();
        let mut amps: Vec<f64> = Vec::new();
        let mut scratch = Vec::new();
        for index in changed {
            let now = &suspect.parts[*index];
            let Some(effect) = step.effect(engine, now, *index) else {
                return false;
            };
            if effect.amps == 0.0 && effect.siemens == 0.0 {
                continue;
            }
            let port = Port { plus: now.from, minus: now.to };
            let column = engine.column(&step.base, port, &mut scratch);
            let own = port.across(&column);
            if (effect.amps * own).abs() < NOTHING && effect.amps.abs() < NOTHING {
                continue;
            }
            if 1.0 + effect.siemens * own < SINGULAR {
                return false;
            }
            let place = change.ports.len();
            change.ports.push((port, column));
            change.coefficients.push((place, place, effect.siemens));
            amps.push(effect.amps);
        }
        if !change.injections(&mut amps) {
            return false;
        }
        for (wanted, index) in step.wants.iter().zip(&self.sensing) {
            let index = *index as usize;
            let part = &suspect.parts[index];
            let status = step.status[index];
            let volts = step.point.drop(part);
            let by: f64 = if part.conducts(status) || step.point.islands.joined(part.from, part.to) {
                let own = Port { plus: part.from, minus: part.to };
                (change.ports.iter().zip(&amps)).map(|((_, column), amps)| -own.across(column) * amps).sum()
            } else {
                0.0
            };
            let once = wants(suspect, part, status, volts + by);
            let twice = wants(suspect, part, status, volts + 2.0 * by);
            if once != *wanted || twice != *wanted {
                return false;
            }
        }
        true
    }
}

impl Step {
    /// By how much a part of the suspect carries more than the healthy one at the healthy voltage, and the
    /// same of the slope; `None` when it is of another kind or joins what was apart.
    fn effect(&self, engine: &Engine, now: &Part, index: usize) -> Option<Branch> {
        let healthy = engine.wiring.parts.get(index);
        let status = self.status.get(index).copied().unwrap_or_default();
        let apart = !self.point.islands.joined(now.from, now.to);
        let at = |part: &Part| {
            if part.conducts(status) { part.branch(status, self.point.drop(part)) } else { Branch::default() }
        };
        let Some(before) = healthy else {
            return (!apart).then(|| at(now));
        };
        if discriminant(&before.law) != discriminant(&now.law) {
            return None;
        }
        if now.stuck.is_some_and(|closed| closed != status.on) {
            return None;
        }
        let (was, is) = (before.conducts(status), now.conducts(status));
        if !was && !is {
            return Some(Branch::default());
        }
        if before.from != now.from || before.to != now.to || (is && !was && apart) {
            return None;
        }
        let (old, new) = (at(before), at(now));
        Some(Branch { amps: new.amps - old.amps, siemens: new.siemens - old.siemens, scale: 0.0 })
    }
}

/// Whether a part wants to switch at `volts`.
fn wants(wiring: &Wiring, part: &Part, status: Status, volts: f64) -> bool {
    if part.open {
        // Nothing reaches what has no connection; it lets go if it was in.
        return status.on
            && matches!(
                part.law,
                Law::Coil { .. }
                    | Law::Motor { .. }
                    | Law::Power { .. }
                    | Law::ConverterInput { .. }
                    | Law::Diode { .. }
            );
    }
    match part.law {
        Law::Coil { pull_in, release, .. } => threshold(status.on, volts.abs(), pull_in, release),
        Law::Motor { start, stop, .. } => threshold(status.on, volts.abs(), start, stop),
        Law::Power { .. } | Law::ConverterInput { .. } => {
            let enough = part.above_cut_off(volts) >= 1.0;
            enough != status.on
        }
        Law::Fuse { rating, gate, .. } => {
            let amps = part.branch(status, volts).amps.abs();
            let gate = wiring.tables.gates.get(gate as usize);
            !status.on && rating > 0.0 && gate.is_some_and(|g| g.melting_seconds(amps / rating).is_some())
        }
        Law::Switch { trip: Some(trip), .. } => status.on && part.branch(status, volts).amps.abs() > trip,
        Law::Diode { .. } | Law::Source { .. } | Law::ConverterOutput { .. } => {
            part.contradiction(status, volts).is_some()
        }
        Law::Resistance { .. } | Law::Filament { .. } | Law::Contact { .. } | Law::Switch { trip: None, .. } => false,
    }
}

fn threshold(on: bool, volts: f64, up: f64, down: f64) -> bool {
    if on { volts < down } else { volts >= up }
}
