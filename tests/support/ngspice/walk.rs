//! One circuit on its way through a set-up: the controls are moved one after the other, in file order.

use super::{Kept, Problem, Solved};
use halfsplit::circuit::{Drive, Element, ElementId, Export, Primitive, Reset, edited};
use halfsplit::index::{Id, IdVec};
use std::collections::BTreeMap;

/// One circuit on its way through a set-up.
pub(super) struct Walk<'p> {
    problem: &'p Problem<'p>,
    pub(super) elements: IdVec<ElementId, Option<Element>>,
    pub(super) positions: Vec<usize>,
    /// Controls still to be moved.
    moves: Vec<(usize, usize)>,
    /// `Export::active` without what follows from coils and controls.
    pub(super) active: Vec<bool>,
    pub(super) pulled: Vec<bool>,
    /// Latches, steps: closed. Electronic switches: tripped. Power: gave up.
    pub(super) memory: Vec<bool>,
    volts: Vec<f64>,
    seen: Vec<(Vec<bool>, Vec<bool>, Vec<bool>)>,
    pub(super) raced: bool,
    pub(super) end: Option<Result<Solved, String>>,
}

impl<'p> Walk<'p> {
    pub(super) fn new(problem: &'p Problem<'p>) -> Self {
        let mut edits = problem.edits.clone();
        edits.extend(problem.set_up.interventions.iter().cloned());
        let elements = edited(problem.netlist, &edits);
        let n = elements.len();
        let mut walk = Self {
            problem,
            positions: problem.netlist.controls.iter().map(|c| c.rest).collect(),
            moves: Vec::new(),
            active: vec![false; n],
            pulled: vec![false; n],
            memory: vec![false; n],
            volts: Vec::new(),
            seen: Vec::new(),
            raced: false,
            end: None,
            elements,
        };
        for (control, position) in problem.set_up.positions.iter().enumerate() {
            if walk.positions.get(control).is_some_and(|rest| rest != position) {
                walk.moves.push((control, *position));
            }
        }
        for (id, element) in walk.elements.enumerate() {
            let k = id.position();
            let kept = problem.before.get(&id).copied().unwrap_or(false);
            match element.as_ref().map(|e| &e.primitive) {
                Some(Primitive::Fuse { .. }) => walk.active[k] = !kept,
                Some(Primitive::Coil { .. }) => walk.pulled[k] = kept,
                Some(Primitive::Motor { .. }) => walk.active[k] = kept,
                Some(Primitive::Contact { .. } | Primitive::ElectronicSwitch { .. }) => {
                    walk.memory[k] = kept;
                }
                _ => {}
            }
        }
        walk.drive();
        walk
    }

    pub(super) fn primitive(&self, k: usize) -> Option<&Primitive> {
        self.elements.get(ElementId::new(k)).and_then(Option::as_ref).map(|e| &e.primitive)
    }

    pub(super) fn is_pulled(&self, coil: ElementId) -> bool {
        self.pulled.get(coil.position()).copied().unwrap_or(false)
    }

    /// Contacts and switches as controls and coils have them; converters without their enable go off.
    pub(super) fn drive(&mut self) {
        for k in 0..self.elements.len() {
            let Some(primitive) = self.primitive(k) else {
                continue;
            };
            match primitive {
                Primitive::Contact { drive, .. } => self.active[k] = self.wants(drive, k),
                Primitive::ElectronicSwitch { drive, .. } => {
                    let wants = self.wants(drive, k);
                    self.memory[k] &= wants;
                    self.active[k] = wants && !self.memory[k];
                }
                Primitive::ConverterInput { enable: Some(e), .. } if !self.is_pulled(*e) => {
                    self.active[k] = false;
                }
                _ => {}
            }
        }
    }

    fn wants(&self, drive: &Drive, k: usize) -> bool {
        match drive {
            Drive::Control { control, positions } => positions.contains(&self.positions[control.position()]),
            Drive::Coils { coils, closed_at_rest } => coils.iter().any(|c| self.is_pulled(*c)) != *closed_at_rest,
            Drive::Latch { .. } | Drive::Step { .. } => self.memory[k],
        }
    }

    pub(super) fn export(&self) -> Export<'_> {
        Export {
            netlist: self.problem.netlist,
            elements: &self.elements,
            positions: &self.positions,
            active: &self.active,
        }
    }

    /// Takes the potentials of this state and makes the next.
    pub(super) fn take(&mut self, found: &BTreeMap<usize, f64>) {
        let nodes = self.problem.netlist.nodes.len();
        self.volts = (0..nodes).map(|n| found.get(&n).copied().unwrap_or(0.0)).collect();
        let island = self.export().islands();
        let now = (self.active.clone(), self.pulled.clone(), self.memory.clone());
        let repeats = self.seen.contains(&now);
        self.seen.push(now);
        if !repeats && self.switch(&island) {
            return;
        }
        // At rest, or going round: the next control, or the end.
        if !self.moves.is_empty() {
            let (control, position) = self.moves.remove(0);
            self.positions[control] = position;
            self.seen.clear();
            self.forgive();
            self.drive();
            return;
        }
        self.end = Some(Ok(Solved {
            volts: self.volts.clone(),
            island,
            active: self.active.clone(),
            pulled: self.pulled.clone(),
            kept: self.kept(),
            chatters: repeats,
            raced: self.raced,
        }));
    }

    fn kept(&self) -> Kept {
        self.elements
            .ids()
            .filter_map(|id| {
                let k = id.position();
                let kept = match self.primitive(k)? {
                    Primitive::Fuse { reset, .. } => !self.active[k] && *reset != Reset::ByItself,
                    Primitive::Coil { .. } => self.pulled[k],
                    Primitive::Motor { .. } => self.active[k],
                    Primitive::Contact { .. } | Primitive::ElectronicSwitch { .. } => self.memory[k],
                    _ => return None,
                };
                Some((id, kept))
            })
            .collect()
    }

    /// Power elements that gave up may try again.
    pub(super) fn forgive(&mut self) {
        for k in 0..self.elements.len() {
            if matches!(self.primitive(k), Some(Primitive::Power { .. } | Primitive::ConverterInput { .. })) {
                self.memory[k] = false;
            }
        }
    }

    /// Voltage across an element, nothing where its ends are not joined.
    pub(super) fn across(&self, k: usize, island: &[usize]) -> f64 {
        let Some(Some(element)) = self.elements.get(ElementId::new(k)) else {
            return 0.0;
        };
        let (a, b) = (element.from.position(), element.to.position());
        if island[a] == island[b] { self.volts[a] - self.volts[b] } else { 0.0 }
    }
}
