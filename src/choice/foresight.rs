//! Operating points of set-ups that nobody has entered yet, kept between questions.

use super::in_play::Hypothesis;
use crate::belief::{Belief, Predicted, Probe, jumps, predict};
use crate::circuit::{ByHand, Primitive, SetUp};
use crate::install::PartId;
use crate::network::{Instrument, Memory, Operating};
use crate::suspects::SuspectId;
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::rc::Rc;

/// Most numbers that are kept, over all operating points (some 60 MB).
const KEPT: usize = 8_000_000;
/// Numbers that an operating point holds for each element: its part with all edits, its status, its current.
const AN_ELEMENT: usize = 14;

/// A hypothesis in a set-up: suspect, size of its fault, what it remembers, positions of the controls, what was done by hand.
type Key = (SuspectId, u64, Memory, Rc<[usize]>, Vec<(PartId, ByHand)>);

/// What hypotheses would do in set-ups near the present one.
#[derive(Default)]
pub struct Foresight<'n> {
    known: RefCell<BTreeMap<Key, Option<Rc<Operating<'n>>>>>,
    /// How many numbers they hold.
    held: Cell<usize>,
}

impl<'n> Foresight<'n> {
    /// The operating point of a hypothesis in `set_up`; `present`: that set-up is the last one entered.
    pub fn state(
        &self,
        belief: &Belief<'n>,
        hypothesis: &Hypothesis,
        set_up: &SetUp,
        present: bool,
    ) -> Option<Rc<Operating<'n>>> {
        let path = hypothesis.path_of(belief)?;
        if present
            && !belief.is_mended()
            && let Some(last) = path.last()
        {
            return Some(Rc::clone(last));
        }
        let ohms = belief.tracks()[hypothesis.suspect].points.get(hypothesis.point)?.ohms;
        let memory = if belief.is_mended() { belief.network().fresh() } else { path.memory(belief.network()) };
        let positions = set_up.positions.as_slice().into();
        let key = (hypothesis.suspect, ohms.get().to_bits(), memory, positions, set_up.by_hand.clone());
        if let Some(state) = self.known.borrow().get(&key) {
            return state.clone();
        }
        let edits = belief.suspects().edits(hypothesis.suspect, ohms, &belief.cured());
        // Of a race only the likelier outcome is looked at: it decides which test is asked, not what its answer means.
        let state = belief.network().enter(&edits, &key.2, set_up).ok().and_then(|branches| {
            branches.into_iter().max_by(|a, b| a.weight.total_cmp(&b.weight)).map(|b| Rc::new(b.state))
        });
        let mut known = self.known.borrow_mut();
        if self.held.get() >= KEPT {
            known.clear();
            self.held.set(0);
        }
        let netlist = belief.network().netlist();
        let whole = (netlist.nodes.len(), netlist.elements.len());
        let (nodes, elements) = state.as_ref().map_or(whole, |state| state.size());
        self.held.set(self.held.get() + nodes + AN_ELEMENT * elements);
        known.insert(key, state.clone());
        state
    }

    /// The operating point of a hypothesis with all controls at rest, before the first stay.
    pub fn rest(&self, belief: &Belief<'n>, hypothesis: &Hypothesis) -> Option<Rc<Operating<'n>>> {
        let path = hypothesis.path_of(belief)?;
        let ohms = belief.tracks()[hypothesis.suspect].points.get(hypothesis.point)?.ohms;
        let edits = belief.suspects().edits(hypothesis.suspect, ohms, &belief.cured());
        path.rest(belief.network(), &edits).map(Rc::clone)
    }

    /// What a hypothesis predicts for a probe, exactly.
    pub fn predict(
        &self,
        belief: &Belief<'n>,
        hypothesis: &Hypothesis,
        state: &Operating<'n>,
        probe: &Probe,
    ) -> Option<Predicted> {
        let path = hypothesis.path_of(belief)?;
        let point = belief.tracks()[hypothesis.suspect].points.get(hypothesis.point)?;
        if let Some(marked) = belief.marked(hypothesis.suspect, point.ohms, probe) {
            return Some(marked);
        }
        let edits = belief.suspects().edits(hypothesis.suspect, point.ohms, &belief.cured());
        let at_rest = |e| path.at_rest(belief.network(), &edits, e);
        Some(predict(belief.network(), belief.senses(), state, probe, at_rest))
    }

    /// The same for choosing among tests: a voltmeter is taken to change nothing, except where it may light a diode.
    pub fn glance(
        &self,
        belief: &Belief<'n>,
        hypothesis: &Hypothesis,
        state: &Operating<'n>,
        probe: &Probe,
        diodes: bool,
    ) -> Option<Predicted> {
        if let Probe::Volts { instrument: Instrument::Voltmeter(_), red, black, .. } = probe {
            match state.voltage(*red, *black) {
                Some(volts) => {
                    let jumps = jumps(state.swing(*red, *black));
                    return Some(Predicted::Number { mean: volts.get(), floating: false, jumps });
                }
                None if !diodes => {
                    return Some(Predicted::Number { mean: 0.0, floating: true, jumps: 0.0 });
                }
                None => {}
            }
        }
        self.predict(belief, hypothesis, state, probe)
    }
}

/// Whether a circuit holds diodes, which a meter's own current may light.
pub(super) fn has_diodes(belief: &Belief<'_>) -> bool {
    let elements = belief.network().netlist().elements.iter();
    elements.into_iter().any(|e| matches!(e.primitive, Primitive::Diode { .. }))
}
