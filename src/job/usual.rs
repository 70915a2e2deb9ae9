//! What a load needs to work, and what its owner would call good.

use super::System;
use crate::belief::{Predicted, Probe, predict};
use crate::circuit::SetUp;
use crate::install::PartId;
use crate::knowledge::{Noticed, NoticedState, Role, WordTable};
use crate::network::Network;

impl System {
    /// The word for a part that runs at its nominal power.
    pub fn good_word(&self, part: PartId) -> Option<usize> {
        let table = self.words(self.sight(part)?)?;
        likeliest(table, Noticed::Share(1.0))
    }

    /// The position of a part's sight.
    pub fn sight(&self, part: PartId) -> Option<usize> {
        self.sight_of.iter().position(|p| *p == part)
    }

    /// The set-up nearest to rest in which the healthy system makes a load work: one control moved, two or three.
    pub fn usual_set_up(&self, load: PartId) -> Option<SetUp> {
        let netlist = &self.circuit.netlist;
        let network = Network::new(netlist);
        let rest = SetUp::at_rest(&netlist.controls);
        let moved = |from: &SetUp| -> Vec<SetUp> {
            let controls = netlist.controls.enumerate();
            controls
                .flat_map(|(id, c)| (0..c.positions.len()).map(move |p| (id, p)))
                .map(|(id, p)| from.clone().with(id, p))
                .filter(|s| s != from)
                .collect()
        };
        let ones = moved(&rest);
        let works = |set_up: &SetUp| self.works(&network, load, set_up);
        if works(&rest) {
            return Some(rest);
        }
        if let Some(one) = ones.iter().find(|s| works(s)) {
            return Some(one.clone());
        }
        let mut twos = ones.iter().flat_map(moved);
        if let Some(two) = twos.find(|s| works(s)) {
            return Some(two);
        }
        ones.iter().flat_map(moved).flat_map(|s| moved(&s)).find(|s| works(s))
    }

    fn works(&self, network: &Network<'_>, load: PartId, set_up: &SetUp) -> bool {
        let (Some(sight), Some(good)) = (self.sight(load), self.good_word(load)) else { return false };
        let fresh = network.fresh();
        let Ok(branches) = network.enter(&[], &fresh, set_up) else { return false };
        branches.first().is_some_and(|b| {
            let seen = predict(network, &self.senses, &b.state, &Probe::Look(sight), |e| b.state.state(e));
            matches!(seen, Predicted::Words(shares) if shares.get(good).is_some_and(|s| *s > 0.5))
        })
    }

    /// The protection nearest above a load and the word for its being open, for a complaint that says so.
    pub fn blown_fuse_of(&self, load: PartId, complaint: &str) -> Option<(PartId, usize)> {
        if complaint != BLOWS {
            return None;
        }
        let wiring = self.install.wiring();
        let (enter, _) = wiring.ends(load)?;
        let protects = |part: &PartId| {
            let role = self.install.knowledge.kinds[self.install.parts[*part].kind].role;
            role == Role::Protection && self.sight(*part).is_some()
        };
        let fuse = wiring.feed_of(enter).into_iter().rev().find(protects)?;
        let word = likeliest(self.words(self.sight(fuse)?)?, Noticed::State(NoticedState::Opened))?;
        Some((fuse, word))
    }
}

/// The complaint that is about the fuse above a load.
pub const BLOWS: &str = "blows its fuse";

fn likeliest(table: &WordTable, noticed: Noticed) -> Option<usize> {
    let share = |word: usize| table.words.get(word).map_or(0.0, |w| table.likelihood(&w.key, noticed));
    (0..table.words.len()).max_by(|a, b| share(*a).total_cmp(&share(*b)))
}
