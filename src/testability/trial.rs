//! One trial: a hidden state, the complaint that it causes, the job that follows, and its end.

use super::complaint::complaint;
use super::mark::{Mark, mark, repairs};
use crate::belief::{Answer, Probe, Verdict};
use crate::bench::{Grievance, Hidden, Instrument, NoAnswer, Person, Said};
use crate::choice::{Standing, Target, Test, minutes};
use crate::circuit::Sighted;
use crate::job::{Complaint, Culprit, Diagnosis, Entry, Next, System, Taken, Typed, as_answer};
use crate::network::{self, Network};
use crate::suspects::FaultId;
use crate::units::{Minutes, Ohms};

/// Tests after which a trial ends as undecided.
const MOST_TESTS: usize = 40;
/// Minutes of work that a repair takes besides the way to it. Common practice, no source.
const REPAIR: Minutes = Minutes::new(10.0);

/// A hidden fault and its size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hid {
    /// The fault.
    pub fault: FaultId,
    /// Its ohms, for a soft one.
    pub ohms: Option<Ohms>,
}

/// A trial as it went.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// What was hidden.
    pub hidden: Vec<Hid>,
    /// How much it counts.
    pub weight: f64,
    /// What was complained of.
    pub complaint: Complaint,
    /// Everything observed, the complaint first.
    pub taken: Vec<Taken>,
    /// How it ended.
    pub verdict: Verdict,
    /// The repairs that the verdict names; without one, those that lead.
    pub named: Vec<Culprit>,
    /// Probability of what is not modelled at the end.
    pub unknown: f64,
    /// What the verdict was worth.
    pub mark: Mark,
    /// Minutes up to the verdict.
    pub minutes: f64,
    /// Minutes until the complaint is cured and tried again; `None` where no named repair cures it.
    pub minutes_proven: Option<f64>,
}

impl Trial {
    /// How many tests were asked for.
    pub fn tests(&self) -> usize {
        self.taken.iter().filter(|t| !t.complaint).count()
    }

    /// Whether the verdict names a repair.
    pub fn named_by_verdict(&self) -> bool {
        matches!(self.verdict, Verdict::Found(_) | Verdict::Ambiguous(_))
    }
}

/// Plays a trial. `None` where no job can be begun.
pub(super) fn play<'n>(
    system: &'n System,
    network: &'n Network<'n>,
    hidden: &Hidden,
    grievance: &Grievance,
    mut person: Person<'_>,
    seed: u64,
) -> Option<Trial> {
    let complaint = complaint(system, grievance)?;
    let mut job = Diagnosis::begin(system, network, system.instruments(), complaint.clone(), seed).ok()?;
    // The person who starts the job sees the complaint; what blows then is blown.
    let _ = person.set(&grievance.set_up);
    let mut verdict = Verdict::Open;
    for _ in 0..MOST_TESTS {
        match job.next() {
            Next::Take(ranked) => {
                let answer = answer(system, &mut person, &ranked.test).unwrap_or(Answer::NotTaken);
                job.answer(ranked.test, answer);
            }
            Next::Stop(end) => {
                verdict = end;
                break;
            }
        }
    }
    let named = match verdict {
        Verdict::Found(_) | Verdict::Ambiguous(_) => job.named(&verdict),
        Verdict::NoFault | Verdict::Misfit(_) | Verdict::Open => job.culprits(4, 1e-3),
    };
    let hid = |(index, ohms): &(usize, Option<Ohms>)| {
        let fault = system.possible.ids().nth(*index)?;
        Some(Hid { fault, ohms: *ohms })
    };
    Some(Trial {
        hidden: hidden.faults.iter().filter_map(hid).collect(),
        weight: hidden.weight,
        complaint,
        taken: job.taken().to_vec(),
        mark: mark(&job, &verdict, hidden),
        minutes: job.minutes().get(),
        minutes_proven: proven(&job, &verdict, hidden, grievance),
        unknown: job.posterior().unknown,
        named,
        verdict,
    })
}

/// What the person says to a test. `None`: it cannot be taken.
fn answer(system: &System, person: &mut Person<'_>, test: &Test) -> Option<Answer> {
    let said = match &test.probe {
        Probe::Volts { instrument, red, black, .. } => person.volts(&test.set_up, own(instrument), *red, *black),
        Probe::Light { instrument, red, black } => {
            person.light(&test.set_up, own(instrument), (*red, *black), system.tester_words()?)
        }
        Probe::Look(sight) => {
            let looked_at = system.sights.get(*sight)?;
            let same = |s: &Sighted| s.part == looked_at.part && s.sight == looked_at.kind_sight;
            let position = system.circuit.sights.iter().position(same)?;
            person.look(&test.set_up, position, system.words(*sight)?)
        }
        Probe::Amps { .. } => Err(NoAnswer),
    };
    match said.ok()? {
        Said::Volts(value, digit) => as_answer(&Typed::Values(vec![Entry { value, digit }])),
        Said::Jumps => Some(Answer::Unsteady),
        Said::Word(word) => Some(Answer::Word(word)),
    }
}

/// An instrument of the engine as the mock-up has it.
fn own(instrument: &network::Instrument) -> Instrument {
    match instrument {
        network::Instrument::Voltmeter(ohms) => Instrument::Voltmeter(*ohms),
        network::Instrument::TestLamp { hot, nominal } => Instrument::Lamp { hot: *hot, nominal: *nominal },
        network::Instrument::LedTester { forward, series } => Instrument::Led { forward: *forward, series: *series },
    }
}

/// Minutes to the proven repair: the named repairs are made one after the other, likeliest first, and after each the
/// complaint is tried again.
fn proven(job: &Diagnosis<'_>, verdict: &Verdict, hidden: &Hidden, grievance: &Grievance) -> Option<f64> {
    let system = job.system();
    let install = &system.install;
    let cures = repairs(system, hidden);
    let sight = job.complaint().facts.first()?.sight;
    let again = Test {
        set_up: grievance.set_up.clone(),
        probe: Probe::Look(sight),
        at: Target::Part(system.sights[sight].part),
    };
    let mut standing: Standing = job.standing();
    let mut total = job.minutes();
    for culprit in job.named(verdict) {
        let fault = culprit.faults.first()?;
        let part = system.possible.get(*fault)?.part;
        let there = Test { at: Target::Part(part), ..again.clone() };
        total = total + minutes(install, &standing, &there) + REPAIR;
        standing.after(install, &there);
        total = total + minutes(install, &standing, &again);
        standing.after(install, &again);
        let words = &system.suspects.groups()[culprit.group].repair;
        if words.iter().any(|word| cures.contains(&word.as_str())) {
            return Some(total.get());
        }
    }
    None
}
