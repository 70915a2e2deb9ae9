//! From an install to its circuit: joins become nodes, parts become their inner elements.

use super::build::Builder;
use super::{Control, ControlId, Element, ElementId, Netlist, Node, NodeId, Primitive};
use crate::index::{Id, IdVec};
use crate::install::{self, Install, Part, PartId, PointId};
use crate::knowledge::{ElementSpec, Figures, Kind, NoFigure, Notices, Role};
use crate::units::Watts;
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

/// A circuit and where its pieces come from.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// The circuit itself.
    pub netlist: Netlist,
    /// The node of each point of the install.
    pub node_of: IdVec<PointId, NodeId>,
    /// The elements of each part, pin by pin, in the order of its kind.
    pub elements_of: IdVec<PartId, Vec<Inner>>,
    /// The elements of a part that conduct nothing while it is taken out for a test; none where it never is.
    pub parting_of: IdVec<PartId, Vec<ElementId>>,
    /// The part of each element.
    pub part_of: IdVec<ElementId, PartId>,
    /// Relative spread (one sigma) of each element's leading number: ohms, EMF of a source, watts, forward volts.
    pub spread_of: IdVec<ElementId, f64>,
    /// Relative spread (one sigma) of the internal resistance of each source; zero for other elements.
    pub internal_spread_of: IdVec<ElementId, f64>,
    /// The control of the circuit for each control of the install.
    pub control_of: IdVec<install::ControlId, ControlId>,
    /// The node that stands for ground.
    pub earth: NodeId,
    /// What can be seen, heard or felt, in the order of the parts.
    pub sights: Vec<Sighted>,
    /// Nodes inside parts: part, pin, name.
    inner_nodes: BTreeMap<(PartId, usize, String), NodeId>,
}

/// An element of a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inner {
    /// Its pin (0-based), for kinds that repeat for each pin.
    pub pin: Option<usize>,
    /// Its key in the kind.
    pub key: String,
    /// The element.
    pub element: ElementId,
}

/// Something of a part that a person can notice: the first sights are those of the kinds, in the order of the parts, then
/// follows how hot each part is that has a limit.
///
/// A motor that does not turn does nothing, whatever it takes. Where the word table is about `whole` and `opened`,
/// a fuse that is blown, a contact that is open and an element that a fault has opened are all `opened`.
#[derive(Clone, Debug, PartialEq)]
pub struct Sighted {
    /// The part.
    pub part: PartId,
    /// Which sight of its kind; `None`: its heat.
    pub sight: Option<usize>,
    /// What is noticed.
    pub notices: Notices,
    /// The elements whose power or state is noticed; all but heat and marks have one.
    pub elements: Vec<ElementId>,
    /// What faults of the part itself leave to be seen, by the key of their mode: marks of the word table at the lower and at the
    /// upper end of the range.
    pub marks: BTreeMap<String, [String; 2]>,
    /// Name of the word table.
    pub table: String,
    /// Power in watts of that element when all is well, at the part's nominal voltage; zero where none is taken (a fuse). The
    /// power at which a part is hot; the drain in amps that empties a battery within days; the nominal volts of what is charged.
    pub nominal: f64,
}

/// A part that cannot be expanded, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Incomplete {
    /// The part.
    pub part: PartId,
    /// The element (or mode) that it fails at.
    pub at: String,
    /// What is missing or impossible.
    pub why: NoFigure,
}

impl Circuit {
    /// Expands an install.
    ///
    /// # Errors
    ///
    /// All parts that lack a figure or have an impossible one.
    pub fn expand(install: &Install) -> Result<Self, Vec<Incomplete>> {
        let mut netlist = Netlist::default();
        let node_of = nodes(install, &mut netlist);
        let control_of = install
            .controls
            .iter()
            .map(|c| netlist.controls.push(Control { name: c.name.clone(), positions: c.positions.clone(), rest: 0 }))
            .collect();
        let earth = node_of.get(install.earth).copied().unwrap_or(NodeId::new(0));
        let mut circuit = Self {
            netlist,
            node_of,
            elements_of: IdVec::new(),
            parting_of: IdVec::new(),
            part_of: IdVec::new(),
            spread_of: IdVec::new(),
            internal_spread_of: IdVec::new(),
            control_of,
            earth,
            sights: Vec::new(),
            inner_nodes: BTreeMap::new(),
        };
        let mut incomplete = Vec::new();
        for (id, part) in install.parts.enumerate() {
            let kind = &install.knowledge.kinds[part.kind];
            let control = circuit.control_for(install, id, part, kind);
            circuit.elements_of.push(Vec::new());
            for pin in pins(kind, part) {
                circuit.add(install, (id, part, kind), pin, control, &mut incomplete);
            }
            let opens = circuit.elements_of[id].iter().filter(|inner| kind.parts(&inner.key));
            let opens = opens.map(|inner| inner.element).collect();
            circuit.parting_of.push(opens);
        }
        circuit.feel(install);
        if incomplete.is_empty() { Ok(circuit) } else { Err(incomplete) }
    }

    /// Adds how hot each part is that a hand can be held to: all its elements but coils, and the crimps on its terminals.
    fn feel(&mut self, install: &Install) {
        let complaints = &install.knowledge.complaints;
        let mut crimps: BTreeMap<NodeId, Vec<ElementId>> = BTreeMap::new();
        for (id, part) in install.parts.enumerate().filter(|(_, part)| part.joint_of.is_some()) {
            let elements: Vec<ElementId> = self.elements_of[id].iter().map(|inner| inner.element).collect();
            for point in &part.terminals {
                crimps.entry(self.node_of[*point]).or_default().extend(&elements);
            }
        }
        for (id, part) in install.parts.enumerate().filter(|(_, part)| part.joint_of.is_none()) {
            let role = install.knowledge.kinds[part.kind].role;
            let Some((_, hot)) = complaints.hot.iter().find(|(of, _)| *of == role) else { continue };
            let warms = |e: &ElementId| !matches!(self.netlist.elements[*e].primitive, Primitive::Coil { .. });
            let mut elements: Vec<ElementId> = self.elements_of[id].iter().map(|i| i.element).filter(warms).collect();
            let nodes: BTreeSet<NodeId> = part.terminals.iter().map(|point| self.node_of[*point]).collect();
            elements.extend(nodes.iter().filter_map(|node| crimps.get(node)).flatten());
            if !elements.is_empty() {
                let table = complaints.warmth.clone();
                self.sights.push(Sighted {
                    part: id,
                    sight: None,
                    notices: Notices::Heat,
                    elements,
                    marks: BTreeMap::new(),
                    table,
                    nominal: *hot,
                });
            }
        }
    }

    /// The node of a terminal or inner node of a part (of one of its pins), by its name in the kind.
    pub fn node(&self, install: &Install, part: PartId, pin: usize, name: &str) -> Option<NodeId> {
        let parts = install.parts.get(part)?;
        let kind = install.knowledge.kinds.get(parts.kind)?;
        match kind.terminals.iter().position(|t| t.name == name) {
            Some(position) => {
                let point = parts.terminals.get(pin * kind.terminals.len() + position)?;
                self.node_of.get(*point).copied()
            }
            None => self.inner_nodes.get(&(part, pin, name.to_owned())).copied(),
        }
    }

    /// The element of a part by its key in the kind (the first pin's, where there are several).
    pub fn element(&self, part: PartId, key: &str) -> Option<ElementId> {
        let inner = self.elements_of.get(part)?.iter().find(|inner| inner.key == key);
        inner.map(|inner| inner.element)
    }

    /// The control that sets a part. A part with positions that the install names no control for gets its own.
    fn control_for(&mut self, install: &Install, id: PartId, part: &Part, kind: &Kind) -> Option<ControlId> {
        if kind.positions.is_empty() {
            return None;
        }
        let named = install.controls.enumerate().find(|(_, control)| control.part == id);
        let found = named.and_then(|(control, _)| self.control_of.get(control).copied());
        Some(found.unwrap_or_else(|| {
            self.netlist.controls.push(Control { name: part.id.clone(), positions: kind.positions.clone(), rest: 0 })
        }))
    }

    fn add(
        &mut self,
        install: &Install,
        (id, part, kind): (PartId, &Part, &Kind),
        pin: usize,
        control: Option<ControlId>,
        incomplete: &mut Vec<Incomplete>,
    ) {
        let first = self.netlist.elements.len();
        let ids: Vec<(&ElementSpec, ElementId)> =
            kind.elements.iter().enumerate().map(|(i, spec)| (spec, ElementId::new(first + i))).collect();
        let builder = Builder { figures: figures(install, part, kind), ids: &ids, control, positions: &kind.positions };
        for (spec, element) in &ids {
            let (primitive, sigma) = builder.primitive(&spec.primitive).unwrap_or_else(|why| {
                let at = spec.key.clone();
                incomplete.push(Incomplete { part: id, at, why });
                // Keeps the ids in step; the circuit is not handed out.
                (Primitive::Resistance { ohms: super::DEAD_SHORT }, 0.0)
            });
            let ends = [&spec.from, &spec.to].map(|name| self.node_or_inner(install, (id, part, kind), pin, name));
            let [Some(from), Some(to)] = ends else {
                let why = NoFigure::NotStated("a terminal".to_owned());
                incomplete.push(Incomplete { part: id, at: spec.key.clone(), why });
                return;
            };
            self.netlist.elements.push(Element { name: element_name(part, kind, pin, &spec.key), from, to, primitive });
            self.part_of.push(id);
            self.spread_of.push(sigma);
            self.internal_spread_of.push(builder.internal_spread(&spec.primitive));
            self.elements_of[id].push(Inner {
                pin: kind.per_pin.then_some(pin),
                key: spec.key.clone(),
                element: *element,
            });
        }
        for (position, sight) in kind.sights.iter().enumerate() {
            if sight.notices == Notices::Marks {
                // One look at the part, however many pins it has.
                if pin == 0 {
                    self.sights.push(Sighted {
                        part: id,
                        sight: Some(position),
                        notices: sight.notices,
                        elements: Vec::new(),
                        marks: sight.marks.clone(),
                        table: sight.table.clone(),
                        nominal: 0.0,
                    });
                }
                continue;
            }
            let Some((_, element)) = ids.iter().find(|(spec, _)| spec.key == sight.element) else { continue };
            let Some(primitive) = self.netlist.elements.get(*element).map(|e| &e.primitive) else { continue };
            let nominal = match (&sight.full, sight.notices) {
                (None, Notices::Charge | Notices::Standing) => builder.figures.nominal(),
                (None, Notices::Work | Notices::Heat | Notices::Marks) => {
                    nominal_power(primitive, builder.figures.nominal()).get()
                }
                (Some(full), _) => builder.figures.amount(full).map(|full| full.value).unwrap_or_default(),
            };
            self.sights.push(Sighted {
                part: id,
                sight: Some(position),
                notices: sight.notices,
                elements: vec![*element],
                marks: BTreeMap::new(),
                table: sight.table.clone(),
                nominal,
            });
        }
    }

    fn node_or_inner(
        &mut self,
        install: &Install,
        (id, part, kind): (PartId, &Part, &Kind),
        pin: usize,
        name: &str,
    ) -> Option<NodeId> {
        if kind.terminals.iter().any(|t| t.name == name) {
            return self.node(install, id, pin, name);
        }
        let key = (id, pin, name.to_owned());
        if let Some(known) = self.inner_nodes.get(&key) {
            return Some(*known);
        }
        let node = self.netlist.nodes.push(Node { name: format!("{}.{name}", pin_name(part, kind, pin)) });
        self.inner_nodes.insert(key, node);
        Some(node)
    }
}

/// The figures of a part.
pub(super) fn figures<'a>(install: &'a Install, part: &'a Part, kind: &'a Kind) -> Figures<'a> {
    Figures { kind, stated: &part.figures, nominal: install.nominal, tables: &install.knowledge.tables }
}

/// The pins of a part, 0-based; one for kinds without pins.
pub(super) fn pins(kind: &Kind, part: &Part) -> std::ops::Range<usize> {
    0..if kind.per_pin { part.pins.len() } else { 1 }
}

/// A part, or one pin of it, as it is called in ids: `power plug.minus`.
pub(super) fn pin_name(part: &Part, kind: &Kind, pin: usize) -> String {
    match part.pins.get(pin) {
        Some(name) if kind.per_pin => format!("{}.{name}", part.id),
        _ => part.id.clone(),
    }
}

fn element_name(part: &Part, kind: &Kind, pin: usize, key: &str) -> String {
    let name = pin_name(part, kind, pin);
    if kind.elements.len() == 1 { name } else { format!("{name}.{key}") }
}

/// Power of an element with `volts` across it, all of it in the state that it has when all is well.
fn nominal_power(primitive: &Primitive, volts: f64) -> Watts {
    let ohms = match primitive {
        Primitive::Resistance { ohms } | Primitive::Coil { ohms, .. } => *ohms,
        Primitive::Motor { running, .. } => *running,
        Primitive::Filament { hot, nominal } => {
            return Watts::try_from(nominal.get().powi(2) / hot.get()).unwrap_or_default();
        }
        Primitive::Power { watts, .. } => return *watts,
        Primitive::Diode { forward, series } => {
            let amps = (volts - forward.get()).max(0.0) / series.get();
            return Watts::try_from(volts * amps).unwrap_or_default();
        }
        Primitive::Source { .. }
        | Primitive::Fuse { .. }
        | Primitive::Contact { .. }
        | Primitive::ElectronicSwitch { .. }
        | Primitive::ConverterInput { .. }
        | Primitive::ConverterOutput { .. } => return Watts::ZERO,
    };
    Watts::try_from(volts * volts / ohms.get()).unwrap_or_default()
}

/// Merges joined points and makes a node of each piece of metal, in the order of its first point.
fn nodes(install: &Install, netlist: &mut Netlist) -> IdVec<PointId, NodeId> {
    let mut metal: UnionFind<usize> = UnionFind::new(install.points.len());
    for (a, b) in &install.joins {
        // A point that does not exist joins nothing.
        let _ = metal.try_union(a.position(), b.position());
    }
    let mut node_of_root: BTreeMap<usize, (NodeId, Rank)> = BTreeMap::new();
    let mut node_of = IdVec::new();
    for (id, point) in install.points.enumerate() {
        let root = metal.find_mut(id.position());
        let rank = rank(install, id);
        let entry = node_of_root.entry(root).or_insert_with(|| {
            let name = point.name.clone();
            (netlist.nodes.push(Node { name }), rank)
        });
        if rank < entry.1 {
            entry.1 = rank;
            netlist.nodes[entry.0].name.clone_from(&point.name);
        }
        node_of.push(entry.0);
    }
    node_of
}

/// How well a point's name tells a person where the metal is; the smaller the better.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    /// The point that stands for ground: it has the owner's word.
    Earth,
    /// A junction that the file names.
    Junction,
    /// A terminal of a thing that can be held.
    Terminal,
    /// A plug's pin, an earth point.
    Joint,
    /// The end of a wire.
    Conductor,
    /// The crimp at the end of a wire.
    EndJoint,
}

fn rank(install: &Install, id: PointId) -> Rank {
    if id == install.earth {
        return Rank::Earth;
    }
    let part = install.points.get(id).and_then(|point| point.of);
    let Some(part) = part.and_then(|(part, _)| install.parts.get(part)) else {
        return Rank::Junction;
    };
    if part.joint_of.is_some() {
        return Rank::EndJoint;
    }
    match install.knowledge.kinds.get(part.kind).map(|kind| kind.role) {
        Some(Role::Conductor) => Rank::Conductor,
        Some(Role::Joint) => Rank::Joint,
        _ => Rank::Terminal,
    }
}
