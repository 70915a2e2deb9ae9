//! A system that is not as it is described: another load, something added, something left out. No fault of the catalogue.

use crate::circuit::{Circuit, Edit, NodeId, Primitive};
use crate::install::{Install, PartId};
use crate::knowledge::Role;
use crate::units::{Ohms, Watts};
use fastrand::Rng;
use std::collections::{BTreeMap, BTreeSet};

/// Resistance of another load against the described one: from and to.
const OTHER: (f64, f64) = (0.4, 2.5);
/// Ohms of an added wire: 10 mΩ is a metre of 1.5 mm² (`rho` of copper 0.0172 ohm mm²/m), 50 mΩ four of 1 mm².
const WIRE: (f64, f64) = (0.01, 0.05);
/// Watts of an added load at nominal voltage: a side lamp to a headlamp.
const ADDED: (f64, f64) = (5.0, 60.0);

/// What differs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Difference {
    /// The load has this many times the resistance.
    OtherLoad(f64),
    /// A wire between two points of one board or cable.
    AddedWire(NodeId, NodeId, Ohms),
    /// A load from where another one is fed to earth.
    AddedLoad(NodeId, Ohms),
    /// A part is not there: the way through it is open.
    LeftOut,
}

/// A difference from the description.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What differs.
    pub what: Difference,
    /// The parts that it is at: the one that is another or missing; for what was added those with a terminal there.
    pub parts: Vec<PartId>,
    /// The changes to the circuit.
    pub edits: Vec<Edit>,
}

impl Change {
    /// Draws one: another load, something added and something left out are equally frequent. `None` where the install has
    /// no place for what was drawn.
    pub fn draw(circuit: &Circuit, install: &Install, rng: &mut Rng) -> Option<Self> {
        match rng.usize(0..6) {
            0 | 1 => other_load(circuit, install, rng),
            2 => added_wire(circuit, install, rng),
            3 => added_load(circuit, install, rng),
            _ => left_out(circuit, install, rng),
        }
    }
}

fn other_load(circuit: &Circuit, install: &Install, rng: &mut Rng) -> Option<Change> {
    let part = pick(&parts(install, |role| role == Role::Load), rng)?;
    let factor = between(OTHER, rng);
    let inner = circuit.elements_of.get(part)?;
    let of = |id| Some(Edit::Replace(id, scaled(&circuit.netlist.elements.get(id)?.primitive, factor)?));
    let edits: Vec<Edit> = inner.iter().filter_map(|inner| of(inner.element)).collect();
    (!edits.is_empty()).then(|| Change { what: Difference::OtherLoad(factor), parts: vec![part], edits })
}

fn left_out(circuit: &Circuit, install: &Install, rng: &mut Rng) -> Option<Change> {
    let part = pick(&parts(install, |role| role != Role::Supply), rng)?;
    let edits: Vec<Edit> = circuit.elements_of.get(part)?.iter().map(|inner| Edit::Open(inner.element)).collect();
    (!edits.is_empty()).then(|| Change { what: Difference::LeftOut, parts: vec![part], edits })
}

fn added_wire(circuit: &Circuit, install: &Install, rng: &mut Rng) -> Option<Change> {
    // What belongs together has the same name up to the first dot: the ways of a board, a cable with its ends.
    let mut near: BTreeMap<&str, BTreeSet<NodeId>> = BTreeMap::new();
    for part in install.parts.iter() {
        let owner = part.id.split('.').next().unwrap_or_default();
        near.entry(owner).or_default().extend(part.terminals.iter().filter_map(|p| circuit.node_of.get(*p)));
    }
    let places: Vec<Vec<NodeId>> =
        near.into_values().filter(|nodes| nodes.len() > 1).map(|nodes| nodes.into_iter().collect()).collect();
    let nodes = pick(&places, rng)?;
    let a = pick(&nodes, rng)?;
    let others: Vec<NodeId> = nodes.into_iter().filter(|node| *node != a).collect();
    let b = pick(&others, rng)?;
    let ohms = Ohms::try_from(between(WIRE, rng)).ok()?;
    let what = Difference::AddedWire(a, b, ohms);
    Some(Change { what, parts: touching(circuit, install, &[a, b]), edits: vec![Edit::Bridge(a, b, ohms)] })
}

fn added_load(circuit: &Circuit, install: &Install, rng: &mut Rng) -> Option<Change> {
    let part = pick(&parts(install, |role| role == Role::Load), rng)?;
    let terminals = install.parts.get(part)?.terminals.iter().filter_map(|p| circuit.node_of.get(*p).copied());
    let at = pick(&terminals.filter(|node| *node != circuit.earth).collect::<Vec<_>>(), rng)?;
    let volts = install.nominal.get();
    let ohms = Ohms::try_from(volts * volts / between(ADDED, rng)).ok()?;
    let edits = vec![Edit::Bridge(at, circuit.earth, ohms)];
    Some(Change { what: Difference::AddedLoad(at, ohms), parts: touching(circuit, install, &[at]), edits })
}

/// A load with `factor` times the resistance; `None` for what is not the consuming part of one.
fn scaled(primitive: &Primitive, factor: f64) -> Option<Primitive> {
    let mut other = primitive.clone();
    match &mut other {
        Primitive::Resistance { ohms } | Primitive::Filament { hot: ohms, .. } | Primitive::Coil { ohms, .. } => {
            *ohms = *ohms * factor;
        }
        Primitive::Motor { winding, running, .. } => {
            *winding = *winding * factor;
            *running = *running * factor;
        }
        Primitive::Power { watts, .. } => *watts = Watts::try_from(watts.get() / factor).ok()?,
        Primitive::Source { .. }
        | Primitive::Fuse { .. }
        | Primitive::Contact { .. }
        | Primitive::ElectronicSwitch { .. }
        | Primitive::ConverterInput { .. }
        | Primitive::ConverterOutput { .. }
        | Primitive::Diode { .. } => return None,
    }
    Some(other)
}

/// The parts of these roles; the ends of wires belong to their wires.
fn parts(install: &Install, is_meant: impl Fn(Role) -> bool) -> Vec<PartId> {
    let all = install.parts.enumerate().filter(|(_, part)| part.joint_of.is_none());
    all.filter(|(_, part)| is_meant(install.knowledge.kinds[part.kind].role)).map(|(id, _)| id).collect()
}

/// The parts with a terminal on one of these nodes.
fn touching(circuit: &Circuit, install: &Install, nodes: &[NodeId]) -> Vec<PartId> {
    let is_there = |point| circuit.node_of.get(point).is_some_and(|node| nodes.contains(node));
    let all = install.parts.enumerate().filter(|(_, part)| part.terminals.iter().any(|point| is_there(*point)));
    all.map(|(id, _)| id).collect()
}

fn pick<T: Clone>(list: &[T], rng: &mut Rng) -> Option<T> {
    if list.is_empty() { None } else { list.get(rng.usize(0..list.len())).cloned() }
}

/// Even on a logarithmic scale.
fn between((low, high): (f64, f64), rng: &mut Rng) -> f64 {
    low * (high / low).powf(rng.f64())
}
