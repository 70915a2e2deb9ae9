//! Solves one discrete state: Newton on the smooth elements, then diodes and source limits put right.

use super::base::Engine;
use super::islands::{Islands, Joined};
use super::law::{Branch, Law, Part, Status, converter_draw};
use super::tangent::Tangent;
use super::wiring::Wiring;
use std::sync::Arc;

/// Newton gives up after this many steps.
const STEPS: usize = 80;
/// Sum of the currents at each node over the currents that make it up: solved.
const SOLVED: f64 = 1e-13;
/// Where rounding commonly lets it fall no further.
const ROUNDED: f64 = 2e-11;
/// Share of the currents themselves that may be left over where only the next switching is to be decided.
const ROUGH: f64 = 1e-6;
/// Still good when not even a factor of its own brings it lower.
const GOOD: f64 = 1e-9;
/// Volts that are added to those of each node when rounding is judged: a node at nothing has some too.
const NOISE: f64 = 1e-6;
/// All diodes that must switch do so together this many times, then one at a time.
const TOGETHER: usize = 8;
/// Leakage of a dark diode, in siemens, only while finding out which of several in series conduct.
const DARK: f64 = 1e-9;

/// How well a state is to be solved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Care {
    /// Well enough to see what switches.
    Rough,
    /// As well as the numbers allow.
    Fine,
}

/// Potentials against each island's datum.
#[derive(Clone, Debug, Default)]
pub(super) struct Point {
    pub(super) volts: Vec<f64>,
    pub(super) islands: Arc<Islands>,
    /// The potentials are (nearly) those of the state to be solved: start from them.
    pub(super) close: bool,
}

/// Newton found no solution; the nodes where the currents do not add up.
#[derive(Clone, Debug)]
pub(super) struct NoPoint {
    pub(super) nodes: Vec<u32>,
}

impl Point {
    /// Voltage across a part; zero where nothing joins its ends.
    pub(super) fn drop(&self, part: &Part) -> f64 {
        let (a, b) = (part.from as usize, part.to as usize);
        match (self.volts.get(a), self.volts.get(b)) {
            (Some(x), Some(y)) if self.islands.joined(part.from, part.to) => x - y,
            _ => 0.0,
        }
    }
}

/// Current and slope of each part, and what converters draw.
pub(super) struct Linear {
    pub(super) branches: Vec<Branch>,
    /// `(row part, column part, siemens)`: how the draws of converters' inputs follow their outputs.
    pub(super) draws: Vec<(u32, u32, f64)>,
}

impl Linear {
    /// Evaluates all parts at `point`.
    pub(super) fn new(wiring: &Wiring, status: &[Status], point: &Point) -> Self {
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
            branches[index].siemens += own;
            branches[index].scale += amps.abs();
            let index = u32::try_from(index).unwrap_or(u32::MAX);
            draws.push((index, output, per_watt * watts_per_volt));
        }
        Self { branches, draws }
    }

    /// `unit - Jᵀ x`.
    fn transposed_residual(
        &self,
        wiring: &Wiring,
        point: &Point,
        x: &[f64],
        unit: &[f64],
        left: &mut [f64],
    ) {
        left.copy_from_slice(unit);
        let mut add = |part: &Part, amps: f64| {
            left[part.from as usize] -= amps;
            left[part.to as usize] += amps;
        };
        let across = |part: &Part| x[part.from as usize] - x[part.to as usize];
        for (part, branch) in wiring.parts.iter().zip(&self.branches) {
            if branch.siemens != 0.0 {
                add(part, branch.siemens * across(part));
            }
        }
        for (row, column, siemens) in &self.draws {
            let (row, column) = (
                &wiring.parts[*row as usize],
                &wiring.parts[*column as usize],
            );
            add(column, siemens * across(row));
        }
        for datum in &point.islands.data {
            left[*datum as usize] -= x[*datum as usize];
        }
    }

    /// What flows into each node beyond what flows out, and the largest share of it against the currents
    /// that make it up.
    fn residual(&self, wiring: &Wiring, point: &Point) -> Residual {
        let mut left = vec![0.0; wiring.nodes];
        let mut flow = vec![0.0; wiring.nodes];
        let mut scale = vec![0.0; wiring.nodes];
        for (part, branch) in wiring.parts.iter().zip(&self.branches) {
            let (a, b) = (part.from as usize, part.to as usize);
            if a == b || (branch.siemens == 0.0 && branch.amps == 0.0) {
                continue;
            }
            left[a] -= branch.amps;
            left[b] += branch.amps;
            flow[a] += branch.amps.abs();
            flow[b] += branch.amps.abs();
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
        let rough = (left.iter().zip(&scale).zip(&flow))
            .all(|((left, scale), flow)| left.abs() <= (SOLVED * scale).max(ROUGH * flow));
        Residual {
            left,
            worst,
            rough,
            scale,
        }
    }
}

/// How far the currents at the nodes are from adding up.
struct Residual {
    /// What flows into each node beyond what flows out.
    left: Vec<f64>,
    /// The largest share of it in the terms of its sum.
    worst: f64,
    /// Good enough to see what switches.
    rough: bool,
    /// The size of the terms of each sum.
    scale: Vec<f64>,
}

/// Solves `wiring` in `status`, starting from the potentials in `point`; diodes and source limits in
/// `status` are put right.
pub(super) fn solve(
    engine: &Engine,
    wiring: &Wiring,
    status: &mut [Status],
    point: &mut Point,
    care: Care,
) -> Result<(), NoPoint> {
    for round in 0..wiring.parts.len().saturating_mul(4) + 64 {
        newton(engine, wiring, status, point, care)?;
        let flipped = flip(wiring, status, point, round >= TOGETHER);
        point.close = !flipped;
        if !flipped && !wake(engine, wiring, status, point)? {
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

/// A dark diode between two islands.
fn is_dark(part: &Part, status: Status, point: &Point) -> bool {
    matches!(part.law, Law::Diode { .. })
        && !part.open
        && !status.on
        && !point.islands.joined(part.from, part.to)
}

/// Whether dark diodes between islands close a ring: only then can they come to conduct.
pub(super) fn dark_ring(wiring: &Wiring, status: &[Status], point: &Point) -> bool {
    let mut rings: Option<Joined> = None;
    let mut ring = false;
    for (part, status) in wiring.parts.iter().zip(status.iter()) {
        if is_dark(part, *status, point) {
            let (a, b) = (
                point.islands.of[part.from as usize],
                point.islands.of[part.to as usize],
            );
            let rings = rings.get_or_insert_with(|| Joined::new(wiring.nodes));
            ring |= !rings.join(a, b);
        }
    }
    ring
}

/// Dark diodes between islands have no voltage yet. Where they close a ring, a solve in which they leak a
/// little tells which of them conduct; a diode that closes no ring never does.
fn wake(
    engine: &Engine,
    wiring: &Wiring,
    status: &mut [Status],
    point: &Point,
) -> Result<bool, NoPoint> {
    if !dark_ring(wiring, status, point) {
        return Ok(false);
    }
    let mut leaking = wiring.clone();
    let mut trial_status = status.to_vec();
    let mut leaks = 0.0;
    for (part, status) in wiring.parts.iter().zip(status.iter()) {
        if is_dark(part, *status, point) {
            leaking
                .parts
                .push(Part::resistance(part.from, part.to, 1.0 / DARK));
            trial_status.push(Status::default());
            leaks += 1.0;
        }
    }
    let mut trial = point.clone();
    for round in 0..leaking.parts.len().saturating_mul(4) + 64 {
        newton(engine, &leaking, &trial_status, &mut trial, Care::Rough)?;
        trial.close = false;
        if !flip(&leaking, &mut trial_status, &trial, round >= TOGETHER) {
            break;
        }
    }
    let highest = trial.volts.iter().fold(0.0_f64, |h, v| h.max(v.abs()));
    let mut any = false;
    for (index, part) in wiring.parts.iter().enumerate() {
        if is_dark(part, status[index], point) && trial_status[index].on {
            let amps = part.branch(trial_status[index], trial.drop(part)).amps;
            if amps > 4.0 * DARK * (leaks + 1.0) * highest {
                status[index].on = true;
                any = true;
            }
        }
    }
    Ok(any)
}

/// Newton's method, from the potentials in `point` or those of the healthy circuit in this very state.
fn newton(
    engine: &Engine,
    wiring: &Wiring,
    status: &[Status],
    point: &mut Point,
    care: Care,
) -> Result<(), NoPoint> {
    point.volts.resize(wiring.nodes, 0.0);
    let nowhere = || NoPoint { nodes: Vec::new() };
    let mut tangent = Tangent::new(engine, wiring, status, point).ok_or_else(nowhere)?;
    point.islands = tangent.islands();
    if !point.close
        && let Some(volts) = tangent.healthy()
    {
        point.volts.copy_from_slice(volts);
    }
    point.close = true;
    for node in 0..wiring.nodes {
        if !point.islands.driven(node) {
            point.volts[node] = 0.0;
        }
    }
    let mut before = f64::INFINITY;
    let mut step: Vec<f64> = Vec::new();
    let mut halvings = 0;
    for round in 0..STEPS {
        let linear = Linear::new(wiring, status, point);
        let Residual {
            left,
            worst,
            rough,
            scale,
        } = linear.residual(wiring, point);
        let slow = worst > before * 0.25;
        if care == Care::Rough && rough
            || worst <= SOLVED
            || slow && (worst <= ROUNDED || worst <= GOOD && tangent.is_own())
        {
            tangent.renew(wiring, status, &point.volts);
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
        if round > 6 && starving(wiring, status, point) {
            // Bouncing about the end of a constant power: there is no operating point.
            return Err(stuck(&left, &scale));
        }
        // What converges badly is given its exact tangent, then a factor of its own.
        if round > 0 && worst.is_nan() || slow && (round > 2 || worst <= GOOD) {
            tangent.sharpen();
        }
        before = worst;
        step = match tangent.step(wiring, status, &linear, &left, round) {
            Some(step) => step,
            None => return Err(stuck(&left, &scale)),
        };
        for (volts, step) in point.volts.iter_mut().zip(&step) {
            *volts += step;
        }
    }
    let linear = Linear::new(wiring, status, point);
    let Residual { left, scale, .. } = linear.residual(wiring, point);
    Err(stuck(&left, &scale))
}

/// Whether a constant power or converter is on below its cut-off.
fn starving(wiring: &Wiring, status: &[Status], point: &Point) -> bool {
    wiring.parts.iter().zip(status).any(|(part, status)| {
        status.on
            && matches!(part.law, Law::Power { .. } | Law::ConverterInput { .. })
            && part.above_cut_off(point.drop(part)) < 1.0
    })
}

fn stuck(left: &[f64], scale: &[f64]) -> NoPoint {
    let nodes = left
        .iter()
        .enumerate()
        .filter(|(node, left)| {
            let size = scale.get(*node).copied().unwrap_or(1.0);
            // No number is no solution either.
            left.is_nan() || left.abs() > size * GOOD
        })
        .filter_map(|(node, _)| u32::try_from(node).ok())
        .collect();
    NoPoint { nodes }
}

/// The adjoint potentials of a reading between two nodes: the transposed tangent system solved for one amp
/// from the first to the second. `None` when the tangent is singular.
pub(super) fn adjoint(
    engine: &Engine,
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
    let mut tangent = Tangent::new(engine, wiring, status, point)?;
    tangent.transpose();
    tangent.sharpen();
    let mut adjoint = vec![0.0; wiring.nodes];
    let mut left = unit.clone();
    for round in 0..STEPS {
        let step = tangent.step(wiring, status, &linear, &left, round)?;
        for (x, step) in adjoint.iter_mut().zip(&step) {
            *x += step;
        }
        linear.transposed_residual(wiring, point, &adjoint, &unit, &mut left);
        let worst = left.iter().fold(0.0_f64, |w, l| w.max(l.abs()));
        if worst <= 1e-9 {
            return Some(adjoint);
        }
        if round > 2 {
            tangent.sharpen();
        }
    }
    None
}
