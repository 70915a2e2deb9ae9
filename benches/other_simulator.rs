//! One suspect's prediction beside a step of ngspice (Debian package `ngspice`) on the same network, in the same run.
//!
//! Run with `cargo bench --bench other_simulator`; sizes may follow: `-- 5 50`. The netlist is the engine's own export, with
//! contacts, fuses and motors as they stand in the healthy circuit. ngspice reads it once and then, in one process, sets one
//! resistor after the other to 1 Gohm, solves the operating point, and puts it back; the time of a process that only reads
//! and solves once is taken off. The engine breaks the same elements; it also goes through its state loop, which ngspice does not,
//! and reads all offered pairs of points.

use halfsplit::circuit::{ElementId, Export, Primitive, edited};
use halfsplit::index::Id;
use halfsplit::job::{Diagnosis, System};
use halfsplit::network::{ElementState, Network};
use rig::{complaint, pairs, predict, suspects, system};
use std::fmt::Write;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

#[expect(unreachable_pub, reason = "the tests have it too")]
mod boards;
#[expect(unreachable_pub, reason = "another bench has it too")]
mod rig;

/// Suspects of a run.
const SUSPECTS: usize = 100;
/// Times that all is measured; the fastest counts.
const ROUNDS: u32 = 5;

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[expect(clippy::print_stdout, reason = "a bench says what it measured")]
fn main() {
    let sizes: Vec<usize> = std::env::args().filter_map(|word| word.parse().ok()).collect();
    let sizes = if sizes.is_empty() { vec![5, 50, 500] } else { sizes };
    println!("circuits    nodes  readings  engine, us   ngspice, us   ratio");
    for circuits in sizes {
        let system = system(circuits);
        let network = Network::new(&system.circuit.netlist);
        let complaint = complaint(&system);
        let job = Diagnosis::begin(&system, &network, system.instruments(), complaint.clone(), 1);
        let pairs = job.map_or_else(|_| Vec::new(), |job| pairs(&job));
        let suspects = suspects(&system, SUSPECTS);
        let round = || {
            let start = Instant::now();
            let sum: f64 = suspects.iter().map(|broken| predict(&network, &complaint, *broken, &pairs)).sum();
            assert!(sum.is_finite());
            start.elapsed()
        };
        let own = fastest(round) / count(&suspects);
        let nodes = system.circuit.netlist.nodes.len();
        print!("{circuits:>8}{nodes:>9}{:>10}{:>12.1}", pairs.len(), micros(own));
        match other(&system, &network, &suspects) {
            Some(other) => println!("{:>14.1}{:>8.0}", micros(other), micros(other) / micros(own)),
            None => println!("   ngspice is not there, or could not solve it"),
        }
    }
}

fn micros(time: Duration) -> f64 {
    time.as_secs_f64() * 1e6
}

fn count(suspects: &[ElementId]) -> u32 {
    u32::try_from(suspects.len()).unwrap_or(u32::MAX)
}

/// The shortest of some times: what else the machine does makes them longer alone.
fn fastest(measure: impl Fn() -> Duration) -> Duration {
    (0..ROUNDS).map(|_| measure()).min().unwrap_or_default()
}

/// The time that a step of ngspice takes.
fn other(system: &System, network: &Network<'_>, suspects: &[ElementId]) -> Option<Duration> {
    let netlist = &system.circuit.netlist;
    let set_up = complaint(system).set_up;
    let healthy = network.enter(&[], &network.fresh(), &set_up).ok()?.into_iter().next()?.state;
    let stands = |id: ElementId| match healthy.state(id) {
        ElementState::Plain => false,
        ElementState::Coil(on)
        | ElementState::Contact(on)
        | ElementState::Fuse(on)
        | ElementState::Diode(on)
        | ElementState::Motor(on)
        | ElementState::Power(on)
        | ElementState::Source(on) => on,
    };
    let active: Vec<bool> = netlist.elements.ids().map(stands).collect();
    let positions: Vec<usize> = set_up.positions.iter().copied().collect();
    let elements = edited(netlist, &[]);
    let text = Export { netlist, elements: &elements, positions: &positions, active: &active }.text();
    let mut steps = String::new();
    for broken in suspects {
        let Primitive::Resistance { ohms } = netlist.elements[*broken].primitive else { continue };
        let k = broken.position();
        let _ = writeln!(steps, "alter r{k} = 1e9\nop\nalter r{k} = {:e}\ndestroy all", ohms.get().max(1e-7));
    }
    run(&text, "")?;
    let time = |steps: &str| fastest(|| run(&text, steps).unwrap_or(Duration::MAX));
    let (long, short) = (time(&steps), time(""));
    Some(long.saturating_sub(short) / count(suspects))
}

/// The time of a process that reads a circuit, solves it once, and takes some steps.
fn run(text: &str, steps: &str) -> Option<Duration> {
    let file = std::env::temp_dir().join(format!("halfsplit-bench-{}.cir", std::process::id()));
    let whole = format!("* exported\n{text}.control\nop\ndestroy all\n{steps}quit 0\n.endc\n.end\n");
    std::fs::write(&file, whole).ok()?;
    let mut command = Command::new("ngspice");
    command.arg("-b").arg(&file).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let start = Instant::now();
    let status = command.status();
    let took = start.elapsed();
    let _ = std::fs::remove_file(&file);
    status.is_ok_and(|status| status.success()).then_some(took)
}
