//! The state loop: what must switch does, fastest first, until nothing changes or the changes repeat.
//!
//! The order is that of the physics: diodes, limits and electronics at once, electronic trips in
//! milliseconds, then relay coils (all that must move do so together, contacts with them), then motors, and
//! only when all of these rest does a fuse open, one at a time, the quickest first.

use super::base::Engine;
use super::law::{Law, Status};
use super::point::{self, Care, NoPoint, Point};
use super::shadow::{Step as Parting, Trace};
use super::switching::Step;
use super::wiring::Wiring;

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
        let mut run =
            Self { wiring, status, point: Point::default(), cycle: Vec::new(), pulsed: false, stage: 0, trace: None };
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
    pub(super) fn settle(&mut self, engine: &Engine, fuses: Fuses, care: Care) -> Result<Outcome, NoPoint> {
        self.cycle.clear();
        self.pulsed = false;
        let mut seen: Vec<Vec<Status>> = Vec::new();
        let bound = 64 + 4 * self.wiring.parts.len();
        let mut now = Care::Rough;
        loop {
            let entered = self.trace.as_ref().map(|_| self.status.clone());
            self.solve(engine, now)?;
            if let (Some(trace), Some(entered)) = (&mut self.trace, entered) {
                let (wiring, status) = (&self.wiring, &self.status);
                trace.push(engine, wiring, self.stage, entered, status, &self.point);
            }
            let repeated = seen.iter().position(|s| *s == self.status);
            if let Some(first) = repeated.or((seen.len() > bound).then_some(bound)) {
                let length = seen.len() - first;
                if let Some(trace) = &mut self.trace {
                    trace.close();
                }
                self.record_cycle(engine, length, fuses)?;
                return Ok(Outcome::Settled);
            }
            seen.push(self.status.clone());
            match self.advance(fuses) {
                Step::Changed => {
                    now = Care::Rough;
                    self.point.close = false;
                }
                Step::Rest if now == care || self.point.fine => return Ok(Outcome::Settled),
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
        let mut shares: Vec<f64> = (0..self.wiring.parts.len()).filter_map(|index| self.share(index)).collect();
        shares.sort_by(f64::total_cmp);
        shares.dedup();
        if !self.cycle.is_empty() || shares.is_empty() {
            return Ok(());
        }
        self.cycle.push((shares[0], self.status.clone(), self.point.clone()));
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
                if self.status[index].on && self.wiring.parts[index].stuck.is_none() && on_share < 1.0 =>
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

    /// Runs once round a cycle of `length` states and keeps them.
    fn record_cycle(&mut self, engine: &Engine, length: usize, fuses: Fuses) -> Result<(), NoPoint> {
        /// More states than this say nothing more about the mean.
        const KEPT: usize = 16;
        for _ in 0..length.min(KEPT) {
            self.solve(engine, Care::Fine)?;
            self.cycle.push((1.0 / length.min(KEPT) as f64, self.status.clone(), self.point.clone()));
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
            match point::solve(engine, &self.wiring, &mut self.status, &mut self.point, care) {
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
}
