//! What switches next, one method for each kind of change.

use super::law::{LEAST_CUT_OFF, Stand};
use super::machine::Machine;
use crate::circuit::{Drive, ElementId, Primitive, Reset};
use crate::index::Id;

/// A breaker that resets when dead counts as dead below this many volts across its open contact.
const DEAD: f64 = 1.0;

impl Machine {
    /// Lets the next thing switch; whether anything did.
    pub(super) fn switch(&mut self) -> bool {
        if self.electronics() || self.trips() {
            return true;
        }
        let moved = self.coils() || self.motors() || self.resets(Reset::WhenDead) || self.melts();
        // A breaker that cools down closes when all else has been tried.
        let moved = moved || self.resets(Reset::ByItself);
        if moved {
            self.try_again();
        }
        moved
    }

    /// Whether a coil is pulled in.
    fn pulled(&self, coil: ElementId) -> bool {
        let index = coil.position();
        index < self.wired.own
            && matches!(self.wired.pieces[index].what, Primitive::Coil { .. })
            && self.stands[index].on
    }

    fn wants(&self, drive: &Drive, now: bool) -> bool {
        match drive {
            Drive::Control { control, positions } => {
                self.wired.positions.get(control.position()).is_some_and(|at| positions.contains(at))
            }
            Drive::Coils { coils, closed_at_rest } => coils.iter().any(|coil| self.pulled(*coil)) != *closed_at_rest,
            Drive::Latch { .. } | Drive::Step { .. } => now,
        }
    }

    /// Contacts and switches go where controls and coils have them.
    pub(super) fn obey(&mut self) {
        for index in 0..self.wired.pieces.len() {
            let now = self.stands[index];
            let piece = &self.wired.pieces[index];
            let next = match &piece.what {
                Primitive::Contact { drive, .. } => {
                    let wants = self.wants(drive, now.wants);
                    Stand { on: wants, wants, waits: false }
                }
                Primitive::ElectronicSwitch { drive, .. } => {
                    let wants = self.wants(drive, now.wants);
                    let waits = now.waits && wants;
                    Stand { on: wants && !waits, wants, waits }
                }
                Primitive::ConverterInput { enable, output, .. } => {
                    let enabled = enable.is_none_or(|coil| self.pulled(coil));
                    let on = now.on && enabled && !piece.open;
                    // What delivers nothing is not in its limit.
                    if let Some(limited) = self.stands.get_mut(output.position()).filter(|_| !on) {
                        limited.on = false;
                    }
                    Stand { on, ..now }
                }
                _ => continue,
            };
            self.stands[index] = next;
        }
    }

    /// Volts over cut-off of a constant power or converter, if it is one that could be on.
    fn ratio(&self, index: usize) -> Option<f64> {
        let piece = &self.wired.pieces[index];
        let volts = self.point.across(&self.wired, index);
        let (sensed, cut_off) = match &piece.what {
            Primitive::Power { cut_off, polarised, .. } => (if *polarised { volts } else { volts.abs() }, cut_off),
            Primitive::ConverterInput { cut_off, enable, .. } if enable.is_none_or(|coil| self.pulled(coil)) => {
                (volts, cut_off)
            }
            _ => return None,
        };
        Some(if piece.open { 0.0 } else { sensed / cut_off.get().max(LEAST_CUT_OFF) })
    }

    /// The constant power that is on with the least volts over its cut-off.
    pub(super) fn worst_off(&self) -> Option<usize> {
        let on = (0..self.wired.pieces.len()).filter(|k| self.stands[*k].on);
        let ratios = on.filter_map(|k| Some((k, self.ratio(k)?)));
        ratios.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
    }

    pub(super) fn cut_out(&mut self, index: usize) {
        self.stands[index] = Stand { on: false, waits: true, ..self.stands[index] };
        self.obey();
    }

    /// What has cut out may come on again: something else has changed.
    pub(super) fn try_again(&mut self) {
        for (piece, stand) in self.wired.pieces.iter().zip(&mut self.stands) {
            if matches!(piece.what, Primitive::Power { .. } | Primitive::ConverterInput { .. }) {
                stand.waits = false;
            }
        }
    }

    /// The constant power furthest below its cut-off goes off; when none is, all that have the volts come on.
    fn electronics(&mut self) -> bool {
        if let Some(worst) = self.worst_off()
            && self.ratio(worst).is_some_and(|ratio| ratio < 1.0)
        {
            self.cut_out(worst);
            return true;
        }
        let able =
            |k: &usize| !self.stands[*k].on && !self.stands[*k].waits && self.ratio(*k).is_some_and(|r| r >= 1.0);
        let able: Vec<usize> = (0..self.wired.pieces.len()).filter(able).collect();
        for k in &able {
            self.stands[*k].on = true;
        }
        !able.is_empty()
    }

    /// Electronic switches that carry too much go off until they are commanded off.
    fn trips(&mut self) -> bool {
        let mut any = false;
        for (index, piece) in self.wired.pieces.iter().enumerate() {
            if let Primitive::ElectronicSwitch { trip: Some(trip), .. } = &piece.what
                && piece.stuck.is_none()
                && !piece.open
                && self.stands[index].on
                && self.point.amps[index].abs() > trip.get()
            {
                self.stands[index].waits = true;
                any = true;
            }
        }
        self.obey();
        any
    }

    /// All coils that must move do so together, their contacts with them.
    fn coils(&mut self) -> bool {
        let moves = |index: &usize| {
            let piece = &self.wired.pieces[*index];
            let Primitive::Coil { pull_in, release, .. } = &piece.what else { return false };
            let volts = if piece.open { 0.0 } else { self.point.across(&self.wired, *index).abs() };
            if self.stands[*index].on { volts < release.get() } else { volts >= pull_in.get() }
        };
        let moved: Vec<usize> = (0..self.wired.pieces.len()).filter(moves).collect();
        if moved.is_empty() {
            return false;
        }
        for index in &moved {
            self.stands[*index].on = !self.stands[*index].on;
        }
        let rose = |coil: &ElementId, now: &Self| moved.contains(&coil.position()) && now.pulled(*coil);
        for index in 0..self.wired.pieces.len() {
            let (Primitive::Contact { drive, .. } | Primitive::ElectronicSwitch { drive, .. }) =
                &self.wired.pieces[index].what
            else {
                continue;
            };
            let now = self.stands[index].wants;
            self.stands[index].wants = match drive {
                // Both at once: it opens.
                Drive::Latch { reset, .. } if rose(reset, self) => false,
                Drive::Latch { set, .. } if rose(set, self) => true,
                Drive::Step { coil } if rose(coil, self) => !now,
                _ => now,
            };
        }
        self.obey();
        true
    }

    fn motors(&mut self) -> bool {
        let mut any = false;
        for (index, piece) in self.wired.pieces.iter().enumerate() {
            if let Primitive::Motor { start, stop, .. } = &piece.what {
                let volts = if piece.open { 0.0 } else { self.point.across(&self.wired, index).abs() };
                let turns = volts >= if self.stands[index].on { stop.get() } else { start.get() };
                any |= turns != self.stands[index].on;
                self.stands[index].on = turns;
            }
        }
        any
    }

    /// Breakers that close again in this way.
    fn resets(&mut self, way: Reset) -> bool {
        let mut any = false;
        for (index, piece) in self.wired.pieces.iter().enumerate() {
            if let Primitive::Fuse { reset, .. } = &piece.what
                && *reset == way
                && self.stands[index].on
                && (way == Reset::ByItself || self.point.across(&self.wired, index).abs() < DEAD)
            {
                self.stands[index].on = false;
                any = true;
            }
        }
        any
    }

    /// Of all overloaded fuses the one that melts first opens.
    fn melts(&mut self) -> bool {
        let melting = (0..self.wired.pieces.len()).filter_map(|index| {
            let piece = &self.wired.pieces[index];
            let Primitive::Fuse { rating, gate, .. } = &piece.what else { return None };
            if piece.open || self.stands[index].on || rating.get() <= 0.0 {
                return None;
            }
            let seconds = gate.melting_seconds(self.point.amps[index].abs() / rating.get())?;
            Some((index, seconds * self.wired.melting.get(index).copied().unwrap_or(1.0)))
        });
        let first = melting.min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
        if let Some((index, _)) = first {
            self.stands[index].on = true;
        }
        first.is_some()
    }
}
