//! The probability of every suspect given all readings.

use super::density::{Noise, most_of_answer, of_unknown};
use super::inert::{Healthy, Near};
use super::integral::{alike, likelihood};
use super::track::{Track, Tracks};
use super::{Answer, Evidence, Observation, Probe, Senses, occasion};
use crate::index::IdVec;
use crate::network::Network;
use crate::suspects::{GroupId, SuspectId, Suspects};
use crate::units::Ohms;

/// Cells a decade: the ends of the range alone, as long as they predict the same; then a coarse grid; a fine one for
/// likely suspects.
const CELLS: [usize; 3] = [0, 4, 16];
/// A suspect whose log-posterior lies this far below the best can gain nothing from one wrong reading, and is not followed
/// (`ln 1e9`; a single reading is worth at most about 10).
const HOPELESS: f64 = 20.7;
/// Suspects at least this likely are refined.
const REFINE_ABOVE: f64 = 1e-3;
/// Nodes from which a circuit is large: the operating points of unlikely suspects are then not kept between observations.
const LARGE: usize = 1000;
/// Log-posterior below the best from which a suspect is unlikely in that sense (`ln 1e4`).
const UNLIKELY: f64 = 9.2;

/// Keeps the predictions of all suspects, and turns evidence into a posterior.
pub struct Belief<'n> {
    network: &'n Network<'n>,
    suspects: &'n Suspects,
    senses: &'n Senses,
    noise: Noise,
    tracks: Tracks<'n>,
    /// Log-posterior of each suspect at the last update, up to a constant: the order in which they are taken next.
    logs: IdVec<SuspectId, f64>,
    healthy: Healthy<'n>,
    /// Suspects that change nothing so far, and predict what the healthy circuit predicts.
    inert: IdVec<SuspectId, bool>,
    seen: Evidence,
}

/// Probabilities of all suspects; with the unknown they sum to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    /// Log of the likelihood of all readings, integrated over severity.
    pub log_likelihood: IdVec<SuspectId, f64>,
    /// Probability.
    pub probability: IdVec<SuspectId, f64>,
    /// Share of each severity point (by position in the suspect's grid), summing to 1.
    pub severities: IdVec<SuspectId, Vec<f64>>,
    /// Log-likelihood of something that is not modelled.
    pub log_unknown: f64,
    /// Its probability.
    pub unknown: f64,
    /// Repair groups with their probability, likeliest first; equal ones in order of their id.
    pub groups: Vec<(GroupId, f64)>,
}

impl<'n> Belief<'n> {
    /// Starts with all suspects at their priors.
    pub fn new(network: &'n Network<'n>, suspects: &'n Suspects, senses: &'n Senses, noise: Noise) -> Self {
        let list = suspects.list();
        let tracks = list.ids().map(|id| Track::start(suspects, id, CELLS[0])).collect();
        let logs = list.iter().map(|s| s.prior.ln()).collect();
        let inert = list.iter().map(|_| false).collect();
        let healthy = Healthy::default();
        Self { network, suspects, senses, noise, tracks, logs, healthy, inert, seen: Evidence::default() }
    }

    /// The posterior before any evidence.
    pub fn prior(&self) -> Posterior {
        self.weigh(&Evidence::default(), None)
    }
    /// The suspects.
    pub fn suspects(&self) -> &'n Suspects {
        self.suspects
    }
    /// The network.
    pub fn network(&self) -> &'n Network<'n> {
        self.network
    }
    /// What can be perceived.
    pub fn senses(&self) -> &'n Senses {
        self.senses
    }
    /// The errors that are reckoned with.
    pub fn noise(&self) -> &Noise {
        &self.noise
    }
    /// The predictions as they are after the last `update`.
    pub fn tracks(&self) -> &Tracks<'n> {
        &self.tracks
    }

    /// The posterior given `evidence`: a function of the evidence alone, whatever was entered before and taken back.
    pub fn update(&mut self, evidence: &Evidence) -> Posterior {
        let stays = common(&self.seen.stays, &evidence.stays, |a, b| a == b);
        let observations = common(&self.seen.observations, &evidence.observations, |a, b| {
            let taken = |o: &Observation| o.answer != Answer::NotTaken;
            a.probe == b.probe && a.stay == b.stay && a.stay < stays && taken(a) == taken(b)
        });
        for track in self.tracks.iter_mut() {
            track.truncate(stays, observations);
        }
        self.seen = evidence.clone();
        self.find_inert(evidence);
        let mut order: Vec<SuspectId> = self.suspects.list().ids().collect();
        order.sort_by(|a, b| self.logs[*b].total_cmp(&self.logs[*a]).then(a.cmp(b)));
        let mut best = f64::NEG_INFINITY;
        let large = self.network.netlist().nodes.len() > LARGE;
        for id in order {
            let prior = self.suspects.list()[id].prior.ln();
            if self.inert[id] {
                self.logs[id] = prior;
                continue;
            }
            let hope = prior + self.most(id, evidence);
            self.logs[id] = hope;
            // What a good circuit would have shown is said to the end, however little it explains.
            if hope >= best - HOPELESS || self.suspects.list()[id].faults.is_empty() {
                self.follow(id, evidence);
                self.logs[id] = prior + likelihood(&self.tracks[id], evidence, None, &self.noise).0;
                best = best.max(self.logs[id]);
                if large && self.logs[id] < best - UNLIKELY {
                    self.tracks[id].forget_states();
                }
            }
        }
        let posterior = self.weigh(evidence, None);
        if self.refine(&posterior, evidence) { self.weigh(evidence, None) } else { posterior }
    }

    /// Finds the suspects that change nothing in the set-ups so far and lie away from every point that was probed. A function
    /// of the evidence alone; the healthy circuit itself is never among them.
    fn find_inert(&mut self, evidence: &Evidence) {
        self.healthy = Healthy::default();
        self.healthy.follow(self.network, evidence);
        let mut probes: Vec<&Probe> = Vec::new();
        for observation in &evidence.observations {
            if !probes.contains(&&observation.probe) {
                probes.push(&observation.probe);
            }
        }
        let near: Vec<Near> = probes.into_iter().map(|p| self.healthy.near(self.network, p)).collect();
        for id in self.suspects.list().ids() {
            let ends = match self.suspects.severity(id) {
                Some(severity) => vec![severity.low, severity.high],
                None => vec![Ohms::ZERO],
            };
            self.inert[id] = !self.suspects.list()[id].faults.is_empty()
                && ends.into_iter().all(|ohms| {
                    let edits = self.suspects.edits(id, ohms);
                    self.healthy.is_inert(&edits) && !near.iter().any(|n| n.touches(&edits))
                });
        }
    }

    /// The most that a suspect's log-likelihood can still be: that of what it has predicted, and the rest as if it fitted best.
    fn most(&self, id: SuspectId, evidence: &Evidence) -> f64 {
        let track = &self.tracks[id];
        let done = track.points.iter().flat_map(|p| &p.paths).map(|p| p.predicted.len()).min().unwrap_or(0);
        let rest = evidence.observations.iter().skip(done);
        let ahead: f64 = rest.map(|o| f64::from(o.times) * most_of_answer(&o.answer, &self.noise)).sum();
        likelihood(track, evidence, None, &self.noise).0 + ahead
    }

    /// Whether a suspect was taken through all the evidence; one that was not is hopeless.
    fn followed(&self, id: SuspectId, evidence: &Evidence) -> bool {
        let paths = self.tracks[id].points.iter().flat_map(|p| &p.paths);
        paths.map(|p| p.predicted.len()).min().unwrap_or(0) >= evidence.observations.len()
    }

    /// Takes a suspect through all the evidence, on a grid as soon as the ends of its range differ.
    fn follow(&mut self, id: SuspectId, evidence: &Evidence) {
        self.tracks[id].extend(self.network, self.suspects, self.senses, evidence);
        if self.tracks[id].cells_per_decade == CELLS[0] && self.tracks[id].points.len() > 1 {
            let [low, .., high] = &self.tracks[id].points[..] else { return };
            if !alike(low, high, &self.noise) {
                self.regrid(id, CELLS[1], evidence);
            }
        }
    }

    fn regrid(&mut self, id: SuspectId, cells: usize, evidence: &Evidence) {
        let mut track = Track::start(self.suspects, id, cells);
        track.extend(self.network, self.suspects, self.senses, evidence);
        self.tracks[id] = track;
    }

    /// The posterior of the last evidence with one observation left out (no new predictions are made).
    pub fn without(&self, evidence: &Evidence, observation: usize) -> Posterior {
        self.weigh(evidence, Some(observation))
    }

    fn refine(&mut self, posterior: &Posterior, evidence: &Evidence) -> bool {
        let mut refined = false;
        for id in self.suspects.list().ids() {
            let coarse =
                !self.inert[id] && self.tracks[id].cells_per_decade == CELLS[1] && self.tracks[id].points.len() > 1;
            if coarse && posterior.probability[id] >= REFINE_ABOVE {
                self.regrid(id, CELLS[2], evidence);
                refined = true;
            }
        }
        refined
    }

    fn weigh(&self, evidence: &Evidence, left_out: Option<usize>) -> Posterior {
        let healthy = self.tracks.iter().next().map_or(0.0, |t| likelihood(t, evidence, left_out, &self.noise).0);
        let timing = self.senses.timing.as_deref();
        let timed = |t: &Track<'_>, (log, shares): (f64, Vec<f64>)| {
            let faults = &self.suspects.list()[t.suspect].faults;
            let (factor, shares) = occasion::weigh(timing, evidence, faults, t, &shares);
            (log + factor, shares)
        };
        let likelihoods: IdVec<SuspectId, (f64, Vec<f64>)> = self
            .tracks
            .iter()
            .map(|t| {
                let plain = if self.inert[t.suspect] {
                    (healthy, vec![1.0 / t.points.len() as f64; t.points.len()])
                } else if self.followed(t.suspect, evidence) {
                    likelihood(t, evidence, left_out, &self.noise)
                } else {
                    (f64::NEG_INFINITY, vec![0.0; t.points.len()])
                };
                timed(t, plain)
            })
            .collect();
        // The unknown has no circuit; only the sort of each observation (how many words) is taken from the healthy one.
        let shape = self.tracks.iter().find_map(|t| t.points.first()?.paths.first());
        let log_unknown = evidence
            .observations
            .iter()
            .enumerate()
            .filter(|(i, _)| Some(*i) != left_out)
            .map(|(i, o)| {
                let sort = shape.and_then(|p| p.predicted.get(i));
                sort.map_or(0.0, |p| f64::from(o.times) * of_unknown(&o.answer, p, &self.noise).ln())
            })
            .sum::<f64>();
        self.normalise(&likelihoods, log_unknown + occasion::of_unknown(timing, evidence))
    }

    fn normalise(&self, likelihoods: &IdVec<SuspectId, (f64, Vec<f64>)>, log_unknown: f64) -> Posterior {
        let list = self.suspects.list();
        let logs: IdVec<SuspectId, f64> = list.enumerate().map(|(id, s)| s.prior.ln() + likelihoods[id].0).collect();
        let unknown = self.suspects.shares().unknown.ln() + log_unknown;
        let top = logs.iter().copied().fold(unknown, f64::max);
        let total: f64 = logs.iter().map(|l| (l - top).exp()).sum::<f64>() + (unknown - top).exp();
        let probability: IdVec<SuspectId, f64> = logs.iter().map(|l| (l - top).exp() / total).collect();
        let mut groups: Vec<(GroupId, f64)> = self
            .suspects
            .groups()
            .enumerate()
            .map(|(id, g)| (id, g.members.iter().map(|s| probability[*s]).sum()))
            .collect();
        groups.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let (log_likelihood, severities) = unzip(likelihoods);
        Posterior {
            log_likelihood,
            probability,
            severities,
            log_unknown,
            unknown: (unknown - top).exp() / total,
            groups,
        }
    }
}

impl Posterior {
    /// Log-likelihood of the suspect that explains the readings best, 'something not modelled' left aside.
    pub fn best_log_likelihood(&self) -> f64 {
        self.log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// Whether the likelihood of all readings is below 1/100 of the best suspect's.
    pub fn ruled_out(&self, suspect: SuspectId) -> bool {
        self.log_likelihood[suspect] < self.best_log_likelihood() - 100_f64.ln()
    }
}

fn common<T>(a: &[T], b: &[T], same: impl Fn(&T, &T) -> bool) -> usize {
    a.iter().zip(b).take_while(|(x, y)| same(x, y)).count()
}

fn unzip(pairs: &IdVec<SuspectId, (f64, Vec<f64>)>) -> (IdVec<SuspectId, f64>, IdVec<SuspectId, Vec<f64>>) {
    let logs = pairs.iter().map(|p| p.0).collect();
    let weights = pairs.iter().map(|p| p.1.clone()).collect();
    (logs, weights)
}
