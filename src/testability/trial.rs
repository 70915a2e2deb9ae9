//! One trial: a hidden state, the complaint that it causes, the job that follows, and its end.

use super::Faults;
use super::ask::ask;
use super::baseline::{Beside, Habit, Habitual, way};
use super::cases::Case;
use super::complaint::complaint;
use super::mark::{Mark, is_hidden, mark};
use super::repair::{Repaired, repair};
use super::scene::Scene;
use super::trust::Step;
use crate::belief::Verdict;
use crate::bench::{Change, Hidden, Person};
use crate::job::{Complaint, Culprit, Diagnosis, System, Taken};
use crate::network::Network;
use crate::suspects::FaultId;
use crate::units::Ohms;

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
    /// What differs from the description.
    pub changes: Vec<Change>,
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
    /// The complaint is cured, at the latest by the repairs of the second verdict.
    pub cured: bool,
    /// What led after the complaint and after each test of the first job.
    pub steps: Vec<Step>,
    /// What other ways of choosing tests came to in this trial, where they were played.
    pub beside: Option<Beside>,
    /// What followed the first verdict's repairs, in trials with two faults.
    pub second: Option<Second>,
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

/// What follows when the first verdict's repairs have left something: the same job goes on, or another load is complained of.
#[derive(Clone, Debug, PartialEq)]
pub struct Second {
    /// What is complained of now.
    pub complaint: Complaint,
    /// Everything observed from then on; of another complaint, that first.
    pub taken: Vec<Taken>,
    /// How it ended.
    pub verdict: Verdict,
    /// The repairs that the verdict names.
    pub named: Vec<Culprit>,
}

/// Plays a trial. `None` where no job can be begun.
pub(super) fn play<'n>(scene: &Scene<'_>, system: &'n System, network: &'n Network<'n>, case: &Case) -> Option<Trial> {
    let (hidden, draws) = (&case.hidden, &case.draws);
    let Played { mut job, verdict, steps } = begin(scene, system, network, case)?;
    let beside = if case.beside { beside(scene, system, network, case) } else { None };
    let named = match verdict {
        Verdict::Found(_) | Verdict::Ambiguous(_) => job.named(&verdict),
        Verdict::NoFault | Verdict::Cured | Verdict::Misfit(_) | Verdict::Open => job.culprits(4, 1e-3),
    };
    let hid = |(index, ohms): &(usize, Option<Ohms>)| {
        let fault = system.possible.ids().nth(*index)?;
        Some(Hid { fault, ohms: *ohms })
    };
    let after = repair(scene, &job, &verdict, (hidden, draws), &case.grievance);
    let mut trial = Trial {
        hidden: hidden.faults.iter().filter_map(hid).collect(),
        changes: hidden.changes.clone(),
        weight: hidden.weight,
        complaint: job.complaint().clone(),
        taken: job.taken().to_vec(),
        mark: mark(&job, &verdict, hidden),
        minutes: job.minutes().get(),
        minutes_proven: after.cured.then(|| (job.minutes() + after.minutes).get()),
        unknown: job.posterior().unknown,
        repairs: named.iter().map(|c| job.belief().suspects().groups()[c.group].repair.clone()).collect(),
        cured: after.cured,
        named,
        steps,
        beside,
        second: None,
        verdict,
    };
    if scene.plan.faults != Faults::Pair || after.made.is_empty() {
        return Some(trial);
    }
    if after.cured {
        let next = next_complaint(scene, system, case, &after);
        trial.second = next.and_then(|next| Some(second(begin(scene, system, network, &next)?)));
        return Some(trial);
    }
    let before = job.taken().len();
    let verdict = go_on(scene, &mut job, case, &after);
    let again = repair(scene, &job, &verdict, (&after.left, draws), &case.grievance);
    trial.cured = again.cured;
    trial.minutes_proven = again.cured.then(|| (job.minutes() + after.minutes + again.minutes).get());
    let mut second = second(Played { job, verdict, steps: Vec::new() });
    second.taken.drain(..before);
    trial.second = Some(second);
    Some(trial)
}

fn second(played: Played<'_>) -> Second {
    let Played { job, verdict, .. } = played;
    let (named, complaint) = (job.named(&verdict), job.complaint().clone());
    Second { complaint, taken: job.taken().to_vec(), verdict, named }
}

/// A job with its end.
struct Played<'n> {
    job: Diagnosis<'n>,
    verdict: Verdict,
    steps: Vec<Step>,
}

/// Begins a job and asks until its end.
fn begin<'n>(scene: &Scene<'_>, system: &'n System, network: &'n Network<'n>, case: &Case) -> Option<Played<'n>> {
    let mut job = job(scene, system, network, case)?;
    let mut steps = Vec::new();
    let note = |job: &Diagnosis<'n>| steps.extend(step(job, &case.hidden));
    let verdict = ask(&mut job, &mut at_the_job(scene, system, case), |_| None, note);
    Some(Played { job, verdict, steps })
}

/// The same trial with the next test chosen by habit.
fn beside<'n>(scene: &Scene<'_>, system: &'n System, network: &'n Network<'n>, case: &Case) -> Option<Beside> {
    let begun = job(scene, system, network, case)?;
    let way = way(&begun);
    let play = |habit: Habit| {
        let mut job = job(scene, system, network, case)?;
        let mut left_to_engine = 0;
        let choose = |job: &Diagnosis<'n>| {
            let chosen = habit.choose(job, &way);
            left_to_engine += usize::from(chosen.is_none());
            chosen
        };
        let verdict = ask(&mut job, &mut at_the_job(scene, system, case), choose, |_| ());
        let tests = job.taken().iter().filter(|t| !t.complaint).count();
        Some(Habitual { minutes: job.minutes().get(), tests, left_to_engine, mark: mark(&job, &verdict, &case.hidden) })
    };
    Some(Beside {
        half_split: play(Habit::HalfSplit)?,
        sequential: play(Habit::Sequential)?,
        bits: begun.entropy(),
        outcomes: begun.most_outcomes(),
    })
}

/// The job on a case's complaint.
fn job<'n>(scene: &Scene<'_>, system: &'n System, network: &'n Network<'n>, case: &Case) -> Option<Diagnosis<'n>> {
    let complaint = complaint(system, &case.grievance, scene.plan.faults)?;
    let instruments = system.instruments_at_hand(&scene.plan.at_hand);
    Diagnosis::begin(system, network, instruments, complaint, scene.plan.seed).ok()
}

/// The person who answers.
fn at_the_job<'c>(scene: &Scene<'_>, system: &'c System, case: &Case) -> Person<'c> {
    let mut person = scene.person(&system.circuit, &case.hidden, &case.draws, case.seed);
    // The person who starts the job sees the complaint; what blows then is blown.
    let _ = person.set(&case.grievance.set_up);
    person
}

/// What leads now.
fn step(job: &Diagnosis<'_>, hidden: &Hidden) -> Option<Step> {
    let &(group, announced) = job.posterior().groups.first()?;
    Some(Step { minutes: job.minutes().get(), announced, right: is_hidden(job, group, hidden) })
}

/// Goes on with a job whose repairs have left the complaint.
fn go_on(scene: &Scene<'_>, job: &mut Diagnosis<'_>, case: &Case, after: &Repaired) -> Verdict {
    let system = job.system();
    let mut person = scene.person(&system.circuit, &after.left, &case.draws, case.seed.wrapping_add(1));
    job.repaired(&after.made);
    ask(job, &mut person, |_| None, |_| ())
}

/// What is complained of next, once the first complaint is cured and something is left.
fn next_complaint(scene: &Scene<'_>, system: &System, case: &Case, after: &Repaired) -> Option<Case> {
    let (hidden, draws) = (after.left.clone(), case.draws.clone());
    let grievance = scene.grievance(&system.circuit, &hidden, &draws)?;
    Some(Case { hidden, grievance, draws, seed: case.seed.wrapping_add(1), beside: false })
}
