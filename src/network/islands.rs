//! Which nodes are joined by closed branches: decided by union-find, never read off a pivot.

use super::law::{Part, Status};

/// A union-find over `n` things.
pub(super) struct Joined {
    parent: Vec<u32>,
}

impl Joined {
    pub(super) fn new(n: usize) -> Self {
        Self { parent: (0..u32::try_from(n).unwrap_or(u32::MAX)).collect() }
    }

    /// The representative of `a`.
    pub(super) fn find(&mut self, mut a: u32) -> u32 {
        while self.parent[a as usize] != a {
            let up = self.parent[self.parent[a as usize] as usize];
            self.parent[a as usize] = up;
            a = up;
        }
        a
    }

    /// Joins two; `false` when they were joined before.
    pub(super) fn join(&mut self, a: u32, b: u32) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        if a == b {
            return false;
        }
        // The smaller index leads, so that the outcome does not depend on the order of the branches.
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        self.parent[high as usize] = low;
        true
    }
}

/// The islands of one discrete state, each with its datum node.
#[derive(Clone, Debug, Default)]
pub(super) struct Islands {
    /// The island of each node, named by its lowest node.
    pub(super) of: Vec<u32>,
    /// The pinned node of each island, ascending by island.
    pub(super) data: Vec<u32>,
    /// The sum of conductances at each datum when it was chosen.
    strength: Vec<f64>,
    /// Whether anything drives a current in the island, by its lowest node.
    driven: Vec<bool>,
    /// Whether each node is a datum.
    pin: Vec<bool>,
}

impl Islands {
    /// The islands of `parts` as they stand. Data of `prefer` are kept where there is one in an island.
    pub(super) fn new(nodes: usize, parts: &[Part], status: &[Status], prefer: Option<&Islands>) -> Self {
        let mut joined = Joined::new(nodes);
        for (part, status) in parts.iter().zip(status) {
            if part.conducts(*status) {
                joined.join(part.from, part.to);
            }
        }
        let of: Vec<u32> = (0..u32::try_from(nodes).unwrap_or(u32::MAX)).map(|node| joined.find(node)).collect();
        let (data, strength) = pins(&of, parts, status, prefer);
        let mut driven = vec![false; nodes];
        for (part, status) in parts.iter().zip(status) {
            if part.drives() && part.conducts(*status) {
                driven[of[part.from as usize] as usize] = true;
            }
        }
        let mut pin = vec![false; nodes];
        for datum in &data {
            pin[*datum as usize] = true;
        }
        Self { of, data, strength, driven, pin }
    }

    /// Whether anything drives a current in the island of `node`; if not, all of it is at its datum.
    pub(super) fn driven(&self, node: usize) -> bool {
        self.driven[self.of[node] as usize]
    }

    /// Whether `node` is the datum of its island.
    pub(super) fn pinned(&self, node: u32) -> bool {
        self.pin[node as usize]
    }

    /// Whether two nodes lie in one island.
    pub(super) fn joined(&self, a: u32, b: u32) -> bool {
        self.of[a as usize] == self.of[b as usize]
    }
}

/// The datum of each island: a preferred one, or else the node with the largest sum of conductances. What
/// rounding leaves over in the sums of currents flows off through the datum: from a node behind megohms it
/// would lift the whole island.
fn pins(of: &[u32], parts: &[Part], status: &[Status], prefer: Option<&Islands>) -> (Vec<u32>, Vec<f64>) {
    const NONE: u32 = u32::MAX;
    let mut best = vec![(NONE, 0.0_f64); of.len()];
    if let Some(islands) = prefer {
        for (datum, strength) in islands.data.iter().zip(&islands.strength) {
            let place = &mut best[of[*datum as usize] as usize];
            if place.0 == NONE || *strength > place.1 {
                *place = (*datum, *strength);
            }
        }
    }
    let missing: Vec<bool> = of.iter().map(|island| best[*island as usize].0 == NONE).collect();
    if missing.contains(&true) {
        let mut weight = vec![0.0_f64; of.len()];
        for (part, status) in parts.iter().zip(status) {
            if part.conducts(*status) && part.from != part.to && missing[part.from as usize] {
                let siemens = part.stamp(*status, part.branch(*status, 0.0).siemens);
                weight[part.from as usize] += siemens;
                weight[part.to as usize] += siemens;
            }
        }
        for (node, _) in missing.iter().enumerate().filter(|(_, missing)| **missing) {
            let place = &mut best[of[node] as usize];
            if place.0 == NONE || weight[node] > place.1 {
                *place = (u32::try_from(node).unwrap_or(u32::MAX), weight[node]);
            }
        }
    }
    of.iter().enumerate().filter(|(node, island)| *node == **island as usize).map(|(node, _)| best[node]).unzip()
}
