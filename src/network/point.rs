//! Solves one discrete state: Newton on the smooth elements, then diodes and source limits put right.

use super::base::Engine;
use super::dark::is_dark;
use super::islands::Islands;
use super::law::{Law, Part, Status};
use super::linear::{Linear, Residual, SOLVED};
use super::tangent::Tangent;
use super::wiring::Wiring;
use std::sync::Arc;

/// Newton gives up after this many steps.
const STEPS: usize = 80;
/// Where rounding commonly lets it fall no further.
const ROUNDED: f64 = 2e-11;
/// Still good when not even a factor of its own brings it lower.
const GOOD: f64 = 1e-9;
/// Amps of the one amp of an adjoint that may be left over, and where rounding lets it fall no further.
const ADJOINT: f64 = 1e-9;
const ADJOINT_ROUNDED: f64 = 1e-6;
/// Above this share left over a filament is far from its voltage.
const ROUGHLY: f64 = 1e-6;
/// Steps in which a filament may be on its way, and the share that each leaves over at most.
const BENDING: usize = 12;
const STUCK: f64 = 0.9;
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
    /// They were solved as well as the numbers allow.
    pub(super) fine: bool,
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

/// Whether dark diodes between islands close a ring with something that drives it, all of them pointing the same way round:
/// only then can they come to conduct.
pub(super) fn dark_ring(wiring: &Wiring, status: &[Status], point: &Point) -> bool {
    let islands = &point.islands;
    let dark = wiring.parts.iter().zip(status).filter(|(part, status)| is_dark(part, **status, point));
    let mut ways: Vec<(u32, u32)> =
        dark.map(|(part, _)| (islands.of[part.from as usize], islands.of[part.to as usize])).collect();
    // What nothing leads to or on from is part of no ring.
    loop {
        let before = ways.len();
        let (from, to): (Vec<u32>, Vec<u32>) = ways.iter().copied().unzip();
        ways.retain(|(a, b)| to.contains(a) && from.contains(b));
        if ways.len() == before {
            return ways.iter().any(|(island, _)| islands.driven(*island as usize));
        }
    }
}

/// Dark diodes between islands have no voltage yet. Where they close a ring, a solve in which they leak a
/// little tells which of them conduct; a diode that is part of no ring never does.
fn wake(engine: &Engine, wiring: &Wiring, status: &mut [Status], point: &Point) -> Result<bool, NoPoint> {
    if !dark_ring(wiring, status, point) {
        return Ok(false);
    }
    let mut leaking = wiring.clone();
    let mut trial_status = status.to_vec();
    let mut leaks = 0.0;
    for (part, status) in wiring.parts.iter().zip(status.iter()) {
        if is_dark(part, *status, point) {
            leaking.parts.push(Part::resistance(part.from, part.to, 1.0 / DARK));
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
fn newton(engine: &Engine, wiring: &Wiring, status: &[Status], point: &mut Point, care: Care) -> Result<(), NoPoint> {
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
        let mut linear = Linear::new(wiring, status, point);
        let Residual { left, worst, rough, scale } = linear.residual(wiring, point);
        let slow = worst > before * 0.25;
        // What hangs on megohms may be far off while the currents left over are nothing beside those of its neighbours: one
        // step is always taken where the volts count.
        let settled = worst <= SOLVED && (round > 0 || care == Care::Rough);
        point.fine = worst <= SOLVED && round > 0;
        if care == Care::Rough && rough || settled || slow && (worst <= ROUNDED || worst <= GOOD && tangent.is_own()) {
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
        if slow && round > 0 && worst > ROUGHLY {
            linear.cool(wiring, point);
        }
        // What converges badly is given its exact tangent, then a factor of its own. That one takes the same step, more exactly:
        // as long as it is the bend of a filament that makes it slow, it is no help.
        if round > 0 && worst.is_nan() || slow && (round > 2 || worst <= GOOD) {
            let bends = worst > ROUGHLY && worst < before * STUCK && round <= BENDING;
            if bends && tangent.keeps_pins() {
                tangent.follow_exactly();
            } else {
                tangent.sharpen();
            }
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
    let mut before = f64::INFINITY;
    for round in 0..STEPS {
        let step = tangent.step(wiring, status, &linear, &left, round)?;
        for (x, step) in adjoint.iter_mut().zip(&step) {
            *x += step;
        }
        linear.transposed_residual(wiring, point, &adjoint, &unit, &mut left);
        let worst = left.iter().fold(0.0_f64, |w, l| w.max(l.abs()));
        // Behind megohms an adjoint is millions of volts, whose rounding at strong conductors is more than a billionth of an amp:
        // no step takes that away.
        if worst <= ADJOINT || worst > before * 0.25 && worst <= ADJOINT_ROUNDED {
            return Some(adjoint);
        }
        before = worst;
        if round > 2 {
            tangent.sharpen();
        }
    }
    None
}
