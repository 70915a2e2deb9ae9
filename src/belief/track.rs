//! What one suspect predicts: its circuit taken through every stay of the job, at every severity of its grid.

use super::{Evidence, Probe, Seen, Senses, Vocabulary};
use crate::circuit::SetUp;
use crate::index::IdVec;
use crate::network::{ElementState, Instrument, Network, Operating};
use crate::suspects::{Grid, SuspectId, Suspects};
use crate::units::Ohms;
use std::rc::Rc;

/// A predicted answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Predicted {
    /// Volts or amps.
    Number {
        /// The value.
        mean: f64,
        /// Nothing but the instrument joins the points.
        floating: bool,
        /// The circuit does not settle.
        unsteady: bool,
    },
    /// Probability of each word of the sight's vocabulary.
    Words(Vec<f64>),
}

/// One way in which a job can have gone under a suspect (a race of fuses has several).
#[derive(Clone)]
pub struct Path<'n> {
    /// Its probability.
    pub weight: f64,
    /// The operating point with all controls at rest, before the first stay.
    pub rest: Rc<Operating<'n>>,
    /// The operating point of each stay.
    pub states: Vec<Rc<Operating<'n>>>,
    /// What each observation should have been.
    pub predicted: Vec<Predicted>,
}

/// A suspect at one severity.
#[derive(Clone)]
pub struct Point<'n> {
    /// The severity.
    pub ohms: Ohms,
    /// Its paths; none when the circuit could not be solved.
    pub paths: Vec<Path<'n>>,
}

/// A suspect's predictions.
#[derive(Clone)]
pub struct Track<'n> {
    /// The suspect.
    pub suspect: SuspectId,
    /// Cells a decade of its grid.
    pub cells_per_decade: usize,
    /// Its severities, ascending; one for a hard suspect.
    pub points: Vec<Point<'n>>,
}

/// The tracks of all suspects, kept between readings.
pub type Tracks<'n> = IdVec<SuspectId, Track<'n>>;

impl<'n> Track<'n> {
    /// Starts a suspect's track: its circuit at rest.
    pub fn start(
        network: &'n Network<'n>,
        suspects: &Suspects,
        suspect: SuspectId,
        cells_per_decade: usize,
    ) -> Self {
        let grid = match suspects.severity(suspect) {
            Some(severity) => severity.grid(cells_per_decade),
            None => Grid::hard(),
        };
        let rest = SetUp::at_rest(&network.netlist().controls);
        let points = grid
            .ohms
            .into_iter()
            .map(|ohms| {
                let edits = suspects.edits(suspect, ohms);
                let paths = network.enter(&edits, &network.fresh(), &rest).map_or_else(
                    |_| Vec::new(),
                    |branches| {
                        branches
                            .into_iter()
                            .map(|b| Path {
                                weight: b.weight,
                                rest: Rc::new(b.state),
                                states: Vec::new(),
                                predicted: Vec::new(),
                            })
                            .collect()
                    },
                );
                Point { ohms, paths }
            })
            .collect();
        Self { suspect, cells_per_decade, points }
    }

    /// Forgets all stays and observations past the given counts.
    pub fn truncate(&mut self, stays: usize, observations: usize) {
        for path in self.points.iter_mut().flat_map(|p| &mut p.paths) {
            path.states.truncate(stays);
            path.predicted.truncate(observations);
        }
    }

    /// Takes the track through the stays and observations that it has not seen yet.
    pub fn extend(
        &mut self,
        network: &'n Network<'n>,
        suspects: &Suspects,
        senses: &Senses,
        evidence: &Evidence,
    ) {
        for point in &mut self.points {
            let edits = suspects.edits(self.suspect, point.ohms);
            let done = point.paths.first().map_or(0, |p| p.states.len());
            for stay in evidence.stays.iter().skip(done) {
                point.paths = std::mem::take(&mut point.paths)
                    .into_iter()
                    .flat_map(|path| path.enter(network, &edits, stay))
                    .collect();
            }
            for path in &mut point.paths {
                for observation in evidence.observations.iter().skip(path.predicted.len()) {
                    let Some(state) = path.states.get(observation.stay) else { break };
                    let predicted = predict(network, senses, &path.rest, state, &observation.probe);
                    path.predicted.push(predicted);
                }
            }
        }
    }
}

impl<'n> Path<'n> {
    /// The operating point that the next set-up starts from.
    pub fn last(&self) -> &Rc<Operating<'n>> {
        self.states.last().unwrap_or(&self.rest)
    }

    fn enter(self, network: &'n Network<'n>, edits: &[crate::circuit::Edit], stay: &SetUp) -> Vec<Self> {
        let Ok(branches) = network.enter(edits, self.last().memory(), stay) else {
            return Vec::new();
        };
        branches
            .into_iter()
            .map(|b| {
                let mut path = self.clone();
                path.weight *= b.weight;
                path.states.push(Rc::new(b.state));
                path
            })
            .collect()
    }
}

/// What `probe` shows at an operating point.
pub fn predict<'n>(
    network: &Network<'n>,
    senses: &Senses,
    rest: &Operating<'n>,
    state: &Operating<'n>,
    probe: &Probe,
) -> Predicted {
    let steady = state.chatter().is_empty();
    match probe {
        Probe::Volts { instrument, red, black, unsigned } => {
            match network.measure(state, instrument, *red, *black) {
                Ok(met) => Predicted::Number {
                    mean: sized(met.volts.get(), *unsigned),
                    floating: met.floating,
                    unsteady: met.unsteady,
                },
                Err(_) => Predicted::Number { mean: 0.0, floating: false, unsteady: true },
            }
        }
        Probe::Amps { element, unsigned } => Predicted::Number {
            mean: sized(state.current(*element).get(), *unsigned),
            floating: false,
            unsteady: !steady,
        },
        Probe::Light { instrument, red, black } => {
            let Some(tester) = &senses.tester else { return Predicted::Words(Vec::new()) };
            let power_share = network
                .measure(state, instrument, *red, *black)
                .map_or(0.0, |met| light(instrument, met.volts.get(), met.amps.get()));
            let plain = ElementState::Plain;
            let seen = Seen { power_share, state: plain, at_rest: plain, unsteady: !steady };
            words(tester.as_ref(), &seen)
        }
        Probe::Look(sight) => match senses.sights.get(*sight) {
            Some(sight) => {
                let watts = state.drop(sight.element).get() * state.current(sight.element).get();
                let seen = Seen {
                    power_share: (watts / sight.nominal_watts).max(0.0),
                    state: state.state(sight.element),
                    at_rest: rest.state(sight.element),
                    unsteady: !steady,
                };
                words(sight.vocabulary.as_ref(), &seen)
            }
            None => Predicted::Words(Vec::new()),
        },
    }
}

fn words(vocabulary: &dyn Vocabulary, seen: &Seen) -> Predicted {
    Predicted::Words((0..vocabulary.count()).map(|w| vocabulary.likelihood(w, seen)).collect())
}

/// Current in amps at which an LED tester gives its full light: 10 mA, common practice.
const LED_FULL: f64 = 0.01;

/// Share of its full power (of its full current, for an LED) that a tester gives off.
fn light(instrument: &Instrument, volts: f64, amps: f64) -> f64 {
    match instrument {
        Instrument::TestLamp { hot, nominal } => {
            (volts * amps).abs() / (nominal.get() * nominal.get() / hot.get())
        }
        Instrument::LedTester { .. } => amps.abs() / LED_FULL,
        Instrument::Voltmeter(_) => 0.0,
    }
}

fn sized(value: f64, unsigned: bool) -> f64 {
    if unsigned { value.abs() } else { value }
}
