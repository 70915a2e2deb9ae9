//! What a job ends with: the suspects in words, what followed from them, how sure it is.

use super::{Diagnosis, System};
use crate::belief::{Predicted, Verdict, likeliest};
use crate::circuit::PossibleFault;
use crate::index::Id;
use crate::network::ElementState;
use crate::suspects::{FaultId, GroupId, SuspectId};
use crate::units::{Dimension, Ohms};

/// The usual repair of a fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Steps {
    /// Minutes of the work, without the way to it.
    pub minutes: f64,
    /// What is done, in a safe order.
    pub steps: Vec<String>,
}

/// The figure that every part has.
const NOMINAL: &str = "nominal";

/// A figure with its unit, as a person writes it.
fn written(value: f64, unit: Dimension) -> String {
    let digits = (value * 100.0).round() / 100.0;
    format!("{digits} {}", unit.symbol())
}

/// One repair that would cure it.
#[derive(Clone, Debug, PartialEq)]
pub struct Culprit {
    /// The repair group.
    pub group: GroupId,
    /// Its probability.
    pub probability: f64,
    /// The faults of its likeliest suspect.
    pub faults: Vec<FaultId>,
    /// Other suspects of the group that are not ruled out.
    pub also: Vec<FaultId>,
    /// The middle nine tenths of the severity, for a soft fault.
    pub ohms: Option<(Ohms, Ohms)>,
    /// Parts (ids) that the fault itself has made open: fuses that it blew.
    pub consequences: Vec<String>,
}

impl Diagnosis<'_> {
    /// The repair groups that are left, best first, as culprits; `most` at most and none below `least` probability.
    pub fn culprits(&self, most: usize, least: f64) -> Vec<Culprit> {
        let groups = self.posterior().groups.iter().filter(|(_, p)| *p >= least).take(most);
        groups.map(|(group, probability)| self.culprit(*group, *probability)).collect()
    }

    /// The culprits that a verdict names.
    pub fn named(&self, verdict: &Verdict) -> Vec<Culprit> {
        let groups: Vec<GroupId> = match verdict {
            Verdict::Found(groups) | Verdict::Ambiguous(groups) => groups.clone(),
            Verdict::NoFault | Verdict::Cured | Verdict::Misfit(_) | Verdict::Open => Vec::new(),
        };
        groups.into_iter().map(|g| self.culprit(g, self.posterior().share(g))).collect()
    }

    pub(super) fn culprit(&self, group: GroupId, probability: f64) -> Culprit {
        let suspects = self.belief().suspects();
        let posterior = self.posterior();
        let out = self.belief().out(posterior);
        // Each fault by itself and in all sets that it belongs to.
        let share = |member: &SuspectId| -> f64 {
            let own = &suspects.list()[*member].faults;
            let with = suspects.list().enumerate().filter(|(_, s)| own.iter().all(|f| s.faults.contains(f)));
            with.map(|(id, _)| posterior.probability[id]).sum()
        };
        let mut members: Vec<(SuspectId, f64)> = suspects.groups()[group]
            .members
            .iter()
            .filter(|m| out.get(**m).is_some())
            .map(|m| (*m, share(m)))
            .collect();
        members.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let best = members.first().map(|(member, _)| *member);
        let faults = best.map(|s| suspects.list()[s].faults.clone()).unwrap_or_default();
        let also = members
            .iter()
            .skip(1)
            .filter(|(s, _)| out.get(*s).is_some_and(|out| !out))
            .flat_map(|(s, _)| suspects.list()[*s].faults.clone())
            .collect();
        // The likeliest course of things with this fault in it.
        let with = suspects.list().enumerate().filter(|(_, s)| faults.iter().all(|f| s.faults.contains(f)));
        let course = with
            .map(|(id, _)| id)
            .max_by(|a, b| posterior.probability[*a].total_cmp(&posterior.probability[*b]).then(b.cmp(a)));
        Culprit {
            group,
            probability,
            ohms: faults.first().and_then(|fault| self.severity(*fault)),
            faults,
            also,
            consequences: course.map(|s| self.consequences(s)).unwrap_or_default(),
        }
    }

    /// The range of a soft fault's severity that holds nine tenths of it, over all suspects that it belongs to.
    fn severity(&self, fault: FaultId) -> Option<(Ohms, Ohms)> {
        let suspects = self.belief().suspects();
        suspects.faults()[fault].severity?;
        let mut sizes: Vec<(Ohms, f64)> = Vec::new();
        for (id, suspect) in suspects.list().enumerate().filter(|(_, s)| s.faults.contains(&fault)) {
            let probability = self.posterior().probability[id];
            if let Some(pin) = suspect.pins.iter().find(|pin| pin.fault == fault) {
                sizes.push((pin.ohms, probability));
                continue;
            }
            let points = self.belief().tracks()[id].points.iter().zip(&self.posterior().severities[id]);
            sizes.extend(points.map(|(point, share)| (point.ohms, share * probability)));
        }
        sizes.sort_by(|a, b| a.0.get().total_cmp(&b.0.get()));
        let total: f64 = sizes.iter().map(|(_, share)| share).sum();
        let (mut low, mut high, mut sum) = (None, None, 0.0);
        for (ohms, share) in sizes {
            sum += share;
            low = low.or_else(|| (sum >= 0.05 * total).then_some(ohms));
            high = high.or_else(|| (sum >= 0.95 * total).then_some(ohms));
        }
        low.zip(high)
    }

    /// Fuses that are open in the likeliest course of a suspect without being faults of it.
    fn consequences(&self, suspect: SuspectId) -> Vec<String> {
        let point = self.posterior().likeliest_point(suspect);
        let path = self.belief().tracks()[suspect].points.get(point).and_then(|p| p.paths.first());
        let Some(path) = path else { return Vec::new() };
        let system = self.system();
        let faulty: Vec<&str> = self.belief().suspects().list()[suspect]
            .faults
            .iter()
            .map(|f| system.suspects.faults()[*f].part.as_str())
            .collect();
        let Some(state) = path.last() else { return Vec::new() };
        system
            .circuit
            .netlist
            .elements
            .ids()
            .filter(|e| state.state(*e) == ElementState::Fuse(false))
            .map(|e| system.install.parts[system.circuit.part_of[e]].id.clone())
            .filter(|id| !faulty.contains(&id.as_str()))
            .collect()
    }

    /// What the likeliest suspect predicts for a test that was taken (position in `taken`).
    pub fn explained(&self, position: usize) -> Option<&Predicted> {
        let position = self.observation(position)?;
        let suspect = likeliest(self.posterior())?;
        let point = self.posterior().likeliest_point(suspect);
        self.belief().tracks()[suspect].points.get(point)?.paths.first()?.predicted.get(position)
    }
}

impl System {
    /// What a fault usually comes of: what to look at before the repair is called done.
    pub fn look_for(&self, fault: &PossibleFault) -> Option<&str> {
        let part = self.install.parts.get(fault.part)?;
        let role = self.install.knowledge.kinds.get(part.kind)?.role;
        self.install.knowledge.cause(role, &fault.mode).map(|cause| cause.look.as_str())
    }

    /// What is usually done about a fault, step by step, with the figures of its part.
    pub fn steps(&self, fault: &PossibleFault) -> Option<Steps> {
        let install = &self.install;
        let part = install.parts.get(fault.part)?;
        let row = install.knowledge.repair_steps(install.knowledge.kinds.get(part.kind)?, &fault.mode)?;
        // An end of a wire has the figures of its wire.
        let of = part.joint_of.and_then(|joint| install.parts.get(joint.conductor)).unwrap_or(part);
        let kind = install.knowledge.kinds.get(of.kind)?;
        let figure = |key: &str| {
            if key == NOMINAL {
                return Some(install.nominal.to_string());
            }
            let unit = kind.figures.iter().find(|figure| figure.key == key)?.unit;
            Some(written(*of.figures.get(key)?, unit))
        };
        let steps = row.steps.iter().map(|words| words.with(figure)).collect();
        Some(Steps { minutes: row.minutes, steps })
    }

    /// The description of a fault.
    pub fn describe(&self, fault: FaultId) -> Option<&PossibleFault> {
        self.possible.get(fault)
    }

    /// The fault with this part id and mode, its part's label also accepted.
    pub fn fault(&self, part: &str, mode: &str) -> Option<FaultId> {
        self.possible
            .enumerate()
            .find(|(_, f)| (f.part_id == part || f.label == part) && f.mode == mode)
            .map(|(id, _)| FaultId::new(id.position()))
    }
}
