//! How long a person waits: the first question after the complaint, and the next one after an answer.
//!
//! Run with `cargo bench`. The circuit sizes are boards of that many ways, made by the generator in `benches/boards`.

use divan::Bencher;
use halfsplit::belief::Answer;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Complaint, Diagnosis, How, Next, Said, Subject, System};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;

mod boards;

fn main() {
    divan::main();
}

fn system(ways: usize) -> System {
    let source = Source::new("board.yaml", boards::install(ways));
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).expect("a complete install")
}

/// The first load is dead with its switch on.
fn complaint(system: &System) -> Complaint {
    let load = system.install.wiring().loads()[0];
    let manner = system.install.knowledge.complaints.manner("dead").expect("a manner of the knowledge base");
    let said = Said::about(vec![Subject { part: load, sight: None }], How::Manner(manner));
    system.complaint(&said).expect("a load that works when all is well")
}

#[divan::bench(args = [6, 50], sample_count = 5, sample_size = 1)]
fn first_question(bencher: Bencher<'_, '_>, ways: usize) {
    let system = system(ways);
    let complaint = complaint(&system);
    bencher.bench_local(|| {
        let network = Network::new(&system.circuit.netlist);
        let job = Diagnosis::begin(&system, &network, system.instruments(), complaint.clone(), 1);
        job.is_ok_and(|job| matches!(job.next(), Next::Take(_)))
    });
}

#[divan::bench(args = [6, 50], sample_count = 5, sample_size = 1)]
fn next_question(bencher: Bencher<'_, '_>, ways: usize) {
    let system = system(ways);
    let complaint = complaint(&system);
    let network = Network::new(&system.circuit.netlist);
    bencher
        .with_inputs(|| {
            Diagnosis::begin(&system, &network, system.instruments(), complaint.clone(), 1)
                .unwrap_or_else(|u| panic!("{}", u.why))
        })
        .bench_local_values(|mut job| {
            if let Next::Take(ranked) = job.next() {
                job.answer(ranked.test.clone(), Answer::NotTaken);
                return matches!(job.next(), Next::Take(_));
            }
            false
        });
}
