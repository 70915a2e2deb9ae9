//! Which nodes are joined by closed branches: decided by union-find, never read off a pivot.

use super::law::{Part, Status};

/// A union-find over `n` things.
pub(super) struct Joined {
    parent: Vec<u32>,
}

impl Joined {
    pub fn new(n: usize) -> Self {
        Self {
            parent: (0..u32::try_from(n).unwrap_or(u32::MAX)).collect(),
        }
    }

    /// The representative of `a`.
    pub fn find(&mut self, mut a: u32) -> u32 {
        while self.parent[a as usize] != a {
            let up = self.parent[self.parent[a as usize] as usize];
            self.parent[a as usize] = up;
            a = up;
        }
        a
    }

    /// Joins two; `false` when they were joined before.
    pub fn join(&mut self, a: u32, b: u32) -> bool {
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
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub(super) struct Islands {
    /// The island of each node, named by its lowest node.
    pub of: Vec<u32>,
    /// The pinned node of each island, ascending by island.
    pub data: Vec<u32>,
    /// Whether anything drives a current in the island, by its lowest node.
    driven: Vec<bool>,
}

impl Islands {
    /// The islands of `parts` as they stand.
    pub fn new(nodes: usize, parts: &[Part], status: &[Status]) -> Self {
        let mut joined = Joined::new(nodes);
        for (part, status) in parts.iter().zip(status) {
            if part.conducts(*status) {
                joined.join(part.from, part.to);
            }
        }
        let of: Vec<u32> = (0..u32::try_from(nodes).unwrap_or(u32::MAX))
            .map(|node| joined.find(node))
            .collect();
        let data = strongest(&of, parts, status);
        let mut driven = vec![false; nodes];
        for (part, status) in parts.iter().zip(status) {
            if part.drives() && part.conducts(*status) {
                driven[of[part.from as usize] as usize] = true;
            }
        }
        Self { of, data, driven }
    }

    /// Whether anything drives a current in the island of `node`; if not, all of it is at its datum.
    pub fn driven(&self, node: usize) -> bool {
        self.driven[self.of[node] as usize]
    }

    /// Whether two nodes lie in one island.
    pub fn joined(&self, a: u32, b: u32) -> bool {
        self.of[a as usize] == self.of[b as usize]
    }
}

/// The node of each island with the largest sum of conductances. What rounding leaves over in the sums of
/// currents flows off through the datum: from a node behind megohms it would lift the whole island.
fn strongest(of: &[u32], parts: &[Part], status: &[Status]) -> Vec<u32> {
    let mut weight = vec![0.0_f64; of.len()];
    for (part, status) in parts.iter().zip(status) {
        if part.conducts(*status) && part.from != part.to {
            let siemens = part.stamp(*status, part.branch(*status, 0.0).siemens);
            weight[part.from as usize] += siemens;
            weight[part.to as usize] += siemens;
        }
    }
    let mut best: Vec<u32> = (0..u32::try_from(of.len()).unwrap_or(u32::MAX)).collect();
    for (node, island) in of.iter().enumerate() {
        let leader = best[*island as usize] as usize;
        if weight[node] > weight[leader] {
            best[*island as usize] = u32::try_from(node).unwrap_or(u32::MAX);
        }
    }
    of.iter()
        .enumerate()
        .filter(|(node, island)| *node == **island as usize)
        .map(|(node, _)| best[node])
        .collect()
}
