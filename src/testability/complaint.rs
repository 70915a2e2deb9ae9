//! The mock-up's grievance as the complaint that a job begins with.

use super::Faults;
use crate::bench::Grievance;
use crate::job::{Complaint, SightOf, System};
use crate::knowledge::Origin;

/// The complaint; the one place that knows the form that jobs take it in. Of a mistake of wiring the owner also says what
/// speaks most for one: that it never worked.
pub(super) fn complaint(system: &System, grievance: &Grievance, faults: Faults) -> Option<Complaint> {
    let sighted = system.circuit.sights.get(grievance.sight)?;
    let of = |s: &SightOf| s.part == sighted.part && s.kind_sight == sighted.sight;
    let sight = system.sights.iter().position(of)?;
    // The person of the mock-up has seen nothing yet: the complaint is what the owner says.
    let mut complaint = system.seen_wrong(sight, grievance.word, grievance.set_up.clone());
    complaint.reported = true;
    if faults == Faults::Wiring {
        complaint.history = most_of_a_mistake(system);
    }
    Some(complaint)
}

/// The word for what was before that is said most often of a mistake.
fn most_of_a_mistake(system: &System) -> Option<usize> {
    let history = &system.install.knowledge.complaints.history;
    let likelihood = |word: &usize| history.likelihood(*word, Origin::Mistake);
    (0..history.words.len()).max_by(|a, b| likelihood(a).total_cmp(&likelihood(b)).then(b.cmp(a)))
}
