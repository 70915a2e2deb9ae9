//! The state loop: what must switch does, fastest first, until nothing changes or the changes repeat.
//!
//! The order is that of the physics: diodes, limits and electronics at once, electronic trips in
//! milliseconds, then relay coils (all that must move do so together, contacts with them), then motors, and
//! only when all of these rest does a fuse open, one at a time, the quickest first.

use super::base::Engine;
use super::law::{Law, Status};
use super::point::{self, Care, NoPoint, Point};
use super::shadow::{Step as Parting, Trace};
use super::wiring::Wiring;
use crate::circuit::{Drive, Reset};
use crate::index::Id;

/// A breaker that resets when dead is dead below this voltage across its open contact.
const DEAD: f64 = 1.0;
/// Two fuses whose melting times differ by less than this factor race.
const RACE: f64 = 2.0;
/// Spread of the logarithm of the ratio of two melting times (from memory: single fuses scatter by
/// about a fifth).
const RACE_SPREAD: f64 = 0.3;

/// Whether fuses may open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fuses {
    Blow,
    Hold,
}

/// A circuit on its way through a set-up.
#[derive(Clone)]
pub(super) struct Run {
    pub(super) wiring: Wiring,
    pub(super) status: Vec<Status>,
    pub(super) point: Point,
    /// The states of a cycle when the last stage did not settle, or those between which pulsed switches
    /// go; with the share of the time of each.
    pub(super) cycle: Vec<(f64, Vec<Status>, Point)>,
    /// The states of `cycle` are those of pulsed switches: a meter reads their mean, nothing chatters.
    pub(super) pulsed: bool,
    /// How many controls have been moved.
    pub(super) stage: usize,
    /// Where the healthy way is written down.
    pub(super) trace: Option<Trace>,
}

/// How a stage ended.
pub(super) enum Outcome {
    /// Nothing more changes, or `cycle` is filled.
    Settled,
    /// Two fuses race: the parts, and the probability that the first opens first.
    Race(usize, usize, f64),
}

impl Run {
    /// A circuit in the state `status`, nothing solved yet.
    pub(super) fn new(wiring: Wiring, mut status: Vec<Status>) -> Self {
        status.resize(wiring.parts.len(), Status::default());
        let mut run = Self {
            wiring,
            status,
            point: Point::default(),
            cycle: Vec::new(),
            pulsed: false,
            stage: 0,
            trace: None,
        };
        run.follow();
        run
    }

    /// A suspect where it leaves the healthy way.
    pub(super) fn beside(mut wiring: Wiring, step: &Parting) -> Self {
        wiring.take_positions(&step.positions);
        let mut run = Self::new(wiring, step.entered.clone());
        run.stage = step.stage;
        run
    }

    /// Runs the loop from here until it settles. `care` says how well the state is solved in which it does;
    /// on the way there it is enough to see what switches.
    pub(super) fn settle(
        &mut self,
        engine: &Engine,
        fuses: Fuses,
        care: Care,
    ) -> Result<Outcome, NoPoint> {
        self.cycle.clear();
        self.pulsed = false;
        let mut seen: Vec<Vec<Status>> = Vec::new();
        let bound = 64 + 4 * self.wiring.parts.len();
        let mut now = Care::Rough;
        loop {
            let entered = self.trace.as_ref().map(|_| self.status.clone());
            self.solve(engine, now)?;
            if let Some(entered) = entered {
                self.write_down(engine, entered);
            }
            let repeated = seen.iter().position(|s| *s == self.status);
            if let Some(first) = repeated.or((seen.len() > bound).then_some(bound)) {
                let length = seen.len() - first;
                self.trace = None;
                self.record_cycle(engine, length, fuses)?;
                return Ok(Outcome::Settled);
            }
            seen.push(self.status.clone());
            match self.advance(fuses) {
                Step::Changed => {
                    now = Care::Rough;
                    self.point.close = false;
                }
                Step::Rest if now == care => return Ok(Outcome::Settled),
                Step::Rest => {
                    // Once more with care: what is close to a threshold may still switch.
                    now = care;
                    seen.pop();
                }
                Step::Race(a, b, share) => return Ok(Outcome::Race(a, b, share)),
            }
        }
    }

    /// Solves the states between which switches with an on-off ratio go. They all come on together; the
    /// one with the smallest share goes off first. Relays and motors stay as they are in the on state.
    pub(super) fn pulse(&mut self, engine: &Engine) -> Result<(), NoPoint> {
        let mut shares: Vec<f64> = (0..self.wiring.parts.len())
            .filter_map(|index| self.share(index))
            .collect();
        shares.sort_by(f64::total_cmp);
        shares.dedup();
        if !self.cycle.is_empty() || shares.is_empty() {
            return Ok(());
        }
        self.cycle
            .push((shares[0], self.status.clone(), self.point.clone()));
        for (place, share) in shares.iter().enumerate() {
            let until = shares.get(place + 1).copied().unwrap_or(1.0);
            let mut off = self.clone();
            for index in 0..off.wiring.parts.len() {
                if self.share(index).is_some_and(|own| own <= *share) {
                    off.status[index].on = false;
                }
            }
            off.point.close = false;
            off.solve(engine, Care::Fine)?;
            self.cycle.push((until - share, off.status, off.point));
        }
        self.pulsed = true;
        Ok(())
    }

    /// The share of the time that a switch which is on conducts, when it is not all of it.
    fn share(&self, index: usize) -> Option<f64> {
        match self.wiring.parts[index].law {
            Law::Switch { on_share, .. }
                if self.status[index].on
                    && self.wiring.parts[index].stuck.is_none()
                    && on_share < 1.0 =>
            {
                Some(on_share.clamp(0.0, 1.0))
            }
            _ => None,
        }
    }

    /// Opens a fuse (the outcome of a race).
    pub(super) fn blow(&mut self, fuse: usize) {
        self.point.close = false;
        self.status[fuse].on = true;
        self.release_held();
    }

    /// Writes a solved state down; a way that cannot be followed is dropped whole.
    fn write_down(&mut self, engine: &Engine, entered: Vec<Status>) {
        if let Some(mut trace) = self.trace.take()
            && trace.push(
                engine,
                &self.wiring,
                self.stage,
                entered,
                &self.status,
                &self.point,
            )
        {
            self.trace = Some(trace);
        }
    }

    /// Runs once round a cycle of `length` states and keeps them.
    fn record_cycle(
        &mut self,
        engine: &Engine,
        length: usize,
        fuses: Fuses,
    ) -> Result<(), NoPoint> {
        /// More states than this say nothing more about the mean.
        const KEPT: usize = 16;
        for _ in 0..length.min(KEPT) {
            self.solve(engine, Care::Fine)?;
            self.cycle.push((
                1.0 / length.min(KEPT) as f64,
                self.status.clone(),
                self.point.clone(),
            ));
            match self.advance(fuses) {
                Step::Race(fuse, ..) => self.blow(fuse),
                Step::Changed | Step::Rest => {}
            }
            self.point.close = false;
        }
        self.solve(engine, Care::Fine)
    }

    /// Solves the present state; a power element without an operating point cuts out.
    fn solve(&mut self, engine: &Engine, care: Care) -> Result<(), NoPoint> {
        loop {
            let start = self.point.clone();
            match point::solve(
                engine,
                &self.wiring,
                &mut self.status,
                &mut self.point,
                care,
            ) {
                Ok(()) => return Ok(()),
                Err(error) => {
                    let Some(worst) = self.weakest() else {
                        return Err(error);
                    };
                    self.cut_out(worst);
                    self.point = start;
                }
            }
        }
    }

    /// One step of the loop.
    fn advance(&mut self, fuses: Fuses) -> Step {
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
                    let enabled =
                        enable.is_none_or(|coil| self.wiring.pulled(coil as usize, &self.status));
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
        if let (Some(part), Some(status)) =
            (self.wiring.parts.get(output), self.status.get_mut(output))
            && matches!(part.law, Law::ConverterOutput { .. })
        {
            status.held &= on;
            status.on = on;
        }
    }

    /// Whether a part is a power element or converter input that is on.
    fn is_on(&self, index: usize) -> bool {
        matches!(
            self.wiring.parts[index].law,
            Law::Power { .. } | Law::ConverterInput { .. }
        ) && self.status[index].on
    }

    /// The part that is on with the least voltage over its cut-off.
    fn weakest(&self) -> Option<usize> {
        (0..self.wiring.parts.len())
            .filter(|index| self.is_on(*index))
            .min_by(|a, b| self.ratio(*a).total_cmp(&self.ratio(*b)))
    }

    fn ratio(&self, index: usize) -> f64 {
        let part = &self.wiring.parts[index];
        let ratio = part.above_cut_off(self.point.drop(part));
        if ratio.is_nan() { 0.0 } else { ratio }
    }

    fn cut_out(&mut self, index: usize) {
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
            if let Law::Switch {
                trip: Some(trip), ..
            } = part.law
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
            if let Law::Coil {
                pull_in, release, ..
            } = part.law
            {
                let volts = if part.open {
                    0.0
                } else {
                    self.point.drop(part).abs()
                };
                let pulled = self.status[index].on;
                let now = if pulled {
                    volts >= release
                } else {
                    volts >= pull_in
                };
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
            let (Law::Contact { drive, .. } | Law::Switch { drive, .. }) =
                self.wiring.parts[index].law
            else {
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
                Some(Drive::Step { coil }) => {
                    self.status[index].command ^ pulled(coil.position(), &self.status)
                }
                Some(Drive::Control { .. } | Drive::Coils { .. }) | None => continue,
            };
            self.status[index].command = command;
        }
    }

    fn motors(&mut self) -> bool {
        let mut any = false;
        for (part, status) in self.wiring.parts.iter().zip(&mut self.status) {
            if let Law::Motor { start, stop, .. } = part.law {
                let volts = if part.open {
                    0.0
                } else {
                    self.point.drop(part).abs()
                };
                let turning = if status.on {
                    volts >= stop
                } else {
                    volts >= start
                };
                any |= turning != status.on;
                status.on = turning;
            }
        }
        any
    }

    fn dead_breakers(&mut self) -> bool {
        let mut any = false;
        for (part, status) in self.wiring.parts.iter().zip(&mut self.status) {
            if let Law::Fuse {
                reset: Reset::WhenDead,
                ..
            } = part.law
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
            if let Law::Fuse {
                reset: Reset::ByItself,
                ..
            } = part.law
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

enum Step {
    Changed,
    Rest,
    Race(usize, usize, f64),
}
