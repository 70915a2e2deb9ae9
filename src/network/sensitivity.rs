//! How a reading moves when a part does: one adjoint solve on the tangent at the operating point, with the
//! instrument attached, gives the first-order sensitivity to every part at once.
//!
//! With `J` the tangent, `λ` the solution of `Jᵀ λ = e_red - e_black`, `i` the current of a part from `from`
//! to `to` and `λ_k` the difference of `λ` over it, a change `δi` of that current at fixed voltage moves the
//! reading by `-λ_k δi`. All figures below are that with the part's own law.

use super::frame::Frame;
use super::law::{Law, Part, conductance, converter_draw};
use super::operating::{Operating, Phase};
use super::wiring::Wiring;
use super::{Instrument, Network, Unsolvable};
use crate::circuit::{ElementId, NodeId};
use crate::index::Id;
use crate::units::Volts;
use std::sync::Arc;

/// First-order sensitivities of one reading.
///
/// They hold while no state changes. In a circuit that chatters they are those of the last state.
#[derive(Clone)]
pub struct Sensitivities {
    volts: Volts,
    adjoint: Vec<f64>,
    wiring: Arc<Wiring>,
    phase: Phase,
    /// The part whose own current is the reading: its law enters directly too.
    own: Option<usize>,
    /// Where only a part of the circuit was solved: nothing else moves the reading.
    frame: Option<Arc<Frame>>,
}

impl<'n> Network<'n> {
    /// How the reading of `instrument` between `red` and `black` moves with each part.
    ///
    /// # Errors
    /// As [`measure`](Self::measure); and a tangent without inverse, which a stable operating point never
    /// has.
    pub fn sensitivities(
        &self,
        state: &Operating<'n>,
        instrument: &Instrument,
        red: NodeId,
        black: NodeId,
    ) -> Result<Sensitivities, Unsolvable> {
        let state = self.probed(state, red, black);
        let (with, plus, minus) = self.attach(&state, instrument, red, black)?;
        let volts = with.voltage(red, black).unwrap_or_default();
        self.adjoint(&with, plus, minus, volts).ok_or_else(|| at_the_edge(red, black))
    }

    /// The same for a meter that changes nothing: where [`Operating::plain_volts`] knows the reading.
    ///
    /// # Errors
    /// A probe on a node that does not exist; a tangent without inverse.
    pub fn plain_sensitivities(
        &self,
        state: &Operating<'n>,
        red: NodeId,
        black: NodeId,
    ) -> Result<Sensitivities, Unsolvable> {
        let here = |state: &Operating<'n>| state.at(red, true).zip(state.at(black, true));
        let state = if here(state).is_some() { state } else { state.whole() };
        let found = here(state)
            .and_then(|(plus, minus)| self.adjoint(state, plus, minus, state.voltage(red, black).unwrap_or_default()));
        found.ok_or_else(|| at_the_edge(red, black))
    }

    /// How the current through an element (from its `from` to its `to`) moves with each part: all figures are then amps
    /// instead of volts. A current is `i(v)` of the element's own law, so it moves by `di/dv` times its voltage, and
    /// its own part enters once more directly.
    ///
    /// # Errors
    /// An element that does not exist; a tangent without inverse.
    pub fn current_sensitivities(
        &self,
        state: &Operating<'n>,
        element: ElementId,
    ) -> Result<Sensitivities, Unsolvable> {
        let state = if state.index(element).is_some() { state } else { state.whole() };
        let index = state.index(element).unwrap_or(usize::MAX);
        let found = state.wiring.part(index).and_then(|part| {
            let mut found = self.adjoint(state, part.from, part.to, Volts::ZERO)?;
            let status = *found.phase.status.get(index)?;
            let siemens =
                if part.conducts(status) { part.branch(status, found.phase.point.drop(part)).siemens } else { 0.0 };
            for lambda in &mut found.adjoint {
                *lambda *= siemens;
            }
            found.own = Some(index);
            Some(found)
        });
        found.ok_or_else(|| Unsolvable { nodes: Vec::new(), why: "no such current".to_owned() })
    }

    fn adjoint(&self, state: &Operating<'n>, plus: u32, minus: u32, volts: Volts) -> Option<Sensitivities> {
        let phase = state.last()?;
        let wiring = Arc::new(state.wiring.whole());
        let engine = self.engine_of(state);
        let adjoint = super::point::adjoint(engine, &wiring, &phase.status, &phase.point, plus, minus)?;
        let frame = state.within.as_ref().map(|within| Arc::clone(&within.frame));
        Some(Sensitivities { volts, adjoint, wiring, phase: phase.clone(), own: None, frame })
    }
}

fn at_the_edge(red: NodeId, black: NodeId) -> Unsolvable {
    Unsolvable { nodes: vec![red, black], why: "the circuit is at the edge of an operating point".to_owned() }
}

impl Sensitivities {
    /// The reading itself.
    pub fn volts(&self) -> Volts {
        self.volts
    }

    /// The index of an element in what was solved; past all of it where it lies outside.
    fn index(&self, element: ElementId) -> usize {
        match &self.frame {
            Some(frame) => frame.element(element.position()).unwrap_or(usize::MAX),
            None => element.position(),
        }
    }

    /// The elements that may move the reading, ascending.
    pub fn elements(&self) -> Box<dyn Iterator<Item = ElementId> + '_> {
        match &self.frame {
            Some(frame) => Box::new(frame.elements.iter().map(|index| ElementId::new(*index as usize))),
            None => Box::new((0..self.wiring.elements).map(ElementId::new)),
        }
    }

    /// Volts for each relative change of the part's strength: of its conductance (also a source's own, a
    /// filament's `1 / hot`), of the power of a constant-power part, of the limit of a source that holds it.
    /// For a conductance `G` that is `G dV/dG = -R dV/dR`.
    pub fn relative(&self, element: ElementId) -> f64 {
        let index = self.index(element);
        let amps = self.phase.amps.get(index).copied().unwrap_or(0.0);
        let direct = if self.own == Some(index) { amps } else { 0.0 };
        direct - amps * self.across(index)
    }

    /// Volts for each relative change of the figure by which a part is described: the EMF of a source, the forward
    /// voltage of a diode, else its strength (see [`relative`](Self::relative)).
    pub fn leading(&self, element: ElementId) -> f64 {
        let index = self.index(element);
        let (Some(part), Some(status)) = (self.wiring.parts.get(index), self.phase.status.get(index)) else {
            return 0.0;
        };
        let figure = match part.law {
            Law::Source { emf, .. } | Law::ConverterOutput { emf, .. } => emf,
            Law::Diode { forward, .. } => forward,
            Law::Resistance { .. }
            | Law::Filament { .. }
            | Law::Motor { .. }
            | Law::Power { .. }
            | Law::Fuse { .. }
            | Law::Coil { .. }
            | Law::Contact { .. }
            | Law::Switch { .. }
            | Law::ConverterInput { .. } => return self.relative(element),
        };
        if !part.conducts(*status) {
            return 0.0;
        }
        // The current is `(v - figure) / ohms`: it falls by the slope for each volt of the figure.
        let siemens = part.branch(*status, self.phase.point.drop(part)).siemens;
        let direct = if self.own == Some(index) { siemens } else { 0.0 };
        figure * (siemens * self.across(index) - direct)
    }

    /// Volts for each siemens of a part's own conductance (at the operating point of a filament: of
    /// `1 / hot`). Zero for a part that does not conduct.
    pub fn conductance(&self, element: ElementId) -> f64 {
        let index = self.index(element);
        let (Some(part), Some(status)) = (self.wiring.parts.get(index), self.phase.status.get(index)) else {
            return 0.0;
        };
        if !part.conducts(*status) {
            return 0.0;
        }
        let siemens = match part.law {
            Law::Source { ohms, .. }
            | Law::ConverterOutput { ohms, .. }
            | Law::Resistance { ohms }
            | Law::Fuse { ohms, .. }
            | Law::Coil { ohms, .. }
            | Law::Contact { closed: ohms, .. }
            | Law::Diode { series: ohms, .. }
            | Law::Filament { hot: ohms, .. } => conductance(ohms),
            Law::Motor { .. } | Law::Power { .. } | Law::Switch { .. } | Law::ConverterInput { .. } => {
                let volts = self.phase.point.drop(part);
                if volts == 0.0 {
                    return 0.0;
                }
                self.phase.amps[index] / volts
            }
        };
        self.relative(element) / siemens
    }

    /// Volts for each volt of a source's EMF.
    pub fn emf(&self, element: ElementId) -> f64 {
        let index = self.index(element);
        let (Some(part), Some(status)) = (self.wiring.parts.get(index), self.phase.status.get(index)) else {
            return 0.0;
        };
        let source = matches!(part.law, Law::Source { .. } | Law::ConverterOutput { .. });
        if !source || !part.conducts(*status) {
            return 0.0;
        }
        part.branch(*status, self.phase.point.drop(part)).siemens * self.across(index)
    }

    /// Volts for each siemens bridged between two nodes of one island; zero between islands, and outside of what was solved.
    pub fn between(&self, a: NodeId, b: NodeId) -> f64 {
        let place = |node: NodeId| match &self.frame {
            Some(frame) => frame.node(frame.whole.node(node)?),
            None => self.wiring.node(node),
        };
        let (Some(a), Some(b)) = (place(a), place(b)) else {
            return 0.0;
        };
        if !self.phase.point.islands.joined(a, b) {
            return 0.0;
        }
        let difference = |x: &[f64]| x[a as usize] - x[b as usize];
        -difference(&self.phase.point.volts) * difference(&self.adjoint)
    }

    /// The adjoint voltage over a part that conducts. What a converter delivers moves its input's draw too.
    fn across(&self, index: usize) -> f64 {
        let difference = |part: &Part| self.adjoint[part.from as usize] - self.adjoint[part.to as usize];
        let (Some(part), Some(status)) = (self.wiring.parts.get(index), self.phase.status.get(index)) else {
            return 0.0;
        };
        if !part.conducts(*status) {
            return 0.0;
        }
        let own = difference(part);
        let Law::ConverterOutput { input, .. } = part.law else {
            return own;
        };
        let volts = self.phase.point.drop(part);
        match self.wiring.parts.get(input as usize) {
            Some(feed) if -volts * self.phase.amps[index] > 0.0 => match feed.law {
                Law::ConverterInput { efficiency, cut_off, top, .. } => {
                    let sensed = self.phase.point.drop(feed);
                    let (_, _, per_watt) = converter_draw(0.0, efficiency, (cut_off, top), sensed);
                    own - volts * per_watt * difference(feed)
                }
                _ => own,
            },
            _ => own,
        }
    }
}
