//! What a person must beware of, and when that is said: before the job, above a test, with the repair, where a system is left.

use super::{Diagnosis, System};
use crate::belief::{Probe, Verdict};
use crate::choice::{Target, Test};
use crate::circuit::PossibleFault;
use crate::install::PartId;
use crate::knowledge::{Caution, Moment};
use crate::network::Instrument;

impl System {
    /// The cautions of the whole system, said once before a job; they stand above the first question.
    pub fn cautions_before(&self) -> Vec<String> {
        self.general(Moment::Job)
    }

    /// The cautions that stand with a test: of what is `energised` in its set-up, of its instrument, its places and its parts,
    /// those that are taken out for it among them.
    pub fn cautions_at_test(&self, test: &Test, energised: &[PartId]) -> Vec<String> {
        let install = &self.install;
        let (mut parts, places): (Vec<_>, Vec<_>) = match &test.at {
            Target::Part(id) => (vec![*id], vec![install.parts[*id].place]),
            Target::Points { red, black } => {
                let points = [&install.points[*red], &install.points[*black]];
                (
                    points.iter().filter_map(|p| p.of.map(|(part, _)| part)).collect(),
                    points.iter().map(|p| p.place).collect(),
                )
            }
        };
        parts.extend(&test.set_up.taken_out);
        let engine = self.engine_runs(&test.set_up);
        let mut all = Said::default();
        self.labelled(Moment::Runs, energised).into_iter().for_each(|says| all.add(says));
        let by = match &test.probe {
            Probe::Light { instrument: Instrument::TestLamp { .. }, .. } => Some(Moment::Lamp),
            Probe::Light { .. } | Probe::Volts { .. } | Probe::Look(_) | Probe::Amps { .. } => None,
        };
        by.into_iter().flat_map(|moment| self.general(moment)).for_each(|says| all.add(says));
        let of_places = places.into_iter().flatten().filter_map(|p| install.places[p].caution.clone());
        of_places.for_each(|says| all.add(says));
        for part in parts {
            for key in &install.knowledge.kinds[install.parts[part].kind].cautions {
                let moments = [Some(Moment::Test), engine.then_some(Moment::Engine)];
                if let Some(caution) = self.known(key)
                    && moments.into_iter().flatten().any(|moment| self.is_said(caution, moment))
                {
                    all.add(caution.says.clone());
                }
            }
        }
        all.0
    }

    /// The cautions of the usual repair of a fault: of its mode, of its part, of the work itself.
    pub fn cautions_at_repair(&self, fault: &PossibleFault) -> Vec<String> {
        let install = &self.install;
        let Some(part) = install.parts.get(fault.part) else { return Vec::new() };
        let kind = &install.knowledge.kinds[part.kind];
        let of_mode = fault.mode(install).map(|mode| mode.cautions.as_slice()).unwrap_or_default();
        let of_work = install.knowledge.repair_steps(kind, &fault.mode).map_or(&[][..], |row| &row.cautions);
        let mut all = Said::default();
        for caution in of_mode.iter().chain(of_work).filter_map(|key| self.known(key)) {
            if self.is_said(caution, Moment::Repair) {
                all.add(caution.says.clone());
            }
        }
        all.0
    }

    /// The cautions for a system that is left with these parts not working, each with the parts that call for it.
    pub fn cautions_on_leaving(&self, idle: &[PartId]) -> Vec<String> {
        self.labelled(Moment::Leaving, idle)
    }

    /// The cautions once a repair is proven.
    pub fn cautions_on_moving_off(&self) -> Vec<String> {
        self.general(Moment::MovingOff)
    }

    /// Whether a caution of this key is said at a moment.
    pub(super) fn is_cautioned(&self, key: &str, moment: Moment) -> bool {
        self.known(key).is_some_and(|caution| self.is_said(caution, moment))
    }

    fn known(&self, key: &str) -> Option<&Caution> {
        self.install.knowledge.cautions.get(key)
    }

    fn is_said(&self, caution: &Caution, moment: Moment) -> bool {
        caution.is_for(moment, &self.install.setting, &self.install.fuel)
    }

    fn general(&self, moment: Moment) -> Vec<String> {
        let cautions = self.install.knowledge.cautions.values();
        cautions.filter(|caution| self.is_said(caution, moment)).map(|caution| caution.says.clone()).collect()
    }

    /// What the kinds of some parts name for a moment; what several parts have in common is said once, with their labels.
    fn labelled(&self, moment: Moment, parts: &[PartId]) -> Vec<String> {
        let mut found: Vec<(Vec<&str>, &str)> = Vec::new();
        for part in parts.iter().filter_map(|part| self.install.parts.get(*part)) {
            let keys = self.install.knowledge.kinds[part.kind].cautions.iter();
            for caution in keys.filter_map(|key| self.known(key)).filter(|caution| self.is_said(caution, moment)) {
                match found.iter_mut().find(|(_, says)| *says == caution.says) {
                    Some((labels, _)) if labels.contains(&part.label.as_str()) => {}
                    Some((labels, _)) => labels.push(&part.label),
                    None => found.push((vec![&part.label], &caution.says)),
                }
            }
        }
        found.into_iter().map(|(labels, says)| format!("{}: {says}", labels.join(", "))).collect()
    }
}

impl Diagnosis<'_> {
    /// The cautions for the system as a verdict leaves it, as long as nothing is repaired: of what is complained of, and of what
    /// hangs on the parts that are named.
    pub fn left_idle(&self, verdict: &Verdict) -> Vec<String> {
        if matches!(verdict, Verdict::Cured | Verdict::NoFault) {
            return Vec::new();
        }
        let system = self.system();
        let complained = self.complaint().wrong().filter_map(|fact| system.sights.get(fact.sight)).map(|s| s.part);
        let mut idle: Vec<PartId> = complained.collect();
        let named = self.named(verdict);
        let faults = named.iter().flat_map(|culprit| &culprit.faults).filter_map(|fault| system.describe(*fault));
        let parts: Vec<PartId> = faults.map(|fault| fault.part).collect();
        let wiring = system.install.wiring();
        for load in wiring.loads() {
            let needs = || wiring.upstream(load).iter().any(|part| parts.contains(part));
            if !idle.contains(&load) && (parts.contains(&load) || needs()) {
                idle.push(load);
            }
        }
        system.cautions_on_leaving(&idle)
    }
}

/// Cautions, each once.
#[derive(Default)]
struct Said(Vec<String>);

impl Said {
    fn add(&mut self, says: String) {
        if !self.0.contains(&says) {
            self.0.push(says);
        }
    }
}
