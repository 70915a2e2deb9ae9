//! What there is to be noticed of a sight at an operating point.

use super::{Seen, Shown};
use crate::circuit::{Edit, ElementId, NodeId};
use crate::network::{ElementState, Operating};
use crate::units::Volts;

/// Volts of a rested battery over its nominal voltage below which it counts as coming down, and how far below it is called flat:
/// 12.24 V and 0.6 V less at 12 V, common practice, no source.
const RESTED: f64 = 1.02;
const FLAT_BELOW: f64 = 0.05;

/// The quantities behind a sight; `at_rest` tells how an element stands with all controls at rest.
pub fn seen(shown: &Shown, state: &Operating<'_>, at_rest: impl Fn(ElementId) -> ElementState) -> Seen {
    let plain = |share: f64| Seen {
        share: share.max(0.0),
        state: ElementState::Plain,
        at_rest: ElementState::Plain,
        unsteady: false,
    };
    match shown {
        Shown::Work { element, nominal } => {
            let stands = state.state(*element);
            let moves = matches!(stands, ElementState::Coil(_));
            Seen {
                share: (state.power(*element).get() / nominal).max(0.0),
                state: stands,
                at_rest: if moves { at_rest(*element) } else { stands },
                unsteady: state.jumps(*element),
            }
        }
        Shown::Heat { elements, hot } => {
            plain(elements.iter().map(|e| state.power(*e).get().max(0.0)).sum::<f64>() / hot)
        }
        Shown::Standing { source, posts, drain, nominal } => {
            // A source's current runs from its `from` to its `to`, against which it delivers.
            let amps = (-state.current(*source).get()).max(0.0);
            let down = (RESTED * nominal - volts(state, *posts)).max(0.0) / (FLAT_BELOW * nominal);
            plain(amps / drain + down)
        }
        Shown::Charge { posts, nominal } => plain(volts(state, *posts) / nominal),
        // Nothing that the circuit does.
        Shown::Marks(_) => plain(0.0),
    }
}

/// Volts between two posts; none where nothing joins them.
fn volts(state: &Operating<'_>, (red, black): (NodeId, NodeId)) -> f64 {
    state.voltage(red, black).map_or(0.0, Volts::get)
}

/// Watts that faults themselves turn into heat: in the elements that they change, and in what they join.
pub(super) fn own_heat(edits: &[Edit], state: &Operating<'_>) -> f64 {
    let watts = |e: &ElementId| state.power(*e).get().max(0.0);
    let of = |edit: &Edit| match edit {
        Edit::Open(e) | Edit::Series(e, _) | Edit::Stuck(e, _) | Edit::Move { element: e, .. } => watts(e),
        // A replaced part does what it is made for, with another value: that is no heat of the fault.
        Edit::Replace(..) => 0.0,
        Edit::Bridge(a, b, ohms) => state.voltage(*a, *b).map_or(0.0, |v| v.get().powi(2) / ohms.get().max(1e-6)),
    };
    edits.iter().map(of).sum()
}
