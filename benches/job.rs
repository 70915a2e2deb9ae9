//! How long a person waits: the first question after the complaint and a later one; and what these are made of, a factor and
//! one suspect's prediction.
//!
//! Run with `cargo bench --bench job`. Circuits are those of the generator in `benches/boards.rs`. At 500 a question takes
//! seconds: one sample each. `cargo bench --bench job -- one_suspect` runs one of them alone.

use divan::Bencher;
use halfsplit::belief::Answer;
use halfsplit::circuit::SetUp;
use halfsplit::job::{Diagnosis, Next, System, meter_sigma};
use halfsplit::network::Network;
use rig::{complaint, pairs, predict, suspects, system};

#[expect(unreachable_pub, reason = "the tests have it too")]
mod boards;
#[expect(unreachable_pub, reason = "another bench has it too")]
mod rig;

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() {
    divan::main();
}

/// The network of a set-up from nothing: islands, order, factor, and the healthy state.
#[divan::bench(args = [5, 50, 500], sample_count = 10, sample_size = 1)]
fn factor(bencher: Bencher<'_, '_>, circuits: usize) {
    let system = system(circuits);
    let on: SetUp = complaint(&system).set_up;
    bencher.bench_local(|| {
        let network = Network::new(&system.circuit.netlist);
        network.enter(&[], &network.fresh(), &on).is_ok()
    });
}

/// All offered readings of the complaint under one suspect, its state loop included; the mean over 100 suspects, each broken.
#[divan::bench(args = [5, 50, 500], sample_count = 5, sample_size = 1)]
fn one_suspect(bencher: Bencher<'_, '_>, circuits: usize) {
    let system = system(circuits);
    let complaint = complaint(&system);
    let network = Network::new(&system.circuit.netlist);
    let pairs = begun(&system, &network).map_or_else(Vec::new, |job| pairs(&job));
    let suspects = suspects(&system, 100);
    bencher
        .counter(divan::counter::ItemsCount::new(suspects.len()))
        .bench_local(|| suspects.iter().map(|broken| predict(&network, &complaint, *broken, &pairs)).sum::<f64>());
}

fn begun<'n>(system: &'n System, network: &'n Network<'n>) -> Option<Diagnosis<'n>> {
    Diagnosis::begin(system, network, system.instruments(), complaint(system), 1).ok()
}

#[divan::bench(args = [5, 50], sample_count = 5, sample_size = 1)]
fn first_question(bencher: Bencher<'_, '_>, circuits: usize) {
    let system = system(circuits);
    bencher.bench_local(|| {
        let network = Network::new(&system.circuit.netlist);
        begun(&system, &network).is_some_and(|job| matches!(job.next(), Next::Take(_)))
    });
}

/// The same on 500 circuits, once: it takes long.
#[divan::bench(sample_count = 1, sample_size = 1)]
fn first_question_of_500(bencher: Bencher<'_, '_>) {
    first_question(bencher, 500);
}

/// From an answer to the next question: the first answer is 'cannot take it', the second a reading as in a good circuit.
#[divan::bench(args = [5, 50], sample_count = 5, sample_size = 1)]
fn later_question(bencher: Bencher<'_, '_>, circuits: usize) {
    let system = system(circuits);
    let network = Network::new(&system.circuit.netlist);
    let asked = || {
        let mut job = begun(&system, &network)?;
        if let Next::Take(ranked) = job.next() {
            job.answer(ranked.test, Answer::NotTaken);
        }
        match job.next() {
            Next::Take(ranked) => Some((job, ranked.test)),
            Next::Stop(_) => None,
        }
    };
    bencher.with_inputs(asked).bench_local_values(|asked| {
        asked.is_some_and(|(mut job, test)| {
            job.answer(test, Answer::Number { value: 12.0, sigma: meter_sigma(12.0) });
            matches!(job.next(), Next::Take(_))
        })
    });
}
