//! The mock-up's grievance as the complaint that a job begins with.

use crate::bench::Grievance;
use crate::job::{Complaint, SightOf, System};

/// The complaint; the one place that knows the form that jobs take it in.
pub(super) fn complaint(system: &System, grievance: &Grievance) -> Option<Complaint> {
    let sighted = system.circuit.sights.get(grievance.sight)?;
    let of = |s: &SightOf| s.part == sighted.part && s.kind_sight == sighted.sight;
    let sight = system.sights.iter().position(of)?;
    // The person of the mock-up has seen nothing yet: the complaint is what the owner says.
    Some(Complaint { reported: true, ..system.seen_wrong(sight, grievance.word, grievance.set_up.clone()) })
}
