//! Where a current can flow at all on the way into a set-up: the core of a circuit.
//!
//! A current goes round, and through a source. So all currents lie in those pieces of the circuit that hold a source and stay in
//! one piece whatever single node is taken out (biconnected components; Hopcroft and Tarjan 1973). Contacts count as closed
//! where the controls close them on the way, or a coil that lies in the core may. What hangs on the core by one node carries
//! nothing: its coils are released, its motors rest, its diodes are dark, and all of it stands at the volts of that node.
//!
//! Nodes alone are listed: two nodes of the core with all that is laid between them. The core holds the ways between its
//! pieces, so that what is joined in the circuit is joined in it.

use super::law::{Law, Part};
use super::wiring::Wiring;
use crate::circuit::Drive;
use crate::index::Id;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// No part, no node.
const NONE: u32 = u32::MAX;
/// What hangs on a core is taken along in pieces of so many nodes at most, so that suspects near each other share one.
const PIECE: u32 = 48;

/// The parts at each node of the healthy circuit, and what moves what.
pub(super) struct Graph {
    starts: Vec<u32>,
    parts: Vec<u32>,
    /// The contacts and switches that each coil moves.
    moved_by: BTreeMap<u32, Vec<u32>>,
    /// Whether there is a diode anywhere.
    pub(super) diodes: bool,
}

impl Graph {
    pub(super) fn new(wiring: &Wiring) -> Self {
        let mut count = vec![0_u32; wiring.nodes + 1];
        let ends = |part: &Part| if part.from == part.to { vec![part.from] } else { vec![part.from, part.to] };
        for node in wiring.parts.iter().flat_map(ends) {
            count[node as usize + 1] += 1;
        }
        for node in 0..wiring.nodes {
            count[node + 1] += count[node];
        }
        let (starts, mut next) = (count.clone(), count);
        let mut parts = vec![0; starts.last().map_or(0, |all| *all as usize)];
        for (index, part) in (0_u32..).zip(&wiring.parts) {
            for node in ends(part) {
                parts[next[node as usize] as usize] = index;
                next[node as usize] += 1;
            }
        }
        let mut moved_by: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for (index, part) in (0_u32..).zip(&wiring.parts) {
            for coil in movers(wiring, part) {
                moved_by.entry(coil).or_default().push(index);
            }
        }
        let diodes = wiring.parts.iter().any(|part| matches!(part.law, Law::Diode { .. }));
        Self { starts, parts, moved_by, diodes }
    }

    /// The parts at a node.
    pub(super) fn at(&self, node: u32) -> &[u32] {
        let node = node as usize;
        &self.parts[self.starts[node] as usize..self.starts[node + 1] as usize]
    }

    /// What a coil moves.
    pub(super) fn moved_by(&self, coil: u32) -> &[u32] {
        self.moved_by.get(&coil).map_or(&[], Vec::as_slice)
    }
}

/// The coils that can close a contact or an electronic switch, or open it again once closed.
fn movers(wiring: &Wiring, part: &Part) -> Vec<u32> {
    let (Law::Contact { drive, .. } | Law::Switch { drive, .. }) = part.law else { return Vec::new() };
    let coil = |id: &crate::circuit::ElementId| u32::try_from(id.position()).unwrap_or(NONE);
    match wiring.tables.drives.get(drive as usize) {
        Some(Drive::Coils { coils, .. }) => coils.iter().map(coil).collect(),
        Some(Drive::Latch { set, .. }) => vec![coil(set)],
        Some(Drive::Step { coil: id }) => vec![coil(id)],
        Some(Drive::Control { .. }) | None => Vec::new(),
    }
}

/// The core of the healthy circuit on the way between two positions of its controls, and how all else hangs on it.
pub(super) struct Core {
    /// Ascending.
    pub(super) nodes: Vec<u32>,
    inside: Vec<bool>,
    /// Whether each part may conduct.
    open_to: Vec<bool>,
    /// The part that leads from each node towards the core.
    up: Vec<u32>,
    /// The piece that each part is in that stays in one whichever node is taken out; nodes of those with several parts.
    piece_of: Vec<u32>,
    pieces: BTreeMap<u32, Vec<u32>>,
    /// All nodes, what hangs on a node right after it; the place and number of these.
    listed: Vec<u32>,
    first: Vec<u32>,
    size: Vec<u32>,
    /// Where the controls stand at the end.
    pub(super) positions: Arc<[usize]>,
}

impl Core {
    /// The core on the way between two positions of all controls.
    pub(super) fn new(wiring: &Wiring, graph: &Graph, [start, end]: [&[usize]; 2]) -> Self {
        let mut flows = vec![false; wiring.parts.len()];
        let (mut open_to, mut piece_of);
        loop {
            open_to =
                wiring.parts.iter().map(|part| may_conduct(wiring, part, [start, end], &flows)).collect::<Vec<_>>();
            piece_of = pieces(wiring, graph, &open_to);
            let mut driven = vec![false; wiring.parts.len()];
            for (part, piece) in wiring.parts.iter().zip(&piece_of) {
                if is_source(part) && *piece != NONE {
                    driven[*piece as usize] = true;
                }
            }
            let now: Vec<bool> = (wiring.parts.iter().zip(&piece_of))
                .map(|(part, piece)| *piece != NONE && driven[*piece as usize] || is_needed(part))
                .collect();
            if now == flows {
                break;
            }
            flows = now;
        }
        let mut core = Self {
            nodes: Vec::new(),
            inside: vec![false; wiring.nodes],
            up: vec![NONE; wiring.nodes],
            pieces: several(wiring, &piece_of),
            open_to,
            piece_of,
            listed: Vec::new(),
            first: vec![0; wiring.nodes],
            size: vec![1; wiring.nodes],
            positions: end.into(),
        };
        core.gather(wiring, graph, &flows);
        core.hang(wiring, graph);
        core
    }

    /// Lists the nodes of the parts in which a current may flow, and of the ways between these.
    fn gather(&mut self, wiring: &Wiring, graph: &Graph, flows: &[bool]) {
        let mut ends: Vec<u32> = Vec::new();
        for (part, _) in wiring.parts.iter().zip(flows).filter(|(_, flows)| **flows) {
            ends.extend([part.from, part.to]);
        }
        ends.sort_unstable();
        ends.dedup();
        let mut met = vec![false; self.up.len()];
        for &node in &ends {
            if !met[node as usize] {
                // From one of its nodes all others of a connected piece are reached.
                met[node as usize] = true;
                self.walk(wiring, graph, &mut met, vec![node]);
            }
        }
        while let Some(node) = ends.pop() {
            if std::mem::replace(&mut self.inside[node as usize], true) {
                continue;
            }
            let part = self.up[node as usize];
            if part != NONE {
                ends.push(other(&wiring.parts[part as usize], node));
                ends.extend(self.pieces.get(&self.piece_of[part as usize]).into_iter().flatten());
            }
        }
        self.nodes = (0_u32..).zip(&self.inside).filter(|(_, is)| **is).map(|(node, _)| node).collect();
    }

    /// Walks from some nodes to all that they are joined with, and notes the way back; the nodes in the order in which they are
    /// met.
    fn walk(&mut self, wiring: &Wiring, graph: &Graph, met: &mut [bool], mut list: Vec<u32>) -> Vec<u32> {
        let mut next = 0;
        while let Some(&node) = list.get(next) {
            next += 1;
            for &index in graph.at(node) {
                let to = other(&wiring.parts[index as usize], node);
                if self.open_to[index as usize] && !std::mem::replace(&mut met[to as usize], true) {
                    self.up[to as usize] = index;
                    list.push(to);
                }
            }
        }
        list
    }

    /// Notes how all else hangs on the core, and what nothing leads to by itself.
    fn hang(&mut self, wiring: &Wiring, graph: &Graph) {
        self.up.fill(NONE);
        let mut met = self.inside.clone();
        let mut order = self.walk(wiring, graph, &mut met, self.nodes.clone());
        for node in (0_u32..).take(wiring.nodes) {
            if !std::mem::replace(&mut met[node as usize], true) {
                order.extend(self.walk(wiring, graph, &mut met, vec![node]));
            }
        }
        let above = |up: &[u32], node: u32| match up[node as usize] {
            NONE => NONE,
            part => other(&wiring.parts[part as usize], node),
        };
        for &node in order.iter().rev() {
            let onto = above(&self.up, node);
            if onto != NONE {
                self.size[onto as usize] += self.size[node as usize];
            }
        }
        let mut next = 0;
        let mut free: Vec<u32> = vec![0; wiring.nodes];
        self.listed = vec![0; wiring.nodes];
        for &node in &order {
            let onto = above(&self.up, node);
            let place = if onto == NONE { &mut next } else { &mut free[onto as usize] };
            let first = *place;
            *place += self.size[node as usize];
            self.first[node as usize] = first;
            free[node as usize] = first + 1;
            self.listed[first as usize] = node;
        }
    }

    /// Whether a node is in the core.
    pub(super) fn has(&self, node: u32) -> bool {
        self.inside[node as usize]
    }

    /// Whether a part of the healthy circuit may conduct on the way.
    pub(super) fn may_conduct(&self, part: u32) -> bool {
        self.open_to.get(part as usize).copied().unwrap_or(false)
    }

    /// The part that leads from a node towards the core, and the next node.
    pub(super) fn up(&self, wiring: &Wiring, node: u32) -> Option<(u32, u32)> {
        let part = *self.up.get(node as usize)?;
        Some((part, other(wiring.parts.get(part as usize)?, node)))
    }

    /// Adds what lies on the way from a node to the core, and what hangs near it; `false` where nothing leads there and too much
    /// would have to be taken along.
    pub(super) fn reach(&self, wiring: &Wiring, node: u32, into: &mut BTreeSet<u32>) -> bool {
        if self.has(node) {
            return true;
        }
        let mut top = node;
        while let Some((_, onto)) = self.up(wiring, top)
            && !self.has(onto)
            && self.size[onto as usize] <= PIECE
        {
            top = onto;
        }
        let (first, size) = (self.first[top as usize] as usize, self.size[top as usize] as usize);
        let whole = self.size[top as usize] <= PIECE;
        if whole {
            into.extend(&self.listed[first..first + size]);
        }
        let mut onto = if whole { top } else { node };
        while !self.has(onto) {
            into.insert(onto);
            let Some((part, next)) = self.up(wiring, onto) else { return whole };
            into.extend(self.pieces.get(&self.piece_of[part as usize]).into_iter().flatten());
            onto = next;
        }
        true
    }
}

/// The other end of a part.
fn other(part: &Part, node: u32) -> u32 {
    if part.from == node { part.to } else { part.from }
}

/// Whether a part drives a current by itself, or may.
fn is_source(part: &Part) -> bool {
    matches!(part.law, Law::Source { .. } | Law::ConverterOutput { .. })
}

/// Whether a part is solved wherever it is: it drives, or it does something without any voltage.
fn is_needed(part: &Part) -> bool {
    match part.law {
        Law::Source { .. } | Law::ConverterOutput { .. } | Law::ConverterInput { .. } => true,
        Law::Coil { pull_in, .. } => pull_in <= 0.0,
        Law::Motor { start, .. } => start <= 0.0,
        _ => false,
    }
}

fn may_conduct(wiring: &Wiring, part: &Part, ways: [&[usize]; 2], flows: &[bool]) -> bool {
    if part.open {
        return false;
    }
    let in_core = |coil: &crate::circuit::ElementId| flows.get(coil.position()).copied().unwrap_or(false);
    match part.law {
        Law::Source { by: Some(by), .. } => wiring.tables.emfs.get(by as usize).is_some_and(|(control, volts)| {
            let gives = |positions: &&[usize]| {
                positions.get(control.position()).and_then(|p| volts.get(*p)).is_some_and(Option::is_some)
            };
            ways.iter().any(gives)
        }),
        Law::Contact { drive, .. } => match wiring.tables.drives.get(drive as usize) {
            Some(Drive::Control { control, positions }) => {
                let closed = |way: &&[usize]| way.get(control.position()).is_some_and(|p| positions.contains(p));
                ways.iter().any(closed)
            }
            Some(Drive::Coils { coils, closed_at_rest }) => *closed_at_rest || coils.iter().any(in_core),
            Some(Drive::Latch { set, .. }) => in_core(set),
            Some(Drive::Step { coil }) => in_core(coil),
            None => false,
        },
        _ => true,
    }
}

/// The nodes of each piece with several parts.
fn several(wiring: &Wiring, piece_of: &[u32]) -> BTreeMap<u32, Vec<u32>> {
    let mut count = vec![0_u32; wiring.parts.len()];
    for piece in piece_of.iter().filter(|piece| **piece != NONE) {
        count[*piece as usize] += 1;
    }
    let mut nodes: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for (part, piece) in wiring.parts.iter().zip(piece_of) {
        if *piece != NONE && count[*piece as usize] > 1 {
            nodes.entry(*piece).or_default().extend([part.from, part.to]);
        }
    }
    for list in nodes.values_mut() {
        list.sort_unstable();
        list.dedup();
    }
    nodes
}

/// The piece that each part is in which stays in one whatever node is taken out; those that cannot conduct, or lie on one node,
/// are in none.
fn pieces(wiring: &Wiring, graph: &Graph, open_to: &[bool]) -> Vec<u32> {
    let mut piece_of = vec![NONE; wiring.parts.len()];
    let mut number = vec![0_u32; wiring.nodes];
    let mut low = vec![0_u32; wiring.nodes];
    let (mut numbers, mut pieces) = (0, 0);
    // Parts that were walked and are in no piece yet; nodes being walked, the part that led there, and how many of its parts
    // were looked at.
    let mut parts: Vec<u32> = Vec::new();
    let mut nodes: Vec<(u32, u32, usize)> = Vec::new();
    for start in (0_u32..).take(wiring.nodes) {
        if number[start as usize] != 0 {
            continue;
        }
        numbers += 1;
        (number[start as usize], low[start as usize]) = (numbers, numbers);
        nodes.push((start, NONE, 0));
        while let Some((node, came, done)) = nodes.last_mut() {
            let (node, came) = (*node, *came);
            if let Some(&index) = graph.at(node).get(*done) {
                *done += 1;
                let part = &wiring.parts[index as usize];
                if index == came || !open_to[index as usize] || part.from == part.to {
                    continue;
                }
                let to = other(part, node);
                if number[to as usize] == 0 {
                    numbers += 1;
                    (number[to as usize], low[to as usize]) = (numbers, numbers);
                    parts.push(index);
                    nodes.push((to, index, 0));
                } else if number[to as usize] < number[node as usize] {
                    parts.push(index);
                    low[node as usize] = low[node as usize].min(number[to as usize]);
                }
                continue;
            }
            nodes.pop();
            let Some(&(before, ..)) = nodes.last() else { continue };
            low[before as usize] = low[before as usize].min(low[node as usize]);
            if low[node as usize] >= number[before as usize] {
                while let Some(index) = parts.pop() {
                    piece_of[index as usize] = pieces;
                    if index == came {
                        break;
                    }
                }
                pieces += 1;
            }
        }
    }
    piece_of
}
