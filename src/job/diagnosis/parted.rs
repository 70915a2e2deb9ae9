//! Set-ups in which a fuse is pulled, a plug taken apart, a relay out of its socket.

use super::{Diagnosis, Taken};
use crate::belief::Answer;
use crate::choice::{Ranked, Removable, in_play};
use crate::circuit::SetUp;
use crate::install::PartId;
use std::collections::BTreeSet;

/// Operating points that are worked out for these set-ups without need: hypotheses times set-ups.
const CHEAP: usize = 400;
/// Bits below which the best test with everything in its place tells so little that they are looked into at any price.
const POOR: f64 = 0.25;

impl Diagnosis<'_> {
    /// The set-ups with one part more, or one less, taken out than now, no jumper in; none while the engine runs. Of a fuse behind which there may
    /// be a short, also those with all that hangs on it apart, and with all but one: whatever is left alone with the lamp in the
    /// fuse's place shows whether it is the one (common practice).
    pub(super) fn parted(&self) -> Vec<SetUp> {
        let standing = self.without_jumpers(self.standing().set_up);
        let mut from = vec![self.complaint.usual.clone(), self.complaint.set_up.clone()];
        from.push(SetUp::at_rest(&self.system.circuit.netlist.controls));
        if !standing.by_hand.is_empty() {
            from.insert(0, standing);
        }
        let refused = self.not_taken_out();
        let refuses = |set_up: &SetUp| refused.iter().any(|parts| parts.iter().all(|part| set_up.is_out(*part)));
        let can = |set_up: &SetUp| !set_up.by_hand.is_empty() && !refuses(set_up);
        let mut list: Vec<SetUp> = Vec::new();
        for from in from.iter().filter(|from| !self.system.engine_runs(from)) {
            let mut all = vec![from.clone()];
            for removable in &self.offer.removable {
                all.push(self.out_of(from, removable));
                all.push(self.put_back(from, removable.part));
            }
            for fuse in self.offer.removable.iter().filter(|r| r.protects) {
                let others = self.offer.removable.iter().filter(|r| !r.protects);
                let alone = others.clone().fold(self.out_of(from, fuse), |set_up, other| self.out_of(&set_up, other));
                all.extend(others.map(|other| self.put_back(&alone, other.part)));
                all.push(alone);
            }
            for set_up in all {
                if can(&set_up) && !list.contains(&set_up) {
                    list.push(set_up);
                }
            }
        }
        list
    }

    /// Parts that seem not to come out: those of each test that could not be taken while they were to be out, without those that
    /// were out in a test that could.
    pub(super) fn not_taken_out(&self) -> Vec<Vec<PartId>> {
        let out = |taken: &Taken| taken.test.set_up.taken_out().collect::<Vec<_>>();
        let (refused, done): (Vec<&Taken>, Vec<&Taken>) = self.taken.iter().partition(|t| t.answer == Answer::NotTaken);
        let done: BTreeSet<PartId> = done.into_iter().flat_map(out).collect();
        let left = |taken: &Taken| out(taken).into_iter().filter(|part| !done.contains(part)).collect::<Vec<_>>();
        refused.into_iter().map(left).filter(|parts| !parts.is_empty()).collect()
    }

    fn out_of(&self, set_up: &SetUp, removable: &Removable) -> SetUp {
        self.system.circuit.out_of(set_up, removable.part)
    }

    fn put_back(&self, set_up: &SetUp, back: PartId) -> SetUp {
        self.system.circuit.in_its_place(set_up.clone(), back)
    }

    /// Whether set-ups with parts taken out are worth looking into: what they cost to work out is little, or the others tell
    /// next to nothing.
    pub(super) fn is_worth_parting(&self, others: &[Ranked], set_ups: &[SetUp]) -> bool {
        let best = others.iter().map(|r| r.bits).fold(0.0, f64::max);
        best < POOR || in_play(&self.belief, &self.posterior).len() * set_ups.len() <= CHEAP
    }
}
