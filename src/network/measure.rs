//! Instruments: the reading is that of the network with the instrument attached.

use super::base::Engine;
use super::law::{Law, Part, Status};
use super::operating::{Operating, swing};
use super::point::Care;
use super::settle::{Fuses, Run};
use super::{Instrument, Measured, Network, Unsolvable};
use crate::circuit::NodeId;
use crate::units::{Amps, Volts};

impl<'n> Network<'n> {
    /// What `instrument` meets between `red` and `black`.
    ///
    /// The instrument is attached as further elements and the state loop runs again from `state` (a test
    /// lamp may pull a relay in); fuses are left as they are.
    ///
    /// # Errors
    /// A probe on a node that does not exist, or no solution with the instrument attached.
    pub fn measure(
        &self,
        state: &Operating<'n>,
        instrument: &Instrument,
        red: NodeId,
        black: NodeId,
    ) -> Result<Measured, Unsolvable> {
        let state = self.probed(state, red, black);
        let (with, plus, minus) = self.attach(&state, instrument, red, black)?;
        let own = state.wiring.len();
        let mut volts = 0.0;
        let mut amps = 0.0;
        let mut floating = true;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        let parts = with.wiring.whole().parts;
        for phase in &with.phases {
            let apart = !joined_without(&parts, &phase.status, own, plus, minus);
            floating &= apart;
            // Nothing drives a current through the instrument when it alone joins the points.
            let now = if apart { 0.0 } else { phase.point.volts[plus as usize] - phase.point.volts[minus as usize] };
            volts += phase.weight * now;
            low = low.min(now);
            high = high.max(now);
            if apart {
                continue;
            }
            for (part, through) in parts.iter().zip(&phase.amps).skip(own) {
                let sign = if part.from == plus { 1.0 } else { -1.0 };
                amps += phase.weight * sign * through;
            }
        }
        Ok(Measured {
            volts: Volts::try_from(volts).unwrap_or_default(),
            amps: Amps::try_from(amps).unwrap_or_default(),
            floating,
            swing: if with.chatter().is_empty() { 0.0 } else { swing(low, high) },
        })
    }

    /// The operating point with the instrument attached, and the indices of the two points.
    pub(super) fn attach(
        &self,
        state: &Operating<'n>,
        instrument: &Instrument,
        red: NodeId,
        black: NodeId,
    ) -> Result<(Operating<'n>, u32, u32), Unsolvable> {
        self.attach_parts(state, |plus, minus| attached(instrument, plus, minus), red, black)
    }

    /// The same with the elements of any instrument.
    pub(super) fn attach_parts(
        &self,
        state: &Operating<'n>,
        instrument: impl FnOnce(u32, u32) -> Vec<Part>,
        red: NodeId,
        black: NodeId,
    ) -> Result<(Operating<'n>, u32, u32), Unsolvable> {
        let (Some(plus), Some(minus)) = (state.node(red), state.node(black)) else {
            return Err(Unsolvable {
                nodes: vec![red, black],
                why: "the probes are not on points of this circuit".to_owned(),
            });
        };
        let mut wiring = state.wiring.whole();
        wiring.parts.extend(instrument(plus, minus));
        let last = state.last();
        let mut run = Run::new(wiring, last.map(|phase| phase.status.clone()).unwrap_or_default());
        if let Some(phase) = last {
            run.point = phase.point.clone();
        }
        let engine = self.engine_of(state);
        let within = state.within.as_ref();
        run.settle(engine, Fuses::Hold, Care::Fine)
            .and_then(|_| run.pulse(engine))
            .map_err(|error| self.unsolvable(&error, within.map(|within| &*within.frame)))?;
        let with = match within {
            Some(within) => Operating::in_frame(&within.frame, run, &within.edits),
            None => Operating::new(engine, run),
        };
        Ok((with, plus, minus))
    }

    /// What an operating point was solved by.
    pub(super) fn engine_of<'a>(&'a self, state: &'a Operating<'n>) -> &'a Engine {
        state.within.as_ref().map_or(&self.engine, |within| &within.frame.engine)
    }
}

/// The elements of an instrument between two nodes.
fn attached(instrument: &Instrument, red: u32, black: u32) -> Vec<Part> {
    match instrument {
        Instrument::Voltmeter(ohms) => vec![Part::resistance(red, black, ohms.get())],
        Instrument::TestLamp { hot, nominal } => {
            vec![Part::new(red, black, Law::Filament { hot: hot.get(), nominal: nominal.get() })]
        }
        Instrument::LedTester { forward, series } => {
            let law = Law::Diode { forward: forward.get(), series: series.get() };
            vec![Part::new(red, black, law), Part::new(black, red, law)]
        }
    }
}

/// Whether the first `own` parts alone join two nodes.
pub(super) fn joined_without(parts: &[Part], status: &[Status], own: usize, a: u32, b: u32) -> bool {
    if a == b {
        return true;
    }
    let highest = parts.iter().fold(a.max(b), |h, p| h.max(p.from).max(p.to));
    let mut joined = super::islands::Joined::new(highest as usize + 1);
    for (part, status) in parts.iter().zip(status).take(own) {
        if part.conducts(*status) {
            joined.join(part.from, part.to);
        }
    }
    joined.find(a) == joined.find(b)
}
