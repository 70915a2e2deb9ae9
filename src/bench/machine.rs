//! The state loop: what must switch does, the fastest first, until nothing changes or states come again.

use super::law::Stand;
use super::point::{NoPoint, Point, operate};
use super::wired::Wired;
use crate::circuit::Primitive;

/// A circuit on its way.
#[derive(Clone, Debug)]
pub(super) struct Machine {
    pub(super) wired: Wired,
    pub(super) stands: Vec<Stand>,
    pub(super) point: Point,
}

/// One of the states that the circuit is in, and for which share of the time.
#[derive(Clone, Debug)]
pub(super) struct Phase {
    pub(super) weight: f64,
    pub(super) stands: Vec<Stand>,
    pub(super) point: Point,
}

/// Where a circuit has come to.
#[derive(Clone, Debug)]
pub(super) struct Settled {
    pub(super) machine: Machine,
    pub(super) phases: Vec<Phase>,
    /// The states come again and again.
    pub(super) chatters: bool,
}

impl Machine {
    /// Runs until nothing more switches.
    pub(super) fn settle(mut self) -> Result<Settled, NoPoint> {
        self.obey();
        let mut seen: Vec<(Vec<Stand>, Point)> = Vec::new();
        loop {
            self.solve()?;
            // Diodes and limits follow from the rest; they are put right before a state is compared.
            if let Some(first) = seen.iter().position(|(stands, _)| *stands == self.stands) {
                let ring = seen.split_off(first);
                let weight = 1.0 / ring.len() as f64;
                let phases = ring.into_iter().map(|(stands, point)| Phase { weight, stands, point }).collect();
                return Ok(Settled { machine: self, phases, chatters: true });
            }
            seen.push((self.stands.clone(), self.point.clone()));
            if !self.switch() {
                return self.pulsed();
            }
        }
    }

    /// Solves the present state. Where there is none, the constant power that is worst off cuts out.
    pub(super) fn solve(&mut self) -> Result<(), NoPoint> {
        loop {
            match operate(&self.wired, &mut self.stands, &self.point) {
                Ok(point) => {
                    self.point = point;
                    return Ok(());
                }
                Err(none) => {
                    let worst = self.worst_off().ok_or(none)?;
                    self.cut_out(worst);
                }
            }
        }
    }

    /// Adds the states between which pulsed switches go: all come on together, the one with the smallest share goes off
    /// first. Relays and motors stay as they are while all are on.
    fn pulsed(self) -> Result<Settled, NoPoint> {
        let mut shares: Vec<f64> = (0..self.wired.pieces.len()).filter_map(|index| self.share(index)).collect();
        shares.sort_by(f64::total_cmp);
        shares.dedup();
        let first = shares.first().copied().unwrap_or(1.0);
        let mut phases = vec![Phase { weight: first, stands: self.stands.clone(), point: self.point.clone() }];
        for (place, share) in shares.iter().enumerate() {
            let until = shares.get(place + 1).copied().unwrap_or(1.0);
            let mut off = self.clone();
            for index in 0..off.wired.pieces.len() {
                if self.share(index).is_some_and(|own| own <= *share) {
                    off.stands[index].on = false;
                }
            }
            off.solve()?;
            phases.push(Phase { weight: until - share, stands: off.stands, point: off.point });
        }
        Ok(Settled { machine: self, phases, chatters: false })
    }

    /// The share of the time that a switch which is on conducts, when it is not all of it.
    fn share(&self, index: usize) -> Option<f64> {
        let piece = &self.wired.pieces[index];
        match &piece.what {
            Primitive::ElectronicSwitch { on_share, .. }
                if self.stands[index].on && piece.stuck.is_none() && *on_share < 1.0 =>
            {
                Some(on_share.max(0.0))
            }
            _ => None,
        }
    }
}

impl Settled {
    /// Volts between two nodes in each phase with its weight; `None` where nothing joins them.
    pub(super) fn between(&self, a: usize, b: usize) -> impl Iterator<Item = (f64, Option<f64>)> {
        self.phases.iter().map(move |phase| {
            let point = &phase.point;
            let joined = point.island[a] == point.island[b];
            (phase.weight, joined.then(|| point.volts[a] - point.volts[b]))
        })
    }
}
