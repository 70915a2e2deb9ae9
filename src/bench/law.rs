//! What a piece lets through at a voltage, as it stands. Volts, amps and siemens are bare numbers here; a positive
//! current enters at `from`.

use super::wired::{Piece, Wired};
use crate::circuit::Primitive;

/// How a piece stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Stand {
    /// Coil pulled in, contact closed, switch on, fuse blown, diode conducting, motor turning, power or converter input
    /// on, source in its limit.
    pub(super) on: bool,
    /// What the drive of a contact or switch says.
    pub(super) wants: bool,
    /// A switch that has tripped; a power that has cut out and waits until something else changes.
    pub(super) waits: bool,
}

/// A conductance is never taken above this, in siemens.
const MOST_SIEMENS: f64 = 1e7;
/// A source in its limit is not quite a current source: it gives in by this share of its limit over its EMF.
const GIVES_IN: f64 = 2e-7;
/// A cut-off of nothing is taken as this: no constant power can be drawn at no volts.
pub(super) const LEAST_CUT_OFF: f64 = 0.01;

/// What flows, and how it grows with the voltage.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Flow {
    pub(super) amps: f64,
    pub(super) slope: f64,
}

impl Flow {
    fn through(ohms: f64, volts: f64) -> Self {
        let slope = (1.0 / ohms).min(MOST_SIEMENS);
        Self { amps: slope * volts, slope }
    }

    /// A straight line that crosses zero at `emf`.
    fn against(emf: f64, ohms: f64, volts: f64) -> Self {
        Self::through(ohms, volts - emf)
    }
}

/// How nonlinear pieces are taken in one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Manner {
    /// Share of their power that constant powers take.
    pub(super) power: f64,
    /// Filaments by the line from zero instead of by their tangent.
    pub(super) secant: bool,
}

impl Wired {
    /// Whether a piece joins its two nodes.
    pub(super) fn joins(&self, index: usize, stands: &[Stand]) -> bool {
        let piece = &self.pieces[index];
        let on = stands[index].on;
        !piece.open
            && match &piece.what {
                Primitive::Source { emf, .. } => self.emf(emf).is_some(),
                Primitive::Fuse { .. } => !on,
                Primitive::Contact { .. } => piece.stuck.unwrap_or(on),
                Primitive::Diode { .. } => on,
                Primitive::ConverterOutput { input, .. } => self.runs(crate::index::Id::position(*input), stands),
                Primitive::Resistance { .. }
                | Primitive::Filament { .. }
                | Primitive::Motor { .. }
                | Primitive::Power { .. }
                | Primitive::Coil { .. }
                | Primitive::ElectronicSwitch { .. }
                | Primitive::ConverterInput { .. } => true,
            }
    }

    /// Whether the input side of a converter is on.
    pub(super) fn runs(&self, input: usize, stands: &[Stand]) -> bool {
        self.pieces
            .get(input)
            .is_some_and(|p| !p.open && matches!(p.what, Primitive::ConverterInput { .. }) && stands[input].on)
    }

    /// Whether a piece can drive a current by itself.
    pub(super) fn drives(&self, index: usize) -> bool {
        let what = &self.pieces[index].what;
        matches!(what, Primitive::Source { .. } | Primitive::ConverterOutput { .. } | Primitive::Diode { .. })
    }

    /// What flows through a piece that joins its nodes, `volts` across it. What a converter's input draws for its output
    /// is not in it.
    pub(super) fn flow(&self, index: usize, stands: &[Stand], volts: f64, manner: Manner) -> Flow {
        let Piece { what, stuck, .. } = &self.pieces[index];
        let on = stands[index].on;
        match what {
            Primitive::Source { emf, internal, limit } => {
                let emf = self.emf(emf).unwrap_or(0.0);
                sourced(emf, internal.get(), limit.filter(|_| on).map(crate::units::Amps::get), volts)
            }
            Primitive::ConverterOutput { emf, internal, limit, .. } => {
                sourced(emf.get(), internal.get(), limit.filter(|_| on).map(crate::units::Amps::get), volts)
            }
            Primitive::Resistance { ohms }
            | Primitive::Fuse { ohms, .. }
            | Primitive::Coil { ohms, .. }
            | Primitive::Contact { closed: ohms, .. } => Flow::through(ohms.get(), volts),
            Primitive::ElectronicSwitch { on: closed, leakage, .. } => {
                Flow::through(if stuck.unwrap_or(on) { closed.get() } else { leakage.get() }, volts)
            }
            Primitive::Motor { winding, running, .. } => {
                Flow::through(if on { running.get() } else { winding.get() }, volts)
            }
            Primitive::Filament { hot, nominal } => {
                // R = hot * max(0.1, (|V| / nominal)^0.45).
                let grown = (volts.abs() / nominal.get()).powf(0.45);
                if grown <= 0.1 {
                    return Flow::through(0.1 * hot.get(), volts);
                }
                let line = Flow::through(hot.get() * grown, volts);
                // I ~ V^0.55, so dI/dV = 0.55 I / V.
                if manner.secant { line } else { Flow { slope: 0.55 * line.slope, ..line } }
            }
            Primitive::Power { watts, cut_off, leakage, polarised } => {
                if !on {
                    return Flow::through(leakage.get(), volts);
                }
                let least = cut_off.get().max(LEAST_CUT_OFF);
                let sensed = if *polarised { volts } else { volts.abs() };
                let mut flow = constant(watts.get() * manner.power, least, sensed, volts);
                if manner.power < 1.0 {
                    let rest = Flow::through(leakage.get(), volts);
                    flow = Flow { amps: flow.amps + rest.amps, slope: flow.slope + rest.slope };
                }
                flow
            }
            Primitive::ConverterInput { idle, .. } => Flow::through(idle.get(), volts),
            Primitive::Diode { forward, series } => Flow::against(forward.get(), series.get(), volts),
        }
    }
}

/// Constant power from `least` volts on; below that the resistance that takes this power there.
pub(super) fn constant(watts: f64, least: f64, sensed: f64, volts: f64) -> Flow {
    if sensed >= least {
        let amps = watts / volts;
        Flow { amps, slope: -amps / volts }
    } else {
        let slope = watts / (least * least);
        Flow { amps: slope * volts, slope }
    }
}

fn sourced(emf: f64, internal: f64, limit: Option<f64>, volts: f64) -> Flow {
    match limit {
        None => Flow::against(emf, internal, volts),
        Some(limit) => {
            let slope = GIVES_IN * limit.abs().max(1e-6) / emf.abs().max(1e-3);
            Flow { amps: slope * (volts - emf) - limit * emf.signum(), slope }
        }
    }
}
