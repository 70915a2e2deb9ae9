//! The operating point of a whole circuit from that of the part of it which was solved.

use super::Network;
use super::frame::Frame;
use super::islands::Islands;
use super::law::{Law, Status};
use super::operating::{Operating, Phase, Within};
use super::packed::Packed;
use super::point::Point;
use super::wiring::Wiring;
use crate::circuit::NodeId;
use std::borrow::Cow;
use std::sync::Arc;

impl Operating<'_> {
    /// The operating point of the whole circuit: what lies outside of what was solved carries nothing, and stands at the volts of
    /// the node that it hangs on.
    pub(super) fn whole(&self) -> &Self {
        let Some(within) = &self.within else { return self };
        self.all.get_or_init(|| {
            let mut wiring = (*within.frame.whole).clone();
            wiring.edit(&within.edits);
            wiring.take_positions(self.wiring.positions());
            let phases = self.phases.iter().map(|phase| expanded(within, None, &wiring, phase)).collect();
            Box::new(self.of_whole(Packed::new(&within.frame.whole, &wiring), phases))
        })
    }

    /// The same in a frame that holds all of its own.
    fn wider(&self, within: &Within, frame: &Arc<Frame>) -> Operating<'static> {
        let mut wiring = (*frame.engine.wiring).clone();
        wiring.edit(&frame.edits(&within.edits));
        wiring.take_positions(self.wiring.positions());
        let phases = self.phases.iter().map(|phase| expanded(within, Some(frame), &wiring, phase)).collect();
        let mut wider = self.of_whole(Packed::new(&frame.engine.wiring, &wiring), phases);
        wider.within = Some(Within { frame: Arc::clone(frame), edits: Arc::clone(&within.edits) });
        wider
    }
}

impl<'n> Network<'n> {
    /// What an instrument between two nodes is attached to: an operating point with both of them in what was solved.
    pub(super) fn probed<'a>(&self, state: &'a Operating<'n>, red: NodeId, black: NodeId) -> Cow<'a, Operating<'n>> {
        let Some(within) = &state.within else { return Cow::Borrowed(state) };
        if state.node(red).is_some() && state.node(black).is_some() {
            return Cow::Borrowed(state);
        }
        let framer = self.framer.as_ref();
        match framer.and_then(|f| f.widened(self.netlist, &self.engine, &within.frame, [red, black])) {
            Some(frame) => Cow::Owned(state.wider(within, &frame)),
            None => Cow::Borrowed(state.whole()),
        }
    }
}

/// One phase in the circuit `wiring`: that of a wider frame, or the whole.
fn expanded(within: &Within, into: Option<&Frame>, wiring: &Wiring, phase: &Phase) -> Phase {
    let frame = &within.frame;
    let mut status = vec![Status::default(); wiring.parts.len()];
    let mut amps = vec![0.0; wiring.parts.len()];
    let mut solved = vec![false; wiring.parts.len()];
    let element = |index: usize| into.map_or(Some(index), |into| into.element(index));
    for (place, (own, carried)) in phase.status.iter().zip(&phase.amps).enumerate() {
        // What the edits have laid comes after the elements, here as there.
        let place = match place.checked_sub(frame.elements.len()) {
            Some(laid) => Some(wiring.elements + laid),
            None => element(frame.outside(place)),
        };
        if let Some(place) = place.filter(|place| *place < wiring.parts.len()) {
            (status[place], amps[place], solved[place]) = (*own, *carried, true);
        }
    }
    for index in (0..wiring.parts.len()).filter(|index| !solved[*index]) {
        let part = &wiring.parts[index];
        if let Law::Contact { drive, .. } | Law::Switch { drive, .. } = part.law {
            let command = wiring.command(drive, false, &status);
            status[index] = Status { on: part.stuck.unwrap_or(command), command, held: false };
        }
    }
    let islands = Islands::new(wiring.nodes, &wiring.parts, &status, None);
    let mut volts = hung(within, into, wiring, (&status, &solved), phase);
    let mut shift = vec![0.0; wiring.nodes];
    for datum in &islands.data {
        shift[islands.of[*datum as usize] as usize] = volts[*datum as usize];
    }
    for (node, volts) in volts.iter_mut().enumerate() {
        *volts -= shift[islands.of[node] as usize];
    }
    let point = Point { volts, islands: Arc::new(islands), close: phase.point.close, fine: phase.point.fine };
    Phase { weight: phase.weight, status, point, amps }
}

/// The volts of all nodes, those outside at the volts of what they hang on.
fn hung(
    within: &Within,
    into: Option<&Frame>,
    wiring: &Wiring,
    (status, solved): (&[Status], &[bool]),
    phase: &Phase,
) -> Vec<f64> {
    let frame = &within.frame;
    let node_of = |node: u32| into.map_or(Some(node), |into| into.node(node));
    let mut volts = vec![0.0; wiring.nodes];
    let mut known = vec![false; wiring.nodes];
    // Nodes by their numbers in the whole circuit, and in this one.
    let mut list: Vec<(u32, u32)> = Vec::new();
    for (node, own) in frame.nodes.iter().zip(&phase.point.volts) {
        if let Some(here) = node_of(*node) {
            (volts[here as usize], known[here as usize]) = (*own, true);
            list.push((*node, here));
        }
    }
    while let Some((node, here)) = list.pop() {
        for &index in frame.graph.at(node) {
            let place = into.map_or(Some(index as usize), |into| into.element(index as usize));
            let Some(place) = place.filter(|place| !solved[*place]) else { continue };
            let (part, before) = (&wiring.parts[place], &frame.whole.parts[index as usize]);
            if !part.conducts(status[place]) {
                continue;
            }
            let to = if part.from == here { part.to } else { part.from };
            let beyond = if before.from == node { before.to } else { before.from };
            if !std::mem::replace(&mut known[to as usize], true) {
                volts[to as usize] = volts[here as usize];
                list.push((beyond, to));
            }
        }
    }
    volts
}
