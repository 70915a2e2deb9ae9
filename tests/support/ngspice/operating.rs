//! Operating points of discrete states: the simulator's own first, and where it finds none, the ways by which people
//! help it along.

use super::process::{Circuit, Potentials, run};
use halfsplit::circuit::{Element, ElementId, Export, Primitive};
use halfsplit::index::{Id, IdVec};
use halfsplit::units::Ohms;

/// The exactness that is asked for first. With ohms from 1e-7 to 1e7 in one circuit the last digits of a potential are
/// rounding, and now and then the simulator waits in vain for them to stand still.
const STRICT: &str = "reltol=1e-10 abstol=1e-15 vntol=1e-12 gmin=1e-20 itl1=500";
/// What is asked for next, in this order: a hundredth of a meter's last digit is the least that is accepted. Where plain
/// iteration fails, the simulator steps a conductance to ground and then the sources themselves up by hundredths.
const HELPED: [&str; 3] = [
    "reltol=1e-9 abstol=1e-12 vntol=1e-10 gmin=1e-20 itl1=500 gminsteps=100 srcsteps=100",
    "reltol=1e-8 abstol=1e-11 vntol=1e-9 gmin=1e-18 itl1=1000 gminsteps=100 srcsteps=100",
    "reltol=1e-7 abstol=1e-10 vntol=1e-8 gmin=1e-15 itl1=2000 gminsteps=100 srcsteps=100",
];
/// Two points are the same within this, in volts over one and over the voltage.
const SAME: f64 = 1e-9;
/// Rounds of linear circuits: the error of a filament shrinks by more than half in each.
const ROUNDS: usize = 200;

/// Potentials of `n0`, `n1`, ... in each state; nothing where none are found.
pub(super) fn points(states: &[Export<'_>]) -> Vec<Option<Potentials>> {
    let circuits: Vec<Circuit> = states.iter().map(|state| Circuit { text: state.text(), options: STRICT }).collect();
    let mut found = run(&circuits);
    for (state, place) in states.iter().zip(&mut found) {
        if place.is_none() {
            *place = helped(state).or_else(|| by_straight_lines(state));
        }
    }
    found
}

/// An operating point from more patience, if straight lines through it lead to it again.
fn helped(state: &Export<'_>) -> Option<Potentials> {
    HELPED.iter().find_map(|options| {
        let found = run(&[Circuit { text: state.text(), options }]).remove(0)?;
        let again = straight(state, Some(&found))?;
        same(&found, &again, 1e-6).then_some(found)
    })
}

/// The point at which every bent characteristic meets the straight line from nothing through where it stood a round
/// before: linear circuits, which cannot fail. Of two points that constant power can have it is the one of high voltage.
///
/// The simulator's `.nodeset` would be shorter, but in circuits without semiconductors it was seen to stay in force.
fn by_straight_lines(state: &Export<'_>) -> Option<Potentials> {
    let mut near = straight(state, None)?;
    for _ in 0..ROUNDS {
        let next = straight(state, Some(&near))?;
        if same(&near, &next, SAME) {
            return Some(next);
        }
        near = next;
    }
    None
}

fn same(one: &Potentials, other: &Potentials, within: f64) -> bool {
    one.iter().all(|(node, v)| other.get(node).is_some_and(|w| (v - w).abs() <= within * v.abs().max(1.0)))
}

/// Potentials with every bent characteristic replaced by a straight line.
fn straight(state: &Export<'_>, near: Option<&Potentials>) -> Option<Potentials> {
    let elements = state.elements.enumerate().map(|(id, element)| straightened(state, id, element.as_ref()?, near));
    let elements: IdVec<ElementId, Option<Element>> = elements.collect();
    let linear = Export { elements: &elements, ..*state };
    run(&[Circuit { text: linear.text(), options: HELPED[0] }]).remove(0)
}

/// An element as a straight line through where it stands in `near`; before the first pass, where it is made to work.
fn straightened(state: &Export<'_>, id: ElementId, element: &Element, near: Option<&Potentials>) -> Option<Element> {
    let volts = near.map(|near| across(element, near).abs());
    let on = state.active.get(id.position()).copied().unwrap_or(false);
    let ohms = match &element.primitive {
        // The law of a lamp: `R = hot (V / nominal)^0.45`, a tenth of it when cold.
        Primitive::Filament { hot, nominal } => {
            let share = volts.map_or(1.0, |v| v / nominal.get());
            hot.get() * share.powf(0.45).max(0.1)
        }
        // `P = V^2 / R` above its cut-off, the same resistance as there below it.
        Primitive::Power { watts, cut_off, .. } if on => {
            let volts = volts.unwrap_or(0.0).max(cut_off.get()).max(0.01);
            volts * volts / watts.get()
        }
        // What the output gives, over the efficiency, in the same way; nothing in the first pass.
        Primitive::ConverterInput { output, efficiency, cut_off, idle, .. } if on => {
            let output = state.elements.get(*output).and_then(Option::as_ref);
            let watts = near.and_then(|near| given(output?, near)).unwrap_or(0.0) / efficiency;
            let volts = volts.unwrap_or(0.0).max(cut_off.get()).max(0.01);
            1.0 / (watts / (volts * volts) + 1.0 / idle.get())
        }
        _ => return Some(element.clone()),
    };
    let primitive = Primitive::Resistance { ohms: Ohms::try_from(ohms).ok()? };
    Some(Element { primitive, ..element.clone() })
}

fn across(element: &Element, near: &Potentials) -> f64 {
    let at = |node: usize| near.get(&node).copied().unwrap_or(0.0);
    at(element.from.position()) - at(element.to.position())
}

/// Watts that a converter's output gives.
fn given(output: &Element, near: &Potentials) -> Option<f64> {
    let Primitive::ConverterOutput { emf, internal, limit, .. } = &output.primitive else {
        return None;
    };
    let volts = across(output, near);
    let amps = (emf.get() - volts) / internal.get();
    Some((volts * limit.map_or(amps, |limit| amps.min(limit.get()))).max(0.0))
}
