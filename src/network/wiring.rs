//! A netlist with its edits and set-up in force, as flat arrays that the solver walks.

use super::law::{Law, Part, Status};
use crate::circuit::{ControlId, Drive, Edit, Element, ElementId, Emf, FuseGate, Netlist, NodeId, Primitive};
use crate::index::Id;
use crate::units::{Amps, Volts};
use std::borrow::Borrow;
use std::sync::Arc;

/// The circuit as it is: parts, and the tables that they point into.
#[derive(Clone, Debug)]
pub(super) struct Wiring {
    pub(super) nodes: usize,
    /// One part for each element of the netlist, then bridges, then instruments.
    pub(super) parts: Vec<Part>,
    /// How many parts are elements of the netlist.
    pub(super) elements: usize,
    pub(super) tables: Arc<Tables>,
    /// The position of each control.
    pub(super) positions: Arc<[usize]>,
    /// No edit has been applied.
    pub(super) healthy: bool,
}

/// What parts refer to by index.
#[derive(Clone, Debug, Default)]
pub(super) struct Tables {
    pub(super) drives: Vec<Drive>,
    pub(super) gates: Vec<FuseGate>,
    pub(super) emfs: Vec<(ControlId, Vec<Option<Volts>>)>,
}

fn small(position: usize) -> u32 {
    u32::try_from(position).unwrap_or(u32::MAX)
}

impl Wiring {
    /// The netlist as drawn, all controls at rest.
    pub(super) fn new(netlist: &Netlist) -> Self {
        let positions = netlist.controls.iter().map(|c| c.rest).collect();
        Self::of(netlist.elements.iter(), netlist.nodes.len(), positions)
    }

    /// Elements between so many nodes, with the positions of all controls.
    pub(super) fn of(
        elements: impl Iterator<Item = impl Borrow<Element>>,
        nodes: usize,
        positions: Arc<[usize]>,
    ) -> Self {
        let mut tables = Arc::new(Tables::default());
        let parts = elements.map(|element| part(element.borrow(), nodes, &mut tables)).collect::<Vec<_>>();
        let mut wiring = Self { nodes, elements: parts.len(), parts, tables, positions, healthy: true };
        wiring.set_sources();
        wiring
    }

    /// Applies edits in order. An edit that points outside the netlist changes nothing.
    pub(super) fn edit(&mut self, edits: &[Edit]) {
        self.healthy &= edits.is_empty();
        for edit in edits {
            match edit {
                Edit::Open(element) => {
                    if let Some(part) = self.element(*element) {
                        part.open = true;
                    }
                }
                Edit::Replace(element, primitive) => {
                    if element.position() < self.elements {
                        let law = law(primitive, &mut self.tables);
                        if let Some(part) = self.element(*element) {
                            part.law = law;
                            part.stuck = None;
                        }
                    }
                }
                Edit::Series(element, ohms) => {
                    if let Some(part) = self.element(*element) {
                        lengthen(&mut part.law, ohms.get());
                    }
                }
                Edit::Bridge(a, b, ohms) => {
                    if let (Some(a), Some(b)) = (self.node(*a), self.node(*b)) {
                        self.parts.push(Part::resistance(a, b, ohms.get()));
                    }
                }
                Edit::Stuck(element, closed) => {
                    if let Some(part) = self.element(*element) {
                        part.stuck = Some(*closed);
                    }
                }
                Edit::Move { element, from_end, to } => {
                    let to = self.node(*to);
                    if let (Some(part), Some(to)) = (self.element(*element), to) {
                        if *from_end {
                            part.from = to;
                        } else {
                            part.to = to;
                        }
                    }
                }
            }
        }
        self.set_sources();
    }

    /// Sets one control.
    pub(super) fn set(&mut self, control: usize, position: usize) {
        if self.positions.get(control).is_some_and(|place| *place != position) {
            Arc::make_mut(&mut self.positions)[control] = position;
            self.set_sources();
        }
    }

    /// Sets all controls.
    pub(super) fn take_positions(&mut self, positions: &Arc<[usize]>) {
        if self.positions != *positions {
            self.positions = Arc::clone(positions);
            self.set_sources();
        }
    }

    /// Shares a list of positions that says the same.
    pub(super) fn take_positions_of(&mut self, positions: &Arc<[usize]>) {
        if self.positions == *positions {
            self.positions = Arc::clone(positions);
        }
    }

    /// Sources whose EMF depends on a control, and the highest voltage that there can be.
    fn set_sources(&mut self) {
        for part in &mut self.parts {
            if let Law::Source { emf, by: Some(by), dead, .. } = &mut part.law {
                let volts = self.tables.emfs.get(*by as usize).and_then(|(control, volts)| {
                    let position = *self.positions.get(control.position())?;
                    *volts.get(position)?
                });
                *dead = volts.is_none();
                *emf = volts.map_or(0.0, Volts::get);
            }
        }
        let highest: f64 = self
            .parts
            .iter()
            .map(|part| match part.law {
                Law::Source { emf, .. } | Law::ConverterOutput { emf, .. } => emf.abs(),
                _ => 0.0,
            })
            .sum();
        for part in &mut self.parts {
            if let Law::Power { top, .. } | Law::ConverterInput { top, .. } = &mut part.law {
                *top = highest;
            }
        }
    }

    fn element(&mut self, element: ElementId) -> Option<&mut Part> {
        // Without a node there is nothing that an element could join.
        let elements = if self.nodes == 0 { 0 } else { self.elements };
        self.parts[..elements].get_mut(element.position())
    }

    /// The index of a node that exists.
    pub(super) fn node(&self, node: NodeId) -> Option<u32> {
        (node.position() < self.nodes).then(|| small(node.position()))
    }

    /// What the drive of a contact says, for drives that follow at once.
    pub(super) fn command(&self, drive: u32, now: bool, status: &[Status]) -> bool {
        match self.tables.drives.get(drive as usize) {
            Some(Drive::Control { control, positions }) => {
                self.positions.get(control.position()).is_some_and(|position| positions.contains(position))
            }
            Some(Drive::Coils { coils, closed_at_rest }) => {
                let moved = coils.iter().any(|coil| self.pulled(coil.position(), status));
                moved != *closed_at_rest
            }
            Some(Drive::Latch { .. } | Drive::Step { .. }) | None => now,
        }
    }

    /// Whether part `coil` is a coil that is pulled in.
    pub(super) fn pulled(&self, coil: usize, status: &[Status]) -> bool {
        coil < self.elements && matches!(self.parts[coil].law, Law::Coil { .. }) && status[coil].on
    }
}

fn part(element: &Element, nodes: usize, tables: &mut Arc<Tables>) -> Part {
    let (from, to) = (element.from.position(), element.to.position());
    let mut part = Part::new(small(from), small(to), law(&element.primitive, tables));
    if from >= nodes || to >= nodes {
        // An element that hangs on no node of this netlist: it conducts nothing.
        part.open = true;
        (part.from, part.to) = (0, 0);
        part.law = Law::Resistance { ohms: 1.0 };
    }
    part
}

/// Tables are taken for its own, or copied, only where the law points into them.
fn law(primitive: &Primitive, tables: &mut Arc<Tables>) -> Law {
    match primitive {
        Primitive::Source { emf, internal, limit } => {
            let (emf, by) = match emf {
                Emf::Fixed(volts) => (volts.get(), None),
                Emf::By { control, volts } => {
                    Arc::make_mut(tables).emfs.push((*control, volts.clone()));
                    (0.0, Some(small(tables.emfs.len() - 1)))
                }
            };
            Law::Source { emf, ohms: internal.get(), limit: limit.map(Amps::get), dead: by.is_some(), by }
        }
        Primitive::Resistance { ohms } => Law::Resistance { ohms: ohms.get() },
        Primitive::Filament { hot, nominal } => Law::Filament { hot: hot.get(), nominal: nominal.get() },
        Primitive::Motor { winding, running, start, stop } => {
            Law::Motor { winding: winding.get(), running: running.get(), start: start.get(), stop: stop.get() }
        }
        Primitive::Power { watts, cut_off, leakage, polarised } => Law::Power {
            watts: watts.get(),
            cut_off: cut_off.get(),
            leakage: leakage.get(),
            polarised: *polarised,
            top: 0.0,
        },
        Primitive::Fuse { ohms, rating, gate, reset } => {
            Arc::make_mut(tables).gates.push(gate.clone());
            Law::Fuse { ohms: ohms.get(), rating: rating.get(), gate: small(tables.gates.len() - 1), reset: *reset }
        }
        Primitive::Coil { ohms, pull_in, release } => {
            Law::Coil { ohms: ohms.get(), pull_in: pull_in.get(), release: release.get() }
        }
        Primitive::Contact { closed, drive } => Law::Contact { closed: closed.get(), drive: driven(drive, tables) },
        Primitive::ElectronicSwitch { on, leakage, trip, on_share, drive } => Law::Switch {
            on: on.get(),
            leakage: leakage.get(),
            trip: trip.map(Amps::get),
            on_share: *on_share,
            drive: driven(drive, tables),
        },
        Primitive::ConverterInput { output, efficiency, cut_off, idle, enable } => Law::ConverterInput {
            output: small(output.position()),
            efficiency: *efficiency,
            cut_off: cut_off.get(),
            idle: idle.get(),
            enable: enable.map(|e| small(e.position())),
            top: 0.0,
        },
        Primitive::ConverterOutput { emf, internal, limit, input } => Law::ConverterOutput {
            emf: emf.get(),
            ohms: internal.get(),
            limit: limit.map(Amps::get),
            input: small(input.position()),
        },
        Primitive::Diode { forward, series } => Law::Diode { forward: forward.get(), series: series.get() },
    }
}

fn driven(drive: &Drive, tables: &mut Arc<Tables>) -> u32 {
    Arc::make_mut(tables).drives.push(drive.clone());
    small(tables.drives.len() - 1)
}

/// Adds a series resistance to the part's own.
fn lengthen(law: &mut Law, by: f64) {
    match law {
        Law::Resistance { ohms }
        | Law::Source { ohms, .. }
        | Law::ConverterOutput { ohms, .. }
        | Law::Fuse { ohms, .. }
        | Law::Contact { closed: ohms, .. }
        | Law::Diode { series: ohms, .. } => *ohms += by,
        Law::Coil { ohms, pull_in, release } => {
            // The winding moves the armature: what stands across the joint inside does not.
            let share = (*ohms + by) / ohms.max(f64::MIN_POSITIVE);
            *pull_in *= share;
            *release *= share;
            *ohms += by;
        }
        Law::Switch { on, leakage, .. } => {
            *on += by;
            *leakage += by;
        }
        // These have no resistance of their own to grow: the joint in front of them is an element.
        Law::Filament { .. } | Law::Motor { .. } | Law::Power { .. } | Law::ConverterInput { .. } => {}
    }
}
