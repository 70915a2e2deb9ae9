//! What one suspect predicts: its circuit taken through every stay of the job, at every severity of its grid.

use super::notice::own_heat;
use super::predict::predict;
use super::row::Row;
use super::{Answer, Evidence, Senses, Strays};
use crate::circuit::{Edit, ElementId, SetUp};
use crate::index::IdVec;
use crate::network::{ElementState, Memory, Network, Operating};
use crate::suspects::{FaultId, Grid, SuspectId, Suspects};
use crate::units::Ohms;
use std::cell::OnceCell;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::rc::Rc;

/// Severities in a decade at which the sensitivities to shared unknowns are worked out.
const ROWS_PER_DECADE: usize = 4;

/// A predicted answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Predicted {
    /// Volts or amps.
    Number {
        /// The value.
        mean: f64,
        /// Nothing but the instrument joins the points.
        floating: bool,
        /// Probability that the meter does not stand still: 0 where the circuit settles, or what jumps is nothing beside the
        /// reading; 1 where nobody could note a value.
        jumps: f64,
    },
    /// Probability of each word of the sight's vocabulary.
    Words(Vec<f64>),
}

impl Predicted {
    /// The value of a number that would more likely be noted than called jumping.
    pub fn steady(&self) -> Option<f64> {
        match self {
            Self::Number { mean, jumps, .. } if *jumps < 0.5 => Some(*mean),
            Self::Number { .. } | Self::Words(_) => None,
        }
    }
}

/// One way in which a job can have gone under a suspect (a race of fuses has several).
#[derive(Clone)]
pub struct Path<'n> {
    /// Its probability.
    pub weight: f64,
    /// The operating point with all controls at rest, made when first asked for.
    rest: OnceCell<Option<Rc<Operating<'n>>>>,
    /// The operating point of each stay; `None` where it was let go of.
    states: Vec<Option<Rc<Operating<'n>>>>,
    /// Watts that the faults themselves turn into heat in each stay.
    pub heats: Vec<f64>,
    /// What each observation should have been.
    pub predicted: Vec<Predicted>,
    /// How each observation moves with the unknowns that all share, as far as it was worked out at this severity.
    pub(super) rows: Vec<Option<Rc<Row>>>,
    /// Fingerprint of all that has switched in each stay: where two severities agree in it, readings run straight between.
    regimes: Vec<u64>,
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
    /// Observations at which the grid became as fine as it is.
    pub(super) grown_at: usize,
    /// Its severities, ascending; one for a hard suspect.
    pub points: Vec<Point<'n>>,
    /// The same with every fault that is held fast at the largest size that it stands for.
    pub(super) at_most: Option<Box<Self>>,
    is_at_most: bool,
    /// Decades that the size of a fault which is held fast stands for, the widest of them.
    pub(super) held_over: f64,
}

/// The tracks of all suspects, kept between readings.
pub type Tracks<'n> = IdVec<SuspectId, Track<'n>>;

impl<'n> Track<'n> {
    /// Starts a suspect's track, nothing entered yet. With no cells a decade only the ends of the range are followed.
    pub fn start(suspects: &Suspects, suspect: SuspectId, cells_per_decade: usize) -> Self {
        let grid = match suspects.severity(suspect) {
            Some(severity) if cells_per_decade == 0 => Grid { ohms: vec![severity.low, severity.high] },
            Some(severity) => severity.grid(cells_per_decade),
            None => Grid::hard(),
        };
        let fresh = Path {
            weight: 1.0,
            rest: OnceCell::new(),
            states: Vec::new(),
            heats: Vec::new(),
            predicted: Vec::new(),
            rows: Vec::new(),
            regimes: Vec::new(),
        };
        let points: Vec<Point<'n>> =
            grid.ohms.into_iter().map(|ohms| Point { ohms, paths: vec![fresh.clone()] }).collect();
        let pins = &suspects.list()[suspect].pins;
        let held_over = pins.iter().map(|pin| 2.0 * (pin.up_to.get() / pin.ohms.get()).log10()).fold(0.0, f64::max);
        let track =
            Self { suspect, cells_per_decade, grown_at: 0, points, at_most: None, is_at_most: false, held_over };
        let at_most = (!pins.is_empty()).then(|| Box::new(Self { is_at_most: true, ..track.clone() }));
        Self { at_most, ..track }
    }

    /// The edits in each stay.
    fn edits(&self, suspects: &Suspects, ohms: Ohms, evidence: &Evidence) -> Vec<Rc<Vec<Edit>>> {
        let of = |cured: &[FaultId]| {
            if self.is_at_most {
                suspects.edits_at_most(self.suspect, ohms, cured)
            } else {
                suspects.edits(self.suspect, ohms, cured)
            }
        };
        let whole = Rc::new(of(&[]));
        let at = |stay: usize| {
            let cured = evidence.cured(stay);
            if cured.is_empty() { Rc::clone(&whole) } else { Rc::new(of(&cured)) }
        };
        (0..evidence.stays.len()).map(at).collect()
    }

    /// By how much a number moves with one standard deviation of the sizes that the faults held fast stand for.
    pub(super) fn blur(&self, k: usize, p: usize, observation: usize) -> f64 {
        let Some(other) = &self.at_most else { return 0.0 };
        let path = |track: &Self| Some(track.points.get(k)?.paths.get(p)?.predicted.get(observation)?.clone());
        match (path(self), path(other)) {
            // Even over a range: what lies between its middle and its end is half of it.
            (Some(Predicted::Number { mean: a, .. }), Some(Predicted::Number { mean: b, .. })) => {
                2.0 * (b - a) / 12_f64.sqrt()
            }
            _ => 0.0,
        }
    }

    /// Forgets all stays and observations past the given counts.
    pub fn truncate(&mut self, stays: usize, observations: usize) {
        for path in self.points.iter_mut().flat_map(|p| &mut p.paths) {
            path.states.truncate(stays);
            // What comes next starts from the last one.
            if path.last().is_none() {
                path.states.clear();
            }
            path.regimes.truncate(stays);
            path.heats.truncate(stays);
            path.predicted.truncate(observations);
            path.rows.truncate(observations);
        }
        if let Some(other) = &mut self.at_most {
            other.truncate(stays, observations);
        }
    }

    /// Works out how the observations move with the shared unknowns, at severities a quarter of a decade apart and wherever
    /// something switches; in between they are interpolated.
    pub(super) fn add_rows(
        &mut self,
        network: &'n Network<'n>,
        suspects: &Suspects,
        evidence: &Evidence,
        strays: &Strays,
    ) {
        if strays.is_none() {
            return;
        }
        for k in 0..self.points.len() {
            if !self.is_anchor(k) {
                continue;
            }
            let edits = self.edits(suspects, self.points[k].ohms, evidence);
            for path in &mut self.points[k].paths {
                path.rows.resize(path.predicted.len(), None);
                for (i, row) in path.rows.iter_mut().enumerate().filter(|(_, row)| row.is_none()) {
                    let Some(observation) = evidence.observations.get(i) else { continue };
                    let number = matches!(
                        path.predicted.get(i),
                        Some(Predicted::Number { floating: false, jumps, .. }) if *jumps < 1.0
                    );
                    *row = if number {
                        let at =
                            path.states.get(observation.stay).and_then(Option::as_ref).zip(edits.get(observation.stay));
                        at.map(|(s, edits)| Rc::new(Row::new(network, s, &observation.probe, edits, strays)))
                    } else {
                        Some(Rc::default())
                    };
                }
            }
        }
    }

    /// Whether rows are worked out at a point of the grid.
    pub(super) fn is_anchor(&self, k: usize) -> bool {
        let points = &self.points;
        let stride = (self.cells_per_decade / ROWS_PER_DECADE).max(1);
        let apart = |a: usize, b: usize| match (points.get(a), points.get(b)) {
            (Some(a), Some(b)) => Point::straight(a, b).is_none(),
            _ => true,
        };
        k.is_multiple_of(stride) || k.checked_sub(1).is_none_or(|before| apart(before, k)) || apart(k, k + 1)
    }

    /// How many numbers the operating points that it holds have.
    pub(super) fn size(&self) -> usize {
        let states = self.points.iter().flat_map(|p| &p.paths).flat_map(|p| p.states.iter().flatten());
        let own = states.map(|state| state.size()).map(|(nodes, elements)| nodes + elements).sum::<usize>();
        own + self.at_most.as_ref().map_or(0, |other| other.size())
    }

    /// Lets go of the operating points, which are large, and keeps what they predicted; they are made again when a further
    /// observation needs them. A track with races keeps them, since its branches could not be matched again.
    pub fn forget_states(&mut self) {
        for point in &mut self.points {
            if let [path] = &mut point.paths[..] {
                path.states.clear();
                path.rest.take();
            }
        }
        if let Some(other) = &mut self.at_most {
            other.forget_states();
        }
    }

    /// Lets go of all operating points but the last, from which the next stay is entered. Nothing can be asked of an earlier stay
    /// any more: for tracks that are never given rows.
    pub(super) fn keep_last_state(&mut self) {
        for path in self.points.iter_mut().flat_map(|p| &mut p.paths) {
            let before = path.states.len().saturating_sub(1);
            path.states.iter_mut().take(before).for_each(|state| *state = None);
        }
    }

    /// Takes the track through the stays and observations that it has not seen yet.
    pub fn extend(&mut self, network: &'n Network<'n>, suspects: &Suspects, senses: &Senses, evidence: &Evidence) {
        let healthy = suspects.list()[self.suspect].faults.is_empty();
        if let Some(other) = &mut self.at_most {
            other.extend(network, suspects, senses, evidence);
        }
        for k in 0..self.points.len() {
            let edits = self.edits(suspects, self.points[k].ohms, evidence);
            let point = &mut self.points[k];
            let seen = |p: &Path<'_>| p.predicted.len() >= evidence.observations.len();
            if !point.paths.is_empty() && point.paths.iter().all(seen) {
                continue;
            }
            let done = point.paths.first().map_or(0, |p| p.states.len());
            for path in &mut point.paths {
                path.regimes.truncate(done);
                path.heats.truncate(done);
            }
            for (n, (stay, edits)) in evidence.stays.iter().zip(&edits).enumerate().skip(done) {
                let mended = evidence.is_mended(n);
                point.paths = std::mem::take(&mut point.paths)
                    .into_iter()
                    .flat_map(|path| path.enter(network, edits, stay, mended))
                    .collect();
            }
            for path in &mut point.paths {
                for observation in evidence.observations.iter().skip(path.predicted.len()) {
                    let at = path.state(observation.stay).zip(edits.get(observation.stay));
                    let Some((state, edits)) = at else { break };
                    // What was not taken says nothing; only the healthy circuit's value is shown to the person.
                    if observation.answer == Answer::NotTaken && !healthy {
                        path.predicted.push(Predicted::Words(Vec::new()));
                        continue;
                    }
                    let predicted = match senses.marks(&observation.probe) {
                        Some(marks) => {
                            marks.words(suspects, self.suspect, point.ohms, &evidence.cured(observation.stay))
                        }
                        None => {
                            predict(network, senses, state, &observation.probe, |e| path.at_rest(network, edits, e))
                        }
                    };
                    path.predicted.push(predicted);
                }
            }
        }
    }
}

impl<'n> Point<'n> {
    /// The paths of two neighbours when nothing switches between them: a reading then runs straight in the log of the
    /// severity.
    pub(super) fn straight<'a>(a: &'a Self, b: &'a Self) -> Option<(&'a Path<'n>, &'a Path<'n>)> {
        match (&a.paths[..], &b.paths[..]) {
            ([pa], [pb]) if pa.same_regime(pb) => Some((pa, pb)),
            _ => None,
        }
    }
}

impl<'n> Path<'n> {
    /// The operating point of a stay, if it was not let go of.
    pub fn state(&self, stay: usize) -> Option<&Rc<Operating<'n>>> {
        self.states.get(stay)?.as_ref()
    }

    /// The operating point of the last stay.
    pub fn last(&self) -> Option<&Rc<Operating<'n>>> {
        self.states.last()?.as_ref()
    }

    /// Whether everything has switched alike in two paths.
    pub(super) fn same_regime(&self, other: &Self) -> bool {
        self.states.len() == other.states.len() && self.regimes.last() == other.regimes.last()
    }

    /// What the next set-up starts from.
    pub fn memory(&self, network: &Network<'n>) -> Memory {
        self.last().map_or_else(|| network.fresh(), |state| state.memory().clone())
    }

    /// How an element stands with all controls at rest, before the first stay.
    pub fn at_rest(&self, network: &Network<'n>, edits: &[Edit], element: ElementId) -> ElementState {
        self.rest(network, edits).map_or(ElementState::Plain, |state| state.state(element))
    }

    /// The operating point with all controls at rest, before the first stay.
    pub fn rest(&self, network: &Network<'n>, edits: &[Edit]) -> Option<&Rc<Operating<'n>>> {
        let rest = self.rest.get_or_init(|| {
            let set_up = SetUp::at_rest(&network.netlist().controls);
            let branches = network.enter(edits, &network.fresh(), &set_up).ok()?;
            branches.into_iter().next().map(|b| Rc::new(b.state))
        });
        rest.as_ref()
    }

    fn enter(self, network: &'n Network<'n>, edits: &[Edit], stay: &SetUp, mended: bool) -> Vec<Self> {
        let memory = if mended { network.fresh() } else { self.memory(network) };
        let Ok(branches) = network.enter(edits, &memory, stay) else {
            return Vec::new();
        };
        branches
            .into_iter()
            .map(|b| {
                let mut path = self.clone();
                path.weight *= b.weight;
                path.regimes.push(regime(path.regimes.last(), &b.state));
                path.heats.push(own_heat(edits, &b.state));
                path.states.push(Some(Rc::new(b.state)));
                path
            })
            .collect()
    }
}

/// Continues the fingerprint of the stays before.
fn regime(before: Option<&u64>, state: &Operating<'_>) -> u64 {
    let mut hasher = DefaultHasher::new();
    (before, state.memory(), state.chatter().is_empty()).hash(&mut hasher);
    hasher.finish()
}
