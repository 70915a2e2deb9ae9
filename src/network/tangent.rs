//! The linear system of one Newton step: a kept factor of the healthy circuit and the few branches and pins
//! by which the present circuit differs from it.

use super::base::{Base, Engine, Tally, key};
use super::islands::Islands;
use super::law::{Part, Status};
use super::linear::Linear;
use super::point::Point;
use super::solver::{Change, NOWHERE, Port};
use super::wiring::Wiring;
use std::sync::Arc;

/// How exactly the tangent is followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sharpness {
    /// Slopes within [`NEAR`] of the factor's stay as they are there: the residual is exact, so this costs a
    /// step and no accuracy. Cross terms of converters are left out.
    Chord,
    /// Everything that differs is in the change.
    Exact,
    /// A factor of its own.
    Own,
}

/// Slopes that differ by less than this share need no port of their own.
const NEAR: f64 = 0.05;

/// The tangent system of a circuit in one state.
pub(super) struct Tangent<'e> {
    engine: &'e Engine,
    base: Arc<Base>,
    /// The state is the base's own.
    same: bool,
    /// The base was made for this very state, its tangents being taken elsewhere.
    made: bool,
    islands: Arc<Islands>,
    /// Pins that the base has and this state does not, and the other way round.
    pins: Vec<(u32, f64)>,
    sharpness: Sharpness,
    transposed: bool,
    scratch: Vec<f64>,
}

fn port(part: &Part) -> Port {
    Port { plus: part.from, minus: part.to }
}

impl<'e> Tangent<'e> {
    /// Finds the nearest factored state, or factors this one.
    pub(super) fn new(engine: &'e Engine, wiring: &Wiring, status: &[Status], point: &Point) -> Option<Self> {
        let elements = wiring.elements;
        let key = key(&wiring.parts[..elements], &status[..elements]);
        let few = u32::try_from(longest(wiring.nodes) / 2).unwrap_or(u32::MAX);
        let (base, same, made) = match engine.nearest(&key) {
            Some((base, distance)) if distance <= few && !(distance > 0 && wiring.healthy) => {
                (base, distance == 0, false)
            }
            _ => (engine.make(wiring, status, &point.volts)?, false, true),
        };
        let islands = islands(engine, &base, wiring, status);
        let pins = if Arc::ptr_eq(&islands, &base.islands) {
            Vec::new()
        } else {
            let gone = base.islands.data.iter().filter(|d| !islands.pinned(**d));
            let new = islands.data.iter().filter(|d| !base.islands.pinned(**d));
            gone.map(|d| (*d, -1.0)).chain(new.map(|d| (*d, 1.0))).collect()
        };
        Some(Self {
            engine,
            base,
            same,
            made,
            islands,
            pins,
            sharpness: Sharpness::Chord,
            transposed: false,
            scratch: Vec::new(),
        })
    }

    pub(super) fn islands(&self) -> Arc<Islands> {
        Arc::clone(&self.islands)
    }

    /// Potentials of the healthy circuit in this state, when they are known.
    pub(super) fn healthy(&self) -> Option<&[f64]> {
        self.same.then_some(self.base.volts.as_slice())
    }

    /// Takes the tangents of a state just factored where it has come to rest.
    pub(super) fn renew(&self, wiring: &Wiring, status: &[Status], volts: &[f64]) {
        if self.made {
            // Without a factor at the new place the old one stays: nothing is lost but speed.
            let _ = self.engine.make(wiring, status, volts);
        }
    }

    /// Solves the transposed system from here on.
    pub(super) fn transpose(&mut self) {
        self.transposed = true;
    }

    /// Follows the tangent more exactly from here on.
    pub(super) fn sharpen(&mut self) {
        self.sharpness = match self.sharpness {
            Sharpness::Chord => Sharpness::Exact,
            Sharpness::Exact | Sharpness::Own => Sharpness::Own,
        };
    }

    /// Whether it has the pins of the kept factor: only then is a change of that as good as a factor of its own.
    pub(super) fn keeps_pins(&self) -> bool {
        self.pins.is_empty()
    }

    /// Follows the tangent as exactly as a change of the kept factor can, from here on.
    pub(super) fn follow_exactly(&mut self) {
        if self.sharpness == Sharpness::Chord {
            self.sharpness = Sharpness::Exact;
        }
    }

    /// Whether it has come to a factor of its own.
    pub(super) fn is_own(&self) -> bool {
        self.sharpness == Sharpness::Own
    }

    /// The step that takes `left` away.
    pub(super) fn step(
        &mut self,
        wiring: &Wiring,
        status: &[Status],
        linear: &Linear,
        left: &[f64],
        round: usize,
    ) -> Option<Vec<f64>> {
        if self.sharpness != Sharpness::Own {
            let differences = self.differences(wiring, status, linear);
            if differences.len() + self.pins.len() <= longest(wiring.nodes) {
                if let Some(step) = self.low_rank(&differences, left) {
                    Tally::add(&self.engine.tally.low_rank);
                    if round > 0 {
                        Tally::add(&self.engine.tally.refinements);
                    }
                    return Some(step);
                }
                self.sharpness = Sharpness::Own;
            }
        }
        Tally::add(&self.engine.tally.refactorizations);
        self.own(wiring, status, linear, left)
    }

    /// Where the circuit differs from the factor: `(row, column, siemens)`.
    fn differences(&self, wiring: &Wiring, status: &[Status], linear: &Linear) -> Vec<(Port, Port, f64)> {
        let mut found = Vec::new();
        let near = if self.sharpness == Sharpness::Chord { NEAR } else { 1e-12 };
        let healthy = &self.engine.wiring.parts;
        for (index, (part, branch)) in wiring.parts.iter().zip(&linear.branches).enumerate() {
            let siemens = branch.siemens;
            let Some((before, stamp)) = healthy.get(index).zip(self.base.stamps.get(index)) else {
                if siemens != 0.0 && part.from != part.to {
                    found.push((port(part), port(part), siemens));
                }
                continue;
            };
            if part.from == before.from && part.to == before.to {
                let by = siemens - stamp;
                // A part that neither law nor state bends differs by its edit alone: always exactly.
                let slack = if part.bends(status[index]) { near } else { 0.0 };
                if by != 0.0 && by.abs() > slack * stamp.abs().min(siemens.abs()) && part.from != part.to {
                    found.push((port(part), port(part), by));
                }
            } else {
                if *stamp != 0.0 && before.from != before.to {
                    found.push((port(before), port(before), -stamp));
                }
                if siemens != 0.0 && part.from != part.to {
                    found.push((port(part), port(part), siemens));
                }
            }
        }
        self.draws(wiring, linear, &mut found);
        found
    }

    /// Slopes of converters' draws.
    fn draws(&self, wiring: &Wiring, linear: &Linear, found: &mut Vec<(Port, Port, f64)>) {
        if self.sharpness == Sharpness::Chord {
            return;
        }
        for (row, column, siemens) in &linear.draws {
            let (row, column) = (port(&wiring.parts[*row as usize]), port(&wiring.parts[*column as usize]));
            if row.plus == row.minus || column.plus == column.minus {
                continue;
            }
            if self.transposed {
                found.push((column, row, *siemens));
            } else {
                found.push((row, column, *siemens));
            }
        }
    }

    /// The step by a change of the kept factor.
    fn low_rank(&mut self, differences: &[(Port, Port, f64)], left: &[f64]) -> Option<Vec<f64>> {
        let mut change = Change::default();
        let mut place = |port: Port, scratch: &mut Vec<f64>| -> usize {
            let found = change.ports.iter().position(|(p, _)| *p == port);
            found.unwrap_or_else(|| {
                let column = self.engine.column(&self.base, port, scratch);
                change.ports.push((port, column));
                change.ports.len() - 1
            })
        };
        let mut coefficients = Vec::with_capacity(differences.len() + self.pins.len());
        for (row, column, siemens) in differences {
            let row = place(*row, &mut self.scratch);
            let column = place(*column, &mut self.scratch);
            coefficients.push((row, column, *siemens));
        }
        for (datum, siemens) in &self.pins {
            let pin = Port { plus: *datum, minus: NOWHERE };
            let pin = place(pin, &mut self.scratch);
            coefficients.push((pin, pin, *siemens));
        }
        change.coefficients = coefficients;
        let mut step = left.to_vec();
        self.base.factor.solve(&mut step, &mut self.scratch);
        let regular = change.correct(&mut step);
        (regular && step.iter().all(|x| x.is_finite())).then_some(step)
    }

    /// The step by a factor of the circuit itself.
    fn own(&mut self, wiring: &Wiring, status: &[Status], linear: &Linear, left: &[f64]) -> Option<Vec<f64>> {
        let healthy = &self.engine.wiring.parts;
        let mut stamps: Vec<(u32, u32, f64)> = healthy.iter().map(|part| (part.from, part.to, 0.0)).collect();
        let mut more = Vec::new();
        let mut found: Vec<(Port, Port, f64)> = Vec::new();
        for (index, ((part, status), branch)) in wiring.parts.iter().zip(status).zip(&linear.branches).enumerate() {
            if part.from == part.to || !part.conducts(*status) {
                continue;
            }
            let stamp = part.stamp(*status, branch.siemens);
            match stamps.get_mut(index) {
                Some(place) if (place.0, place.1) == (part.from, part.to) => place.2 = stamp,
                _ => more.push((part.from, part.to, stamp)),
            }
            let rest = branch.siemens - stamp;
            if rest != 0.0 {
                found.push((port(part), port(part), rest));
            }
        }
        self.draws(wiring, linear, &mut found);
        let factor = self.engine.factor(&mut stamps, &more, &self.islands.data)?;
        let mut change = Change::default();
        for (row, column, siemens) in found {
            let place = change.ports.len();
            for port in [row, column] {
                let column = factor.column(port, &mut self.scratch);
                change.ports.push((port, column.into()));
            }
            change.coefficients.push((place, place + 1, siemens));
        }
        let mut step = left.to_vec();
        factor.solve(&mut step, &mut self.scratch);
        let regular = change.correct(&mut step);
        (regular && step.iter().all(|x| x.is_finite())).then_some(step)
    }
}

/// So many ports a low-rank change may have before a factor of its own is quicker (measured, see the
/// developers' notes).
fn longest(nodes: usize) -> usize {
    (nodes / 8).clamp(12, 64)
}

/// The islands of the present state: the base's when nothing was opened and nothing closed joins two.
fn islands(engine: &Engine, base: &Base, wiring: &Wiring, status: &[Status]) -> Arc<Islands> {
    let healthy = &engine.wiring.parts;
    let same = wiring.parts.iter().zip(status).enumerate().all(|(index, (part, status))| {
        let conducts = part.conducts(*status);
        let before = healthy.get(index).zip(base.stamps.get(index));
        let moved = before.is_some_and(|(b, _)| b.from != part.from || b.to != part.to || b.drives() != part.drives());
        let conducted = before.is_some_and(|(_, stamp)| *stamp != 0.0);
        match (conducted, conducts) {
            (false, false) => true,
            (true, true) if !moved => true,
            (false, true) => base.islands.joined(part.from, part.to) && !part.drives(),
            (true, _) => false,
        }
    });
    if same {
        Arc::clone(&base.islands)
    } else {
        Arc::new(Islands::new(wiring.nodes, &wiring.parts, status, Some(&base.islands)))
    }
}
