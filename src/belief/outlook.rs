//! What a further reading should show, given all readings so far: the joint Gaussian's conditional mean and spread.
//!
//! A supply that was found low lowers all that is read after it, under every suspect in its own way.

use super::fit::{Course, row_at};
use super::joint::Left;
use super::row::Row;
use super::strays::Supplies;
use super::track::Predicted;
use super::ways::Ways;
use super::{Belief, Evidence, Posterior, Probe};
use crate::circuit::{Edit, ElementId};
use crate::network::Operating;
use crate::suspects::SuspectId;
use crate::units::Ohms;
use std::rc::Rc;

/// What the readings so far say about the unknowns that all share, if one suspect is present at one severity.
#[derive(Default)]
pub struct Outlook {
    numbers: Vec<Known>,
    /// Inverse of the covariance of the numbers, row by row.
    inverse: Vec<f64>,
    supplies: Supplies,
    /// The supply by which the readings so far were moved most.
    supply: Option<ElementId>,
    /// Where between two points of the grid the readings so far put the severity.
    within: Option<Within>,
}

/// A place between two points of a severity grid. Readings run straight there, and a coarse grid moves them by more than a meter
/// does: foreseen at a point alone, near copies of one reading would seem to differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Within {
    /// Point and path at either end; the same twice where the severity has just one value.
    pub ends: [(usize, usize); 2],
    /// The share of the way from the first to the second.
    pub share: f64,
    /// Its standard deviation.
    pub sigma: f64,
}

impl Within {
    /// What is predicted in between, and its standard deviation by the severity; `None` where the two ends do not agree in kind.
    pub fn between(&self, first: &Predicted, second: &Predicted) -> Option<(Predicted, f64)> {
        let number = |predicted: &Predicted| match predicted {
            Predicted::Number { floating: false, .. } => predicted.steady(),
            _ => None,
        };
        let (low, high) = (number(first)?, number(second)?);
        let mean = low + self.share * (high - low);
        Some((Predicted::Number { mean, floating: false, jumps: 0.0 }, (self.sigma * (high - low)).abs()))
    }
}

/// A number that counts.
struct Known {
    row: Rc<Row>,
    /// Position in the evidence, and stay.
    place: (usize, usize),
    /// Its entry of the inverse covariance times the residuals.
    pull: f64,
}

/// A reading to come, or one that was taken: where it stands in the job, and the circuit that it is taken in.
pub struct Reading<'a, 'n> {
    /// What is observed.
    pub probe: &'a Probe,
    /// The operating point.
    pub state: &'a Operating<'n>,
    /// Position in the evidence, and stay.
    pub place: (usize, usize),
}

impl Outlook {
    /// Where between two points of the grid the severity lies, if readings say so.
    pub fn within(&self) -> Option<Within> {
        self.within.filter(|within| within.ends[0] != within.ends[1])
    }

    /// By how much a reading with this row moves from what is predicted of it, and its variance by shared unknowns.
    fn of(&self, row: &Row, place: (usize, usize)) -> (f64, f64) {
        let moved = |other: &Row, at| row.shared(other) + self.supplies.shared(place, at) * row.by_supply(other);
        let with: Vec<f64> = self.numbers.iter().map(|k| moved(&k.row, k.place)).collect();
        let shift = with.iter().zip(&self.numbers).map(|(c, k)| c * k.pull).sum();
        let rows = self.inverse.chunks_exact(with.len().max(1));
        let known: f64 =
            with.iter().zip(rows).map(|(c, r)| c * r.iter().zip(&with).map(|(k, x)| k * x).sum::<f64>()).sum();
        (shift, (moved(row, place) + row.rest() - known).max(0.0))
    }
}

impl<'n> Belief<'n> {
    /// What the readings so far say if this suspect is present, at one point of its grid on one path.
    pub fn outlook(&self, suspect: SuspectId, point: usize, path: usize) -> Outlook {
        self.outlook_without(&[], suspect, point, path)
    }

    /// The same from all readings but those that are left out (positions of the evidence).
    pub fn outlook_without(&self, left_out: &[usize], suspect: SuspectId, point: usize, path: usize) -> Outlook {
        // Words say nothing about the unknowns that move numbers.
        if self.seen.observations.iter().all(|o| o.answer.value().is_none()) {
            return Outlook::default();
        }
        let mut suspect = suspect;
        let mut at = (point, path);
        if self.fits[suspect].is_none() {
            // What changes nothing so far is the healthy circuit.
            let Some(healthy) = self.tracks().ids().next() else { return Outlook::default() };
            (suspect, at) = (healthy, (0, 0));
        }
        let (Some(fit), false) = (&self.fits[suspect], self.strays().is_none()) else { return Outlook::default() };
        let track = &self.tracks()[suspect];
        let scene = self.scene(&self.seen, left_out);
        let mut best: Option<(f64, f64, usize, Course, Left<'_>)> = None;
        for (c, cell) in fit.cells.iter().enumerate().filter(|(_, c)| c.ends.contains(&at)) {
            for (course, chance) in fit.courses(c) {
                let Some(solved) = fit.solved(c, course) else { continue };
                let log = cell.log_weight + chance.ln();
                // Where even its summit is lower it cannot be the best.
                if best.as_ref().is_some_and(|b| b.0 > log + solved.precision.summit) {
                    continue;
                }
                let (peak, left) = scene.ways(fit, c, solved, (log, Vec::new()), &mut Ways::default());
                if best.as_ref().is_none_or(|b| peak > b.0) {
                    best = Some((peak, left.quadratic.summit(), c, course, left));
                }
            }
        }
        let Some((_, t, c, course, left)) = best else { return Outlook::default() };
        let pull = left.pull(t);
        let stay = |i: usize| self.seen.observations.get(i).map_or(0, |o| o.stay);
        let alive: Vec<usize> = (0..pull.len()).filter(|p| left.has(*p)).collect();
        let numbers: Vec<Known> = alive
            .iter()
            .map(|p| {
                let i = fit.cells[c].numbers[*p];
                Known { row: row_at(track, at.0, at.1, i), place: (i, stay(i)), pull: pull[*p] }
            })
            .collect();
        let supply = self.main_supply(&numbers);
        let steep = left.quadratic.gamma.max(12.0);
        // Within a cell any severity is as likely as any other, unless the readings say more.
        let within = Some(Within { ends: fit.cells[c].ends, share: t, sigma: 1.0 / steep.sqrt() });
        Outlook { inverse: left.among(&alive), numbers, supplies: fit.supplies(course), supply, within }
    }

    /// The same for the likeliest suspect at its likeliest severity, of those that leave the supplies alone: what they make of
    /// the readings is how the supplies stand against their description.
    pub fn best_outlook(&self, posterior: &Posterior) -> Outlook {
        let best = posterior
            .probability
            .enumerate()
            .filter(|(id, _)| !self.alters_supply(*id))
            .max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0)));
        let Some((suspect, _)) = best else { return Outlook::default() };
        self.outlook(suspect, posterior.likeliest_point(suspect), 0)
    }

    fn alters_supply(&self, suspect: SuspectId) -> bool {
        self.suspects().edits(suspect, Ohms::ZERO, &[]).iter().any(|edit| match edit {
            Edit::Open(e) | Edit::Replace(e, _) | Edit::Series(e, _) | Edit::Stuck(e, _) => self.sources.contains(e),
            Edit::Move { element, .. } => self.sources.contains(element),
            Edit::Bridge(..) => false,
        })
    }

    /// The place of a reading that is still to be taken, in the last stay or in a new one.
    pub fn next_place(&self, present: bool) -> (usize, usize) {
        let stays = self.seen.stays.len();
        let present = present && !self.is_mended();
        (self.seen.observations.len(), if present { stays.saturating_sub(1) } else { stays })
    }

    /// A prediction moved to where the readings so far put it, and its standard deviation by shared unknowns. `suspect` at
    /// `point` is what the operating point was computed with.
    pub fn shifted(
        &self,
        outlook: &Outlook,
        (suspect, point): (SuspectId, usize),
        reading: &Reading<'_, 'n>,
        predicted: Predicted,
    ) -> (Predicted, f64) {
        let ohms = self.tracks()[suspect].points.get(point).map(|p| p.ohms).unwrap_or_default();
        let edits = self.suspects().edits(suspect, ohms, &self.cured());
        self.moved(outlook, reading, predicted, |_| {
            Row::new(self.network(), reading.state, reading.probe, &edits, self.strays())
        })
    }

    /// What the healthy circuit shows with the supplies as they were found: all other parts as described.
    pub fn follow_supplies(&self, outlook: &Outlook, reading: &Reading<'_, 'n>, predicted: Predicted) -> Predicted {
        let row = |_| {
            let row = Row::new(self.network(), reading.state, reading.probe, &[], self.strays());
            row.by_supplies_alone(self.network().netlist())
        };
        self.moved(outlook, reading, predicted, row).0
    }

    /// How far a reading of the healthy circuit may be off by the tolerances of its parts and supplies, as far as the readings so
    /// far leave them open: one standard deviation, in volts or amps.
    pub fn spread_when_well(&self, outlook: &Outlook, reading: &Reading<'_, 'n>, predicted: &Predicted) -> f64 {
        let row = |_| Row::new(self.network(), reading.state, reading.probe, &[], self.strays());
        self.moved(outlook, reading, predicted.clone(), row).1
    }

    /// The same as [`shifted`](Self::shifted) at a glance: the reading is taken to move in proportion to the supply that moved
    /// the readings so far, or the first that reaches it.
    pub fn glance(&self, outlook: &Outlook, reading: &Reading<'_, 'n>, predicted: Predicted) -> (Predicted, f64) {
        self.moved(outlook, reading, predicted, |mean| match self.supply_of(outlook, reading) {
            Some(supply) => Row::in_proportion(supply, mean, self.strays()),
            None => Row::default(),
        })
    }

    fn moved(
        &self,
        outlook: &Outlook,
        reading: &Reading<'_, 'n>,
        predicted: Predicted,
        row: impl Fn(f64) -> Row,
    ) -> (Predicted, f64) {
        match predicted {
            Predicted::Number { mean, floating: false, jumps } if jumps < 1.0 && !self.strays().is_none() => {
                let (shift, variance) = outlook.of(&row(mean), reading.place);
                (Predicted::Number { mean: mean + shift, floating: false, jumps }, variance.sqrt())
            }
            other => (other, 0.0),
        }
    }

    fn supply_of(&self, outlook: &Outlook, reading: &Reading<'_, 'n>) -> Option<ElementId> {
        let elements = &self.network().netlist().elements;
        let at = match reading.probe {
            Probe::Volts { red, .. } => *red,
            Probe::Amps { element, .. } => elements.get(*element)?.from,
            Probe::Ohms { .. } | Probe::Light { .. } | Probe::Look(_) => return None,
        };
        let reaches = |id: &ElementId| reading.state.voltage(elements[*id].from, at).is_some();
        outlook.supply.filter(reaches).or_else(|| self.sources.iter().copied().find(reaches))
    }

    fn main_supply(&self, numbers: &[Known]) -> Option<ElementId> {
        let moved = |id: ElementId| {
            let unit = Row::in_proportion(id, 1.0, self.strays());
            numbers.iter().map(|k| k.row.by_supply(&unit).abs()).sum::<f64>()
        };
        let all = self.sources.iter().copied().map(|id| (moved(id), id)).filter(|(by, _)| *by > 0.0);
        all.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1))).map(|(_, id)| id)
    }

    /// What the healthy circuit would have shown for an observation, with the supplies as they were found.
    pub fn expected(&self, outlook: &Outlook, evidence: &Evidence, observation: usize) -> Option<Predicted> {
        let healthy = self.tracks().iter().next()?;
        let path = healthy.points.first()?.paths.first()?;
        let predicted = path.predicted.get(observation)?.clone();
        let taken = evidence.observations.get(observation)?;
        let Some(state) = path.state(taken.stay) else { return Some(predicted) };
        let reading = Reading { probe: &taken.probe, state, place: (observation, taken.stay) };
        Some(self.follow_supplies(outlook, &reading, predicted))
    }
}
