//! What is not nominal in one trial: parts off their figures, a supply that is low or charging, quick and slow fuses.

use crate::circuit::{Circuit, Emf, Primitive};
use crate::units::{Ohms, Volts, Watts};
use fastrand::Rng;

/// Volts between which a 12 V supply lies that nothing in the install charges: flat, or on charge elsewhere.
const SUPPLY: (f64, f64) = (11.0, 15.2);
/// The same for a battery beside a source that charges it: flat to full, at rest.
const BATTERY: (f64, f64) = (11.0, 12.9);
/// The same for a source that a person starts.
const CHARGING: (f64, f64) = (12.3, 15.0);
/// A source within this factor of the nominal voltage is a supply; others feed sensors and keep their own spread.
const SUPPLIES: f64 = 1.35;
/// Spread of the logarithm of a fuse's melting time: single fuses scatter by about a fifth (from memory).
const MELTING: f64 = 0.21;

/// How the parts of one trial differ from their figures. Empty: not at all.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Draws {
    /// Factor on the leading number of each element.
    parts: Vec<f64>,
    /// Factor on the EMF of each source, while it is what was fitted.
    emf: Vec<f64>,
    /// Factor on the melting time of each fuse.
    melting: Vec<f64>,
}

impl Draws {
    /// Everything as it should be.
    pub fn none() -> Self {
        Self::default()
    }

    /// Draws parts, supply and fuses of a circuit of `nominal` volts. Spreads of parts are taken `scale` times.
    pub fn new(circuit: &Circuit, nominal: Volts, scale: f64, rng: &mut Rng) -> Self {
        Self::drawn(circuit, nominal, scale, true, rng)
    }

    /// The same with every supply at its nominal volts.
    pub fn of_parts(circuit: &Circuit, nominal: Volts, scale: f64, rng: &mut Rng) -> Self {
        Self::drawn(circuit, nominal, scale, false, rng)
    }

    fn drawn(circuit: &Circuit, nominal: Volts, scale: f64, strays: bool, rng: &mut Rng) -> Self {
        let charged = circuit
            .netlist
            .elements
            .iter()
            .any(|e| matches!(e.primitive, Primitive::Source { emf: Emf::By { .. }, .. }));
        let unit = if nominal.get() > 18.0 { 2.0 } else { 1.0 };
        let mut draws = Self::none();
        for (id, element) in circuit.netlist.elements.enumerate() {
            let sigma = circuit.spread_of.get(id).copied().unwrap_or(0.0) * scale;
            let part = off_by(sigma, gauss(rng));
            let (high, range) = match &element.primitive {
                Primitive::Source { emf: Emf::Fixed(volts), .. } => {
                    (volts.get(), if charged { BATTERY } else { SUPPLY })
                }
                Primitive::Source { emf: Emf::By { volts, .. }, .. } => {
                    (volts.iter().flatten().map(|v| v.get()).fold(0.0, f64::max), CHARGING)
                }
                _ => (0.0, SUPPLY),
            };
            let supplies = high > nominal.get() / SUPPLIES && high < nominal.get() * SUPPLIES;
            let drawn = unit * (range.0 + (range.1 - range.0) * rng.f64());
            draws.parts.push(part);
            draws.emf.push(match (supplies, strays) {
                (true, true) => drawn / high,
                (true, false) => 1.0,
                (false, _) => part,
            });
            draws.melting.push((MELTING * gauss(rng)).exp());
        }
        draws
    }

    /// Melting times of fuses against the usual, for `elements` elements.
    pub(super) fn melting(&self, elements: usize) -> Vec<f64> {
        (0..elements).map(|index| self.melting.get(index).copied().unwrap_or(1.0)).collect()
    }

    /// Moves the figures of an element to where this trial has them. `fitted`: it is what was fitted, no fault.
    pub(super) fn stray(&self, index: usize, what: &mut Primitive, fitted: bool) {
        let factor = self.parts.get(index).copied().unwrap_or(1.0);
        let ohms = |r: &mut Ohms| *r = *r * factor;
        match what {
            Primitive::Source { emf, .. } => {
                let factor = if fitted { self.emf.get(index).copied().unwrap_or(1.0) } else { 1.0 };
                match emf {
                    Emf::Fixed(volts) => *volts = *volts * factor,
                    Emf::By { volts, .. } => volts.iter_mut().flatten().for_each(|v| *v = *v * factor),
                }
            }
            Primitive::Resistance { ohms: r }
            | Primitive::Filament { hot: r, .. }
            | Primitive::Fuse { ohms: r, .. }
            | Primitive::Coil { ohms: r, .. }
            | Primitive::Contact { closed: r, .. }
            | Primitive::ElectronicSwitch { on: r, .. }
            | Primitive::ConverterInput { idle: r, .. } => ohms(r),
            Primitive::Motor { winding, running, .. } => {
                ohms(winding);
                ohms(running);
            }
            Primitive::Power { watts, .. } => *watts = Watts::try_from(watts.get() * factor).unwrap_or(*watts),
            Primitive::ConverterOutput { emf, .. } => *emf = *emf * factor,
            Primitive::Diode { forward, .. } => *forward = *forward * factor,
        }
    }
}

/// By what factor a part is off its figure that is `z` standard deviations above it, at a relative spread of `sigma`: one of
/// them is `1 + sigma`, and as often it is smaller by that factor. So 100 % is twice or half, not 2.7 times (`e`).
fn off_by(sigma: f64, z: f64) -> f64 {
    (sigma.ln_1p() * z).exp()
}

/// A standard normal variable (Box and Muller 1958).
pub(super) fn gauss(rng: &mut Rng) -> f64 {
    let u = 1.0 - rng.f64();
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * rng.f64()).cos()
}

#[cfg(test)]
mod tests {
    use super::off_by;

    #[test]
    fn one_standard_deviation_is_what_the_spread_says() {
        for (sigma, z, factor) in
            [(0.05, 1.0, 1.05), (1.0, 1.0, 2.0), (1.0, -1.0, 0.5), (1.0, 2.0, 4.0), (0.5, 0.0, 1.0)]
        {
            assert!((off_by(sigma, z) - factor).abs() < 1e-12, "{sigma} {z}: {}", off_by(sigma, z));
        }
    }
}
