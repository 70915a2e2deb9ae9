//! Where to put the probes so that what was repaired lies between them, and with which switches it carries its current.

use super::{Proof, Proves};
use crate::belief::Probe;
use crate::choice::{Target, Test};
use crate::circuit::{ElementId, NodeId, Primitive, SetUp};
use crate::install::{PartId, PointId};
use crate::job::{Culprit, Diagnosis};
use crate::knowledge::Role;
use std::collections::{BTreeMap, BTreeSet};

/// Amps above which a current is one: a leak of 10 kΩ at 12 V is 1.2 mA.
const FLOWS: f64 = 2e-3;
/// Elements on either side that are stepped over to a point that a probe reaches: a wire with its two ends is three.
const STEPS: usize = 4;

/// What lies between two probes.
struct Span {
    ends: [PointId; 2],
    /// A conductor lies between them.
    run: bool,
}

impl Diagnosis<'_> {
    /// Volts across what was repaired, while it carries current: the parts that were at fault, and what the fault had blown.
    pub(super) fn carrying_again(&self, culprit: &Culprit) -> Vec<Proof> {
        let system = self.system();
        let faulty = culprit.faults.iter().filter_map(|fault| system.describe(*fault));
        let blown = culprit.consequences.iter().filter_map(|part| system.part(part));
        let mut proofs = Vec::new();
        for fault in faulty {
            let own = fault.effect.edits(crate::units::Ohms::ZERO);
            let own: Vec<ElementId> = own.iter().filter_map(Self::of).collect();
            let carried: Vec<ElementId> = own.into_iter().filter(|e| self.should_carry(fault.part, *e)).collect();
            proofs.extend(self.best_span(fault.part, carried));
        }
        for part in blown {
            proofs.extend(self.best_span(part, Vec::new()));
        }
        proofs
    }

    fn of(edit: &crate::circuit::Edit) -> Option<ElementId> {
        use crate::circuit::Edit;
        match edit {
            Edit::Open(e) | Edit::Replace(e, _) | Edit::Series(e, _) | Edit::Stuck(e, _) => Some(*e),
            Edit::Move { element, .. } => Some(*element),
            Edit::Bridge(..) => None,
        }
    }

    /// Whether an element is there to carry a load's current, and to lose little.
    fn should_carry(&self, part: PartId, element: ElementId) -> bool {
        let system = self.system();
        let role = system.install.knowledge.kinds[system.install.parts[part].kind].role;
        let passes = matches!(role, Role::Protection | Role::Control | Role::Switching | Role::Conductor | Role::Joint);
        passes
            && matches!(
                system.circuit.netlist.elements[element].primitive,
                Primitive::Resistance { .. }
                    | Primitive::Fuse { .. }
                    | Primitive::Contact { .. }
                    | Primitive::ElectronicSwitch { .. }
            )
    }

    /// The reading across one of these elements, or across whatever of the part carries most, in the first set-up in which it
    /// carries current.
    fn best_span(&self, part: PartId, own: Vec<ElementId>) -> Option<Proof> {
        let of = &self.system().circuit.elements_of[part];
        let all = || of.iter().map(|inner| inner.element).filter(|e| self.should_carry(part, *e)).collect();
        let candidates: Vec<ElementId> = if own.is_empty() { all() } else { own };
        let network = self.belief().network();
        for set_up in self.near_set_ups() {
            let Ok(state) = crate::job::diagnosis::healthy(network, set_up) else { continue };
            let amps = |e: &ElementId| state.current(*e).get().abs();
            let most = candidates.iter().filter(|e| amps(e) > FLOWS).max_by(|a, b| amps(a).total_cmp(&amps(b)));
            let Some(element) = most else { continue };
            let Some(span) = self.span(*element) else { continue };
            // Plus first, so that a good reading has no sign.
            let [a, b] = span.ends;
            let volts = state.voltage(self.system().node(a), self.system().node(b));
            let ends = if volts.is_some_and(|v| v.get() < 0.0) { [b, a] } else { [a, b] };
            let test = self.across(part, set_up.clone(), ends)?;
            return Some(Proof { test, proves: Proves::Carries { part, element: *element, run: span.run } });
        }
        None
    }

    /// A voltmeter between two points; without regard to the sign where they are the two ends of the part.
    fn across(&self, part: PartId, set_up: SetUp, ends: [PointId; 2]) -> Option<Test> {
        let system = self.system();
        let instruments = self.instruments();
        let nodes = |ends: [PointId; 2]| {
            let mut nodes = ends.map(|point| system.node(point));
            nodes.sort();
            nodes
        };
        if let Some(own) = system.ends(part).filter(|own| nodes(*own) == nodes(ends)) {
            let reached = own.iter().all(|point| self.reached().any(|known| known == *point));
            if reached {
                return system.volts(instruments, set_up, own, true);
            }
        }
        system.volts(instruments, set_up, ends, false)
    }

    /// The nearest points on either side of an element that a probe reaches.
    fn span(&self, element: ElementId) -> Option<Span> {
        let mut named: BTreeMap<NodeId, PointId> = BTreeMap::new();
        for point in self.reached() {
            named.entry(self.system().node(point)).or_insert(point);
        }
        let elements = &self.system().circuit.netlist.elements;
        let mut inside = BTreeSet::from([element]);
        let start = elements.get(element)?;
        let mut ends = Vec::new();
        for mut at in [start.from, start.to] {
            for _ in 0..STEPS {
                if named.contains_key(&at) {
                    break;
                }
                let mut on =
                    elements.enumerate().filter(|(id, e)| !inside.contains(id) && (e.from == at || e.to == at));
                let (Some((id, next)), None) = (on.next(), on.next()) else { break };
                inside.insert(id);
                at = if next.from == at { next.to } else { next.from };
            }
            ends.push(*named.get(&at)?);
        }
        let system = self.system();
        let conducts = |e: &ElementId| {
            let part = &system.install.parts[system.circuit.part_of[*e]];
            system.install.knowledge.kinds[part.kind].role == Role::Conductor
        };
        let ends: [PointId; 2] = ends.try_into().ok()?;
        Some(Span { ends, run: inside.iter().any(conducts) })
    }

    /// The nodes between which a test reads volts.
    pub(super) fn probed_nodes(test: &Test) -> Option<[NodeId; 2]> {
        match (&test.probe, &test.at) {
            (Probe::Volts { red, black, .. }, Target::Points { .. }) => Some([*red, *black]),
            _ => None,
        }
    }
}
