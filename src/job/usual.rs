//! What a load needs to work, and what its owner would call good.

use super::System;
use crate::belief::{Predicted, Probe, predict};
use crate::circuit::{ControlId, Inner, Primitive, Reset, SetUp};
use crate::install::PartId;
use crate::knowledge::{Noticed, Notices, Role};
use crate::network::Network;
use std::collections::BTreeSet;

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
    /// two or three, first of those on its way and on the ways of the coils on it. Where none of these makes it work, of all
    /// controls, as long as that does not take too many set-ups.
    pub fn usual_set_up(&self, sight: usize) -> Option<SetUp> {
        let controls = &self.circuit.netlist.controls;
        let network = Network::new(&self.circuit.netlist);
        let rest = SetUp::at_rest(controls);
        let works = |set_up: &SetUp| self.works(&network, sight, set_up);
        if works(&rest) {
            return Some(rest);
        }
        let near = self.controls_towards(self.sights.get(sight)?.part);
        let all: Vec<ControlId> = controls.ids().collect();
        let nearest = (1..=MOST_MOVED).flat_map(|count| self.so_many_moved(rest.clone(), &near, count)).find(works);
        let others = || (1..=MOST_MOVED).flat_map(|count| self.so_many_moved(rest.clone(), &all, count));
        nearest.or_else(|| others().take(MOST_TRIED).find(works))
    }

    /// The controls that set something on the way of a part's current, and on those of the coils and the commands there.
    fn controls_towards(&self, part: PartId) -> Vec<ControlId> {
        let install = &self.install;
        let wiring = install.wiring();
        let mut known = BTreeSet::from([part]);
        let mut open = vec![part];
        while let Some(part) = open.pop() {
            let passes = matches!(
                install.knowledge.kinds[install.parts[part].kind].role,
                Role::Conductor | Role::Joint | Role::Protection
            );
            // A wire has no way but the one that led to it; the other cores of a cable lead elsewhere.
            for point in install.parts[part].terminals.iter().filter(|_| !passes) {
                let ways = wiring.feed_of(*point).into_iter().chain(wiring.return_of(*point));
                open.extend(ways.filter(|next| known.insert(*next)));
            }
        }
        let set = install.controls.enumerate().filter(|(_, control)| known.contains(&control.part));
        set.map(|(id, _)| self.circuit.control_of[id]).collect()
    }

    /// `set_up` with so many of these controls moved, in every way.
    fn so_many_moved<'a>(
        &'a self,
        set_up: SetUp,
        of: &'a [ControlId],
        count: usize,
    ) -> Box<dyn Iterator<Item = SetUp> + 'a> {
        let Some(fewer) = count.checked_sub(1) else { return Box::new(std::iter::once(set_up)) };
        let controls = &self.circuit.netlist.controls;
        let each = of.iter().enumerate().flat_map(move |(at, id)| {
            let positions = controls.get(*id).map_or(0, |control| control.positions.len());
            let rest = controls.get(*id).map(|control| control.rest);
            let (set_up, id) = (set_up.clone(), *id);
            let moved = (0..positions).filter(move |p| Some(*p) != rest).map(move |p| set_up.clone().with(id, p));
            let others = of.get(at + 1..).unwrap_or_default();
            moved.flat_map(move |moved| self.so_many_moved(moved, others, fewer))
        });
        Box::new(each)
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
    pub fn word_when_well(&self, sight: usize, set_up: &SetUp) -> Option<usize> {
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

/// Controls that are moved at most to make a load work.
const MOST_MOVED: usize = 3;
/// Set-ups that are tried at most with controls that lead to no coil on its way: a second on 150 circuits.
const MOST_TRIED: usize = 2_000;

/// Volts over nominal of a battery that is being filled: 14.0 V at 12 V, common practice, no source.
const CHARGED: f64 = 1.17;
