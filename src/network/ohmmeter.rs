//! Ohms between two points of a circuit whose supplies are off: the meter's own source drives a current through all that
//! joins them. So little of it that no diode conducts, no relay pulls in, lamps stay cold and motors at rest: 0.2 V behind 1 kΩ (on
//! its low ranges a common meter stays below the forward volts of a diode, from memory).

use super::law::{Law, Part};
use super::measure::joined_without;
use super::{Network, Operating, Unsolvable};
use crate::circuit::NodeId;
use crate::units::Ohms;

/// Volts of the meter's own source, and the ohms behind which it stands.
const SOURCE: (f64, f64) = (0.2, 1e3);

impl<'n> Network<'n> {
    /// The ohms between two nodes, parallel ways included: volts there over what the meter's source gives. `None` where nothing
    /// joins them. In a circuit that is not dead it is no number that means anything.
    ///
    /// # Errors
    /// A probe on a node that does not exist, or no solution with the meter attached.
    pub fn ohms(&self, state: &Operating<'n>, red: NodeId, black: NodeId) -> Result<Option<Ohms>, Unsolvable> {
        let (emf, inside) = SOURCE;
        let source = |plus, minus| {
            vec![Part::new(plus, minus, Law::Source { emf, ohms: inside, limit: None, by: None, dead: false })]
        };
        let state = self.probed(state, red, black);
        let (with, plus, minus) = self.attach_parts(&state, source, red, black)?;
        let parts = with.wiring.whole().parts;
        let Some(phase) = with.last() else { return Ok(None) };
        if !joined_without(&parts, &phase.status, state.wiring.len(), plus, minus) {
            return Ok(None);
        }
        let volts = phase.point.volts[plus as usize] - phase.point.volts[minus as usize];
        let amps = (emf - volts) / inside;
        let ohms = if amps > 0.0 { (volts / amps).max(0.0) } else { f64::INFINITY };
        Ok(Ohms::try_from(ohms).ok())
    }
}
