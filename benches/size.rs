//! Whole jobs on boards of any size: how long each question takes, and how much memory all of it.
//!
//! Run with `cargo bench --bench size`; sizes may follow: `-- 5 50`. Each size is a process of its own, so that its peak of
//! memory (`VmHWM`, Linux) is its own. In every job the first load is dead because one element on its way is open; answers are
//! the network's own, without noise. Times are what this thread had of a processor
//! (`/proc/thread-self/schedstat`, Linux), so that other work beside it counts little; elsewhere they are those of the clock.

use halfsplit::belief::{Answer, Predicted, Probe, predict as shown};
use halfsplit::circuit::{Edit, ElementId, Primitive, SetUp};
use halfsplit::job::{Diagnosis, Next, System, meter_sigma};
use halfsplit::network::{ElementState, Network, Operating};
use rig::{complaint, system};
use std::process::Command;
use std::time::{Duration, Instant};

/// A time to measure from.
struct Start {
    clock: Instant,
    processor: Option<Duration>,
}

impl Start {
    fn now() -> Self {
        Self { clock: Instant::now(), processor: processor() }
    }

    fn elapsed(&self) -> Duration {
        let used = self.processor.zip(processor()).map(|(before, now)| now.saturating_sub(before));
        used.unwrap_or_else(|| self.clock.elapsed())
    }
}

/// What this thread had of a processor so far.
fn processor() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    text.split_whitespace().next()?.parse().ok().map(Duration::from_nanos)
}

#[expect(unreachable_pub, reason = "the tests have it too")]
mod boards;
#[expect(unreachable_pub, dead_code, reason = "another bench has it too")]
mod rig;

/// Jobs that are played.
const JOBS: usize = 5;
/// Questions of a job at most.
const QUESTIONS: usize = 12;
/// Tells a process which size is its own.
const OWN: &str = "only";

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[expect(clippy::print_stdout, reason = "a bench says what it measured")]
fn main() {
    let words: Vec<String> = std::env::args().collect();
    let sizes: Vec<usize> = words.iter().filter_map(|word| word.parse().ok()).collect();
    if let ([size], true) = (&sizes[..], words.iter().any(|word| word == OWN)) {
        println!("{}", line(*size));
        return;
    }
    println!("circuits  nodes suspects   load s  first s  later ms: half   99 % longest      MB");
    for size in if sizes.is_empty() { vec![5, 50, 500] } else { sizes } {
        let Ok(own) = std::env::current_exe() else { return };
        let done = Command::new(own).args([OWN, &size.to_string()]).output();
        print!("{}", done.map(|done| String::from_utf8_lossy(&done.stdout).into_owned()).unwrap_or_default());
    }
}

/// Plays the jobs of one size.
fn line(circuits: usize) -> String {
    let start = Start::now();
    let system = system(circuits);
    let network = Network::new(&system.circuit.netlist);
    let load = start.elapsed();
    let (mut first, mut later) = (Vec::new(), Vec::new());
    for broken in on_the_way(&system, &network) {
        let start = Start::now();
        let begun = Diagnosis::begin(&system, &network, system.instruments(), complaint(&system), 1);
        let Ok(mut job) = begun else { continue };
        let mut next = job.next();
        first.push(start.elapsed());
        for _ in 0..QUESTIONS {
            let Next::Take(ranked) = next else { break };
            let answer = answer(&system, &network, broken, &ranked.test.set_up, &ranked.test.probe);
            let start = Start::now();
            job.answer(ranked.test, answer);
            next = job.next();
            later.push(start.elapsed());
        }
    }
    first.sort();
    later.sort();
    let (nodes, suspects) = (system.circuit.netlist.nodes.len(), system.suspects.list().len());
    let at = |share: f64| later.get(((later.len() as f64 * share) as usize).min(later.len().saturating_sub(1)));
    let millis = |time: Option<&Duration>| time.map_or(f64::NAN, |t| t.as_secs_f64() * 1e3);
    format!(
        "{circuits:>8}{nodes:>7}{suspects:>9}{:>9.2}{:>9.3}{:>15.1}{:>7.1}{:>8.1}{:>8}",
        load.as_secs_f64(),
        first.first().map_or(f64::NAN, Duration::as_secs_f64),
        millis(at(0.5)),
        millis(at(0.99)),
        millis(later.last()),
        peak(),
    )
}

/// Elements that carry the current of the first load, evenly along it.
fn on_the_way(system: &System, network: &Network<'_>) -> Vec<ElementId> {
    let state = state(network, None, &complaint(system).set_up);
    let mine = |id: &ElementId| {
        let is = matches!(network.netlist().elements[*id].primitive, Primitive::Resistance { .. });
        is && state.as_ref().is_some_and(|s| s.current(*id).get().abs() > 1e-3)
    };
    let all: Vec<ElementId> = network.netlist().elements.ids().filter(mine).collect();
    (0..JOBS.min(all.len())).map(|k| all[(2 * k + 1) * all.len() / (2 * JOBS.min(all.len()))]).collect()
}

fn state<'n>(network: &Network<'n>, broken: Option<ElementId>, set_up: &SetUp) -> Option<Operating<'n>> {
    let edits: Vec<Edit> = broken.map(Edit::Open).into_iter().collect();
    Some(network.enter(&edits, &network.fresh(), set_up).ok()?.into_iter().next()?.state)
}

/// What the broken circuit shows.
fn answer(system: &System, network: &Network<'_>, broken: ElementId, set_up: &SetUp, probe: &Probe) -> Answer {
    let Some(state) = state(network, Some(broken), set_up) else { return Answer::NotTaken };
    let rest = self::state(network, Some(broken), &SetUp::at_rest(&network.netlist().controls));
    let at_rest = |element| rest.as_ref().map_or(ElementState::Plain, |rest| rest.state(element));
    match shown(network, &system.senses, &state, probe, at_rest) {
        Predicted::Number { jumps, .. } if jumps >= 0.5 => Answer::Unsteady,
        Predicted::Number { mean, .. } => {
            let value = (mean * 100.0).round() / 100.0;
            Answer::Number { value, sigma: meter_sigma(value) }
        }
        Predicted::Words(shares) => {
            let best = shares.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
            best.map_or(Answer::NotTaken, |(word, _)| Answer::Word(word))
        }
    }
}

/// The most memory that this process has held, in megabytes.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    kilobytes.map_or_else(|| "?".to_owned(), |kb| format!("{:.0}", kb / 1024.0))
}
