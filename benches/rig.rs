//! What the benches have in common: a generated install, its first load dead, and what one suspect takes.

use super::boards;
use halfsplit::belief::Probe;
use halfsplit::circuit::{Edit, ElementId, NodeId, Primitive};
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Complaint, Diagnosis, How, Said, Subject, System};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use halfsplit::units::Volts;

/// An install of this many circuits.
pub fn system(circuits: usize) -> System {
    let source = Source::new("boards.yaml", boards::install(circuits));
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).expect("a complete install")
}

/// The first load is dead with its switch on.
pub fn complaint(system: &System) -> Complaint {
    let load = system.install.wiring().loads()[0];
    let manner = system.install.knowledge.complaints.manner("dead").expect("a manner of the knowledge base");
    let said = Said::about(vec![Subject { part: load, sight: None }], How::Manner(manner));
    system.complaint(&said).expect("a load that works when all is well")
}

/// The pairs of nodes at which a voltmeter is offered in the set-up of the complaint.
pub fn pairs(job: &Diagnosis<'_>) -> Vec<(NodeId, NodeId)> {
    let pair = |probe: &Probe| match probe {
        Probe::Volts { red, black, .. } => Some((*red, *black)),
        Probe::Amps { .. } | Probe::Ohms { .. } | Probe::Light { .. } | Probe::Look(_) => None,
    };
    job.untaken(&job.complaint().set_up).iter().filter_map(|test| pair(&test.probe)).collect()
}

/// Some resistances of the circuit, evenly over all of it: each of them broken is a suspect.
pub fn suspects(system: &System, count: usize) -> Vec<ElementId> {
    let elements = system.circuit.netlist.elements.enumerate();
    let all: Vec<ElementId> =
        elements.filter(|(_, e)| matches!(e.primitive, Primitive::Resistance { .. })).map(|(id, _)| id).collect();
    let count = count.min(all.len());
    (0..count).map(|k| all[k * all.len() / count]).collect()
}

/// A suspect's prediction of all offered readings: the state loop with its fault, then the volts of every pair. What comes
/// back is their sum, so that nothing is left out.
pub fn predict(network: &Network<'_>, complaint: &Complaint, broken: ElementId, pairs: &[(NodeId, NodeId)]) -> f64 {
    let Ok(branches) = network.enter(&[Edit::Open(broken)], &network.fresh(), &complaint.set_up) else { return 0.0 };
    let states = branches.iter().map(|branch| &branch.state);
    states.flat_map(|state| pairs.iter().filter_map(|(a, b)| state.voltage(*a, *b))).map(Volts::get).sum()
}
