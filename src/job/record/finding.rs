//! The finding of a job as a record.

use super::{Blamed, Ended, Failed, Finding, Repair};
use crate::belief::Verdict;
use crate::job::{Culprit, Diagnosis};
use crate::suspects::FaultId;

impl Diagnosis<'_> {
    /// A verdict as a record; `open` is what was not taken or is still suspected.
    pub fn recorded(&self, verdict: &Verdict, open: Vec<String>) -> Finding {
        let mut cautions: Vec<String> = Vec::new();
        let mut culprits = Vec::new();
        for culprit in self.named(verdict) {
            for fault in &culprit.faults {
                culprits.extend(self.blamed(*fault, culprit.probability));
                let possible = self.system().describe(*fault);
                for caution in possible.map_or_else(Vec::new, |fault| self.system().cautions_at_repair(fault)) {
                    if !cautions.contains(&caution) {
                        cautions.push(caution);
                    }
                }
            }
        }
        cautions.extend(self.left_idle(verdict));
        let ended = match verdict {
            // What works again was found before: the records of the repair and of its proof say the rest.
            Verdict::Found(_) | Verdict::Cured => Ended::Found,
            Verdict::Ambiguous(_) => Ended::Alike,
            Verdict::NoFault => Ended::NoFault,
            Verdict::Misfit(_) => Ended::NoFit,
            Verdict::Open => Ended::Open,
        };
        Finding { ended, culprits, cautions, minutes: tenths(self.minutes().get()), open }
    }

    /// The repair of some culprits as a record: what is usually done to each.
    pub fn repair_of(&self, culprits: &[Culprit]) -> Repair {
        let faults = culprits.iter().flat_map(|c| c.faults.iter().map(|fault| (*fault, c.probability)));
        let culprits: Vec<Blamed> = faults.filter_map(|(fault, probability)| self.blamed(fault, probability)).collect();
        let listed = |of: fn(&Blamed) -> &String, between: &str| {
            let mut list: Vec<&str> = Vec::new();
            for text in culprits.iter().map(|blamed| of(blamed).as_str()).filter(|text| !text.is_empty()) {
                if !list.contains(&text) {
                    list.push(text);
                }
            }
            list.join(between)
        };
        let (part, done) = (listed(|b| &b.part, ", "), listed(|b| &b.repair, "; "));
        Repair { part, done, minutes: None, culprits }
    }

    fn blamed(&self, fault: FaultId, probability: f64) -> Option<Blamed> {
        let possible = self.system().describe(fault)?;
        let repair = possible.mode(&self.system().install).map(|mode| mode.repair.clone()).unwrap_or_default();
        // Six digits tell 0.9995 from certain, which nothing is.
        let sure = ((probability * 1e6).round() / 1e6).min(0.999_999);
        Some(Blamed { part: possible.part_id.clone(), fault: possible.mode.clone(), sure, repair })
    }

    /// What was repaired as a history keeps it, knowing all that was read to the end. A repair was right if its fault is likelier
    /// than not to have been there.
    pub fn failed(&self, repaired: &[Blamed]) -> Vec<Failed> {
        let system = self.system();
        let one = |Blamed { part, fault, .. }: &Blamed| {
            let id = system.fault(part, fault);
            let described = id.and_then(|id| system.describe(id));
            Failed {
                part: part.clone(),
                fault: fault.clone(),
                kind: described.map(|d| system.kind_of(d).to_owned()),
                place: described.and_then(|d| system.place_of(d)).map(str::to_owned),
                right: id.is_none_or(|id| self.was_there(id) >= 0.5),
            }
        };
        repaired.iter().map(one).collect()
    }

    /// The probability that something was there at first which the repair of a fault cures, by all that was read since.
    fn was_there(&self, fault: FaultId) -> f64 {
        let suspects = self.belief().suspects();
        let Some(repair) = suspects.faults().get(fault).map(|fault| &fault.repair) else { return 0.0 };
        let cured = |fault: &FaultId| suspects.faults()[*fault].repair == *repair;
        let with = suspects.list().enumerate().filter(|(_, suspect)| suspect.faults.iter().any(cured));
        with.map(|(id, _)| self.posterior().probability[id]).sum()
    }
}

/// Minutes to a tenth, as the screen says them.
pub fn tenths(minutes: f64) -> f64 {
    (minutes * 10.0).round() / 10.0
}
