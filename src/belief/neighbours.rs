//! Sets beside the best one: where that still calls a reading wrong, each of its faults is exchanged for others that would show
//! about the same everywhere else.
//!
//! The estimate adds effects up as in a linear circuit. Where one fault takes away the load that another one is felt by, it is off
//! at a dozen readings alike, and the true set is not among what is solved, but often a neighbour of it that differs at one
//! point: the joint in front of a fuse for its holder.

use super::candidates::{Candidate, Ground};
use super::effect::{Effect, alike};
use super::fit::Fit;
use super::held::widened;
use super::{Belief, Posterior};
use crate::index::Id;
use crate::suspects::{FaultId, Pin, Set, SuspectId};
use crate::units::Ohms;
use std::collections::BTreeSet;

/// So many neighbours are solved at most.
const MOST: usize = 24;
/// A blunder that is likelier than this calls its readings wrong.
const WRONG: f64 = 0.5;

impl Belief<'_> {
    /// The neighbours of the best set that are not among the suspects yet, those first that show most nearly the same.
    pub(super) fn neighbours(&self, ground: &Ground, posterior: &Posterior) -> Vec<Candidate> {
        let Some((best, wrong)) = self.best_set_in_doubt() else { return Vec::new() };
        let Ground { notes, partners, kinds } = ground;
        let list = self.suspects().list();
        let active = list.enumerate().filter(|(id, _)| self.active[*id]);
        let known: BTreeSet<&[FaultId]> = active.map(|(_, set)| &set.faults[..]).collect();
        let mut found: Vec<Candidate> = Vec::new();
        for away in &list[best].faults {
            let Some((_, old)) = partners.iter().find(|(id, _)| list[*id].faults == [*away]) else { continue };
            let at = old.cell_at(self.size(best, *away, posterior));
            for (id, new) in partners {
                let score = |cell: usize| alike((old, at), (new, cell), notes, &wrong);
                let cells = (0..new.cells()).map(|cell| (score(cell), cell));
                let Some((score, cell)) = cells.max_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
                found.extend(self.exchanged(best, *away, (*id, new, cell), score, kinds));
            }
        }
        found.retain(|candidate| !known.contains(&candidate.set.faults[..]));
        Candidate::best(found, MOST)
    }

    /// The best set, if it calls readings wrong, and which.
    fn best_set_in_doubt(&self) -> Option<(SuspectId, Vec<usize>)> {
        let list = self.suspects().list();
        let sets = list.ids().filter(|id| self.active[*id] && list[*id].faults.len() > 1);
        let best = sets.max_by(|a, b| self.logs[*a].total_cmp(&self.logs[*b]))?;
        let doubts = &self.fits[best].as_ref().and_then(Fit::whole)?.doubts;
        let doubted = self.latents.iter().zip(doubts).filter(|(_, p)| **p > WRONG);
        let wrong: Vec<usize> = doubted.flat_map(|(latent, _)| latent.blunder.spoils().iter().copied()).collect();
        (!wrong.is_empty()).then_some((best, wrong))
    }

    /// The size of a fault of a set, in ohms, where the set is likeliest.
    fn size(&self, set: SuspectId, fault: FaultId, posterior: &Posterior) -> f64 {
        let pinned = self.suspects().list()[set].pins.iter().find(|pin| pin.fault == fault);
        let point = self.tracks()[set].points.get(posterior.likeliest_point(set));
        pinned.map(|pin| pin.ohms).or_else(|| point.map(|point| point.ohms)).map_or(0.0, Ohms::get)
    }

    /// A set with another suspect's fault in place of one of its own.
    fn exchanged(
        &self,
        set: SuspectId,
        away: FaultId,
        (new, effect, cell): (SuspectId, &Effect, usize),
        score: f64,
        kinds: &[usize],
    ) -> Option<Candidate> {
        let suspects = self.suspects();
        let [fault] = suspects.list()[new].faults[..] else { return None };
        let repair = |f: FaultId| &suspects.faults()[f].repair;
        let old = &suspects.list()[set];
        if old.faults.iter().any(|f| repair(*f) == repair(fault)) {
            return None;
        }
        let mut faults: Vec<FaultId> = old.faults.iter().copied().filter(|f| *f != away).collect();
        let whole = |f: &FaultId| suspects.faults()[*f].severity;
        let soft: Vec<FaultId> = faults.iter().copied().filter(|f| whole(f).is_some()).collect();
        // Of the others one at most is spread over its range: the only one, or that which was.
        let pins: Vec<Pin> = old.pins.iter().copied().filter(|pin| pin.fault != away && soft.len() > 1).collect();
        let free = soft.iter().any(|f| !pins.iter().any(|pin| pin.fault == *f));
        let held = match whole(&fault).filter(|_| free) {
            Some(whole) => Some((fault, widened(effect.range(cell)?, whole))),
            None => None,
        };
        faults.push(fault);
        faults.sort();
        let odds = (suspects.faults()[fault].weight / suspects.faults()[away].weight).ln();
        let kind = |f: FaultId| kinds.get(f.position()).copied().unwrap_or_default();
        Some(Candidate::new(Set { faults, pins, ..Set::default() }, held, self.logs[set] + odds + score, kind, whole))
    }
}
