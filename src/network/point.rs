//! Solves one discrete state: Newton on the smooth elements, then diodes and source limits put right.

use super::islands::{Islands, Joined};
use super::law::{Branch, Law, Part, Status, converter_draw};
use super::solver::{Change, Factor, NOWHERE, Port};
use super::wiring::Wiring;
use std::borrow::Cow;

/// Newton gives up after this many steps.
const STEPS: usize = 80;
/// Sum of the currents at each node over the currents that make it up: solved.
const SOLVED: f64 = 1e-13;
/// The same when rounding lets it fall no further: still good.
const GOOD: f64 = 1e-9;
/// Volts that are added to those of each node when rounding is judged: a node at nothing has some too.
const NOISE: f64 = 1e-6;
/// All diodes that must switch do so together this many times, then one at a time.
const TOGETHER: usize = 8;
/// Leakage of a dark diode, in siemens, only while finding out which of several in series conduct.
const DARK: f64 = 1e-9;

/// Potentials against each island's datum.
#[derive(Clone, Debug, Default)]
pub(super) struct Point {
    pub volts: Vec<f64>,
    pub islands: Islands,
}

/// Newton found no solution; the nodes where the currents do not add up.
#[derive(Clone, Debug)]
pub(super) struct NoPoint {
    pub nodes: Vec<u32>,
}

impl Point {
    /// Voltage across a part; zero where nothing joins its ends.
    pub fn drop(&self, part: &Part) -> f64 {
        let (a, b) = (part.from as usize, part.to as usize);
        match (self.volts.get(a), self.volts.get(b)) {
            (Some(x), Some(y)) if self.islands.joined(part.from, part.to) => x - y,
            _ => 0.0,
        }
    }
}

/// Current and slope of each part, and what converters draw.
pub(super) struct Linear {
    pub branches: Vec<Branch>,
    /// `(row part, column part, siemens)`: the slopes of converters' draws.
    pub draws: Vec<(u32, u32, f64)>,
}

impl Linear {
    /// Evaluates all parts at `point`.
    pub fn new(wiring: &Wiring, status: &[Status], point: &Point) -> Self {
        let mut branches: Vec<Branch> = wiring
            .parts
            .iter()
            .zip(status)
            .map(|(part, status)| {
                if part.conducts(*status) {
                    part.branch(*status, point.drop(part))
                } else {
                    Branch::default()
                }
            })
            .collect();
        let mut draws = Vec::new();
        for (index, part) in wiring.parts.iter().enumerate() {
            let Law::ConverterInput {
                output,
                efficiency,
                cut_off,
                top,
                ..
            } = part.law
            else {
                continue;
            };
            let out = output as usize;
            if part.open || !status[index].on || out >= wiring.parts.len() {
                continue;
            }
            let volts = point.drop(&wiring.parts[out]);
            let delivered = branches[out];
            // The output side's current counts into its plus: delivering is negative.
            let watts = -volts * delivered.amps;
            let watts_per_volt = -delivered.amps - volts * delivered.siemens;
            let (watts, watts_per_volt) = if watts > 0.0 {
                (watts, watts_per_volt)
            } else {
                (0.0, 0.0)
            };
            let (amps, own, per_watt) =
                converter_draw(watts, efficiency, (cut_off, top), point.drop(part));
            branches[index].amps += amps;
            branches[index].scale += amps.abs();
            let index = u32::try_from(index).unwrap_or(u32::MAX);
            draws.push((index, index, own));
            draws.push((index, output, per_watt * watts_per_volt));
        }
        Self { branches, draws }
    }

    /// What flows into each node beyond what flows out, and the largest share of it against the currents
    /// that make it up.
    fn residual(&self, wiring: &Wiring, point: &Point) -> (Vec<f64>, f64, Vec<f64>) {
        let mut left = vec![0.0; wiring.nodes];
        let mut scale = vec![0.0; wiring.nodes];
        for (part, branch) in wiring.parts.iter().zip(&self.branches) {
            let (a, b) = (part.from as usize, part.to as usize);
            if a == b || (branch.siemens == 0.0 && branch.amps == 0.0) {
                continue;
            }
            left[a] -= branch.amps;
            left[b] += branch.amps;
            let size = branch.siemens.abs() * (point.volts[a].abs() + point.volts[b].abs() + NOISE)
                + branch.scale
                + branch.amps.abs();
            scale[a] += size;
            scale[b] += size;
        }
        for datum in &point.islands.data {
            left[*datum as usize] -= point.volts[*datum as usize];
            scale[*datum as usize] += point.volts[*datum as usize].abs();
        }
        let mut worst = 0.0_f64;
        for (left, scale) in left.iter().zip(&scale) {
            if *scale > 0.0 {
                let share = left.abs() / scale;
                // A sum that is no number counts as the worst.
                worst = if share <= worst { worst } else { share };
            } else if left.is_nan() {
                worst = f64::NAN;
            }
        }
        (left, worst, scale)
    }
}

/// Solves `wiring` in `status`, starting from the potentials in `point`; diodes and source limits in
/// `status` are put right.
pub(super) fn solve(
    wiring: &Wiring,
    status: &mut [Status],
    point: &mut Point,
) -> Result<(), NoPoint> {
    for round in 0..wiring.parts.len().saturating_mul(4) + 64 {
        newton(wiring, status, point)?;
        if !flip(wiring, status, point, round >= TOGETHER) && !wake(wiring, status, point)? {
            return Ok(());
        }
    }
    // Monotone elements always settle one at a time; this is reached only by rounding at a threshold.
    Ok(())
}

/// Turns over diodes and limits that contradict their voltage: all of them, or the first alone (which
/// always ends for monotone elements). Whether any did.
fn flip(wiring: &Wiring, status: &mut [Status], point: &Point, single: bool) -> bool {
    let mut any = false;
    for (part, status) in wiring.parts.iter().zip(status.iter_mut()) {
        if part.contradiction(*status, point.drop(part)).is_some() {
            part.flip(status);
            any = true;
            if single {
                return true;
            }
        }
    }
    any
}

/// Dark diodes between islands have no voltage yet. Where they close a ring, a solve in which they leak a
/// little tells which of them conduct; a diode that closes no ring never does.
fn wake(wiring: &Wiring, status: &mut [Status], point: &Point) -> Result<bool, NoPoint> {
    let mut rings = Joined::new(wiring.nodes);
    let mut ring = false;
    let dark = |part: &Part, status: &Status| {
        matches!(part.law, Law::Diode { .. })
            && !part.open
            && !status.on
            && !point.islands.joined(part.from, part.to)
    };
    for (part, status) in wiring.parts.iter().zip(status.iter()) {
        if dark(part, status) {
            let (a, b) = (
                point.islands.of[part.from as usize],
                point.islands.of[part.to as usize],
            );
            ring |= !rings.join(a, b);
        }
    }
    if !ring {
        return Ok(false);
    }
    let mut leaking = wiring.clone();
    let mut trial_status = status.to_vec();
    let mut leaks = 0.0;
    for (part, status) in wiring.parts.iter().zip(status.iter()) {
        if dark(part, status) {
            leaking
                .parts
                .push(Part::resistance(part.from, part.to, 1.0 / DARK));
            trial_status.push(Status::default());
            leaks += 1.0;
        }
    }
    let mut trial = point.clone();
    for round in 0..leaking.parts.len().saturating_mul(4) + 64 {
        newton(&leaking, &trial_status, &mut trial)?;
        if !flip(&leaking, &mut trial_status, &trial, round >= TOGETHER) {
            break;
        }
    }
    let highest = trial.volts.iter().fold(0.0_f64, |h, v| h.max(v.abs()));
    let mut any = false;
    for (index, part) in wiring.parts.iter().enumerate() {
        if dark(part, &status[index]) && trial_status[index].on {
            let amps = part.branch(trial_status[index], trial.drop(part)).amps;
            if amps > 4.0 * DARK * (leaks + 1.0) * highest {
                status[index].on = true;
                any = true;
            }
        }
    }
    Ok(any)
}

/// Newton's method from the potentials in `point`.
fn newton(wiring: &Wiring, status: &[Status], point: &mut Point) -> Result<(), NoPoint> {
    point.islands = Islands::new(wiring.nodes, &wiring.parts, status);
    point.volts.resize(wiring.nodes, 0.0);
    for node in 0..wiring.nodes {
        if !point.islands.driven(node) {
            point.volts[node] = 0.0;
        }
    }
    let mut before = f64::INFINITY;
    let mut step: Vec<f64> = Vec::new();
    let mut halvings = 0;
    let mut scratch = Vec::new();
    let mut last_left = Vec::new();
    for round in 0..STEPS {
        let linear = Linear::new(wiring, status, point);
        let (left, worst, scale) = linear.residual(wiring, point);
        if worst <= SOLVED || (worst <= GOOD && worst > before * 0.25) {
            return Ok(());
        }
        if round > 12 && worst > before && halvings < 6 {
            // Overshot: half the way back.
            halvings += 1;
            for (volts, step) in point.volts.iter_mut().zip(&mut step) {
                *step *= 0.5;
                *volts -= *step;
            }
            continue;
        }
        halvings = 0;
        before = worst;
        step = linear_step(wiring, status, point, &linear, left.clone(), &mut scratch)
            .ok_or_else(|| stuck(&left, &scale))?;
        for (volts, step) in point.volts.iter_mut().zip(&step) {
            *volts += step;
        }
        last_left = left;
    }
    Err(stuck(&last_left, &[]))
}

fn stuck(left: &[f64], scale: &[f64]) -> NoPoint {
    let nodes = left
        .iter()
        .enumerate()
        .filter(|(node, left)| {
            let size = scale.get(*node).copied().unwrap_or(1.0);
            !(left.abs() <= size * GOOD)
        })
        .filter_map(|(node, _)| u32::try_from(node).ok())
        .collect();
    NoPoint { nodes }
}

/// Solves the tangent system, or its transpose, for `left`.
fn linear_step(
    wiring: &Wiring,
    status: &[Status],
    point: &Point,
    linear: &Linear,
    left: Vec<f64>,
    scratch: &mut Vec<f64>,
) -> Option<Vec<f64>> {
    tangent(wiring, status, point, linear, left, scratch, false)
}

/// The adjoint potentials of a reading between two nodes: the transposed tangent system solved for one amp
/// from the first to the second. `None` when the tangent is singular.
pub(super) fn adjoint(
    wiring: &Wiring,
    status: &[Status],
    point: &Point,
    plus: u32,
    minus: u32,
) -> Option<Vec<f64>> {
    let linear = Linear::new(wiring, status, point);
    let mut unit = vec![0.0; wiring.nodes];
    unit[plus as usize] += 1.0;
    unit[minus as usize] -= 1.0;
    tangent(wiring, status, point, &linear, unit, &mut Vec::new(), true)
}

fn tangent(
    wiring: &Wiring,
    status: &[Status],
    point: &Point,
    linear: &Linear,
    mut left: Vec<f64>,
    scratch: &mut Vec<f64>,
    transposed: bool,
) -> Option<Vec<f64>> {
    let mut stamps = Vec::with_capacity(wiring.parts.len());
    let mut change = Change::default();
    let port = |part: &Part| Port {
        plus: part.from,
        minus: part.to,
    };
    let mut wanted: Vec<Port> = Vec::new();
    for ((part, status), branch) in wiring.parts.iter().zip(status).zip(&linear.branches) {
        if part.from == part.to || !part.conducts(*status) {
            continue;
        }
        let stamp = part.stamp(*status, branch.siemens);
        stamps.push((part.from, part.to, stamp));
        let rest = branch.siemens - stamp;
        if rest != 0.0 {
            let place = wanted.len();
            wanted.push(port(part));
            change.coefficients.push((place, place, rest));
        }
    }
    for (row, column, siemens) in &linear.draws {
        let place = wanted.len();
        wanted.push(port(&wiring.parts[*row as usize]));
        wanted.push(port(&wiring.parts[*column as usize]));
        let (row, column) = if transposed {
            (place + 1, place)
        } else {
            (place, place + 1)
        };
        change.coefficients.push((row, column, *siemens));
    }
    let factor = Factor::new(wiring.nodes, &stamps, &point.islands.data).ok()?;
    for port in wanted {
        debug_assert!(port.minus != NOWHERE, "pins are in the factor");
        change
            .ports
            .push((port, Cow::Owned(factor.column(port, scratch))));
    }
    factor.solve(&mut left, scratch);
    change.correct(&mut left).then_some(left)
}
