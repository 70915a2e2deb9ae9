//! What a job ends with: the suspects in words, what followed from them, how sure it is.

use super::{Diagnosis, System};
use crate::belief::{Predicted, Verdict, likeliest};
use crate::circuit::PossibleFault;
use crate::index::Id;
use crate::network::ElementState;
use crate::suspects::{FaultId, GroupId, SuspectId};
use crate::units::Ohms;

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
            Verdict::Found(group) => vec![*group],
            Verdict::Ambiguous(groups) => groups.clone(),
            Verdict::NoFault | Verdict::Misfit(_) | Verdict::Open => Vec::new(),
        };
        let share = |g: GroupId| self.posterior().groups.iter().find(|(id, _)| *id == g).map_or(0.0, |(_, p)| *p);
        groups.into_iter().map(|g| self.culprit(g, share(g))).collect()
    }

    fn culprit(&self, group: GroupId, probability: f64) -> Culprit {
        let suspects = self.belief().suspects();
        let posterior = self.posterior();
        let mut members = suspects.groups()[group].members.clone();
        members.sort_by(|a, b| posterior.probability[*b].total_cmp(&posterior.probability[*a]).then(a.cmp(b)));
        let best = members.first().copied();
        let faults = best.map(|s| suspects.list()[s].faults.clone()).unwrap_or_default();
        let also = members
            .iter()
            .skip(1)
            .filter(|s| !posterior.ruled_out(**s))
            .flat_map(|s| suspects.list()[*s].faults.clone())
            .collect();
        Culprit {
            group,
            probability,
            faults,
            also,
            ohms: best.and_then(|s| self.severity(s)),
            consequences: best.map(|s| self.consequences(s)).unwrap_or_default(),
        }
    }

    /// The range of a soft suspect's severity that holds nine tenths of it.
    fn severity(&self, suspect: SuspectId) -> Option<(Ohms, Ohms)> {
        let points = &self.belief().tracks()[suspect].points;
        if points.len() < 2 {
            return None;
        }
        let mut sum = 0.0;
        let (mut low, mut high) = (None, None);
        for (point, share) in points.iter().zip(&self.posterior().severities[suspect]) {
            sum += share;
            if sum >= 0.05 && low.is_none() {
                low = Some(point.ohms);
            }
            if sum >= 0.95 && high.is_none() {
                high = Some(point.ohms);
            }
        }
        low.zip(high)
    }

    /// Fuses that are open in the likeliest course of a suspect without being faults of it.
    fn consequences(&self, suspect: SuspectId) -> Vec<String> {
        let shares = &self.posterior().severities[suspect];
        let track = &self.belief().tracks()[suspect];
        let best = (0..track.points.len()).max_by(|a, b| {
            let share = |i: &usize| shares.get(*i).copied().unwrap_or(0.0);
            share(a).total_cmp(&share(b))
        });
        let path = best.and_then(|i| track.points[i].paths.first());
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
        let shares = &self.posterior().severities[suspect];
        let track = &self.belief().tracks()[suspect];
        let best = (0..track.points.len())
            .max_by(|a, b| shares.get(*a).unwrap_or(&0.0).total_cmp(shares.get(*b).unwrap_or(&0.0)))?;
        track.points.get(best)?.paths.first()?.predicted.get(position)
    }
}

impl System {
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
