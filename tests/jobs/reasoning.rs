//! The reasoning of the recorded jobs of the examples: where it says that the fault lies on a stretch, it lies there.

use super::record::records;
use super::workshop::system;
use halfsplit::job::reasoning::Reasoning;
use halfsplit::job::{Diagnosis, System};
use halfsplit::network::Network;

/// Enters all readings of a recorded job.
fn reasoned(
    system: &System,
    network: &Network<'_>,
    answers: &halfsplit::job::Answers,
) -> (Reasoning, usize, Vec<String>) {
    let mut job = Diagnosis::begin(system, network, system.instruments(), answers.complaint.clone(), 1).unwrap();
    for given in &answers.given {
        job.volunteer(given);
    }
    let out = job.belief().out(job.posterior());
    let blown = job.culprits(1, 0.0).into_iter().flat_map(|culprit| culprit.consequences).collect();
    (job.reasoning(), out.iter().filter(|out| **out).count(), blown)
}

/// The hidden faults are those of the records. A fault beside the ways (a coil's partner, a leak from elsewhere) has no stretch.
#[test]
fn the_two_sides_of_the_fault_hold_it_between_them() {
    let mut told = 0;
    // The others of the boat, and those of the van, take two minutes more.
    let quick = |name: &str| name.starts_with("sprayer/") || name.ends_with("/relay-clicks");
    for record in records().into_iter().filter(|record| quick(&record.name)) {
        let system = system(&record.install);
        let network = Network::new(&system.circuit.netlist);
        let (reasoning, out, blown) = reasoned(&system, &network, &record.answers(&system));
        let named: usize = reasoning.heard.iter().map(|h| h.excluded.len()).sum();
        assert_eq!(named + reasoning.together.len(), out, "{}: each once", record.path.display());
        assert!(
            reasoning.together.len() * 10 <= out,
            "{}: {} of {out} by nothing",
            record.path.display(),
            reasoning.together.len()
        );
        for way in &reasoning.ways {
            // What the fault has blown loses the voltage, not the fault itself.
            let lost_at = |part: &str| part == record.hidden.part || blown.iter().any(|blown| blown == part);
            let steps: Vec<&str> = way.steps.iter().map(|s| system.install.parts[s.part].id.as_str()).collect();
            let Some(sides) = way.sides.filter(|_| steps.contains(&record.hidden.part.as_str())) else { continue };
            told += 1;
            let path = record.path.display();
            let of = &record.hidden.part;
            let holds = steps[sides.from..sides.to].iter().any(|part| lost_at(part));
            assert!(holds, "{path}: {of} is not between {sides:?} of {steps:?}");
        }
    }
    assert!(told >= 8, "only {told} jobs have two sides");
}
