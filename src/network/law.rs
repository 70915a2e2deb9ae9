//! What one element does in one discrete state: its current and its slope at a voltage.
//!
//! Numbers only: volts, amps, ohms, siemens as plain `f64`, a positive current enters at `from`.

/// Below this no resistance goes: keeps every conductance finite.
const LEAST_OHMS: f64 = 1e-7;
/// Slope of a source in its limit, as a share of `limit / |emf|`: over four times its EMF the current
/// strays by less than 1e-6 of the limit.
const LIMIT_SLOPE: f64 = 2e-7;
/// A filament below this share of its running resistance does not go.
const COLD: f64 = 0.1;
/// Exponent of the lamp law: resistance over the voltage (engine design, section 1).
const LAMP: f64 = 0.45;

/// Which of its discrete states an element is in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) struct Status {
    /// Coil pulled in, contact or switch closed, fuse blown, diode conducting, motor turning, power or
    /// converter on, source in its limit.
    pub(super) on: bool,
    /// What the drive says (contacts and electronic switches).
    pub(super) command: bool,
    /// Electronic switch: tripped. Power and converter: has cut out and waits for something to change.
    pub(super) held: bool,
}

/// An element between two nodes, as it is with the edits in force.
#[derive(Clone, Copy, Debug)]
pub(super) struct Part {
    pub(super) from: u32,
    pub(super) to: u32,
    pub(super) law: Law,
    /// Conducts nothing (a fault or an intervention).
    pub(super) open: bool,
    /// A contact or switch that ignores its drive.
    pub(super) stuck: Option<bool>,
}

/// The behaviour of a part; tables (drives, gates, EMFs by position) are indices into the circuit's own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Law {
    Source {
        emf: f64,
        ohms: f64,
        limit: Option<f64>,
        by: Option<u32>,
        dead: bool,
    },
    Resistance {
        ohms: f64,
    },
    Filament {
        hot: f64,
        nominal: f64,
    },
    Motor {
        winding: f64,
        running: f64,
        start: f64,
        stop: f64,
    },
    Power {
        watts: f64,
        cut_off: f64,
        leakage: f64,
        polarised: bool,
        /// No voltage in the circuit is higher: the sum of all EMFs.
        top: f64,
    },
    Fuse {
        ohms: f64,
        rating: f64,
        gate: u32,
        reset: crate::circuit::Reset,
    },
    Coil {
        ohms: f64,
        pull_in: f64,
        release: f64,
    },
    Contact {
        closed: f64,
        drive: u32,
    },
    Switch {
        on: f64,
        leakage: f64,
        trip: Option<f64>,
        on_share: f64,
        drive: u32,
    },
    ConverterInput {
        output: u32,
        efficiency: f64,
        cut_off: f64,
        idle: f64,
        enable: Option<u32>,
        /// No voltage in the circuit is higher: the sum of all EMFs.
        top: f64,
    },
    ConverterOutput {
        emf: f64,
        ohms: f64,
        limit: Option<f64>,
        input: u32,
    },
    Diode {
        forward: f64,
        series: f64,
    },
}

/// Current at a voltage, and its slope there.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Branch {
    pub(super) amps: f64,
    pub(super) siemens: f64,
    /// The largest of the terms whose sum is `amps`: what rounding is measured against.
    pub(super) scale: f64,
}

impl Branch {
    fn linear(volts: f64, ohms: f64) -> Self {
        let siemens = conductance(ohms);
        Self { amps: volts * siemens, siemens, scale: 0.0 }
    }
}

/// `1 / ohms`, finite.
pub(super) fn conductance(ohms: f64) -> f64 {
    1.0 / ohms.max(LEAST_OHMS)
}

impl Part {
    /// A part that is nothing but a resistance.
    pub(super) fn resistance(from: u32, to: u32, ohms: f64) -> Self {
        Self::new(from, to, Law::Resistance { ohms })
    }

    /// A whole part that obeys `law`.
    pub(super) fn new(from: u32, to: u32, law: Law) -> Self {
        Self { from, to, law, open: false, stuck: None }
    }

    /// Whether an edit has made it another one.
    pub(super) fn differs(&self, other: &Self) -> bool {
        self.from != other.from
            || self.to != other.to
            || self.open != other.open
            || self.stuck != other.stuck
            || self.law != other.law
    }

    /// Whether it can drive a current by itself.
    pub(super) fn drives(&self) -> bool {
        matches!(self.law, Law::Source { .. } | Law::ConverterOutput { .. } | Law::Diode { .. })
    }

    /// Whether its slope moves with the voltage.
    pub(super) fn bends(&self, status: Status) -> bool {
        match self.law {
            Law::Filament { .. } => true,
            Law::Power { .. } | Law::ConverterInput { .. } => status.on,
            _ => false,
        }
    }

    /// Whether a contact or switch is closed.
    pub(super) fn closed(&self, status: Status) -> bool {
        self.stuck.unwrap_or(status.on)
    }

    /// Whether it joins its two nodes.
    pub(super) fn conducts(&self, status: Status) -> bool {
        !self.open
            && match self.law {
                Law::Source { dead, .. } => !dead,
                Law::Fuse { .. } => !status.on,
                Law::Contact { .. } => self.closed(status),
                Law::ConverterOutput { .. } | Law::Diode { .. } => status.on,
                Law::Resistance { .. }
                | Law::Filament { .. }
                | Law::Motor { .. }
                | Law::Power { .. }
                | Law::Coil { .. }
                | Law::Switch { .. }
                | Law::ConverterInput { .. } => true,
            }
    }

    /// Current and slope at `volts` (`from` minus `to`) of a part that conducts. What a converter's input
    /// draws for its output is not in it.
    pub(super) fn branch(&self, status: Status, volts: f64) -> Branch {
        match self.law {
            Law::Source { emf, ohms, limit, .. } | Law::ConverterOutput { emf, ohms, limit, .. } => {
                source(emf, ohms, limit.filter(|_| self.limited(status)), volts)
            }
            Law::Resistance { ohms } | Law::Fuse { ohms, .. } | Law::Coil { ohms, .. } => Branch::linear(volts, ohms),
            Law::Contact { closed, .. } => Branch::linear(volts, closed),
            Law::Filament { hot, nominal } => filament(hot, nominal, volts),
            Law::Motor { winding, running, .. } => Branch::linear(volts, if status.on { running } else { winding }),
            Law::Power { watts, cut_off, leakage, polarised, top } => {
                if status.on {
                    power(watts, (cut_off, top), polarised, volts)
                } else {
                    Branch::linear(volts, leakage)
                }
            }
            Law::Switch { on, leakage, .. } => Branch::linear(volts, if self.closed(status) { on } else { leakage }),
            Law::ConverterInput { idle, .. } => Branch::linear(volts, idle),
            Law::Diode { forward, series } => {
                let siemens = conductance(series);
                Branch { amps: (volts - forward) * siemens, siemens, scale: forward.abs() * siemens }
            }
        }
    }

    /// Whether a source holds its limit. A converter's output keeps that in `held`, its `on` being the
    /// input side's doing.
    fn limited(&self, status: Status) -> bool {
        match self.law {
            Law::ConverterOutput { .. } => status.held,
            _ => status.on,
        }
    }

    /// The conductance that goes into the symmetric factor: never negative, never zero for a part that
    /// conducts.
    pub(super) fn stamp(&self, status: Status, siemens: f64) -> f64 {
        match self.law {
            Law::Power { leakage, .. } if status.on => conductance(leakage),
            Law::ConverterInput { idle, .. } if status.on => conductance(idle),
            _ => siemens,
        }
    }

    /// Whether its fast state (diode, source limit) contradicts `volts` across it, and by how much
    /// (relative to its own thresholds).
    pub(super) fn contradiction(&self, status: Status, volts: f64) -> Option<f64> {
        if self.open {
            return None;
        }
        match self.law {
            Law::Diode { forward, .. } => {
                let above = volts - forward;
                // One that carries nothing is dark, whatever it did before: what hangs on it floats.
                let size = forward.abs().max(1e-3);
                let wrong = if status.on { above < 2e-11 * size } else { above > 1e-9 * size };
                wrong.then_some(above.abs())
            }
            Law::Source { emf, ohms, limit: Some(limit), dead: false, .. } => {
                limit_contradiction(emf, ohms, limit, status.on, volts)
            }
            Law::ConverterOutput { emf, ohms, limit: Some(limit), .. } if status.on => {
                limit_contradiction(emf, ohms, limit, status.held, volts)
            }
            _ => None,
        }
    }

    /// Turns the fast state of a diode or a source over.
    pub(super) fn flip(&self, status: &mut Status) {
        match self.law {
            Law::ConverterOutput { .. } => status.held = !status.held,
            _ => status.on = !status.on,
        }
    }

    /// The sensed voltage over the cut-off of a power element or converter input.
    pub(super) fn above_cut_off(&self, volts: f64) -> f64 {
        match self.law {
            Law::Power { cut_off, polarised, .. } => {
                (if polarised { volts } else { volts.abs() }) / cut_off.max(LEAST_CUT_OFF)
            }
            Law::ConverterInput { cut_off, .. } => volts / cut_off.max(LEAST_CUT_OFF),
            _ => 0.0,
        }
    }
}

/// A cut-off of nothing is taken as this many volts: constant power has no operating point at zero.
const LEAST_CUT_OFF: f64 = 1e-2;

fn source(emf: f64, ohms: f64, limit: Option<f64>, volts: f64) -> Branch {
    let (offset, siemens) = match limit {
        None => (0.0, conductance(ohms)),
        Some(limit) => (-limit * emf.signum(), limit_slope(emf, limit)),
    };
    let drive = (volts - emf) * siemens;
    Branch { amps: offset + drive, siemens, scale: offset.abs() + emf.abs() * siemens }
}

fn limit_slope(emf: f64, limit: f64) -> f64 {
    LIMIT_SLOPE * limit.abs().max(1e-6) / emf.abs().max(1e-3)
}

fn limit_contradiction(emf: f64, ohms: f64, limit: f64, limited: bool, volts: f64) -> Option<f64> {
    // The two straight lines of its characteristic cross where the source would deliver exactly `limit`
    // behind its own resistance (the slope moves that by less than 1e-6 of it).
    let short = (emf - volts) * emf.signum();
    let knee = limit * ohms.max(LEAST_OHMS);
    let over = short - knee;
    let slack = 1e-9 * knee.abs().max(1e-12);
    let wrong = if limited { over < -slack } else { over > slack };
    wrong.then_some(over.abs() / emf.abs().max(1e-3))
}

fn filament(hot: f64, nominal: f64, volts: f64) -> Branch {
    let share = (volts.abs() / nominal.max(1e-9)).powf(LAMP);
    if share > COLD {
        let siemens = conductance(hot) / share;
        Branch { amps: volts * siemens, siemens: siemens * (1.0 - LAMP), scale: 0.0 }
    } else {
        Branch::linear(volts, hot * COLD)
    }
}

/// Constant power from the cut-off up to the highest voltage that there can be; outside that the resistance
/// that meets it there. So the equation always has a solution, Newton cannot run off to where a constant
/// power draws nothing, and the state loop sees from the voltage that the part must cut out.
fn power(watts: f64, range: (f64, f64), polarised: bool, volts: f64) -> Branch {
    let sensed = if polarised { volts } else { volts.abs() };
    match edge(range, sensed) {
        None => {
            let amps = watts / volts;
            Branch { amps, siemens: -amps / volts, scale: amps.abs() }
        }
        Some(edge) => Branch::linear(volts, edge * edge / watts.max(1e-12)),
    }
}

/// The end of the range of constant power beyond which `sensed` lies.
fn edge((cut_off, top): (f64, f64), sensed: f64) -> Option<f64> {
    let low = cut_off.max(LEAST_CUT_OFF);
    if sensed < low {
        Some(low)
    } else if sensed > top.max(low) {
        Some(top.max(low))
    } else {
        None
    }
}

/// What a converter's input draws for `watts` out: its current and the slopes over its own voltage and
/// over the power. The range is that of a constant power.
pub(super) fn converter_draw(watts: f64, efficiency: f64, range: (f64, f64), volts: f64) -> (f64, f64, f64) {
    let efficiency = efficiency.clamp(1e-6, 1.0);
    match edge(range, volts) {
        None => {
            let per_watt = 1.0 / (efficiency * volts);
            (watts * per_watt, -watts * per_watt / volts, per_watt)
        }
        Some(edge) => {
            let slope = 1.0 / (efficiency * edge * edge);
            (watts * volts * slope, watts * slope, volts * slope)
        }
    }
}
