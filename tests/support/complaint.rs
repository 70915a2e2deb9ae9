//! The plainest complaint.

use halfsplit::job::{Complaint, How, Said, Subject, System};

/// The first load of an install is dead.
pub(crate) fn first_load_dead(system: &System) -> Complaint {
    let load = system.install.wiring().loads()[0];
    let manner = system.install.knowledge.complaints.manner("dead").expect("a manner of the knowledge base");
    let said = Said::about(vec![Subject { part: load, sight: None }], How::Manner(manner));
    system.complaint(&said).expect("a load that works when all is well")
}
