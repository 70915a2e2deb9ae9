//! What switches next, and how: one method for each kind of change, called in the order of the physics.

use super::law::{Law, Status};
use super::settle::{Fuses, Run};
use crate::circuit::{Drive, Reset};
use crate::index::Id;

/// A breaker that resets when dead is dead below this voltage across its open contact.
const DEAD: f64 = 1.0;
/// Two fuses whose melting times differ by less than this factor race.
const RACE: f64 = 2.0;
/// Spread of the logarithm of the ratio of two melting times (from memory: single fuses scatter by
/// about a fifth).
const RACE_SPREAD: f64 = 0.3;

/// What one step of the loop has done.
pub(super) enum Step {
    Changed,
    Rest,
    /// Two fuses, and the probability that the first opens first.
    Race(usize, usize, f64),
}

impl Run {
    /// One step of the loop.
    pub(super) fn advance(&mut self, fuses: Fuses) -> Step {
        if self.electronics() || self.trips() {
            return Step::Changed;
        }
        if self.coils() || self.motors() {
            self.release_held();
            return Step::Changed;
        }
        if fuses == Fuses::Hold {
            return Step::Rest;
        }
        if self.dead_breakers() {
            self.release_held();
            return Step::Changed;
        }
        match self.overloads() {
            Step::Rest => {}
            step => return step,
        }
        if self.cooled() {
            self.release_held();
            return Step::Changed;
        }
        Step::Rest
    }

    /// What the controls and coils say reaches contacts, switches and converters.
    pub(super) fn follow(&mut self) {
        for index in 0..self.wiring.parts.len() {
            let part = self.wiring.parts[index];
            let now = self.status[index];
            match part.law {
                Law::Contact { drive, .. } => {
                    let command = self.wiring.command(drive, now.command, &self.status);
                    self.status[index].command = command;
                    self.status[index].on = part.stuck.unwrap_or(command);
                }
                Law::Switch { drive, .. } => {
                    let command = self.wiring.command(drive, now.command, &self.status);
                    let status = &mut self.status[index];
                    status.command = command;
                    status.held &= command;
                    status.on = part.stuck.unwrap_or(command && !status.held);
                }
                Law::ConverterInput { output, enable, .. } => {
                    let enabled = enable.is_none_or(|coil| self.wiring.pulled(coil as usize, &self.status));
                    if part.open || !enabled {
                        self.status[index].on = false;
                    }
                    self.switch_output(output, self.status[index].on);
                }
                Law::Source { .. }
                | Law::Resistance { .. }
                | Law::Filament { .. }
                | Law::Motor { .. }
                | Law::Power { .. }
                | Law::Fuse { .. }
                | Law::Coil { .. }
                | Law::ConverterOutput { .. }
                | Law::Diode { .. } => {}
            }
        }
    }

    fn switch_output(&mut self, output: u32, on: bool) {
        let output = output as usize;
        if let (Some(part), Some(status)) = (self.wiring.parts.get(output), self.status.get_mut(output))
            && matches!(part.law, Law::ConverterOutput { .. })
        {
            status.held &= on;
            status.on = on;
        }
    }

    /// Whether a part is a power element or converter input that is on.
    fn is_on(&self, index: usize) -> bool {
        matches!(self.wiring.parts[index].law, Law::Power { .. } | Law::ConverterInput { .. }) && self.status[index].on
    }

    /// The part that is on with the least voltage over its cut-off.
    pub(super) fn weakest(&self) -> Option<usize> {
        (0..self.wiring.parts.len())
            .filter(|index| self.is_on(*index))
            .min_by(|a, b| self.ratio(*a).total_cmp(&self.ratio(*b)))
    }

    fn ratio(&self, index: usize) -> f64 {
        let part = &self.wiring.parts[index];
        let ratio = part.above_cut_off(self.point.drop(part));
        if ratio.is_nan() { 0.0 } else { ratio }
    }

    pub(super) fn cut_out(&mut self, index: usize) {
        self.status[index].on = false;
        self.status[index].held = true;
        self.follow();
    }

    /// What cut out may try again once something else has changed.
    pub(super) fn release_held(&mut self) {
        for (part, status) in self.wiring.parts.iter().zip(&mut self.status) {
            if matches!(part.law, Law::Power { .. } | Law::ConverterInput { .. }) {
                status.held = false;
            }
        }
    }

    /// Constant-power elements and converters: the weakest that is below its cut-off goes off; when none
    /// is, all that have the voltage come on.
    fn electronics(&mut self) -> bool {
        if let Some(worst) = self.weakest()
            && self.ratio(worst) < 1.0
        {
            self.cut_out(worst);
            return true;
        }
        let mut any = false;
        for index in 0..self.wiring.parts.len() {
            let part = self.wiring.parts[index];
            let status = self.status[index];
            let enabled = match part.law {
                Law::Power { .. } => true,
                Law::ConverterInput { enable, .. } => {
                    enable.is_none_or(|coil| self.wiring.pulled(coil as usize, &self.status))
                }
                _ => continue,
            };
            if enabled && !part.open && !status.on && !status.held && self.ratio(index) >= 1.0 {
                self.status[index].on = true;
                any = true;
            }
        }
        if any {
            self.follow();
        }
        any
    }

    /// Electronic switches that carry too much switch themselves off.
    fn trips(&mut self) -> bool {
        let mut any = false;
        for (part, status) in self.wiring.parts.iter().zip(&mut self.status) {
            if let Law::Switch { trip: Some(trip), .. } = part.law
                && part.stuck.is_none()
                && part.conducts(*status)
                && status.on
                && part.branch(*status, self.point.drop(part)).amps.abs() > trip
            {
                status.held = true;
                any = true;
            }
        }
        if any {
            self.follow();
        }
        any
    }

    /// All coils that must move do so together, with their contacts.
    fn coils(&mut self) -> bool {
        let mut moved = Vec::new();
        for (index, part) in self.wiring.parts.iter().enumerate() {
            if let Law::Coil { pull_in, release, .. } = part.law {
                let volts = if part.open { 0.0 } else { self.point.drop(part).abs() };
                let pulled = self.status[index].on;
                let now = if pulled { volts >= release } else { volts >= pull_in };
                if now != pulled {
                    moved.push(index);
                }
            }
        }
        for index in &moved {
            self.status[*index].on = !self.status[*index].on;
        }
        if moved.is_empty() {
            return false;
        }
        self.latches(&moved);
        self.follow();
        true
    }

    /// Latching and stepping contacts act on the coils that have just pulled in. When both coils of a
    /// latch pull in at once it opens.
    fn latches(&mut self, moved: &[usize]) {
        let pulled = |coil: usize, status: &[Status]| moved.contains(&coil) && status[coil].on;
        for index in 0..self.wiring.parts.len() {
            let (Law::Contact { drive, .. } | Law::Switch { drive, .. }) = self.wiring.parts[index].law else {
                continue;
            };
            let command = match self.wiring.tables.drives.get(drive as usize) {
                Some(Drive::Latch { set, reset }) => {
                    if pulled(reset.position(), &self.status) {
                        false
                    } else {
                        self.status[index].command || pulled(set.position(), &self.status)
                    }
                }
                Some(Drive::Step { coil }) => self.status[index].command ^ pulled(coil.position(), &self.status),
                Some(Drive::Control { .. } | Drive::Coils { .. }) | None => continue,
            };
            self.status[index].command = command;
        }
    }

    fn motors(&mut self) -> bool {
        let mut any = false;
        for (part, status) in self.wiring.parts.iter().zip(&mut self.status) {
            if let Law::Motor { start, stop, .. } = part.law {
                let volts = if part.open { 0.0 } else { self.point.drop(part).abs() };
                let turning = if status.on { volts >= stop } else { volts >= start };
                any |= turning != status.on;
                status.on = turning;
            }
        }
        any
    }

    fn dead_breakers(&mut self) -> bool {
        let mut any = false;
        for (part, status) in self.wiring.parts.iter().zip(&mut self.status) {
            if let Law::Fuse { reset: Reset::WhenDead, .. } = part.law
                && status.on
                && self.point.drop(part).abs() < DEAD
            {
                status.on = false;
                any = true;
            }
        }
        any
    }

    /// Breakers that reset by themselves close again.
    fn cooled(&mut self) -> bool {
        let mut any = false;
        for (part, status) in self.wiring.parts.iter().zip(&mut self.status) {
            if let Law::Fuse { reset: Reset::ByItself, .. } = part.law
                && status.on
            {
                status.on = false;
                any = true;
            }
        }
        any
    }

    /// The overloaded fuse with the shortest melting time opens, unless another is close behind it.
    fn overloads(&mut self) -> Step {
        let mut melting: Vec<(f64, usize)> = Vec::new();
        for (index, (part, status)) in self.wiring.parts.iter().zip(&self.status).enumerate() {
            if let Law::Fuse { rating, gate, .. } = part.law
                && part.conducts(*status)
                && rating > 0.0
                && let Some(gate) = self.wiring.tables.gates.get(gate as usize)
            {
                let amps = part.branch(*status, self.point.drop(part)).amps.abs();
                if let Some(seconds) = gate.melting_seconds(amps / rating) {
                    melting.push((seconds, index));
                }
            }
        }
        melting.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        match melting.as_slice() {
            [] => Step::Rest,
            [(first, a), (second, b), ..] if *second < RACE * *first => {
                Step::Race(*a, *b, leads((second / first).ln() / RACE_SPREAD))
            }
            [(_, fuse), ..] => {
                let fuse = *fuse;
                self.blow(fuse);
                Step::Changed
            }
        }
    }
}

/// Logistic stand-in for the normal distribution function (within 0.01).
fn leads(z: f64) -> f64 {
    1.0 / (1.0 + (-1.702 * z).exp())
}
