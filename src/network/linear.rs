//! All parts at given potentials: currents, slopes, and how far the currents are from adding up.

use super::law::{Branch, Law, Part, Status, converter_draw};
use super::point::Point;
use super::wiring::Wiring;

/// Sum of the currents at each node over the currents that make it up: solved.
pub(super) const SOLVED: f64 = 1e-13;
/// Share of the currents themselves that may be left over where only the next switching is to be decided.
const ROUGH: f64 = 1e-6;
/// Volts that are added to those of each node when rounding is judged: a node at nothing has some too.
const NOISE: f64 = 1e-6;

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
            .map(
                |(part, status)| {
                    if part.conducts(*status) { part.branch(*status, point.drop(part)) } else { Branch::default() }
                },
            )
            .collect();
        let mut draws = Vec::new();
        for (index, part) in wiring.parts.iter().enumerate() {
            let Law::ConverterInput { output, efficiency, cut_off, top, .. } = part.law else {
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
            let (watts, watts_per_volt) = if watts > 0.0 { (watts, watts_per_volt) } else { (0.0, 0.0) };
            let (amps, own, per_watt) = converter_draw(watts, efficiency, (cut_off, top), point.drop(part));
            branches[index].amps += amps;
            branches[index].siemens += own;
            branches[index].scale += amps.abs();
            let index = u32::try_from(index).unwrap_or(u32::MAX);
            draws.push((index, output, per_watt * watts_per_volt));
        }
        Self { branches, draws }
    }

    /// Takes for the slope of each filament what it carries over its voltage. Newton's step from a lit to a dead lamp
    /// overshoots zero by four fifths, again and again (the current goes with the voltage to the 0.55); this
    /// one lands on it.
    pub(super) fn cool(&mut self, wiring: &Wiring, point: &Point) {
        for (part, branch) in wiring.parts.iter().zip(&mut self.branches) {
            let volts = point.drop(part);
            if matches!(part.law, Law::Filament { .. }) && volts != 0.0 && branch.amps != 0.0 {
                branch.siemens = branch.amps / volts;
            }
        }
    }

    /// `unit - Jᵀ x`.
    pub(super) fn transposed_residual(
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
            let (row, column) = (&wiring.parts[*row as usize], &wiring.parts[*column as usize]);
            add(column, siemens * across(row));
        }
        for datum in &point.islands.data {
            left[*datum as usize] -= x[*datum as usize];
        }
    }

    /// What flows into each node beyond what flows out, and the largest share of it against the currents
    /// that make it up.
    pub(super) fn residual(&self, wiring: &Wiring, point: &Point) -> Residual {
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
        Residual { left, worst, rough, scale }
    }
}

/// How far the currents at the nodes are from adding up.
pub(super) struct Residual {
    /// What flows into each node beyond what flows out.
    pub(super) left: Vec<f64>,
    /// The largest share of it in the terms of its sum.
    pub(super) worst: f64,
    /// Good enough to see what switches.
    pub(super) rough: bool,
    /// The size of the terms of each sum.
    pub(super) scale: Vec<f64>,
}
