//! One state of a circuit: the volts at which the currents of every node add up to nothing (Kirchhoff).

use super::elimination::{Places, Plan};
use super::law::{Flow, LEAST_CUT_OFF, Manner, Stand, constant};
use super::wired::Wired;
use crate::circuit::Primitive;
use crate::index::Id;

/// Steps after which Newton's method gives up.
const STEPS: usize = 120;
/// Share of the currents at a node that may be left over.
const LEFT: f64 = 1e-11;
/// The same where rounding lets it fall no further.
const LEFT_AT_WORST: f64 = 1e-8;
/// Leakage of a dark diode while it is found out which of several conduct, in siemens.
const DARK: f64 = 1e-9;
/// A diode carries nothing below this many volts over its forward voltage.
const NOTHING: f64 = 1e-11;

/// Volts of every node against the datum of its island, and amps of every piece.
#[derive(Clone, Debug, Default)]
pub(super) struct Point {
    pub(super) volts: Vec<f64>,
    pub(super) amps: Vec<f64>,
    pub(super) island: Vec<usize>,
}

impl Point {
    /// Volts across a piece; none where nothing joins its ends.
    pub(super) fn across(&self, wired: &Wired, index: usize) -> f64 {
        let piece = &wired.pieces[index];
        if self.island.get(piece.from).is_some_and(|i| Some(i) == self.island.get(piece.to)) {
            self.volts[piece.from] - self.volts[piece.to]
        } else {
            0.0
        }
    }
}

/// No volts were found at which the currents add up.
#[derive(Clone, Copy, Debug)]
pub(super) struct NoPoint;

/// Solves a circuit as it stands; diodes and source limits are put right in `stands`.
pub(super) fn operate(wired: &Wired, stands: &mut [Stand], before: &Point) -> Result<Point, NoPoint> {
    let mut point = settle(wired, stands, before)?;
    if dark_ring(wired, stands, &point) {
        wake(wired, stands, &point)?;
        point = settle(wired, stands, &point)?;
    }
    Ok(point)
}

/// Solves and turns over the diode or limit that is most in the wrong, until none is.
fn settle(wired: &Wired, stands: &mut [Stand], before: &Point) -> Result<Point, NoPoint> {
    let mut point = newton(wired, stands, before)?;
    for round in 0..64 + 8 * wired.pieces.len() {
        let wrong = (0..wired.pieces.len()).filter_map(|k| Some((k, wrong(wired, stands, &point, k)?)));
        // Should the worst ones go round in a ring, the first ones cannot.
        let worst = if round < 64 {
            wrong.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
        } else {
            let mut wrong = wrong;
            wrong.next()
        };
        let Some((worst, _)) = worst else { return Ok(point) };
        stands[worst].on = !stands[worst].on;
        point = newton(wired, stands, &point)?;
    }
    Ok(point)
}

/// By how many volts a diode or a source's limit stands wrong.
fn wrong(wired: &Wired, stands: &[Stand], point: &Point, index: usize) -> Option<f64> {
    let piece = &wired.pieces[index];
    if piece.open {
        return None;
    }
    let volts = point.across(wired, index);
    let on = stands[index].on;
    let (emf, internal, limit) = match &piece.what {
        Primitive::Diode { forward, .. } => {
            let above = volts - forward.get();
            return match on {
                true if above < NOTHING => Some(1e-9 + above.abs()),
                false if above > 1e-9 => Some(above),
                _ => None,
            };
        }
        Primitive::Source { emf, internal, limit: Some(limit) } => (wired.emf(emf)?, *internal, *limit),
        Primitive::ConverterOutput { emf, internal, limit: Some(limit), .. } if wired.joins(index, stands) => {
            (emf.get(), *internal, *limit)
        }
        _ => return None,
    };
    // It would deliver its limit where this much of its EMF is lost inside.
    let knee = limit.get() * internal.get();
    let over = (emf - volts) * emf.signum() - knee;
    let wrong = if on { over < -1e-9 * knee } else { over > 1e-9 * knee };
    wrong.then_some(over.abs())
}

/// Whether dark diodes between islands close a ring, so that they may conduct though no voltage can be told across them.
fn dark_ring(wired: &Wired, stands: &[Stand], point: &Point) -> bool {
    let mut group = point.island.clone();
    for (piece, stand) in wired.pieces.iter().zip(stands) {
        if matches!(piece.what, Primitive::Diode { .. }) && !piece.open && !stand.on {
            let (a, b) = (group[piece.from], group[piece.to]);
            if point.island[piece.from] != point.island[piece.to] {
                if a == b {
                    return true;
                }
                group.iter_mut().filter(|g| **g == b).for_each(|g| *g = a);
            }
        }
    }
    false
}

/// Lets the dark diodes between islands leak and takes over how they stand then; those that carry nothing go dark again in
/// the true circuit.
fn wake(wired: &Wired, stands: &mut [Stand], point: &Point) -> Result<(), NoPoint> {
    let mut leaking = wired.clone();
    let mut trial = stands.to_vec();
    let ohms = crate::units::Ohms::new(1.0 / DARK);
    for (piece, stand) in wired.pieces.iter().zip(stands.iter()) {
        let dark = matches!(piece.what, Primitive::Diode { .. }) && !piece.open && !stand.on;
        if dark && point.island[piece.from] != point.island[piece.to] {
            leaking.add(piece.from, piece.to, Primitive::Resistance { ohms });
            trial.push(Stand::default());
        }
    }
    settle(&leaking, &mut trial, &Point::default())?;
    for (index, piece) in wired.pieces.iter().enumerate() {
        if matches!(piece.what, Primitive::Diode { .. }) {
            stands[index].on = trial[index].on;
        }
    }
    Ok(())
}

/// The island of each node: nodes that joining ones of the first `count` pieces connect have the same number.
pub(super) fn islands(wired: &Wired, stands: &[Stand], count: usize) -> Vec<usize> {
    let mut neighbours: Vec<Vec<usize>> = vec![Vec::new(); wired.nodes];
    for (index, piece) in wired.pieces.iter().enumerate().take(count) {
        if wired.joins(index, stands) {
            neighbours[piece.from].push(piece.to);
            neighbours[piece.to].push(piece.from);
        }
    }
    let mut island = vec![usize::MAX; wired.nodes];
    for start in 0..wired.nodes {
        if island[start] != usize::MAX {
            continue;
        }
        let mut reached = vec![start];
        island[start] = start;
        while let Some(node) = reached.pop() {
            for next in &neighbours[node] {
                if island[*next] == usize::MAX {
                    island[*next] = start;
                    reached.push(*next);
                }
            }
        }
    }
    island
}

/// Newton's method; constant powers are put in at once, or bit by bit where that fails.
fn newton(wired: &Wired, stands: &[Stand], before: &Point) -> Result<Point, NoPoint> {
    let system = System::new(wired, stands);
    let mut volts = before.volts.clone();
    volts.resize(wired.nodes, 0.0);
    let powered = (0..wired.pieces.len()).any(|k| {
        matches!(wired.pieces[k].what, Primitive::Power { .. } | Primitive::ConverterInput { .. }) && stands[k].on
    });
    if powered {
        system.run(&mut volts, 0.0)?;
    }
    let idle = volts.clone();
    if system.run(&mut volts, 1.0).is_err() {
        if !powered {
            return Err(NoPoint);
        }
        volts = idle;
        for step in 1..=16 {
            system.run(&mut volts, f64::from(step) / 16.0)?;
        }
    }
    let manner = Manner { power: 1.0, secant: false };
    let mut amps = vec![0.0; wired.pieces.len()];
    system.flows(&volts, manner, |index, flow| amps[index] = flow.amps);
    for draw in system.draws(&volts, 1.0) {
        amps[draw.input] += draw.amps;
    }
    Ok(Point { volts, amps, island: system.island })
}

/// The equations of one state.
struct System<'w> {
    wired: &'w Wired,
    stands: &'w [Stand],
    island: Vec<usize>,
    /// The unknown of each node; none for a datum and where nothing is driven.
    unknown: Vec<Option<usize>>,
    unknowns: usize,
    bends: bool,
}

/// By how many siemens the current of one piece follows the voltage across another, or itself: current, voltage, slope.
type Slope = (usize, usize, f64);

/// What a converter's input draws for its output.
struct Draw {
    input: usize,
    output: usize,
    amps: f64,
    /// Slopes over its own voltage and over that of the output.
    own: f64,
    cross: f64,
}

impl<'w> System<'w> {
    fn new(wired: &'w Wired, stands: &'w [Stand]) -> Self {
        let island = islands(wired, stands, wired.pieces.len());
        let mut driven = vec![false; wired.nodes];
        let mut strength = vec![0.0; wired.nodes];
        let manner = Manner { power: 0.0, secant: true };
        for (index, piece) in wired.pieces.iter().enumerate() {
            if wired.joins(index, stands) {
                driven[island[piece.from]] |= wired.drives(index);
                let slope = wired.flow(index, stands, 0.0, manner).slope;
                strength[piece.from] += slope;
                strength[piece.to] += slope;
            }
        }
        // The datum of an island is its best connected node: rounding then has no megohms to pass through.
        let mut datum: Vec<usize> = (0..wired.nodes).collect();
        for node in 0..wired.nodes {
            let best = &mut datum[island[node]];
            if strength[node] > strength[*best] {
                *best = node;
            }
        }
        let mut unknowns = 0;
        let unknown = (0..wired.nodes)
            .map(|node| {
                (driven[island[node]] && datum[island[node]] != node).then(|| {
                    unknowns += 1;
                    unknowns - 1
                })
            })
            .collect();
        let bends = wired.pieces.iter().zip(stands).any(|(piece, stand)| match piece.what {
            Primitive::Filament { .. } => true,
            Primitive::Power { .. } | Primitive::ConverterInput { .. } => stand.on,
            _ => false,
        });
        Self { wired, stands, island, unknown, unknowns, bends }
    }

    fn across(&self, volts: &[f64], index: usize) -> f64 {
        let piece = &self.wired.pieces[index];
        volts[piece.from] - volts[piece.to]
    }

    fn flows(&self, volts: &[f64], manner: Manner, mut each: impl FnMut(usize, Flow)) {
        for index in 0..self.wired.pieces.len() {
            if self.wired.joins(index, self.stands) {
                each(index, self.wired.flow(index, self.stands, self.across(volts, index), manner));
            }
        }
    }

    /// What the converters draw, `power` of it.
    fn draws(&self, volts: &[f64], power: f64) -> Vec<Draw> {
        let mut draws = Vec::new();
        for (input, piece) in self.wired.pieces.iter().enumerate() {
            let Primitive::ConverterInput { output, efficiency, cut_off, .. } = &piece.what else { continue };
            let output = output.position();
            if !self.wired.runs(input, self.stands)
                || output >= self.wired.own
                || !self.wired.joins(output, self.stands)
            {
                continue;
            }
            let out = self.across(volts, output);
            let manner = Manner { power: 1.0, secant: false };
            let delivered = self.wired.flow(output, self.stands, out, manner);
            // A current into the plus of the output is taken, not delivered.
            let watts = -out * delivered.amps;
            if watts <= 0.0 {
                continue;
            }
            let per_watt = power / efficiency.clamp(1e-6, 1.0);
            let own = self.across(volts, input);
            let least = cut_off.get().max(LEAST_CUT_OFF);
            let flow = constant(watts * per_watt, least, own, own);
            let cross = flow.amps / watts * (-delivered.amps - out * delivered.slope);
            draws.push(Draw { input, output, amps: flow.amps, own: flow.slope, cross });
        }
        draws
    }

    /// Newton's method from `volts`, constant powers at a share of theirs.
    fn run(&self, volts: &mut [f64], power: f64) -> Result<(), NoPoint> {
        for (node, unknown) in self.unknown.iter().enumerate() {
            if unknown.is_none() {
                volts[node] = 0.0;
            }
        }
        let mut last = f64::INFINITY;
        let mut secant = self.bends;
        let mut quiet = 0;
        let mut eliminated = Eliminated::default();
        for round in 0..STEPS {
            let manner = Manner { power, secant };
            let mut sum = vec![0.0; self.unknowns];
            let mut size = vec![0.0; self.unknowns];
            let mut put = |from: usize, to: usize, amps: f64, noise: f64| {
                for (node, amps) in [(from, amps), (to, -amps)] {
                    if let Some(row) = self.unknown[node] {
                        sum[row] += amps;
                        size[row] += amps.abs() * LEFT + noise;
                    }
                }
            };
            let mut slopes: Vec<Slope> = Vec::new();
            self.flows(volts, manner, |index, flow| {
                let piece = &self.wired.pieces[index];
                let high = volts[piece.from].abs().max(volts[piece.to].abs()) + 1e-6;
                put(piece.from, piece.to, flow.amps, 8.0 * f64::EPSILON * flow.slope.abs() * high);
                slopes.push((index, index, flow.slope));
            });
            for draw in self.draws(volts, power) {
                let piece = &self.wired.pieces[draw.input];
                put(piece.from, piece.to, draw.amps, 0.0);
                slopes.push((draw.input, draw.input, draw.own));
                slopes.push((draw.input, draw.output, draw.cross));
            }
            let worst = sum.iter().zip(&size).fold(0.0_f64, |w, (s, z)| w.max(s.abs() / (z + 1e-18)));
            if worst.is_nan() {
                return Err(NoPoint);
            }
            // Once more after the last step that mattered, so that only rounding is left.
            if worst <= 1.0 {
                quiet += 1;
                if quiet > 1 || self.unknowns == 0 {
                    return Ok(());
                }
            }
            if round > 8 && worst > 0.5 * last && worst <= LEFT_AT_WORST / LEFT {
                return Ok(());
            }
            // A lamp that falls from lit to dark overshoots by its tangent: the line from zero does not.
            secant = self.bends && (round < 4 || worst > last);
            last = worst;
            let (entries, values) = self.tangent(&slopes);
            let step = eliminated.solve(self.unknowns, &entries, &values, &sum).ok_or(NoPoint)?;
            for (node, unknown) in self.unknown.iter().enumerate() {
                if let Some(k) = unknown {
                    volts[node] -= step[*k];
                }
            }
        }
        Err(NoPoint)
    }

    /// The derivative of the currents of all unknowns, from that of each piece over the voltage across itself or another: row
    /// and column of each entry, and its value.
    fn tangent(&self, slopes: &[Slope]) -> (Vec<(usize, usize)>, Vec<f64>) {
        let (mut entries, mut values) = (Vec::with_capacity(slopes.len() * 4), Vec::with_capacity(slopes.len() * 4));
        for (row, column, slope) in slopes {
            let (row, column) = (&self.wired.pieces[*row], &self.wired.pieces[*column]);
            for (r, sign) in [(row.from, *slope), (row.to, -slope)] {
                let Some(r) = self.unknown[r] else { continue };
                for (c, value) in [(column.from, sign), (column.to, -sign)] {
                    if let Some(c) = self.unknown[c] {
                        entries.push((r, c));
                        values.push(value);
                    }
                }
            }
        }
        (entries, values)
    }
}

/// The plan of the last step, for steps with entries at the same places.
#[derive(Default)]
struct Eliminated {
    entries: Vec<(usize, usize)>,
    places: Places,
    plan: Option<Plan>,
}

impl Eliminated {
    /// The `x` of `A x = right`; `None` where a column has no pivot.
    fn solve(&mut self, size: usize, entries: &[(usize, usize)], values: &[f64], right: &[f64]) -> Option<Vec<f64>> {
        if self.plan.is_none() || self.entries != entries {
            self.entries = entries.to_vec();
            self.places = Places::new(size, entries);
            self.plan = None;
        }
        let values = self.places.gather(values);
        if let Some(x) = self.plan.as_ref().and_then(|plan| plan.solve(&values, right)) {
            return Some(x);
        }
        let plan = self.plan.insert(self.places.plan(&values)?);
        plan.solve(&values, right)
    }
}
