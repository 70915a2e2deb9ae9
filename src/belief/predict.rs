//! What a probe shows at an operating point.

use super::density::cumulative;
use super::notice::seen;
use super::{Predicted, Probe, Seen, Senses, Shown, Sight, Vocabulary};
use crate::circuit::ElementId;
use crate::network::{ElementState, Instrument, Network, Operating};
use crate::units::{Ohms, Volts};

/// What `probe` shows at an operating point; `at_rest` tells how an element stands with all controls at rest.
pub fn predict<'n>(
    network: &Network<'n>,
    senses: &Senses,
    state: &Operating<'n>,
    probe: &Probe,
    at_rest: impl Fn(ElementId) -> ElementState,
) -> Predicted {
    let steady = state.chatter().is_empty();
    match probe {
        Probe::Volts { instrument, red, black, unsigned } => {
            if let (Instrument::Voltmeter(_), Some(volts)) = (instrument, state.plain_volts(*red, *black)) {
                let mean = sized(volts.get(), *unsigned);
                return Predicted::Number { mean, floating: false, jumps: 0.0 };
            }
            if matches!(instrument, Instrument::Voltmeter(_)) && state.floats(*red, *black) {
                return Predicted::Number { mean: 0.0, floating: true, jumps: 0.0 };
            }
            if state.drives_nothing(*red, *black, dark_below(instrument)) {
                let mean = sized(state.voltage(*red, *black).unwrap_or_default().get(), *unsigned);
                return Predicted::Number { mean, floating: false, jumps: 0.0 };
            }
            match network.measure(state, instrument, *red, *black) {
                Ok(met) => Predicted::Number {
                    mean: sized(met.volts.get(), *unsigned),
                    floating: met.floating,
                    jumps: jumps(met.swing),
                },
                Err(_) => Predicted::Number { mean: 0.0, floating: false, jumps: 1.0 },
            }
        }
        Probe::Amps { element, unsigned } => Predicted::Number {
            mean: sized(state.current(*element).get(), *unsigned),
            floating: false,
            jumps: jumps(state.current_swing(*element)),
        },
        Probe::Ohms { red, black } => match network.ohms(state, *red, *black) {
            Ok(ohms) => Predicted::Number { mean: log_ohms(ohms.map(Ohms::get)), floating: false, jumps: 0.0 },
            Err(_) => Predicted::Number { mean: 0.0, floating: false, jumps: 1.0 },
        },
        Probe::Light { instrument, red, black } => {
            let Some(tester) = &senses.tester else { return Predicted::Words(Vec::new()) };
            let met = || network.measure(state, instrument, *red, *black);
            let dark = state.floats(*red, *black) || state.drives_nothing(*red, *black, dark_below(instrument));
            let power_share =
                if dark { 0.0 } else { met().map_or(0.0, |met| light(instrument, met.volts.get(), met.amps.get())) };
            let plain = ElementState::Plain;
            let seen = Seen { share: power_share, state: plain, at_rest: plain, unsteady: !steady };
            words(tester.as_ref(), &seen)
        }
        Probe::Look(sight) => match senses.sights.get(*sight) {
            // What stands at an operating point is not known to be a fault of the part.
            Some(Sight { shown: Shown::Marks(marks), .. }) => Predicted::Words(marks.sound.clone()),
            Some(sight) => words(sight.vocabulary.as_ref(), &seen(&sight.shown, state, at_rest)),
            None => Predicted::Words(Vec::new()),
        },
    }
}

/// Ohms that a meter shows of its own leads, below which no reading says anything: common practice.
pub const LEAST_OHMS: f64 = 0.1;
/// Ohms from which a meter shows OL: 40 MΩ, a common range, from memory.
pub const OPEN_OHMS: f64 = 4e7;

/// The number that stands for ohms; `None`: an open line.
pub fn log_ohms(ohms: Option<f64>) -> f64 {
    ohms.unwrap_or(OPEN_OHMS).clamp(LEAST_OHMS, OPEN_OHMS).log10()
}

/// Standard deviation of the logarithm of a swing beside what is seen to jump: the parts that it comes through stray, joints
/// by a factor of two, and so do people. Common practice, no source.
const SWINGS_BY: f64 = 0.7;
/// Swings that are surely none, and surely seen, as multiples of what is seen to jump.
const SURELY: (f64, f64) = (0.15, 6.0);

/// Probability that a reading is called jumping, given its swing as a multiple of what is seen to jump.
pub fn jumps(swing: f64) -> f64 {
    if swing <= SURELY.0 {
        0.0
    } else if swing >= SURELY.1 {
        1.0
    } else {
        cumulative(swing.ln() / SWINGS_BY)
    }
}

/// Volts across an instrument up to which it carries nothing.
fn dark_below(instrument: &Instrument) -> Volts {
    match instrument {
        Instrument::LedTester { forward, .. } => *forward,
        Instrument::Voltmeter(_) | Instrument::TestLamp { .. } => NO_VOLTS,
    }
}

/// Volts that are none.
const NO_VOLTS: Volts = Volts::new(1e-9);

fn words(vocabulary: &dyn Vocabulary, seen: &Seen) -> Predicted {
    Predicted::Words((0..vocabulary.count()).map(|w| vocabulary.likelihood(w, seen)).collect())
}

/// Current in amps at which an LED tester gives its full light: 10 mA, common practice.
const LED_FULL: f64 = 0.01;

/// Share of its full power (of its full current, for an LED) that a tester gives off.
fn light(instrument: &Instrument, volts: f64, amps: f64) -> f64 {
    match instrument {
        Instrument::TestLamp { hot, nominal } => (volts * amps).abs() / (nominal.get() * nominal.get() / hot.get()),
        Instrument::LedTester { .. } => amps.abs() / LED_FULL,
        Instrument::Voltmeter(_) => 0.0,
    }
}

fn sized(value: f64, unsigned: bool) -> f64 {
    if unsigned { value.abs() } else { value }
}

#[cfg(test)]
mod tests {
    use super::jumps;

    #[test]
    fn a_swing_is_seen_the_likelier_the_larger_it_is() {
        assert!(jumps(0.0) <= 0.0 && jumps(0.1) <= 0.0, "nothing is seen");
        assert!((jumps(1.0) - 0.5).abs() < 1e-12, "as likely as not");
        assert!(jumps(10.0) >= 1.0, "nobody could note a value");
        let swings = [0.1, 0.2, 0.5, 0.9, 1.0, 1.1, 2.0, 5.0, 7.0];
        assert!(swings.windows(2).all(|w| jumps(w[0]) <= jumps(w[1])), "never the less");
    }
}
