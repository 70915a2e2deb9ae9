//! The course of a job: what was observed so far, what to observe next, and what can be said.

use super::{Complaint, Fact, System};
use crate::belief::{
    Answer, Belief, Evidence, Limits, Noise, Observation, Occasion, Posterior, Predicted, Probe, Verdict,
};
use crate::choice::{Foresight, Instruments, Offer, Ranked, Ranking, Standing, Target, Test, Worth, set_ups};
use crate::circuit::{ElementId, NodeId, SetUp};
use crate::network::{Network, Operating, Unsolvable};
use crate::suspects::{GroupId, SuspectId};
use crate::units::Minutes;
use std::cell::RefCell;
use std::collections::BTreeSet;

/// Something observed: the complaint itself, or a test that was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// The test.
    pub test: Test,
    /// Its answer.
    pub answer: Answer,
    /// Minutes that it cost.
    pub minutes: Minutes,
    /// It belongs to the complaint.
    pub complaint: bool,
    /// How many have seen it, each for himself.
    pub times: u32,
}

/// What to do next.
#[derive(Clone, Debug, PartialEq)]
pub enum Next {
    /// Take this test.
    Take(Box<Ranked>),
    /// The job has come to a verdict.
    Stop(Verdict),
}

/// What an answer has told.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// Suspects that this answer has ruled out.
    pub ruled_out: Vec<SuspectId>,
    /// Suspects that it has brought back.
    pub back: Vec<SuspectId>,
    /// Repair groups that remain.
    pub remain: usize,
}

/// Chance that a reading says nothing about the circuit (engine design, section 6: 2 % of readings).
pub const BLUNDER: f64 = 0.02;
/// Tests after which a job ends with what it has.
const MOST_TESTS: usize = 60;
/// Information below which a test is not worth asking, in bits.
const LEAST_BITS: f64 = 2e-3;

/// Standard deviation of a common multimeter at a value in volts: 0.5 % + 2 digits of 10 mV taken as the half-width of an even
/// spread (`knowledge/tables/meter`).
pub fn meter_sigma(volts: f64) -> f64 {
    (0.005 * volts.abs() + 0.02) / 3_f64.sqrt()
}

/// Minutes added to a test for each time that its point could not be reached. Common practice, no source.
const REFUSED: Minutes = Minutes::new(1.0);

/// The same for a test away from the current that should flow. Common practice, no source.
const STRANGE: Minutes = Minutes::new(0.5);

/// A job under way.
pub struct Diagnosis<'n> {
    system: &'n System,
    belief: Belief<'n>,
    offer: Offer,
    instruments: Instruments,
    limits: Limits,
    seed: u64,
    /// The set-ups in which tests are offered.
    set_ups: Vec<SetUp>,
    /// Nodes through which current flows while the healthy system does what is complained of.
    live: BTreeSet<NodeId>,
    complaint: Complaint,
    taken: Vec<Taken>,
    told: Vec<Told>,
    posterior: Posterior,
    foresight: Foresight<'n>,
    /// What the tests of each set-up tell, as long as nothing is learnt.
    worth: RefCell<Worth>,
}

impl<'n> Diagnosis<'n> {
    /// Begins a job with its complaint.
    ///
    /// # Errors
    /// When the healthy circuit itself cannot be solved.
    pub fn begin(
        system: &'n System,
        network: &'n Network<'n>,
        instruments: Instruments,
        complaint: Complaint,
        seed: u64,
    ) -> Result<Self, Unsolvable> {
        let rest = SetUp::at_rest(&network.netlist().controls);
        let healthy = healthy(network, &complaint.usual)?;
        let carrying = carrying(network, &healthy);
        let node_of = |point| system.node(point);
        let offer = Offer::new(&system.install, node_of, system.looks(), &healthy, system.reference);
        let noise = noise(system.install.nominal.get());
        let suspects = if system.speaks_of_mistakes(&complaint) { &system.mistakes_too } else { &system.suspects };
        let belief = Belief::new(network, suspects, &system.senses, noise).straying(system.strays());
        let mut job = Self {
            posterior: belief.prior(),
            system,
            belief,
            offer,
            instruments,
            limits: Limits::default(),
            seed,
            set_ups: set_ups(&system.install, [&complaint.set_up, &complaint.usual], &rest, |near| {
                let state = self::healthy(network, near).ok()?;
                Some(carrying.iter().map(|e| state.current(*e).get()).collect())
            }),
            live: live(network, &carrying),
            complaint,
            told: Vec::new(),
            foresight: Foresight::default(),
            worth: RefCell::default(),
            taken: Vec::new(),
        };
        for taken in complained(system, &job.complaint) {
            job.taken.push(taken);
            job.reweigh();
        }
        Ok(job)
    }

    /// Counts mistakes of wiring among the suspects from here on: when nothing else fits. `false` when they were already.
    pub fn ask_mistakes_in(&mut self) -> bool {
        if std::ptr::eq(self.belief.suspects(), &raw const self.system.mistakes_too) {
            return false;
        }
        let (network, noise) = (self.belief.network(), noise(self.system.install.nominal.get()));
        self.belief =
            Belief::new(network, &self.system.mistakes_too, &self.system.senses, noise).straying(self.system.strays());
        self.foresight = Foresight::default();
        self.posterior = self.belief.update(&self.evidence());
        self.worth.borrow_mut().clear();
        // What an answer has told is told of suspects, which have other numbers now.
        for told in &mut self.told {
            told.ruled_out.clear();
            told.back.clear();
        }
        true
    }

    /// The system that is looked at.
    pub fn system(&self) -> &'n System {
        self.system
    }
    /// The complaint.
    pub fn complaint(&self) -> &Complaint {
        &self.complaint
    }
    /// The probabilities as they stand.
    pub fn posterior(&self) -> &Posterior {
        &self.posterior
    }
    /// The belief behind them.
    pub fn belief(&self) -> &Belief<'n> {
        &self.belief
    }
    /// All that was observed, in order; the complaint first.
    pub fn taken(&self) -> &[Taken] {
        &self.taken
    }
    /// What hypotheses would do in set-ups that nobody has entered.
    pub fn foresight(&self) -> &Foresight<'n> {
        &self.foresight
    }
    /// What each observation has told, in the same order.
    pub fn told(&self) -> &[Told] {
        &self.told
    }
    /// Minutes spent on tests.
    pub fn minutes(&self) -> Minutes {
        self.taken.iter().fold(Minutes::ZERO, |sum, t| sum + t.minutes)
    }

    /// The observations as evidence: a new stay wherever the set-up changes. What was not taken is none.
    pub fn evidence(&self) -> Evidence {
        let mut evidence = Evidence::default();
        for taken in self.taken.iter().filter(|t| t.answer != Answer::NotTaken) {
            if evidence.stays.last() != Some(&taken.test.set_up) {
                evidence.stays.push(taken.test.set_up.clone());
            }
            // The words for what is seen hold their own share of mistakes.
            let blunder = match taken.test.probe {
                Probe::Look(_) | Probe::Light { .. } => 0.0,
                Probe::Volts { .. } | Probe::Amps { .. } => BLUNDER,
            };
            evidence.observations.push(Observation {
                stay: evidence.stays.len() - 1,
                probe: taken.test.probe.clone(),
                answer: taken.answer.clone(),
                blunder,
                times: taken.times,
            });
        }
        // What is complained of shows in the last set-up of the complaint.
        let complained = self.taken.iter().filter(|t| t.complaint).count();
        let stay = evidence.observations.get(complained.saturating_sub(1)).map_or(0, |o| o.stay);
        evidence.history = self.complaint.history;
        evidence.occasion = self.complaint.occasion.map(|word| Occasion { word, stay });
        evidence
    }

    /// The position in the evidence of something taken (position in `taken`), if it is evidence.
    pub fn observation(&self, position: usize) -> Option<usize> {
        let taken = self.taken.get(position).filter(|t| t.answer != Answer::NotTaken)?;
        let before = self.taken.iter().take_while(|t| !std::ptr::eq(*t, taken));
        Some(before.filter(|t| t.answer != Answer::NotTaken).count())
    }

    /// The position in `taken` of an observation of the evidence.
    pub fn taken_as(&self, observation: usize) -> Option<&Taken> {
        self.taken.iter().filter(|t| t.answer != Answer::NotTaken).nth(observation)
    }

    /// Where the person stands.
    pub fn standing(&self) -> Standing {
        let mut standing = Standing { place: None, opened: BTreeSet::new(), set_up: self.complaint.set_up.clone() };
        for taken in self.taken.iter().filter(|t| !t.complaint && t.answer != Answer::NotTaken) {
            standing.after(&self.system.install, &taken.test);
        }
        standing
    }

    /// The next test, or the verdict.
    pub fn next(&self) -> Next {
        let evidence = self.evidence();
        let mut ranked = self.ranked();
        if self.taken.len() >= MOST_TESTS {
            ranked.clear();
        }
        let remain = !ranked.is_empty();
        match self.belief.verdict(&self.posterior, &evidence, remain, &self.limits, self.seed) {
            Verdict::Open => match ranked.into_iter().next() {
                Some(best) => Next::Take(Box::new(best)),
                None => Next::Stop(Verdict::Open),
            },
            verdict => Next::Stop(verdict),
        }
    }

    /// The tests that are worth taking, best first.
    pub fn ranked(&self) -> Vec<Ranked> {
        let doubted = self.doubted();
        let posterior = doubted.as_ref().unwrap_or(&self.posterior);
        let ranked = self.ranked_by(posterior, 0.0, &mut self.worth.borrow_mut());
        if !ranked.is_empty() {
            return ranked;
        }
        if let Some(unconfirmed) = self.unconfirmed() {
            let ranked = self.ranked_by(&unconfirmed, 0.0, &mut Worth::default());
            if !ranked.is_empty() {
                return ranked;
            }
        }
        // Nothing tells the named ones apart any more; what is left may still be something that is not modelled.
        let unknown = self.posterior.unknown;
        if unknown < 1.0 - self.limits.hold {
            return Vec::new();
        }
        self.ranked_by(posterior, unknown, &mut Worth::default())
    }

    /// The tests in the order of a posterior; `unknown`: the share of something that is not modelled, where it counts as a
    /// suspect of its own.
    fn ranked_by(&self, posterior: &Posterior, unknown: f64, worth: &mut Worth) -> Vec<Ranked> {
        let standing = self.standing();
        let ranking = Ranking {
            install: &self.system.install,
            belief: &self.belief,
            posterior,
            foresight: &self.foresight,
            standing: &standing,
            accuracy: meter_sigma,
            blunder: BLUNDER,
            unknown,
        };
        let mut ranked = ranking.rank(&self.set_ups, |set_up| self.tests(set_up), LEAST_BITS, worth);
        ranked.retain(|r| !self.is_taken(&r.test) && !self.is_out_of_reach(&r.test));
        // A point that could not be reached once is not asked for again at once by another way, and points of the current
        // that should flow come before clever ones elsewhere.
        for one in &mut ranked {
            let strange = if self.is_familiar(&one.test) { 0.0 } else { 1.0 };
            one.reluctance = REFUSED * self.refused(&one.test) as f64 + STRANGE * strange;
        }
        ranked.sort_by(|a, b| b.rate().total_cmp(&a.rate()));
        ranked
    }

    /// Whether these very points, or this part, could not be taken before: another set-up does not bring them nearer.
    fn is_out_of_reach(&self, test: &Test) -> bool {
        let not = self.taken.iter().filter(|t| t.answer == Answer::NotTaken);
        not.into_iter().any(|t| same_probe(&t.test.probe, &test.probe))
    }

    /// How often a test at the same place was not taken.
    fn refused(&self, test: &Test) -> usize {
        let place = |t: &Test| match t.at {
            Target::Points { red, .. } => Some(red),
            Target::Part(_) => None,
        };
        let not = self.taken.iter().filter(|t| t.answer == Answer::NotTaken);
        not.filter(|t| place(test).is_some() && place(&t.test) == place(test)).count()
    }

    /// Whether a test looks at the way of the current that should flow: both leads on it, or the part itself.
    fn is_familiar(&self, test: &Test) -> bool {
        let here = test.set_up == self.complaint.set_up || test.set_up == self.complaint.usual;
        here && match &test.probe {
            Probe::Volts { red, black, .. } | Probe::Light { red, black, .. } => {
                self.live.contains(red) && self.live.contains(black)
            }
            Probe::Look(_) | Probe::Amps { .. } => true,
        }
    }

    fn is_taken(&self, test: &Test) -> bool {
        self.taken.iter().any(|t| t.test.set_up == test.set_up && same_probe(&t.test.probe, &test.probe))
    }

    /// The posterior without the reading on which the verdict hangs most, once everything else is clear: the next test
    /// must stand in for it.
    fn doubted(&self) -> Option<Posterior> {
        let &(first, share) = self.posterior.groups.first()?;
        if share < self.limits.hold {
            return None;
        }
        self.without_the_weightiest(&[first])
    }

    /// The same where no test tells the few that are left apart, and something without a name is all that stands against
    /// them: what they all predict must be seen once more before they are named.
    fn unconfirmed(&self) -> Option<Posterior> {
        let few = self.posterior.groups.iter().take(self.limits.few);
        let share: f64 = few.clone().map(|(_, share)| share).sum();
        let named = 1.0 - self.posterior.unknown;
        let against = share < self.limits.hold && share >= self.limits.hold * named;
        against.then(|| self.without_the_weightiest(&few.map(|(group, _)| *group).collect::<Vec<_>>())).flatten()
    }

    /// The posterior without the reading on which the share of some groups hangs most.
    fn without_the_weightiest(&self, few: &[GroupId]) -> Option<Posterior> {
        let evidence = self.evidence();
        let share_of = |p: &Posterior| p.groups.iter().filter(|(g, _)| few.contains(g)).map(|(_, s)| *s).sum::<f64>();
        (0..evidence.observations.len())
            .map(|i| self.belief.without(&evidence, i))
            .min_by(|a, b| share_of(a).total_cmp(&share_of(b)))
    }

    fn tests(&self, set_up: &SetUp) -> Vec<Test> {
        let node_of = |point| self.system.node(point);
        self.offer.tests(set_up, &self.instruments, node_of)
    }

    /// Enters the answer of a test.
    pub fn answer(&mut self, test: Test, answer: Answer) -> Told {
        let minutes = crate::choice::minutes(&self.system.install, &self.standing(), &test);
        let silent = answer == Answer::NotTaken;
        self.taken.push(Taken { test, answer, minutes, complaint: false, times: 1 });
        if silent {
            let told = Told { ruled_out: Vec::new(), back: Vec::new(), remain: self.remaining().len() };
            self.told.push(told.clone());
            return told;
        }
        self.reweigh()
    }

    /// Takes the last answer back; the complaint stays. `None` when there is none.
    pub fn undo(&mut self) -> Option<Taken> {
        if self.taken.last()?.complaint {
            return None;
        }
        let taken = self.taken.pop();
        self.told.pop();
        self.posterior = self.belief.update(&self.evidence());
        self.worth.borrow_mut().clear();
        taken
    }

    fn reweigh(&mut self) -> Told {
        let ids: Vec<SuspectId> = self.belief.suspects().list().ids().collect();
        let was_out: Vec<bool> = ids.iter().map(|id| self.posterior.ruled_out(*id)).collect();
        self.posterior = self.belief.update(&self.evidence());
        self.worth.borrow_mut().clear();
        let pick = |was: bool| {
            let changed =
                ids.iter().zip(&was_out).filter(|(id, out)| **out == was && self.posterior.ruled_out(**id) != was);
            changed.map(|(id, _)| *id).collect()
        };
        let told = Told { ruled_out: pick(false), back: pick(true), remain: self.remaining().len() };
        self.told.push(told.clone());
        told
    }

    /// Repair groups with a suspect that is not ruled out, likeliest first.
    pub fn remaining(&self) -> Vec<(GroupId, f64)> {
        let groups = self.belief.suspects().groups();
        let mut list = self.posterior.groups.clone();
        list.retain(|(g, _)| groups[*g].members.iter().any(|s| !self.posterior.ruled_out(*s)));
        list
    }

    /// What the healthy circuit would show for a test that was taken (position in `taken`), with its supplies as they were
    /// found.
    pub fn expected(&self, position: usize) -> Option<Predicted> {
        let position = self.observation(position)?;
        self.belief.expected(&self.belief.best_outlook(&self.posterior), &self.evidence(), position)
    }
}

fn same_probe(a: &Probe, b: &Probe) -> bool {
    let turned = |p: &Probe| match p {
        Probe::Volts { instrument, red, black, unsigned } => {
            Probe::Volts { instrument: instrument.clone(), red: *black, black: *red, unsigned: *unsigned }
        }
        other => other.clone(),
    };
    a == b || turned(a) == *b
}

/// The healthy circuit in a set-up.
fn healthy<'n>(network: &'n Network<'n>, set_up: &SetUp) -> Result<Operating<'n>, Unsolvable> {
    let branches = network.enter(&[], &network.fresh(), set_up)?;
    let none = || Unsolvable { nodes: Vec::new(), why: "it has no operating point".to_owned() };
    branches.into_iter().next().map(|b| b.state).ok_or_else(none)
}

/// The elements that carry more than a milliamp.
fn carrying(network: &Network<'_>, healthy: &Operating<'_>) -> Vec<ElementId> {
    let elements = network.netlist().elements.ids();
    elements.filter(|id| healthy.current(*id).get().abs() > 1e-3).collect()
}

/// The nodes of these elements.
fn live(network: &Network<'_>, carrying: &[ElementId]) -> BTreeSet<NodeId> {
    let elements = carrying.iter().map(|id| &network.netlist().elements[*id]);
    elements.flat_map(|e| [e.from, e.to]).collect()
}

/// The complaint as observations.
fn complained(system: &System, complaint: &Complaint) -> Vec<Taken> {
    let of = |fact: &Fact| Taken {
        test: Test {
            set_up: fact.set_up.clone(),
            probe: Probe::Look(fact.sight),
            at: Target::Part(system.sights[fact.sight].part),
        },
        answer: Answer::Word(fact.word),
        minutes: Minutes::ZERO,
        complaint: true,
        // The customer has seen what is wrong, and so has the person who starts the job.
        times: if fact.wrong { 2 } else { 1 },
    };
    complaint.facts.iter().map(of).collect()
}

/// What is reckoned with besides the tolerances of parts: an open line shows anything near zero on a high-resistance meter,
/// and what a description leaves out (rounding, contact potentials) moves a reading by some millivolts.
fn noise(nominal: f64) -> Noise {
    Noise {
        floating_sigma: 0.03 * nominal,
        // Common practice, no source.
        leaky: 0.1,
        model_floor: 0.005,
        // Engine design, words with one meaning: half of the blunders persist while the black lead or the set-up stays.
        lasting: 0.5,
        span: 2.5 * nominal,
        unsteady_mistaken: 0.02,
    }
}
