//! All that can be wrong with a circuit, one entry for each part (or pin) and mode, as data.
//!
//! Ids: `part_id` is the part's id, `power plug.minus` for a pin of a part that repeats for each pin, and
//! `power plug.plus/minus` for two neighbouring pins, `power plug` again for what hits all its pins; `mode` is the mode's key in the knowledge base.

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
                    match inside.fault(index, mode) {
                        Ok(fault) => faults.extend(fault),
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
    fn fault(&self, mode_index: usize, mode: &Mode) -> Result<Option<PossibleFault>, NoFigure> {
        let Some((effect, severity)) = self.effect(&mode.effect)? else {
            return Ok(None);
        };
        let pair = matches!(mode.effect, ModeEffect::LeakBetweenPins(_));
        let whole = matches!(mode.effect, ModeEffect::OpenInAllPins(_));
        let here = if whole { self.part.id.clone() } else { pin_name(self.part, self.kind, self.pin) };
        let next = self.part.pins.get(self.pin + 1);
        let part_id = match next {
            Some(next) if pair => format!("{here}/{next}"),
            _ => here.clone(),
        };
        let owner = match self.part.joint_of {
            Some(joint) => self.conductor(joint.conductor),
            None if pair => self.part.id.clone(),
            None => here,
        };
        let word = &self.kind.pin_word;
        let label = match (self.part.pins.get(self.pin).filter(|_| self.kind.per_pin && !whole), next) {
            (Some(pin), Some(next)) if pair => {
                format!("{}, {word}s {pin} and {next}", self.part.label)
            }
            (Some(pin), _) => format!("{}, {word} {pin}", self.part.label),
            _ => self.part.label.clone(),
        };
        Ok(Some(PossibleFault {
            part: self.id,
            part_id,
            mode: mode.key.clone(),
            says: mode.says.clone(),
            label,
            mode_index,
            effect,
            severity: severity.map(|s| (s.low, s.high)),
            weight: mode.weight,
            repair_group: format!("{owner}: {}", mode.repair_group),
        }))
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
        let ids = self.ids();
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
            ModeEffect::LeakBetweenPins(severity) => {
                self.between_pins().and_then(|(a, b)| apart(a, b)).map(|(a, b)| (Effect::Leak(a, b), Some(*severity)))
            }
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
            ModeEffect::Swapped(a, b) => Some((self.swapped(&ids, a, b)?, None)),
        })
    }

    /// The elements of this part or pin, with what the kind says of them.
    fn ids(&self) -> Vec<(&ElementSpec, ElementId)> {
        let inner = self.circuit.elements_of.get(self.id).into_iter().flatten();
        let of_pin = inner.filter(|inner| inner.pin.is_none_or(|pin| pin == self.pin));
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
        let node = self.circuit.node(self.install, self.id, self.pin, name);
        node.ok_or_else(|| NoFigure::NotStated(name.to_owned()))
    }

    /// The first terminals of this pin and the next one.
    fn between_pins(&self) -> Option<(NodeId, NodeId)> {
        let name = &self.kind.terminals.first()?.name;
        let node = |pin| self.circuit.node(self.install, self.id, pin, name);
        Some((node(self.pin)?, node(self.pin + 1)?))
    }

    fn swapped(&self, ids: &[(&ElementSpec, ElementId)], a: &str, b: &str) -> Result<Effect, NoFigure> {
        let (node_a, node_b) = (self.node(a)?, self.node(b)?);
        let mut ends = Vec::new();
        for (spec, id) in ids {
            for (name, from_end) in [(&spec.from, true), (&spec.to, false)] {
                if name == a {
                    ends.push((*id, from_end, node_b));
                } else if name == b {
                    ends.push((*id, from_end, node_a));
                }
            }
        }
        Ok(Effect::Swapped(ends))
    }
}

fn find(ids: &[(&ElementSpec, ElementId)], key: &str) -> Result<ElementId, NoFigure> {
    let found = ids.iter().find(|(spec, _)| spec.key == key);
    found.map(|(_, id)| *id).ok_or_else(|| NoFigure::NotStated(key.to_owned()))
}

fn apart(a: NodeId, b: NodeId) -> Option<(NodeId, NodeId)> {
    (a != b).then_some((a, b))
}
