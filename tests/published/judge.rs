//! Holds the engine's answer against a record's key.

use super::bench::{Bench, ON, is_on};
use super::record::{Expected, Named, Reading, Record, Step};
use halfsplit::belief::{Belief, Evidence, Noise, Posterior, Predicted};
use halfsplit::network::Network;
use halfsplit::suspects::SuspectId;

/// What is wrong with the engine's answer, in words; nothing when it agrees with the key.
pub fn judge(record: &Record) -> Vec<String> {
    let bench = Bench::new(record);
    let network = Network::new(&bench.netlist);
    let noise = Noise {
        // The keys rely on it that a floating probe reads zero.
        floating_sigma: 0.0,
        leaky: 0.0,
        model_floor: 1e-9,
        // The keys take each reading by itself.
        lasting: 0.0,
        shifted: 0.0,
        untouched: 0.0,
        missed: 0.0,
        moved: 0.0,
        span: 6.0 * bench.scale,
        unsteady_mistaken: super::bench::MISTAKE,
    };
    let mut belief = Belief::new(&network, &bench.suspects, &bench.senses, noise);
    let mut wrong = tables(record, &bench, &mut belief);
    for expected in &record.answer.expected {
        wrong.extend(expectations(&bench, &mut belief, expected));
    }
    wrong
}

fn tables(record: &Record, bench: &Bench, belief: &mut Belief<'_>) -> Vec<String> {
    let key = &record.answer;
    if key.possible.is_empty() && key.impossible.is_empty() && key.accepted.is_empty() {
        return Vec::new();
    }
    let healthy = predictions(bench, belief, &record.steps, first(bench));
    let healthy: Vec<f64> = healthy.iter().map(mean).collect();
    let evidence = bench.evidence(&record.steps, &healthy);
    let posterior = belief.update(&evidence);
    let mut wrong = Vec::new();
    let mut hold = |named: &Named, may_be: bool| {
        let id = bench.suspect(named);
        if posterior.ruled_out(id) == may_be {
            let said = if may_be {
                "ruled out, but the key holds it possible"
            } else {
                "not ruled out, but the key holds it impossible"
            };
            let below = posterior.best_log_likelihood() - posterior.log_likelihood[id];
            wrong.push(format!("{}: {said} ({below:.1} below the best in log-likelihood)", named.text()));
        }
    };
    for named in key.possible.iter().chain(&key.accepted) {
        hold(named, true);
    }
    for named in key.impossible.iter().chain(&key.must_be_good) {
        hold(named, false);
    }
    if key.exhaustive {
        wrong.extend(beyond(bench, &posterior, &key.accepted));
    }
    wrong
}

/// Suspects that an exhaustive key does not name and that are not ruled out.
fn beyond(bench: &Bench, posterior: &Posterior, accepted: &[Named]) -> Vec<String> {
    let named: Vec<SuspectId> = accepted.iter().map(|n| bench.suspect(n)).collect();
    let suspects = &bench.suspects;
    suspects
        .list()
        .enumerate()
        .filter(|(id, s)| !s.faults.is_empty() && !named.contains(id) && !posterior.ruled_out(*id))
        .map(|(_, s)| {
            let fault = &suspects.faults()[s.faults[0]];
            format!("{} {}: not ruled out, but the key is exhaustive without it", fault.part, fault.mode)
        })
        .collect()
}

fn first(bench: &Bench) -> SuspectId {
    bench.suspects.list().ids().next().expect("the first suspect is 'nothing wrong'")
}

/// What a suspect predicts for each reading and each load of the steps, in the order of `Bench::evidence`.
fn predictions(bench: &Bench, belief: &mut Belief<'_>, steps: &[Step], suspect: SuspectId) -> Vec<Predicted> {
    let evidence: Evidence = bench.evidence(steps, &[]);
    belief.update(&evidence);
    let paths = &belief.tracks()[suspect].points[0].paths;
    paths.first().map(|p| p.predicted.clone()).unwrap_or_default()
}

fn mean(predicted: &Predicted) -> f64 {
    match predicted {
        Predicted::Number { mean, .. } => *mean,
        Predicted::Words(_) => 0.0,
    }
}

fn expectations(bench: &Bench, belief: &mut Belief<'_>, expected: &Expected) -> Vec<String> {
    let suspect = expected.fault.as_ref().map_or(first(bench), |f| bench.suspect(f));
    let name = expected.fault.as_ref().map_or("healthy".to_owned(), Named::text);
    let healthy = predictions(bench, belief, &expected.steps, first(bench));
    let faulty = predictions(bench, belief, &expected.steps, suspect);
    let mut wrong = Vec::new();
    let mut at = 0;
    for (number, step) in expected.steps.iter().enumerate() {
        for reading in &step.readings {
            if let Some(text) = differs(bench, reading, mean(&faulty[at]), mean(&healthy[at])) {
                wrong.push(format!("{name}, step {}: {text}", number + 1));
            }
            at += 1;
        }
        for (load, word) in &step.loads {
            let Predicted::Words(shares) = &faulty[at] else { panic!("a load is seen") };
            if (shares[ON] > 0.5) != is_on(word) {
                wrong.push(format!("{name}, step {}: {load} should be {word}", number + 1));
            }
            at += 1;
        }
    }
    wrong
}

/// How a computed value differs from the key's, if it does.
fn differs(bench: &Bench, reading: &Reading, value: f64, healthy: f64) -> Option<String> {
    let tolerance = bench.tolerance(reading);
    let agrees = if reading.nonzero {
        value.abs() >= 0.1 * bench.scale
    } else if let Some(sign) = &reading.sign {
        let least = reading.threshold.unwrap_or(tolerance);
        if sign == "-" { value <= -least } else { value >= least }
    } else if let Some(trend) = &reading.trend {
        match trend.as_str() {
            "up" => value > healthy + tolerance,
            "down" => value < healthy - tolerance,
            _ => (value - healthy).abs() <= tolerance,
        }
    } else {
        let key = reading.amps.or(reading.volts).expect("a reading has a value");
        let key = if reading.signed { key } else { key.abs() };
        (value - key).abs() <= tolerance
    };
    (!agrees).then(|| format!("{reading:?} but computed {value}, healthy {healthy}"))
}
