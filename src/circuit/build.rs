//! From the behaviour a kind describes to a primitive with numbers.

use super::{Drive, ElementId, Emf, FuseGate, Primitive};
use crate::circuit::ControlId;
use crate::knowledge::{Amount, DriveSpec, ElementSpec, Figures, NoFigure, PrimitiveSpec, Spread};
use crate::units::{Amps, Ohms, Volts, Watts};

/// What the amounts and names of one part (or one pin of it) stand for.
pub(super) struct Builder<'a> {
    /// Its figures.
    pub(super) figures: Figures<'a>,
    /// The ids of its elements, in the order of the kind.
    pub(super) ids: &'a [(&'a ElementSpec, ElementId)],
    /// The control that sets it.
    pub(super) control: Option<ControlId>,
    /// Names of the positions of that control, as the kind calls them.
    pub(super) positions: &'a [String],
}

/// A primitive and the relative spread (one sigma) of its leading number.
pub(super) type Built = Result<(Primitive, f64), NoFigure>;

impl Builder<'_> {
    /// Builds the primitive that `spec` describes.
    pub(super) fn primitive(&self, spec: &PrimitiveSpec) -> Built {
        Ok(match spec {
            PrimitiveSpec::Source { emf, internal, limit } => {
                let (emf, sigma) = self.emf(emf)?;
                let internal = self.ohms(internal)?.0;
                let limit = limit.as_ref().map(|l| self.amps(l)).transpose()?;
                (Primitive::Source { emf, internal, limit }, sigma)
            }
            PrimitiveSpec::Resistance(amount) => {
                let (ohms, sigma) = self.ohms(amount)?;
                (Primitive::Resistance { ohms }, sigma)
            }
            PrimitiveSpec::Conductor(conductor) => {
                let spread = positive(self.figures.conductor(conductor)?, &conductor.length)?;
                let ohms = quantity(spread.value, &conductor.length)?;
                (Primitive::Resistance { ohms }, spread.sigma)
            }
            PrimitiveSpec::Filament { hot, nominal } => {
                let (hot, sigma) = self.ohms(hot)?;
                let nominal = self.volts(nominal)?;
                (Primitive::Filament { hot, nominal }, sigma)
            }
            PrimitiveSpec::Motor { winding, running, start, stop } => {
                let (running, sigma) = self.ohms(running)?;
                let motor = Primitive::Motor {
                    winding: self.ohms(winding)?.0,
                    running,
                    start: self.volts(start)?,
                    stop: self.volts(stop)?,
                };
                (motor, sigma)
            }
            PrimitiveSpec::Power { watts, cut_off, leakage, polarised } => {
                let spread = self.above_zero(watts)?;
                let power = Primitive::Power {
                    watts: quantity::<Watts>(spread.value, "watts")?,
                    cut_off: self.volts(cut_off)?,
                    leakage: self.ohms(leakage)?.0,
                    polarised: *polarised,
                };
                (power, spread.sigma)
            }
            PrimitiveSpec::Fuse { ohms, rating, gate, reset } => {
                let (ohms, sigma) = self.ohms(ohms)?;
                let fuse = Primitive::Fuse {
                    ohms,
                    rating: self.amps(rating)?,
                    gate: FuseGate { points: gate.clone() },
                    reset: *reset,
                };
                (fuse, sigma)
            }
            PrimitiveSpec::Coil { ohms, pull_in, release } => {
                let (ohms, sigma) = self.ohms(ohms)?;
                let coil = Primitive::Coil { ohms, pull_in: self.volts(pull_in)?, release: self.volts(release)? };
                (coil, sigma)
            }
            PrimitiveSpec::Contact { closed, drive } => {
                let (closed, sigma) = self.ohms(closed)?;
                let drive = self.drive(drive)?;
                (Primitive::Contact { closed, drive }, sigma)
            }
            PrimitiveSpec::Diode { forward, series } => {
                let spread = self.above_zero(forward)?;
                let diode =
                    Primitive::Diode { forward: quantity(spread.value, "forward")?, series: self.ohms(series)?.0 };
                (diode, spread.sigma)
            }
            PrimitiveSpec::ElectronicSwitch { on, leakage, trip, on_share, drive } => {
                let (on, sigma) = self.ohms(on)?;
                let switch = Primitive::ElectronicSwitch {
                    on,
                    leakage: self.ohms(leakage)?.0,
                    trip: trip.as_ref().map(|t| self.amps(t)).transpose()?,
                    on_share: *on_share,
                    drive: self.drive(drive)?,
                };
                (switch, sigma)
            }
            PrimitiveSpec::ConverterInput { output, efficiency, cut_off, idle, enable } => {
                let (idle, sigma) = self.ohms(idle)?;
                let input = Primitive::ConverterInput {
                    output: self.element(output)?,
                    efficiency: *efficiency,
                    cut_off: self.volts(cut_off)?,
                    idle,
                    enable: enable.as_ref().map(|key| self.element(key)).transpose()?,
                };
                (input, sigma)
            }
            PrimitiveSpec::ConverterOutput { emf, internal, limit, input } => {
                let spread = self.above_zero(emf)?;
                let output = Primitive::ConverterOutput {
                    emf: quantity(spread.value, "emf")?,
                    internal: self.ohms(internal)?.0,
                    limit: limit.as_ref().map(|l| self.amps(l)).transpose()?,
                    input: self.element(input)?,
                };
                (output, spread.sigma)
            }
        })
    }

    /// The relative spread (one sigma) of a source's internal resistance; zero for everything else.
    pub(super) fn internal_spread(&self, spec: &PrimitiveSpec) -> f64 {
        match spec {
            PrimitiveSpec::Source { internal, .. } | PrimitiveSpec::ConverterOutput { internal, .. } => {
                self.ohms(internal).map_or(0.0, |(_, sigma)| sigma)
            }
            _ => 0.0,
        }
    }

    fn emf(&self, emf: &[Option<Amount>]) -> Result<(Emf, f64), NoFigure> {
        if let [Some(only)] = emf {
            let spread = self.above_zero(only)?;
            return Ok((Emf::Fixed(quantity(spread.value, "emf")?), spread.sigma));
        }
        let control = self.control.ok_or_else(|| NoFigure::NotStated("a control".to_owned()))?;
        let mut sigma: f64 = 0.0;
        let mut volts = Vec::new();
        for amount in emf {
            let spread = amount.as_ref().map(|a| self.above_zero(a)).transpose()?;
            sigma = sigma.max(spread.map_or(0.0, |s| s.sigma));
            volts.push(spread.map(|s| quantity::<Volts>(s.value, "emf")).transpose()?);
        }
        Ok((Emf::By { control, volts }, sigma))
    }

    fn drive(&self, spec: &DriveSpec) -> Result<Drive, NoFigure> {
        Ok(match spec {
            DriveSpec::Positions(named) => {
                let control = self.control.ok_or_else(|| NoFigure::NotStated("a control".to_owned()))?;
                let positions = self.positions.iter().enumerate();
                let closed = positions.filter(|(_, p)| named.contains(p)).map(|(i, _)| i);
                Drive::Control { control, positions: closed.collect() }
            }
            DriveSpec::Coils { coils, closed_at_rest } => Drive::Coils {
                coils: coils.iter().map(|key| self.element(key)).collect::<Result<_, _>>()?,
                closed_at_rest: *closed_at_rest,
            },
            DriveSpec::Latch { set, reset } => Drive::Latch { set: self.element(set)?, reset: self.element(reset)? },
            DriveSpec::Step { coil } => Drive::Step { coil: self.element(coil)? },
        })
    }

    /// The element of this part that has this key.
    pub(super) fn element(&self, key: &str) -> Result<ElementId, NoFigure> {
        let found = self.ids.iter().find(|(spec, _)| spec.key == key);
        found.map(|(_, id)| *id).ok_or_else(|| NoFigure::NotStated(key.to_owned()))
    }

    fn above_zero(&self, amount: &Amount) -> Result<Spread, NoFigure> {
        let name = amount.figures.last().map_or("constant", |(key, _)| key);
        positive(self.figures.amount(amount)?, name)
    }

    fn ohms(&self, amount: &Amount) -> Result<(Ohms, f64), NoFigure> {
        let spread = self.above_zero(amount)?;
        Ok((quantity(spread.value, "ohms")?, spread.sigma))
    }

    fn volts(&self, amount: &Amount) -> Result<Volts, NoFigure> {
        quantity(self.above_zero(amount)?.value, "volts")
    }

    fn amps(&self, amount: &Amount) -> Result<Amps, NoFigure> {
        quantity(self.above_zero(amount)?.value, "amps")
    }
}

fn positive(spread: Spread, figure: &str) -> Result<Spread, NoFigure> {
    if spread.value > 0.0 { Ok(spread) } else { Err(NoFigure::Impossible(figure.to_owned())) }
}

fn quantity<T: TryFrom<f64>>(value: f64, figure: &str) -> Result<T, NoFigure> {
    T::try_from(value).map_err(|_| NoFigure::Impossible(figure.to_owned()))
}
