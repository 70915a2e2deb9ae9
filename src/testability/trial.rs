//! One trial: a hidden state, the complaint that it causes, the job that follows, and its end.

use super::ask::ask;
use super::cases::Case;
use super::complaint::complaint;
use super::mark::{Mark, mark, repairs};
use super::scene::Scene;
use crate::belief::{Probe, Verdict};
use crate::bench::{Grievance, Hidden};
use crate::choice::{Standing, Target, Test, minutes};
use crate::job::{Complaint, Culprit, Diagnosis, System, Taken};
use crate::network::Network;
use crate::suspects::FaultId;
use crate::units::{Minutes, Ohms};

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
    /// What each of them repairs, in the words of suspects; nothing for 'nothing wrong'.
    pub repairs: Vec<Vec<String>>,
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
pub(super) fn play<'n>(scene: &Scene<'_>, system: &'n System, network: &'n Network<'n>, case: &Case) -> Option<Trial> {
    let (hidden, grievance, plan) = (&case.hidden, &case.grievance, scene.plan);
    let complaint = complaint(system, grievance, plan.faults)?;
    let mut job = Diagnosis::begin(system, network, system.instruments(), complaint.clone(), plan.seed).ok()?;
    let mut person = scene.person(&system.circuit, hidden, &case.draws, case.seed);
    // The person who starts the job sees the complaint; what blows then is blown.
    let _ = person.set(&grievance.set_up);
    let verdict = ask(&mut job, &mut person);
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
        repairs: named.iter().map(|c| job.belief().suspects().groups()[c.group].repair.clone()).collect(),
        named,
        verdict,
    })
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
        let words = &job.belief().suspects().groups()[culprit.group].repair;
        if words.iter().any(|word| cures.contains(&word.as_str())) {
            return Some(total.get());
        }
    }
    None
}
