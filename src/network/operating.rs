//! A solved operating point: what can be asked of it.

use super::ElementState;
use super::law::{Law, Status};
use super::linear::Linear;
use super::memory::Memory;
use super::point::Point;
use super::settle::Run;
use super::wiring::Wiring;
use crate::circuit::{ElementId, NodeId};
use crate::index::Id;
use crate::units::{Amps, Volts};
use std::marker::PhantomData;
use std::sync::Arc;

/// A solved operating point.
///
/// Where the circuit chatters, or electronic switches pulse, voltages and currents are the mean over the
/// states that it goes through.
#[derive(Clone)]
pub struct Operating<'n> {
    pub(super) wiring: Arc<Wiring>,
    pub(super) phases: Vec<Phase>,
    /// The phase from which things go on: the last of a chatter, the first (all on) of pulses.
    last: usize,
    memory: Memory,
    chatter: Vec<ElementId>,
    netlist: PhantomData<&'n ()>,
}

/// One of the states that the circuit is in, and for which share of the time.
#[derive(Clone)]
pub(super) struct Phase {
    pub weight: f64,
    pub status: Vec<Status>,
    pub point: Point,
    /// Current of each part.
    pub amps: Vec<f64>,
}

impl Phase {
    fn new(weight: f64, wiring: &Wiring, status: Vec<Status>, point: Point) -> Self {
        let amps = Linear::new(wiring, &status, &point)
            .branches
            .iter()
            .map(|b| b.amps)
            .collect();
        Self {
            weight,
            status,
            point,
            amps,
        }
    }
}

impl Operating<'_> {
    pub(super) fn new(run: Run) -> Self {
        let Run {
            wiring,
            status,
            point,
            cycle,
            pulsed,
            ..
        } = run;
        let mut chatter = Vec::new();
        for index in 0..wiring.elements {
            let jumps = |(_, other, _): &(f64, Vec<Status>, Point)| {
                other.get(index).map(|s| s.on) != status.get(index).map(|s| s.on)
            };
            if !pulsed && cycle.iter().any(jumps) {
                chatter.push(ElementId::new(index));
            }
        }
        let memory =
            Memory::of(&wiring.parts[..wiring.elements], &status).standing(&wiring.positions);
        let phases = if cycle.is_empty() {
            vec![Phase::new(1.0, &wiring, status, point)]
        } else {
            cycle
                .into_iter()
                .map(|(weight, status, point)| Phase::new(weight, &wiring, status, point))
                .collect()
        };
        let last = if pulsed { 0 } else { phases.len() - 1 };
        Self {
            wiring: Arc::new(wiring),
            phases,
            last,
            memory,
            chatter,
            netlist: PhantomData,
        }
    }

    /// The state from which things go on.
    pub(super) fn last(&self) -> Option<&Phase> {
        self.phases.get(self.last)
    }

    /// Voltage of `a` against `b`; `None` when nothing joins them.
    pub fn voltage(&self, a: NodeId, b: NodeId) -> Option<Volts> {
        let (a, b) = (self.wiring.node(a)?, self.wiring.node(b)?);
        let (mut sum, mut joined) = (0.0, false);
        for phase in &self.phases {
            if phase.point.islands.joined(a, b) {
                joined = true;
                sum +=
                    phase.weight * (phase.point.volts[a as usize] - phase.point.volts[b as usize]);
            }
        }
        joined.then(|| finite(sum))
    }

    /// Current through an element, from `from` to `to`.
    pub fn current(&self, element: ElementId) -> Amps {
        let sum = self
            .phases
            .iter()
            .map(|p| p.weight * p.amps.get(element.position()).copied().unwrap_or(0.0))
            .sum::<f64>();
        Amps::try_from(sum).unwrap_or_default()
    }

    /// Voltage across an element (`from` minus `to`); zero across a floating one.
    pub fn drop(&self, element: ElementId) -> Volts {
        let Some(part) = self.wiring.parts.get(element.position()) else {
            return Volts::ZERO;
        };
        finite(
            self.phases
                .iter()
                .map(|p| p.weight * p.point.drop(part))
                .sum(),
        )
    }

    /// How an element stands.
    pub fn state(&self, element: ElementId) -> ElementState {
        let index = element.position();
        let last = self.last().and_then(|p| p.status.get(index));
        let (Some(part), Some(status)) = (self.wiring.parts.get(index), last) else {
            return ElementState::Plain;
        };
        match part.law {
            Law::Coil { .. } => ElementState::Coil(status.on),
            Law::Contact { .. } | Law::Switch { .. } => {
                ElementState::Contact(part.closed(*status) && !part.open)
            }
            Law::Fuse { .. } => ElementState::Fuse(!status.on),
            Law::Diode { .. } => ElementState::Diode(status.on),
            Law::Motor { .. } => ElementState::Motor(status.on),
            Law::Power { .. } | Law::ConverterInput { .. } => ElementState::Power(status.on),
            Law::ConverterOutput { limit, .. } => {
                if status.on && limit.is_some() {
                    ElementState::Source(status.held)
                } else {
                    ElementState::Power(status.on)
                }
            }
            Law::Source { limit: Some(_), .. } => ElementState::Source(status.on),
            Law::Source { .. } | Law::Resistance { .. } | Law::Filament { .. } => {
                ElementState::Plain
            }
        }
    }

    /// Elements that chatter; empty when the state settled.
    pub fn chatter(&self) -> &[ElementId] {
        &self.chatter
    }

    /// What outlives this set-up.
    pub fn memory(&self) -> &Memory {
        &self.memory
    }
}

/// A voltage that is no number cannot come out of a solved point.
fn finite(volts: f64) -> Volts {
    Volts::try_from(volts).unwrap_or_default()
}
