//! From evidence to a posterior: the suspects' predictions are kept between readings.

use super::blunders::{Blunder, Latent, latents};
use super::density::{Noise, most_of_answer};
use super::fit::Fit;
use super::inert::{Healthy, Near};
use super::integral::{Scene, alike};
use super::left_out::LeftOut;
use super::levels::Levels;
use super::spoilt::Spoilt;
use super::track::{Track, Tracks};
use super::{Answer, Evidence, Marks, Observation, Posterior, Probe, Senses, Strays};
use crate::circuit::{ElementId, Primitive};
use crate::index::IdVec;
use crate::network::Network;
use crate::suspects::{FaultId, Set, Suspect, SuspectId, Suspects};
use crate::units::Ohms;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// Cells a decade: the ends of the range alone, as long as they predict the same; then a coarse grid; a fine one for
/// likely suspects.
const CELLS: [usize; 3] = [0, 4, 16];
/// A suspect whose log-posterior lies this far below the best can gain nothing from one wrong reading, and is not followed
/// (`ln 1e9`; a single reading is worth at most about 10).
pub(super) const HOPELESS: f64 = 20.7;
/// Suspects at least this likely are refined.
const REFINE_ABOVE: f64 = 1e-3;
/// Most faults that are looked for together.
const MOST_TOGETHER: usize = 3;
/// So many numbers the operating points that are kept between observations may hold (some 50 MB), those of the suspects that
/// were likeliest before coming first: those of unlikely suspects are then made again when they are needed.
const ROOM: usize = 4_000_000;
/// Log-posterior below the best from which a suspect is unlikely in that sense (`ln 1e4`).
const UNLIKELY: f64 = 9.2;

/// Keeps the predictions of all suspects, and turns evidence into a posterior.
pub struct Belief<'n> {
    network: &'n Network<'n>,
    /// Those that the job began with, and after them every set of them that the readings have asked for.
    suspects: Suspects,
    /// How many the job began with.
    singles: usize,
    /// Which of them count now: of the sets, those that the readings ask for.
    pub(super) active: IdVec<SuspectId, bool>,
    senses: &'n Senses,
    noise: Noise,
    strays: Strays,
    tracks: Tracks<'n>,
    /// Rough tracks of suspects that are hopeless by themselves, from which sets are estimated.
    pub(super) rough: BTreeMap<SuspectId, Track<'n>>,
    /// The joint densities of the suspects that are in play.
    pub(super) fits: IdVec<SuspectId, Option<Fit>>,
    /// Log-likelihood of each suspect at the last update, and the number of observations that it counts.
    known: IdVec<SuspectId, Option<(usize, f64)>>,
    /// What may have gone wrong in taking the readings.
    pub(super) latents: Vec<Latent>,
    /// What the evidence comes to where they have spoilt it.
    spoilt: Spoilt,
    /// The elements that are supplies.
    pub(super) sources: Vec<ElementId>,
    /// Log-posterior of each suspect at the last update, up to a constant: the order in which they are taken next.
    pub(super) logs: IdVec<SuspectId, f64>,
    healthy: Healthy<'n>,
    pub(super) levels: Levels,
    left_out: LeftOut,
    /// Suspects that change nothing so far, and predict what the healthy circuit predicts.
    pub(super) inert: IdVec<SuspectId, bool>,
    pub(super) seen: Evidence,
}

impl<'n> Belief<'n> {
    /// Starts with all suspects at their priors.
    pub fn new(network: &'n Network<'n>, suspects: &Suspects, senses: &'n Senses, noise: Noise) -> Self {
        let list = suspects.list();
        let tracks = list.ids().map(|id| Track::start(suspects, id, CELLS[0])).collect();
        let logs = list.iter().map(|s| s.prior.ln()).collect();
        let inert = list.iter().map(|_| false).collect();
        let healthy = Healthy::default();
        Self {
            network,
            suspects: suspects.clone(),
            singles: list.len(),
            active: list.iter().map(|_| true).collect(),
            senses,
            noise,
            strays: Strays::default(),
            tracks,
            rough: BTreeMap::new(),
            fits: list.iter().map(|_| None).collect(),
            known: list.iter().map(|_| None).collect(),
            latents: Vec::new(),
            spoilt: Spoilt::default(),
            sources: sources(network),
            logs,
            healthy,
            levels: Levels::default(),
            left_out: LeftOut::default(),
            inert,
            seen: Evidence::default(),
        }
    }

    /// The same with healthy parts that stray from their description.
    #[must_use]
    pub fn straying(self, strays: Strays) -> Self {
        Self { strays, ..self }
    }

    /// The posterior before any evidence.
    pub fn prior(&self) -> Posterior {
        self.weigh(&Evidence::default(), &[])
    }
    /// The suspects.
    pub fn suspects(&self) -> &Suspects {
        &self.suspects
    }
    /// The network.
    pub fn network(&self) -> &'n Network<'n> {
        self.network
    }
    /// The suspects that change nothing so far: they predict what a good circuit shows, and are not solved.
    pub fn asleep(&self) -> impl Iterator<Item = SuspectId> {
        self.inert.enumerate().filter(|(_, inert)| **inert).map(|(id, _)| id)
    }
    /// What can be perceived.
    pub fn senses(&self) -> &'n Senses {
        self.senses
    }
    /// The errors that are reckoned with.
    pub fn noise(&self) -> &Noise {
        &self.noise
    }
    /// How far healthy parts stray.
    pub fn strays(&self) -> &Strays {
        &self.strays
    }
    /// The predictions as they are after the last `update`.
    pub fn tracks(&self) -> &Tracks<'n> {
        &self.tracks
    }

    /// The posterior given `evidence`: a function of the evidence alone, whatever was entered before and taken back.
    pub fn update(&mut self, evidence: &Evidence) -> Posterior {
        let repairs = common(&self.seen.repairs, &evidence.repairs, |a, b| a == b);
        let other = self.seen.repairs.iter().chain(&evidence.repairs);
        let mended = other.filter(|r| !evidence.repairs[..repairs].contains(r)).map(|r| r.before).min();
        let stays = common(&self.seen.stays, &evidence.stays, |a, b| a == b).min(mended.unwrap_or(usize::MAX));
        let observations = common(&self.seen.observations, &evidence.observations, |a, b| {
            let taken = |o: &Observation| o.answer != Answer::NotTaken;
            a.probe == b.probe && a.stay == b.stay && a.stay < stays && taken(a) == taken(b)
        });
        let answered = common(&self.seen.observations, &evidence.observations, |a, b| a == b).min(observations);
        for id in self.suspects.list().ids() {
            // A grid that was made finer by what is now taken back starts again: nothing of that may stay.
            if self.tracks[id].grown_at > observations {
                self.tracks[id] = Track::start(&self.suspects, id, CELLS[0]);
            }
            self.tracks[id].truncate(stays, observations);
            self.fits[id] = None;
            self.known[id] = self.known[id].filter(|(count, _)| *count <= answered);
        }
        for track in self.rough.values_mut() {
            track.truncate(stays, observations);
        }
        self.left_out.clear();
        self.seen = evidence.clone();
        let elsewhere = self.elsewhere(evidence);
        self.latents = latents(evidence, &self.noise, &elsewhere);
        self.spoilt = Spoilt::new(evidence, &self.latents, &self.noise);
        for active in self.active.iter_mut().skip(self.singles) {
            *active = false;
        }
        self.find_inert(evidence);
        let order = self.singles().chain(self.still_there(evidence)).collect();
        let best = self.follow_all(order, f64::NEG_INFINITY, evidence);
        let best = self.follow_elsewhere(best, evidence);
        let mut posterior = self.weighed_anew(best, evidence);
        for _ in 1..MOST_TOGETHER {
            // A complaint that outlives a repair speaks for a second fault by itself.
            let alone = self.suspects.shares().another <= 0.0;
            if alone || evidence.repairs.is_empty() && !self.leaves_unexplained(&posterior, evidence) {
                break;
            }
            posterior = self.with_sets(&posterior, evidence);
        }
        for id in self.suspects.list().ids().skip(self.singles) {
            if !self.active[id] {
                self.tracks[id].forget_states();
            }
        }
        posterior
    }

    /// Log-posterior of the likeliest suspect, up to a constant.
    pub(super) fn best(&self) -> f64 {
        let active = self.logs.enumerate().filter(|(id, _)| self.active[*id]);
        active.map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max)
    }

    /// The posterior without the suspects that are hopeless beside the best, the likely ones on a fine grid.
    pub(super) fn weighed_anew(&mut self, best: f64, evidence: &Evidence) -> Posterior {
        for id in self.suspects.list().ids() {
            if self.logs[id] < best - HOPELESS {
                self.fits[id] = None;
            }
        }
        let posterior = self.weigh(evidence, &[]);
        if self.refine(&posterior, evidence) { self.weigh(evidence, &[]) } else { posterior }
    }

    /// Counts a set of faults among the suspects from here on; its id, whether it was one before or not.
    pub(super) fn admit(&mut self, set: Set, prior: f64) -> SuspectId {
        let same = |s: &Suspect| {
            s.faults == set.faults && s.pins == set.pins && s.stays == set.stays && s.supplies == set.supplies
        };
        let known = self.suspects.list().enumerate().skip(self.singles).find(|(_, s)| same(s)).map(|(id, _)| id);
        let id = known.unwrap_or_else(|| {
            let id = self.suspects.add_set(set, prior);
            self.active.push(true);
            self.tracks.push(Track::start(&self.suspects, id, CELLS[0]));
            self.fits.push(None);
            self.known.push(None);
            self.logs.push(prior.ln());
            self.inert.push(false);
            id
        });
        // What it stands for beside itself may be other than the last time.
        self.suspects.weigh(id, prior);
        self.active[id] = true;
        id
    }

    /// What was repaired, as if it had not been: a repair may be no good, or may have been made at another place than the fault.
    fn still_there(&mut self, evidence: &Evidence) -> Vec<SuspectId> {
        let cured = evidence.cured(evidence.stays.len());
        let list = self.suspects.list();
        let is_repaired = |id: &SuspectId| list[*id].faults.iter().any(|f| cured.contains(f));
        let of = |id: SuspectId| (list[id].faults.clone(), list[id].prior * self.suspects.shares().no_good);
        let repaired: Vec<(Vec<FaultId>, f64)> = self.singles().filter(is_repaired).map(of).collect();
        let set = |faults| Set { faults, stays: true, ..Set::default() };
        repaired.into_iter().map(|(faults, prior)| self.admit(set(faults), prior)).collect()
    }

    /// The faults that were cured up to now.
    pub fn cured(&self) -> Vec<FaultId> {
        self.seen.cured(self.seen.stays.len())
    }

    /// Whether something was repaired since the last observation.
    pub fn is_mended(&self) -> bool {
        self.seen.is_mended(self.seen.stays.len())
    }

    /// The suspects that the job began with, by id.
    pub(super) fn singles(&self) -> impl Iterator<Item = SuspectId> + use<> {
        self.suspects.list().ids().take(self.singles)
    }

    /// Takes the suspects of a list that are not hopeless through all the evidence; the log-posterior of the best of them and
    /// `best`.
    pub(super) fn follow_all(&mut self, mut order: Vec<SuspectId>, mut best: f64, evidence: &Evidence) -> f64 {
        order.sort_by(|a, b| self.logs[*b].total_cmp(&self.logs[*a]).then(a.cmp(b)));
        let mut held = 0;
        let (asleep, awake): (Vec<SuspectId>, Vec<SuspectId>) = order.into_iter().partition(|id| self.inert[*id]);
        for id in awake {
            let prior = self.suspects.list()[id].prior.ln();
            let hope = prior + self.most(id, evidence);
            self.logs[id] = hope;
            // What a good circuit would have shown is said to the end, however little it explains.
            if hope >= best - HOPELESS || self.suspects.list()[id].faults.is_empty() {
                self.follow(id, evidence);
                self.logs[id] = prior + self.fitted(id, evidence);
                best = best.max(self.logs[id]);
                held += self.tracks[id].size();
                if held > ROOM && self.logs[id] < best - UNLIKELY {
                    self.tracks[id].forget_states();
                }
            }
        }
        // What changes nothing so far explains as much as a good circuit does, and no more.
        let healthy = self.fits.iter().next().and_then(|fit| fit.as_ref()?.whole()).map_or(0.0, |whole| whole.log);
        for id in asleep {
            self.logs[id] = self.suspects.list()[id].prior.ln() + healthy;
            best = best.max(self.logs[id]);
        }
        best
    }

    /// Makes the joint density of a suspect that was taken through all the evidence; its log-likelihood.
    fn fitted(&mut self, id: SuspectId, evidence: &Evidence) -> f64 {
        let track = &self.tracks[id];
        let fit = Fit::new(track, evidence, &self.noise, &self.strays);
        let whole = self.scene(evidence, &[]).weigh_sparing(track, &fit);
        let log = whole.log;
        self.known[id] = Some((fit.observed, log));
        fit.keep(whole);
        self.fits[id] = Some(fit);
        log
    }

    pub(super) fn scene<'a>(&'a self, evidence: &'a Evidence, left_out: &'a [usize]) -> Scene<'a> {
        Scene { evidence, latents: &self.latents, spoilt: &self.spoilt, noise: &self.noise, left_out }
    }

    /// Finds the suspects that change nothing in the set-ups so far and lie away from every point that was probed. A function
    /// of the evidence alone; the healthy circuit itself is never among them.
    fn find_inert(&mut self, evidence: &Evidence) {
        self.healthy.follow(self.network, evidence);
        let mut probes: Vec<&Probe> = Vec::new();
        for observation in &evidence.observations {
            if !probes.contains(&&observation.probe) {
                probes.push(&observation.probe);
            }
        }
        let marks: Vec<&Marks> = probes.iter().filter_map(|probe| self.senses.marks(probe)).collect();
        let near: Vec<Rc<Near>> = probes.into_iter().flat_map(|p| self.healthy.near(self.network, p)).collect();
        for id in self.suspects.list().ids().take(self.singles) {
            let ends = match self.suspects.severity(id) {
                Some(severity) => vec![severity.low, severity.high],
                None => vec![Ohms::ZERO],
            };
            let faults = &self.suspects.list()[id].faults;
            self.inert[id] = !faults.is_empty()
                && !marks.iter().any(|marks| marks.touches(faults))
                && ends.into_iter().all(|ohms| {
                    let edits = self.suspects.edits(id, ohms, &[]);
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
        let so_far = match self.known[id] {
            Some((count, log)) if count == done => log,
            _ if done == 0 => 0.0,
            _ => {
                let fit = Fit::new(track, evidence, &self.noise, &self.strays);
                self.scene(evidence, &[]).weigh(track, &fit).log
            }
        };
        so_far + ahead
    }

    /// Takes a suspect through all the evidence, on a grid as soon as the ends of its range differ.
    pub(super) fn follow(&mut self, id: SuspectId, evidence: &Evidence) {
        self.tracks[id].extend(self.network, &self.suspects, self.senses, evidence);
        if self.tracks[id].cells_per_decade == CELLS[0] && self.tracks[id].points.len() > 1 {
            let [low, .., high] = &self.tracks[id].points[..] else { return };
            if !alike(low, high, &self.noise) {
                self.regrid(id, CELLS[1], evidence);
                return;
            }
        }
        self.tracks[id].add_rows(self.network, &self.suspects, evidence, &self.strays);
    }

    fn regrid(&mut self, id: SuspectId, cells: usize, evidence: &Evidence) {
        let mut track = Track::start(&self.suspects, id, cells);
        track.grown_at = evidence.observations.len();
        track.extend(self.network, &self.suspects, self.senses, evidence);
        track.add_rows(self.network, &self.suspects, evidence, &self.strays);
        self.tracks[id] = track;
    }

    /// Of each suspect that the job began with, whether it is ruled out, by itself and in every set that it belongs to.
    pub fn out(&self, posterior: &Posterior) -> IdVec<SuspectId, bool> {
        let list = self.suspects.list();
        let least = posterior.ruled_out_below();
        let ruled_out = |id: SuspectId| posterior.log_likelihood[id] < least;
        let left: BTreeSet<FaultId> = (list.enumerate().skip(self.singles))
            .filter(|(id, _)| self.active[*id] && !ruled_out(*id))
            .flat_map(|(_, set)| set.faults.iter().copied())
            .collect();
        let out = |id: SuspectId| ruled_out(id) && !list[id].faults.iter().any(|f| left.contains(f));
        self.singles().map(out).collect()
    }

    /// The posterior of the last evidence with some observations left out (no new predictions are made).
    pub fn without(&self, evidence: &Evidence, observations: &[usize]) -> Rc<Posterior> {
        let make = || self.weigh(evidence, observations);
        if *evidence == self.seen { self.left_out.get(observations, make) } else { Rc::new(make()) }
    }

    /// Blunders that would spoil several readings at once: of the black lead, of the set-up, each for the whole of its stay.
    pub fn lasting(&self) -> impl Iterator<Item = &Blunder> {
        self.latents.iter().filter(|l| !l.late).map(|l| &l.blunder).filter(|b| b.spoils().len() > 1)
    }

    fn refine(&mut self, posterior: &Posterior, evidence: &Evidence) -> bool {
        let mut refined = false;
        for id in self.suspects.list().ids() {
            let coarse =
                !self.inert[id] && self.tracks[id].cells_per_decade == CELLS[1] && self.tracks[id].points.len() > 1;
            if coarse && posterior.probability[id] >= REFINE_ABOVE {
                self.regrid(id, CELLS[2], evidence);
                self.fitted(id, evidence);
                refined = true;
            }
        }
        refined
    }
}

fn sources(network: &Network<'_>) -> Vec<ElementId> {
    let all = network.netlist().elements.enumerate();
    all.filter(|(_, e)| matches!(e.primitive, Primitive::Source { .. })).map(|(id, _)| id).collect()
}

fn common<T>(a: &[T], b: &[T], same: impl Fn(&T, &T) -> bool) -> usize {
    a.iter().zip(b).take_while(|(x, y)| same(x, y)).count()
}
