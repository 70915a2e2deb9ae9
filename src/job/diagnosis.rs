//! The course of a job: what was observed so far, what to observe next, and what can be said.

mod bridged;
mod confirmed;
mod dead;
mod game;
mod looks;
mod next;
mod parted;
mod repairs;

pub use game::Division;
use repairs::Made;

use super::{Complaint, Fact, Held, System};
use crate::belief::{
    Answer, Belief, Evidence, Limits, Noise, Observation, Occasion, Posterior, Predicted, Probe, Repair, Verdict,
};
use crate::choice::{Foresight, Instruments, Offer, Ranked, Removable, Standing, Target, Test, Worth, set_ups};
use crate::circuit::{ElementId, NodeId, SetUp};
use crate::install::Install;
use crate::network::{Network, Operating, Unsolvable};
use crate::suspects::{GroupId, SuspectId};
use crate::units::Minutes;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::rc::Rc;

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
    /// What it proves of a repair, where it was taken for that.
    pub proof: Option<Held>,
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

/// Standard deviation of a common multimeter at a value in volts: 0.5 % + 2 digits of 10 mV taken as the half-width of an even
/// spread (`knowledge/tables/meter`).
pub fn meter_sigma(volts: f64) -> f64 {
    (0.005 * volts.abs() + 0.02) / 3_f64.sqrt()
}

/// A job under way.
pub struct Diagnosis<'n> {
    system: &'n System,
    belief: Belief<'n>,
    /// Mistakes of wiring are among the suspects.
    mistakes: bool,
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
    repairs: Vec<Made>,
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
        let mut offer = Offer::new(&system.install, node_of, system.looks(), &healthy, system.reference);
        offer.leave_out(|point| system.is_barred_point(point));
        if instruments.clamp_meter {
            offer.amps = system.clamps(&complaint.what, |element| healthy.current(element).get());
        }
        offer.removable = Removable::list(&system.install, &system.circuit, &complaint.what);
        system.bar_jumpers(&mut offer.removable);
        let noise = noise(&system.install);
        let mistakes = system.speaks_of_mistakes(&complaint);
        let suspects = if mistakes { &system.mistakes_too } else { &system.suspects };
        let belief = Belief::new(network, suspects, &system.senses, noise).straying(system.strays());
        let mut job = Self {
            posterior: belief.prior(),
            system,
            belief,
            mistakes,
            offer,
            instruments,
            limits: Limits::default(),
            seed,
            set_ups: set_ups(&system.install, [&complaint.set_up, &complaint.usual], &rest, |near| {
                let state = self::healthy(network, near).ok().filter(|_| !system.is_barred(near))?;
                Some(carrying.iter().map(|e| state.current(*e).get()).collect())
            }),
            live: live(network, &carrying),
            complaint,
            told: Vec::new(),
            foresight: Foresight::default(),
            worth: RefCell::default(),
            taken: Vec::new(),
            repairs: Vec::new(),
        };
        for taken in complained(system, &job.complaint) {
            job.taken.push(taken);
            job.reweigh();
        }
        Ok(job)
    }

    /// Counts mistakes of wiring among the suspects from here on: when nothing else fits. `false` when they were already.
    pub fn ask_mistakes_in(&mut self) -> bool {
        if self.mistakes {
            return false;
        }
        self.mistakes = true;
        let (network, noise) = (self.belief.network(), noise(&self.system.install));
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
    /// The instruments with which tests are offered.
    pub fn instruments(&self) -> &Instruments {
        &self.instruments
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
        let mut repairs = self.repairs.iter().peekable();
        for (position, taken) in self.taken.iter().enumerate().filter(|(_, t)| t.answer != Answer::NotTaken) {
            let mut mended = false;
            while let Some(made) = repairs.next_if(|made| made.before <= position) {
                evidence.repairs.push(Repair { before: evidence.stays.len(), faults: made.faults.clone() });
                mended = true;
            }
            if mended || evidence.stays.last() != Some(&taken.test.set_up) {
                evidence.stays.push(taken.test.set_up.clone());
            }
            // The words for what is seen hold their own share of mistakes.
            let blunder = match taken.test.probe {
                Probe::Look(_) | Probe::Light { .. } => 0.0,
                Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. } => BLUNDER,
            };
            evidence.observations.push(Observation {
                stay: evidence.stays.len() - 1,
                probe: taken.test.probe.clone(),
                answer: taken.answer.clone(),
                blunder,
                times: taken.times,
            });
        }
        for made in repairs {
            evidence.repairs.push(Repair { before: evidence.stays.len(), faults: made.faults.clone() });
        }
        // What is complained of shows in the last set-up of the complaint.
        let complained = self.taken.iter().filter(|t| t.complaint).count();
        let stay = evidence.observations.get(complained.saturating_sub(1)).map_or(0, |o| o.stay);
        evidence.history = self.complaint.history;
        evidence.hearsay = self.hearsay();
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
        // What is complained of was elsewhere: on the bench nothing is set yet.
        let here = self.system.elsewhere.is_empty();
        let rest = || SetUp::at_rest(&self.system.circuit.netlist.controls);
        let mut standing = Standing {
            place: None,
            opened: BTreeSet::new(),
            set_up: if here { self.complaint.set_up.clone() } else { rest() },
            looks: Rc::clone(&self.system.looks),
        };
        for taken in self.taken.iter().filter(|t| !t.complaint && t.answer != Answer::NotTaken) {
            standing.after(&self.system.install, &taken.test);
        }
        standing
    }

    /// Enters the answer of a test.
    pub fn answer(&mut self, test: Test, answer: Answer) -> Told {
        let minutes = match self.first_retry() {
            Some(retry) if retry.test == test => retry.minutes,
            _ => crate::choice::minutes(&self.system.install, &self.standing(), &test),
        };
        let silent = answer == Answer::NotTaken;
        let proof = self.held(&test, &answer);
        let retried = self.is_retry(&test);
        self.taken.push(Taken { test, answer, minutes, complaint: false, times: 1, proof });
        if silent {
            let told = Told { ruled_out: Vec::new(), back: Vec::new(), remain: self.remaining().len() };
            self.told.push(told.clone());
            return told;
        }
        let told = self.reweigh();
        if retried {
            self.hold_retry();
        }
        told
    }

    /// Takes the last answer back; the complaint stays. `None` when there is none.
    pub fn undo(&mut self) -> Option<Taken> {
        if self.taken.last()?.complaint {
            return None;
        }
        let taken = self.taken.pop();
        self.told.pop();
        // What was repaired after the answer before goes with it: the person stands before that verdict again.
        self.repairs.retain(|made| made.before < self.taken.len());
        self.foresight = Foresight::default();
        self.posterior = self.belief.update(&self.evidence());
        self.worth.borrow_mut().clear();
        taken
    }

    fn reweigh(&mut self) -> Told {
        let out = |job: &Self| job.belief.out(&job.posterior);
        let was_out = out(self);
        self.posterior = self.belief.update(&self.evidence());
        self.worth.borrow_mut().clear();
        let is_out = out(self);
        let pick = |was: bool| {
            let changed = was_out.enumerate().filter(|(id, out)| **out == was && is_out[*id] != was);
            changed.map(|(id, _)| id).collect()
        };
        let told = Told { ruled_out: pick(false), back: pick(true), remain: self.remaining().len() };
        self.told.push(told.clone());
        told
    }

    /// Repair groups with a suspect that is not ruled out, likeliest first.
    pub fn remaining(&self) -> Vec<(GroupId, f64)> {
        let groups = self.belief.suspects().groups();
        let out = self.belief.out(&self.posterior);
        let mut list = self.posterior.groups.clone();
        list.retain(|(g, _)| groups[*g].members.iter().any(|s| out.get(*s).is_some_and(|out| !out)));
        list
    }

    /// What the healthy circuit would show for a test that was taken (position in `taken`), with its supplies as they were
    /// found.
    pub fn expected(&self, position: usize) -> Option<Predicted> {
        let position = self.observation(position)?;
        self.belief.expected(&self.belief.best_outlook(&self.posterior), &self.evidence(), position)
    }
}

/// The healthy circuit in a set-up.
pub(super) fn healthy<'n>(network: &'n Network<'n>, set_up: &SetUp) -> Result<Operating<'n>, Unsolvable> {
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
        proof: None,
        test: Test {
            set_up: SetUp { interventions: system.elsewhere.clone(), ..fact.set_up.clone() },
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
fn noise(install: &Install) -> Noise {
    let (nominal, tolerances) = (install.nominal.get(), &install.knowledge.tolerances);
    Noise {
        floating_sigma: tolerances.open_line * nominal,
        leaky: tolerances.open_lines_leak,
        model_floor: 0.005,
        // Engine design, words with one meaning: half of the blunders persist while the black lead or the set-up stays.
        lasting: 0.5,
        // Metal that is another metal is at some volts, or at none: common practice, no source.
        shifted: 0.5,
        untouched: 0.5,
        // A tip on paint or dirt, a lead half out of its socket: common practice, no source.
        missed: 0.25,
        // A switch left off, or turned back by somebody: common practice, no source.
        moved: 0.5,
        span: 2.5 * nominal,
        unsteady_mistaken: 0.02,
    }
}
