//! All that can be wrong with a circuit, one entry for each part (or pin) and mode, as data.
//!
//! Ids: `part_id` is the part's id, `power plug.minus` for a pin of a part that repeats for each pin, and
//! `power plug.plus/minus` for two of its pins, `power plug` again for what hits all its pins; `mode` is the mode's key in the knowledge base.

use super::build::Builder;
use super::expand::{Circuit, Incomplete, figures, pin_name, pins};
use super::{ControlId, Drive, Effect, ElementId, NodeId, Primitive};
use crate::install::{Install, Part, PartId, PointId};
use crate::knowledge::{ElementSpec, Kind, Mode, ModeEffect, NoFigure, Severity};

/// One thing that can be wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct PossibleFault {
    /// The part.
    pub part: PartId,
    /// Id of the part, of one of its pins or of a pair of pins.
    pub part_id: String,
    /// Key of the mode.
    pub mode: String,
    /// The mode on the screen.
    pub says: String,
    /// Part (and pin) on the screen.
    pub label: String,
    /// Position of the mode in the kind's list: where its texts are.
    pub mode_index: usize,
    /// What it does to the netlist.
    pub effect: Effect,
    /// Something that was done wrong in fitting or repairing it, no wear.
    pub mistake: bool,
    /// Range of ohms, for soft faults.
    pub severity: Option<(f64, f64)>,
    /// Prior weight.
    pub weight: f64,
    /// What one repair cures: id of the owner and the mode's word. A wire's end joints belong to the wire.
    pub repair_group: String,
}

impl PossibleFault {
    /// Its mode, with how it shows, proof, repair and cautions.
    pub fn mode<'i>(&self, install: &'i Install) -> Option<&'i Mode> {
        let kind = install.parts.get(self.part)?.kind;
        install.knowledge.kinds.get(kind)?.modes.get(self.mode_index)
    }
}

impl Circuit {
    /// Everything that can be wrong, in the order of parts, pins and modes. A mode that would join a node to itself
    /// (the short to earth of what is earth already) is none and is left out.
    ///
    /// # Errors
    ///
    /// Modes whose figures are missing or impossible.
    pub fn possible_faults(&self, install: &Install) -> Result<Vec<PossibleFault>, Vec<Incomplete>> {
        let mut faults = Vec::new();
        let mut incomplete = Vec::new();
        for (id, part) in install.parts.enumerate() {
            let kind = &install.knowledge.kinds[part.kind];
            for pin in pins(kind, part) {
                let inside = Inside { circuit: self, install, id, part, kind, pin };
                for (index, mode) in kind.modes.iter().enumerate() {
                    match inside.faults(index, mode) {
                        Ok(found) => faults.extend(found),
                        Err(why) => incomplete.push(Incomplete { part: id, at: mode.key.clone(), why }),
                    }
                }
            }
        }
        if incomplete.is_empty() { Ok(faults) } else { Err(incomplete) }
    }
}

/// One part, or one pin of it.
struct Inside<'a> {
    circuit: &'a Circuit,
    install: &'a Install,
    id: PartId,
    part: &'a Part,
    kind: &'a Kind,
    pin: usize,
}

impl Inside<'_> {
    /// What this mode does to the pin; a mode between any two pins gives one fault for each pin after this one.
    fn faults(&self, mode_index: usize, mode: &Mode) -> Result<Vec<PossibleFault>, NoFigure> {
        let others = match &mode.effect {
            ModeEffect::LeakBetweenPins(_) => self.pin + 1..self.part.pins.len().min(self.pin + 2),
            ModeEffect::SwappedBetweenPins(_) => self.pin + 1..self.part.pins.len(),
            _ => {
                let effect = self.effect(&mode.effect)?;
                return Ok(effect.map(|effect| self.fault(mode_index, mode, None, effect)).into_iter().collect());
            }
        };
        let mut faults = Vec::new();
        for other in others {
            if let Some(effect) = self.between(&mode.effect, other)? {
                faults.push(self.fault(mode_index, mode, Some(other), effect));
            }
        }
        Ok(faults)
    }

    /// The fault of this pin, or of this pin and another one.
    fn fault(
        &self,
        mode_index: usize,
        mode: &Mode,
        other: Option<usize>,
        (effect, severity): (Effect, Option<Severity>),
    ) -> PossibleFault {
        let whole = matches!(mode.effect, ModeEffect::OpenInAllPins(_));
        let here = if whole { self.part.id.clone() } else { pin_name(self.part, self.kind, self.pin) };
        let other = other.and_then(|pin| self.part.pins.get(pin));
        let part_id = other.map_or_else(|| here.clone(), |other| format!("{here}/{other}"));
        let owner = match self.part.joint_of {
            Some(joint) => self.conductor(joint.conductor),
            // Which two were exchanged is the repair; a leak is cured with the part as a whole.
            None if matches!(mode.effect, ModeEffect::SwappedBetweenPins(_)) => part_id.clone(),
            None if other.is_some() => self.part.id.clone(),
            None => here,
        };
        let word = &self.kind.pin_word;
        let label = match (self.part.pins.get(self.pin).filter(|_| self.kind.per_pin && !whole), other) {
            (Some(pin), Some(other)) => format!("{}, {word}s {pin} and {other}", self.part.label),
            (Some(pin), None) => format!("{}, {word} {pin}", self.part.label),
            _ => self.part.label.clone(),
        };
        PossibleFault {
            part: self.id,
            part_id,
            mode: mode.key.clone(),
            says: mode.says.clone(),
            label,
            mode_index,
            effect,
            mistake: mode.mistake,
            severity: severity.map(|s| (s.low, s.high)),
            weight: mode.weight,
            repair_group: format!("{owner}: {}", mode.repair_group),
        }
    }

    /// The conductor that this end joint belongs to: of a cable, the core that shares a node with the joint.
    fn conductor(&self, id: PartId) -> String {
        let Some(conductor) = self.install.parts.get(id) else {
            return self.part.id.clone();
        };
        let Some(kind) = self.install.knowledge.kinds.get(conductor.kind) else {
            return conductor.id.clone();
        };
        let node = |point: &PointId| self.circuit.node_of.get(*point).copied();
        let here: Vec<_> = self.part.terminals.iter().filter_map(node).collect();
        let shared = conductor.terminals.iter().position(|point| node(point).is_some_and(|node| here.contains(&node)));
        let pin = shared.unwrap_or(0) / kind.terminals.len().max(1);
        pin_name(conductor, kind, pin)
    }

    fn effect(&self, effect: &ModeEffect) -> Result<Option<(Effect, Option<Severity>)>, NoFigure> {
        let earth = self.circuit.earth;
        let ids = self.ids(self.pin);
        let element = |key: &String| find(&ids, key);
        Ok(match effect {
            ModeEffect::Open(keys) => {
                let elements = keys.iter().map(element).collect::<Result<_, _>>()?;
                Some((Effect::Open(elements), None))
            }
            // One fault of the part as a whole: it is told with the first pin.
            ModeEffect::OpenInAllPins(_) if self.pin > 0 => None,
            ModeEffect::OpenInAllPins(keys) => {
                let inner = self.circuit.elements_of.get(self.id).into_iter().flatten();
                let named = inner.filter(|inner| keys.contains(&inner.key));
                Some((Effect::Open(named.map(|inner| inner.element).collect()), None))
            }
            ModeEffect::Series(key, severity) => Some((Effect::Series(element(key)?), Some(*severity))),
            ModeEffect::LeakToEarth(at, severity) => {
                apart(self.node(at)?, earth).map(|(a, b)| (Effect::Leak(a, b), Some(*severity)))
            }
            ModeEffect::ShortToEarth(at) => apart(self.node(at)?, earth).map(|(a, b)| (Effect::Short(a, b), None)),
            ModeEffect::Leak(a, b, severity) => {
                apart(self.node(a)?, self.node(b)?).map(|(a, b)| (Effect::Leak(a, b), Some(*severity)))
            }
            ModeEffect::Short(a, b) => apart(self.node(a)?, self.node(b)?).map(|(a, b)| (Effect::Short(a, b), None)),
            // These are of two pins: see `between`.
            ModeEffect::LeakBetweenPins(_) | ModeEffect::SwappedBetweenPins(_) => None,
            ModeEffect::Stuck(contacts) => {
                let contacts = contacts.iter().map(|(key, closed)| Ok((element(key)?, *closed)));
                Some((Effect::Stuck(contacts.collect::<Result<_, _>>()?), None))
            }
            ModeEffect::Value(values) => {
                let builder = Builder {
                    figures: figures(self.install, self.part, self.kind),
                    ids: &ids,
                    control: self.control(&ids),
                    positions: &self.kind.positions,
                };
                let values = values.iter().map(|(key, spec)| {
                    let (primitive, _) = builder.primitive(spec)?;
                    Ok((element(key)?, primitive))
                });
                Some((Effect::Value(values.collect::<Result<_, _>>()?), None))
            }
            ModeEffect::Swapped(a, b) => {
                let (to_a, to_b) = (self.node(a)?, self.node(b)?);
                let ends = ends(&ids, a, to_b).chain(ends(&ids, b, to_a));
                apart(to_a, to_b).map(|_| (Effect::Swapped(ends.collect()), None))
            }
        })
    }

    /// What a mode between two pins does between this one and `other`.
    fn between(&self, effect: &ModeEffect, other: usize) -> Result<Option<(Effect, Option<Severity>)>, NoFigure> {
        let nodes = |name: &str| Ok::<_, NoFigure>((self.node(name)?, self.node_of(other, name)?));
        Ok(match effect {
            // They touch at their first terminals.
            ModeEffect::LeakBetweenPins(severity) => {
                let Some(first) = self.kind.terminals.first() else { return Ok(None) };
                let (here, there) = nodes(&first.name)?;
                apart(here, there).map(|(a, b)| (Effect::Leak(a, b), Some(*severity)))
            }
            ModeEffect::SwappedBetweenPins(at) => {
                let (here, there) = nodes(at)?;
                let (mine, others) = (self.ids(self.pin), self.ids(other));
                let ends = ends(&mine, at, there).chain(ends(&others, at, here));
                apart(here, there).map(|_| (Effect::Swapped(ends.collect()), None))
            }
            _ => None,
        })
    }

    /// The elements of this part or of one pin of it, with what the kind says of them.
    fn ids(&self, of: usize) -> Vec<(&ElementSpec, ElementId)> {
        let inner = self.circuit.elements_of.get(self.id).into_iter().flatten();
        let of_pin = inner.filter(|inner| inner.pin.is_none_or(|pin| pin == of));
        self.kind.elements.iter().zip(of_pin.map(|inner| inner.element)).collect()
    }

    /// The control of the part, read off an element that it moves.
    fn control(&self, ids: &[(&ElementSpec, ElementId)]) -> Option<ControlId> {
        ids.iter().find_map(|(_, id)| match &self.circuit.netlist.elements.get(*id)?.primitive {
            Primitive::Contact { drive: Drive::Control { control, .. }, .. }
            | Primitive::ElectronicSwitch { drive: Drive::Control { control, .. }, .. }
            | Primitive::Source { emf: super::Emf::By { control, .. }, .. } => Some(*control),
            _ => None,
        })
    }

    fn node(&self, name: &str) -> Result<NodeId, NoFigure> {
        self.node_of(self.pin, name)
    }

    fn node_of(&self, pin: usize, name: &str) -> Result<NodeId, NoFigure> {
        let node = self.circuit.node(self.install, self.id, pin, name);
        node.ok_or_else(|| NoFigure::NotStated(name.to_owned()))
    }
}

/// Every inner end at the terminal or inner node `name`, moved to the node `to`.
fn ends<'a>(
    ids: &'a [(&ElementSpec, ElementId)],
    name: &'a str,
    to: NodeId,
) -> impl Iterator<Item = (ElementId, bool, NodeId)> + 'a {
    let both = |(spec, id): &'a (&ElementSpec, ElementId)| [(&spec.from, true, *id), (&spec.to, false, *id)];
    let here = ids.iter().flat_map(both).filter(move |(end, ..)| *end == name);
    here.map(move |(_, from_end, id)| (id, from_end, to))
}

fn find(ids: &[(&ElementSpec, ElementId)], key: &str) -> Result<ElementId, NoFigure> {
    let found = ids.iter().find(|(spec, _)| spec.key == key);
    found.map(|(_, id)| *id).ok_or_else(|| NoFigure::NotStated(key.to_owned()))
}

fn apart(a: NodeId, b: NodeId) -> Option<(NodeId, NodeId)> {
    (a != b).then_some((a, b))
}
