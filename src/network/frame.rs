//! The part of a large circuit that has to be solved for one suspect in one set-up, as a circuit of its own.
//!
//! It holds the core of the healthy circuit on the way into the set-up, and whatever the suspect, the set-up's interventions or
//! the state before may add to it: both ends of all that they touch, the ways from there to the core, and the same for every
//! contact that a coil on those ways may close.

use super::Memory;
use super::base::Engine;
use super::core::{Core, Graph};
use super::law::Law;
use super::wiring::Wiring;
use crate::circuit::{Drive, Edit, Element, ElementId, Netlist, NodeId, Primitive};
use crate::index::Id;
use std::collections::{BTreeSet, HashMap, VecDeque};
use std::sync::atomic::AtomicUsize;
use std::sync::{Arc, Mutex, PoisonError};

/// So many frames are kept at most, those that were asked for longest ago going first.
const KEPT: usize = 256;
/// So many numbers in columns of inverses are kept, over all frames (16 MB).
const ROOM: usize = 2 << 20;
/// So many factored states and ways of each.
const STATES: usize = 6;
/// An element that is not there.
const NOWHERE: usize = u32::MAX as usize;

/// A part of a circuit, solved as if it were all.
pub(super) struct Frame {
    pub(super) engine: Engine,
    /// The nodes and elements of the whole circuit that are in it, ascending: position here, index there.
    pub(super) nodes: Box<[u32]>,
    pub(super) elements: Box<[u32]>,
    pub(super) core: Arc<Core>,
    pub(super) graph: Arc<Graph>,
    /// The whole circuit, healthy.
    pub(super) whole: Arc<Wiring>,
}

/// Where ways into set-ups begin, and the core on each.
type Cores = VecDeque<(Box<[usize]>, Arc<Core>)>;

/// Makes frames, and keeps them.
pub(super) struct Framer {
    graph: Arc<Graph>,
    /// Where a way begins, and the core on it; the last that was asked for comes first.
    cores: Mutex<Cores>,
    frames: Mutex<Kept>,
    /// Numbers that may still be kept in columns of inverses.
    room: Arc<AtomicUsize>,
    /// A frame with more nodes than this is not worth while.
    most: usize,
}

#[derive(Default)]
struct Kept {
    /// By what they add to which core (told by its place in memory, which the frame holds): the frame, and when it was asked for.
    frames: HashMap<(usize, Vec<u32>), (Arc<Frame>, u64)>,
    now: u64,
}

impl Framer {
    pub(super) fn new(whole: &Wiring, most: usize) -> Self {
        let graph = Arc::new(Graph::new(whole));
        Self { graph, cores: Mutex::default(), frames: Mutex::default(), room: Arc::new(AtomicUsize::new(ROOM)), most }
    }

    /// The core on the way between two positions of the controls. `most`: so many are kept.
    fn core(&self, whole: &Wiring, [start, end]: [&[usize]; 2], most: usize) -> Arc<Core> {
        let mut cores = self.cores.lock().unwrap_or_else(PoisonError::into_inner);
        let place = cores.iter().position(|(from, core)| *core.positions == *end && **from == *start);
        let known = place.and_then(|place| cores.remove(place));
        let asked = known.unwrap_or_else(|| (start.into(), Arc::new(Core::new(whole, &self.graph, [start, end]))));
        let core = Arc::clone(&asked.1);
        cores.push_front(asked);
        cores.truncate(most.max(1));
        core
    }

    /// The frame for some edits on the way between two positions, entered from `before`; `None` where all has to be solved.
    pub(super) fn frame(
        &self,
        netlist: &Netlist,
        engine: &Engine,
        edits: &[Edit],
        before: &Memory,
        ways: [&[usize]; 2],
    ) -> Option<Arc<Frame>> {
        let whole = &engine.wiring;
        let core = self.core(whole, ways, engine.most_states());
        let mut added = Added { whole, graph: &self.graph, core: &core, netlist, nodes: BTreeSet::new() };
        added.touched(edits, before)?;
        self.holding(netlist, engine, &core, added.closed(BTreeSet::new())?)
    }

    /// A frame with two more nodes in it, between which something is laid; `None` where all has to be solved.
    pub(super) fn widened(
        &self,
        netlist: &Netlist,
        engine: &Engine,
        frame: &Frame,
        nodes: [NodeId; 2],
    ) -> Option<Arc<Frame>> {
        let core = &frame.core;
        let known: BTreeSet<u32> = frame.nodes.iter().copied().filter(|node| !core.has(*node)).collect();
        let mut added = Added { whole: &engine.wiring, graph: &self.graph, core, netlist, nodes: known.clone() };
        for node in nodes {
            added.node(node)?;
        }
        self.holding(netlist, engine, core, added.closed(known)?)
    }

    /// The frame that holds a core and some more nodes.
    fn holding(&self, netlist: &Netlist, engine: &Engine, core: &Arc<Core>, added: Vec<u32>) -> Option<Arc<Frame>> {
        if core.nodes.len() + added.len() > self.most {
            return None;
        }
        let key = (Arc::as_ptr(core) as usize, added);
        let mut kept = self.frames.lock().unwrap_or_else(PoisonError::into_inner);
        kept.now += 1;
        let now = kept.now;
        if let Some((frame, asked)) = kept.frames.get_mut(&key) {
            *asked = now;
            return Some(Arc::clone(frame));
        }
        let frame = Arc::new(self.make(netlist, engine, core, &key.1));
        if kept.frames.len() >= KEPT {
            let mut asked: Vec<u64> = kept.frames.values().map(|(_, asked)| *asked).collect();
            asked.sort_unstable();
            let middle = asked[asked.len() / 2];
            kept.frames.retain(|_, (_, asked)| *asked > middle);
        }
        kept.frames.insert(key, (Arc::clone(&frame), now));
        Some(frame)
    }

    fn make(&self, netlist: &Netlist, engine: &Engine, core: &Arc<Core>, added: &[u32]) -> Frame {
        let whole = &engine.wiring;
        let mut nodes: Vec<u32> = core.nodes.iter().chain(added).copied().collect();
        nodes.sort_unstable();
        let inside = |index: &u32| {
            let element = netlist.elements.get(ElementId::new(*index as usize));
            element.is_some_and(|e| node_in(&nodes, e.from).is_some() && node_in(&nodes, e.to).is_some())
        };
        let mut elements: Vec<u32> =
            nodes.iter().flat_map(|node| self.graph.at(*node)).copied().filter(inside).collect();
        elements.sort_unstable();
        elements.dedup();
        let (nodes, elements) = (nodes.into_boxed_slice(), elements.into_boxed_slice());
        let own = |index: &u32| {
            let element = netlist.elements.get(ElementId::new(*index as usize))?;
            Some(Element {
                name: String::new(),
                from: node_in(&nodes, element.from)?,
                to: node_in(&nodes, element.to)?,
                primitive: primitive_in(&elements, &element.primitive),
            })
        };
        let wiring = Wiring::of(elements.iter().filter_map(own), nodes.len(), Arc::clone(&whole.positions));
        let engine = Engine::part(wiring, STATES, &self.room, engine);
        Frame {
            engine,
            nodes,
            elements,
            core: Arc::clone(core),
            graph: Arc::clone(&self.graph),
            whole: Arc::clone(whole),
        }
    }
}

/// What is added to a core.
struct Added<'a> {
    whole: &'a Wiring,
    graph: &'a Graph,
    core: &'a Core,
    netlist: &'a Netlist,
    nodes: BTreeSet<u32>,
}

impl Added<'_> {
    fn touched(&mut self, edits: &[Edit], before: &Memory) -> Option<()> {
        for edit in edits {
            self.edit(edit)?;
        }
        for element in before.elements() {
            self.remembered(element)?;
        }
        Some(())
    }

    /// The nodes that were added, with what coils on them may join: contacts that no current of the healthy circuit reaches. Of some
    /// it is `seen` to already.
    fn closed(mut self, mut seen: BTreeSet<u32>) -> Option<Vec<u32>> {
        loop {
            let fresh: Vec<u32> = self.nodes.difference(&seen).copied().collect();
            if fresh.is_empty() {
                break;
            }
            seen.extend(&fresh);
            let is_in = |node: u32| self.core.has(node) || self.nodes.contains(&node);
            let is_coil = |index: &u32| {
                let part = &self.whole.parts[*index as usize];
                matches!(part.law, Law::Coil { .. }) && is_in(part.from) && is_in(part.to)
            };
            let at = |node: &u32| self.graph.at(*node).iter().copied();
            let coils: Vec<u32> = fresh.iter().flat_map(at).filter(is_coil).collect();
            for coil in coils {
                self.moved_by(coil)?;
            }
        }
        Some(self.nodes.into_iter().filter(|node| !self.core.has(*node)).collect())
    }

    fn edit(&mut self, edit: &Edit) -> Option<()> {
        match edit {
            // What loses a conductor gains no current.
            Edit::Open(_) | Edit::Series(..) => Some(()),
            Edit::Stuck(element, closed) => {
                let index = u32::try_from(element.position()).ok()?;
                if *closed && !self.core.may_conduct(index) { self.element(*element) } else { Some(()) }
            }
            Edit::Bridge(a, b, _) => self.node(*a).and_then(|()| self.node(*b)),
            Edit::Replace(element, primitive) => {
                let plain = matches!(
                    primitive,
                    Primitive::Resistance { .. }
                        | Primitive::Filament { .. }
                        | Primitive::Power { .. }
                        | Primitive::Fuse { .. }
                );
                let conducts = u32::try_from(element.position()).is_ok_and(|index| self.core.may_conduct(index));
                if plain && conducts { Some(()) } else { self.element(*element) }
            }
            Edit::Move { element, to, .. } => {
                self.element(*element)?;
                self.node(*to)?;
                // A coil that was moved may come to anything.
                self.moved_by(u32::try_from(element.position()).ok()?)
            }
        }
    }

    /// What was left in another state than that of a circuit never used.
    fn remembered(&mut self, element: ElementId) -> Option<()> {
        let index = u32::try_from(element.position()).ok()?;
        let part = self.whole.parts.get(element.position())?;
        match part.law {
            // These follow at once, wherever the controls and coils are.
            Law::Contact { drive, .. } | Law::Switch { drive, .. }
                if matches!(
                    self.whole.tables.drives.get(drive as usize),
                    Some(Drive::Control { .. } | Drive::Coils { .. })
                ) && !matches!(part.law, Law::Switch { .. }) =>
            {
                Some(())
            }
            _ => {
                self.element(element)?;
                self.moved_by(index)
            }
        }
    }

    fn moved_by(&mut self, coil: u32) -> Option<()> {
        let graph = self.graph;
        for contact in graph.moved_by(coil).iter().filter(|contact| !self.core.may_conduct(**contact)) {
            self.element(ElementId::new(*contact as usize))?;
        }
        Some(())
    }

    fn element(&mut self, element: ElementId) -> Option<()> {
        let element = self.netlist.elements.get(element);
        // What is not there changes nothing.
        element.map_or(Some(()), |element| self.node(element.from).and_then(|()| self.node(element.to)))
    }

    fn node(&mut self, node: NodeId) -> Option<()> {
        let Some(node) = self.whole.node(node) else { return Some(()) };
        self.core.reach(self.whole, node, &mut self.nodes).then_some(())
    }
}

/// The node of a frame that is this one.
fn node_in(nodes: &[u32], node: NodeId) -> Option<NodeId> {
    let node = u32::try_from(node.position()).ok()?;
    nodes.binary_search(&node).ok().map(NodeId::new)
}

/// The element of a frame that is this one.
fn element_in(elements: &[u32], element: ElementId) -> Option<ElementId> {
    let element = u32::try_from(element.position()).ok()?;
    elements.binary_search(&element).ok().map(ElementId::new)
}

/// The same primitive with the elements of a frame. Coils that are not in it are never pulled in.
fn primitive_in(elements: &[u32], primitive: &Primitive) -> Primitive {
    let one = |element: &ElementId| element_in(elements, *element).unwrap_or_else(|| ElementId::new(NOWHERE));
    let driven = |drive: &Drive| match drive {
        Drive::Control { .. } => drive.clone(),
        Drive::Coils { coils, closed_at_rest } => Drive::Coils {
            coils: coils.iter().filter_map(|coil| element_in(elements, *coil)).collect(),
            closed_at_rest: *closed_at_rest,
        },
        Drive::Latch { set, reset } => Drive::Latch { set: one(set), reset: one(reset) },
        Drive::Step { coil } => Drive::Step { coil: one(coil) },
    };
    let mut primitive = primitive.clone();
    match &mut primitive {
        Primitive::Contact { drive, .. } | Primitive::ElectronicSwitch { drive, .. } => *drive = driven(drive),
        Primitive::ConverterInput { output, enable, .. } => {
            *output = one(output);
            *enable = enable.as_ref().map(one);
        }
        Primitive::ConverterOutput { input, .. } => *input = one(input),
        Primitive::Source { .. }
        | Primitive::Resistance { .. }
        | Primitive::Filament { .. }
        | Primitive::Motor { .. }
        | Primitive::Power { .. }
        | Primitive::Fuse { .. }
        | Primitive::Coil { .. }
        | Primitive::Diode { .. } => {}
    }
    primitive
}

impl Frame {
    /// The node here that is this one of the whole circuit.
    pub(super) fn node(&self, node: u32) -> Option<u32> {
        self.nodes.binary_search(&node).ok().and_then(|place| u32::try_from(place).ok())
    }

    /// The element here that is this one of the whole circuit.
    pub(super) fn element(&self, element: usize) -> Option<usize> {
        let element = u32::try_from(element).ok()?;
        self.elements.binary_search(&element).ok()
    }

    /// The element of the whole circuit that is this one here.
    pub(super) fn outside(&self, element: usize) -> usize {
        self.elements.get(element).map_or(NOWHERE, |index| *index as usize)
    }

    /// The same edits, as far as they concern what is here.
    pub(super) fn edits(&self, edits: &[Edit]) -> Vec<Edit> {
        edits.iter().filter_map(|edit| self.edit(edit)).collect()
    }

    fn edit(&self, edit: &Edit) -> Option<Edit> {
        let of = |element: &ElementId| element_in(&self.elements, *element);
        let at = |node: &NodeId| node_in(&self.nodes, *node);
        Some(match edit {
            Edit::Open(element) => Edit::Open(of(element)?),
            Edit::Replace(element, primitive) => Edit::Replace(of(element)?, primitive_in(&self.elements, primitive)),
            Edit::Series(element, ohms) => Edit::Series(of(element)?, *ohms),
            Edit::Bridge(a, b, ohms) => Edit::Bridge(at(a)?, at(b)?, *ohms),
            Edit::Stuck(element, closed) => Edit::Stuck(of(element)?, *closed),
            Edit::Move { element, from_end, to } => {
                Edit::Move { element: of(element)?, from_end: *from_end, to: at(to)? }
            }
        })
    }

    /// What is remembered of what is here.
    pub(super) fn memory(&self, memory: &Memory) -> Memory {
        memory.renumbered(|element| self.element(element))
    }

    /// The same of the whole circuit.
    pub(super) fn memory_outside(&self, memory: &Memory) -> Memory {
        memory.renumbered(|element| Some(self.outside(element)))
    }
}
