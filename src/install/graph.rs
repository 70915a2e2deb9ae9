//! The install as a graph: what is upstream of a load, and what it shares with others.

use super::finish::Metal;
use super::{Install, PartId, PointId};
use crate::index::Id;
use crate::knowledge::{PrimitiveSpec, Role};
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// A current path through a part: one of its inner elements.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Passage {
    /// The part.
    pub part: PartId,
    /// The element: its position in the kind's list.
    pub element: usize,
    /// The pin, for parts with pins.
    pub pin: Option<usize>,
}

/// What a load shares with another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shared {
    /// The other load.
    pub load: PartId,
    /// Parts of its feed that both need, from the supply on.
    pub feed: Vec<PartId>,
    /// Parts of its way back that both need, from the supply on.
    pub earth: Vec<PartId>,
}

/// Points that are one metal are one node, current paths through parts are edges.
pub struct Wiring<'i> {
    install: &'i Install,
    /// The graph; a node's weight is the point that stands for it, `None` inside a part.
    pub graph: UnGraph<Option<PointId>, Passage>,
    nodes: Vec<NodeIndex>,
    feed: Tree,
    back: Tree,
}

/// For each node, the edge by which the supply is reached.
type Tree = BTreeMap<NodeIndex, (NodeIndex, PartId)>;

/// How a passage stands while paths are looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stands {
    /// Current may pass.
    Passes,
    /// A contact that is open, and the whole part with it.
    Apart,
    /// A contact that is open while its part stands in another position: a plug in the other socket.
    Elsewhere,
}

impl Install {
    /// The install as a graph; paths are the shortest, however contacts stand.
    pub fn wiring(&self) -> Wiring<'_> {
        self.wiring_as(&|_| Stands::Passes)
    }

    /// The install as a graph; paths go by what lets current pass, and by what stands otherwise only where nothing
    /// else leads.
    pub fn wiring_as(&self, stands: &dyn Fn(Passage) -> Stands) -> Wiring<'_> {
        let mut metal = Metal::new(self.points.len(), &self.joins);
        let mut graph = UnGraph::default();
        let mut of_root: BTreeMap<usize, NodeIndex> = BTreeMap::new();
        let mut nodes = Vec::with_capacity(self.points.len());
        for p in 0..self.points.len() {
            let root = metal.root(p);
            nodes.push(*of_root.entry(root).or_insert_with(|| graph.add_node(Some(PointId::new(root)))));
        }
        let mut wiring = Wiring { install: self, graph, nodes, feed: Tree::new(), back: Tree::new() };
        for (id, part) in self.parts.enumerate() {
            let pins = if self.knowledge.kinds[part.kind].per_pin {
                (0..part.pins.len()).map(Some).collect()
            } else {
                vec![None]
            };
            for pin in pins {
                wiring.add_edges(id, pin);
            }
        }
        wiring.feed = wiring.reach(true, stands);
        wiring.back = wiring.reach(false, stands);
        wiring
    }
}

impl Wiring<'_> {
    fn add_edges(&mut self, id: PartId, pin: Option<usize>) {
        let part = &self.install.parts[id];
        let kind = &self.install.knowledge.kinds[part.kind];
        let first = pin.unwrap_or(0) * kind.terminals.len();
        let mut inner: BTreeMap<&str, NodeIndex> = BTreeMap::new();
        let mut edges = Vec::new();
        for (at, element) in kind.elements.iter().enumerate() {
            let [from, to] = [&element.from, &element.to].map(|name| {
                let position = kind.terminals.iter().position(|t| t.name == *name);
                let point = position.and_then(|p| part.terminals.get(first + p));
                match point.and_then(|p| self.nodes.get(p.position())) {
                    Some(node) => *node,
                    None => *inner.entry(name.as_str()).or_insert_with(|| self.graph.add_node(None)),
                }
            });
            let from = match &element.primitive {
                // What a converter gives comes from its input.
                PrimitiveSpec::ConverterOutput { input, .. } => {
                    let plus = kind.elements.iter().find(|e| e.key == *input).map(|e| e.from.clone());
                    let position = plus.and_then(|name| kind.terminals.iter().position(|t| t.name == name));
                    let point = position.and_then(|p| part.terminals.get(first + p));
                    edges.push((point.and_then(|p| self.nodes.get(p.position())).copied().unwrap_or(to), from, at));
                    continue;
                }
                _ => from,
            };
            edges.push((from, to, at));
        }
        for (from, to, element) in edges {
            let passage = Passage { part: id, element, pin };
            self.graph.add_edge(from, to, passage);
        }
    }

    /// The node of a point.
    pub fn node(&self, point: PointId) -> Option<NodeIndex> {
        self.nodes.get(point.position()).copied()
    }

    /// Every node that the plus (or minus) of a supply reaches without passing a load, an indicator, a coil or
    /// a supply: breadth first, so the way back along the tree has the fewest parts.
    fn reach(&self, plus: bool, stands: &dyn Fn(Passage) -> Stands) -> Tree {
        let mut tree = Tree::new();
        let mut seen: BTreeSet<NodeIndex> = BTreeSet::new();
        let mut queue: VecDeque<NodeIndex> = VecDeque::new();
        for edge in self.graph.edge_indices() {
            let Some((from, to)) = self.graph.edge_endpoints(edge) else {
                continue;
            };
            if self.role(edge) == Some(Role::Supply) && self.is_source(edge) {
                let start = if plus { from } else { to };
                if seen.insert(start) {
                    queue.push_back(start);
                }
            }
        }
        let mut apart: VecDeque<(NodeIndex, PartId, NodeIndex)> = VecDeque::new();
        let mut elsewhere: VecDeque<(NodeIndex, PartId, NodeIndex)> = VecDeque::new();
        loop {
            while let Some(at) = queue.pop_front() {
                let mut next: Vec<(PartId, NodeIndex, Stands)> = Vec::new();
                let mut walk = self.graph.neighbors(at).detach();
                while let Some((edge, node)) = walk.next(&self.graph) {
                    if let Some(passage) = self.graph.edge_weight(edge)
                        && self.carries(edge, plus)
                    {
                        next.push((passage.part, node, stands(*passage)));
                    }
                }
                next.sort_unstable_by_key(|(part, node, _)| (*part, *node));
                for (part, node, stands) in next {
                    match stands {
                        Stands::Passes if seen.insert(node) => {
                            tree.insert(node, (at, part));
                            queue.push_back(node);
                        }
                        Stands::Passes => {}
                        Stands::Apart => apart.push_back((at, part, node)),
                        Stands::Elsewhere => elsewhere.push_back((at, part, node)),
                    }
                }
            }
            // What passes is walked to its end first; then one contact more is taken as closed.
            let Some((at, part, node)) = apart.pop_front().or_else(|| elsewhere.pop_front()) else {
                break;
            };
            if seen.insert(node) {
                tree.insert(node, (at, part));
                queue.push_back(node);
            }
        }
        tree
    }

    fn role(&self, edge: petgraph::graph::EdgeIndex) -> Option<Role> {
        let passage = self.graph.edge_weight(edge)?;
        let kind = self.install.parts[passage.part].kind;
        Some(self.install.knowledge.kinds[kind].role)
    }

    fn primitive(&self, edge: petgraph::graph::EdgeIndex) -> Option<&PrimitiveSpec> {
        let passage = self.graph.edge_weight(edge)?;
        let kind = self.install.parts[passage.part].kind;
        let elements = &self.install.knowledge.kinds[kind].elements;
        elements.get(passage.element).map(|e| &e.primitive)
    }

    fn is_source(&self, edge: petgraph::graph::EdgeIndex) -> bool {
        matches!(self.primitive(edge), Some(PrimitiveSpec::Source { .. }))
    }

    /// Whether a feed, or a way back, goes on through this edge.
    fn carries(&self, edge: petgraph::graph::EdgeIndex, plus: bool) -> bool {
        let Some(primitive) = self.primitive(edge) else {
            return false;
        };
        match (self.role(edge), primitive) {
            (Some(Role::Load | Role::Indicator), _)
            | (_, PrimitiveSpec::Source { .. } | PrimitiveSpec::ConverterInput { .. }) => false,
            // A charge lamp's current goes back by the field of the machine, and not by its rectifier.
            (Some(Role::Supply), PrimitiveSpec::Coil { .. }) => !plus && self.generates(edge),
            (Some(Role::Supply), PrimitiveSpec::Diode { .. }) => plus,
            (_, PrimitiveSpec::Coil { .. }) => false,
            // The resistor or diode beside a coil is part of the coil's path, not of the contact's.
            (Some(Role::Switching), primitive) => {
                matches!(primitive, PrimitiveSpec::Contact { .. } | PrimitiveSpec::ElectronicSwitch { .. })
            }
            _ => true,
        }
    }

    /// Whether the part of this edge holds a source of its own.
    fn generates(&self, edge: petgraph::graph::EdgeIndex) -> bool {
        self.graph.edge_weight(edge).is_some_and(|passage| {
            let kind = self.install.parts[passage.part].kind;
            let mut elements = self.install.knowledge.kinds[kind].elements.iter();
            elements.any(|e| matches!(e.primitive, PrimitiveSpec::Source { .. }))
        })
    }

    /// The parts between a supply's plus and the point, from the supply on; empty when no feed reaches it.
    pub fn feed_of(&self, point: PointId) -> Vec<PartId> {
        self.trace(&self.feed, point)
    }

    /// The parts between a supply's minus and the point, from the supply on; empty when no way back reaches it.
    pub fn return_of(&self, point: PointId) -> Vec<PartId> {
        self.trace(&self.back, point)
    }

    /// Whether a supply's plus reaches the point, or is it.
    pub fn is_fed(&self, point: PointId) -> bool {
        !self.feed_of(point).is_empty()
    }

    /// Whether a supply's plus (or minus) reaches the point or stands there.
    pub fn reaches(&self, point: PointId, plus: bool) -> bool {
        let tree = if plus { &self.feed } else { &self.back };
        let Some(node) = self.node(point) else {
            return false;
        };
        let at_source = |edge: petgraph::graph::EdgeIndex| {
            let (from, to) = self.graph.edge_endpoints(edge).unwrap_or((node, node));
            self.is_source(edge) && (if plus { from } else { to }) == node
        };
        tree.contains_key(&node) || self.graph.edges(node).any(|e| at_source(e.id()))
    }

    fn trace(&self, tree: &Tree, point: PointId) -> Vec<PartId> {
        let mut parts: Vec<PartId> = Vec::new();
        let mut at = self.node(point);
        while let Some((next, part)) = at.and_then(|n| tree.get(&n)) {
            if parts.last() != Some(part) {
                parts.push(*part);
            }
            at = Some(*next);
        }
        parts.reverse();
        parts
    }

    /// The terminals of a load where current enters and leaves.
    pub fn ends(&self, load: PartId) -> Option<(PointId, PointId)> {
        let part = &self.install.parts[load];
        let (from, to) = self.install.knowledge.kinds[part.kind].through?;
        Some((*part.terminals.get(from)?, *part.terminals.get(to)?))
    }

    /// Everything that stands upstream of a load: its feed, then its way back.
    pub fn upstream(&self, load: PartId) -> Vec<PartId> {
        let Some((enter, leave)) = self.ends(load) else {
            return Vec::new();
        };
        let mut parts = self.feed_of(enter);
        for part in self.return_of(leave) {
            if !parts.contains(&part) {
                parts.push(part);
            }
        }
        parts
    }

    /// All loads, in the order of the file.
    pub fn loads(&self) -> Vec<PartId> {
        let kinds = &self.install.knowledge.kinds;
        let all = self.install.parts.enumerate();
        all.filter(|(_, p)| kinds[p.kind].role == Role::Load).map(|(id, _)| id).collect()
    }

    /// The other loads that need parts of the same feed or of the same way back as `load`; those that share most
    /// of it first.
    pub fn sharing(&self, load: PartId) -> Vec<Shared> {
        let Some((enter, leave)) = self.ends(load) else {
            return Vec::new();
        };
        let (feed, earth) = (self.feed_of(enter), self.return_of(leave));
        let mut found: Vec<Shared> = Vec::new();
        for other in self.loads() {
            let Some((other_in, other_out)) = self.ends(other).filter(|_| other != load) else {
                continue;
            };
            let shared = Shared {
                load: other,
                feed: common(&feed, &self.feed_of(other_in)),
                earth: common(&earth, &self.return_of(other_out)),
            };
            if !shared.feed.is_empty() || !shared.earth.is_empty() {
                found.push(shared);
            }
        }
        found.sort_by_key(|s| std::cmp::Reverse(s.feed.len() + s.earth.len()));
        found
    }
}

/// Parts that both lists start with or hold, in the order of the first.
fn common(a: &[PartId], b: &[PartId]) -> Vec<PartId> {
    let b: BTreeSet<PartId> = b.iter().copied().collect();
    a.iter().copied().filter(|p| b.contains(p)).collect()
}
