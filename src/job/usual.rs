//! What a load needs to work, and what its owner would call good.

use super::System;
use crate::belief::{Predicted, Probe, predict};
use crate::circuit::{Inner, Primitive, Reset, SetUp};
use crate::install::PartId;
use crate::knowledge::{Noticed, Notices, Role};
use crate::network::Network;

impl System {
    /// The word for a sight of a part that runs at its nominal power.
    pub fn good_word(&self, sight: usize) -> Option<usize> {
        let table = self.words(sight)?;
        let share = match self.sights.get(sight)?.notices {
            Notices::Work | Notices::Heat => 1.0,
            Notices::Standing => 0.0,
            Notices::Charge => CHARGED,
            Notices::Marks => return None,
        };
        Some(table.most_said(Noticed::Share(share)))
    }

    /// The set-up nearest to rest in which the healthy system makes a load work (`sight`: what it does): one control moved,
    /// two or three.
    pub fn usual_set_up(&self, sight: usize) -> Option<SetUp> {
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
        let works = |set_up: &SetUp| self.works(&network, sight, set_up);
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

    fn works(&self, network: &Network<'_>, sight: usize, set_up: &SetUp) -> bool {
        let Some(good) = self.good_word(sight) else { return false };
        let fresh = network.fresh();
        let Ok(branches) = network.enter(&[], &fresh, set_up) else { return false };
        branches.first().is_some_and(|b| {
            let seen = predict(network, &self.senses, &b.state, &Probe::Look(sight), |e| b.state.state(e));
            matches!(seen, Predicted::Words(shares) if shares.get(good).is_some_and(|s| *s > 0.5))
        })
    }

    /// The protection nearest above a part that can be seen: one that can be closed again (`resets`), or one that blows for
    /// good. A part that protects is its own.
    pub fn protection_of(&self, part: PartId, resets: bool) -> Option<PartId> {
        let wiring = self.install.wiring();
        let (enter, _) = wiring.ends(part)?;
        let protects = |part: &PartId| {
            let kind = &self.install.knowledge.kinds[self.install.parts[*part].kind];
            let of = &self.circuit.elements_of[*part];
            let suits = |inner: &Inner| match self.circuit.netlist.elements[inner.element].primitive {
                Primitive::Fuse { reset, .. } => (reset != Reset::Never) == resets,
                _ => false,
            };
            kind.role == Role::Protection && self.sight(*part).is_some() && of.iter().any(suits)
        };
        std::iter::once(part).chain(wiring.feed_of(enter).into_iter().rev()).find(protects)
    }

    /// The set-up, at rest or one control away, in which a part turns most power into heat in the healthy system.
    pub(super) fn most_current(&self, part: PartId) -> Option<SetUp> {
        let netlist = &self.circuit.netlist;
        let network = Network::new(netlist);
        let rest = SetUp::at_rest(&netlist.controls);
        let ones = netlist.controls.enumerate().flat_map(|(id, c)| {
            let rest = rest.clone();
            (0..c.positions.len()).map(move |position| rest.clone().with(id, position))
        });
        let mut best: Option<(f64, SetUp)> = None;
        for set_up in std::iter::once(rest.clone()).chain(ones) {
            let Ok(branches) = network.enter(&[], &network.fresh(), &set_up) else { continue };
            let Some(branch) = branches.first() else { continue };
            let amps = |inner: &Inner| branch.state.current(inner.element).get().abs();
            let most = self.circuit.elements_of[part].iter().map(amps).fold(0.0, f64::max);
            if best.as_ref().is_none_or(|(known, _)| most > known + 1e-9) {
                best = Some((most, set_up));
            }
        }
        best.map(|(_, set_up)| set_up)
    }

    /// The set-up in which the engine runs fast and fills a battery; one further control is moved where that needs it (a key).
    pub(super) fn running_set_up(&self) -> Option<SetUp> {
        let (id, control) = self.engine()?;
        let netlist = &self.circuit.netlist;
        let base = SetUp::at_rest(&netlist.controls).with(id, control.positions.len().saturating_sub(1));
        let sight = self.sights.iter().position(|s| s.notices == Notices::Charge);
        let Some(sight) = sight else { return Some(base) };
        let good = self.good_word(sight)?;
        let ones = netlist.controls.enumerate().flat_map(|(id, c)| {
            let base = &base;
            (0..c.positions.len()).map(move |position| base.clone().with(id, position))
        });
        let fills = |set_up: &SetUp| self.word_when_well(sight, set_up) == Some(good);
        std::iter::once(base.clone()).chain(ones).find(fills).or(Some(base))
    }

    /// `set_up` with what another one has moved from rest.
    pub fn moved_as(&self, mut set_up: SetUp, other: &SetUp) -> SetUp {
        for (id, control) in self.circuit.netlist.controls.enumerate() {
            if let Some(position) = other.positions.get(id).filter(|p| **p != control.rest) {
                set_up = set_up.with(id, *position);
            }
        }
        set_up
    }

    /// The word for a sight in a set-up of the healthy system.
    pub(super) fn word_when_well(&self, sight: usize, set_up: &SetUp) -> Option<usize> {
        let network = Network::new(&self.circuit.netlist);
        let branches = network.enter(&[], &network.fresh(), set_up).ok()?;
        let state = &branches.first()?.state;
        match predict(&network, &self.senses, state, &Probe::Look(sight), |e| state.state(e)) {
            Predicted::Words(shares) => {
                (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]).then(b.cmp(a)))
            }
            Predicted::Number { .. } => None,
        }
    }
}

/// Volts over nominal of a battery that is being filled: 14.0 V at 12 V, common practice, no source.
const CHARGED: f64 = 1.17;
