//! How a job ends, in words.

use super::answer::given;
use super::test::{brief, would_show};
use super::text::{counted, line, numbered, paragraph, place, row, set_up, sure};
use crate::belief::{Answer, Verdict};
use crate::circuit::{Move, PossibleFault};
use crate::job::record::{Blamed, Outcome};
use crate::job::{Culprit, Diagnosis, Held, System, Taken, left_as_forms};

/// The verdict with its evidence, the usual repair, the proof and the cautions.
pub fn finding(job: &Diagnosis<'_>, verdict: &Verdict) -> String {
    let mut out = self::verdict(job, verdict);
    if is_told_whole(job, verdict) {
        return out;
    }
    evidence(&mut out, job);
    super::doubt::doubtful(&mut out, job);
    line(&mut out, &format!("{}, about {:.1} min.", counted(tests(job), "test"), job.minutes().get()));
    out
}

/// Whether a verdict says by itself what was tested.
fn is_told_whole(job: &Diagnosis<'_>, verdict: &Verdict) -> bool {
    match verdict {
        Verdict::NoFault | Verdict::Cured => true,
        Verdict::Open => job.nothing_leads(),
        Verdict::Found(_) | Verdict::Ambiguous(_) | Verdict::Misfit(_) => false,
    }
}

/// The verdict with the usual repair, the proof and the cautions, without its evidence.
pub fn verdict(job: &Diagnosis<'_>, verdict: &Verdict) -> String {
    let mut out = String::new();
    match verdict {
        Verdict::Found(_) => line(&mut out, "FOUND"),
        Verdict::Ambiguous(groups) if groups.len() == 1 => {
            line(&mut out, "ONLY ONE IS LEFT, but it rests on a single reading:");
            paragraph(&mut out, 0, "take that reading again before a part is replaced.");
        }
        Verdict::Ambiguous(_) => line(&mut out, "THESE CANNOT BE TOLD APART"),
        Verdict::NoFault => {
            super::no_fault::no_fault(&mut out, job);
            return out;
        }
        Verdict::Cured => return proven(job, &[]),
        Verdict::Open if job.nothing_leads() && job.proof_failed() => {
            super::proof::not_proven(&mut out, job);
            return out;
        }
        Verdict::Open if job.nothing_leads() => {
            super::no_fault::not_shown(&mut out, job);
            super::doubt::doubtful(&mut out, job);
            return out;
        }
        Verdict::Misfit(doubtful) => misfit(&mut out, job, *doubtful),
        Verdict::Open => {
            line(&mut out, "OPEN: not enough is known. Still suspected:");
            out.push_str(&super::answer::suspects(job));
        }
    }
    for culprit in job.named(verdict) {
        named(&mut out, job, &culprit);
    }
    out.push_str(&as_left(job, &job.left_idle(verdict)));
    out
}

/// What a person must know of a system that is left as it stands: what is still out, what to beware of.
pub fn as_left(job: &Diagnosis<'_>, cautions: &[String]) -> String {
    let mut out = String::new();
    let system = job.system();
    for (part, how) in &job.standing().set_up.by_hand {
        let back = system.to_do(Move { part: *part, from: Some(*how), to: None });
        row(&mut out, "Still out", &format!("{}: all off, then {back}", system.install.parts[*part].label));
    }
    for caution in cautions {
        row(&mut out, "CAUTION", caution);
    }
    out
}

/// That what was complained of works again, what was repaired for it, and how that is proven.
pub fn proven(job: &Diagnosis<'_>, repaired: &[Blamed]) -> String {
    let system = job.system();
    let mut out = String::new();
    line(&mut out, "PROVEN: what was complained of works again.");
    for blamed in repaired {
        let Some(fault) = system.fault(&blamed.part, &blamed.fault).and_then(|fault| system.describe(fault)) else {
            row(&mut out, "Repaired", &format!("{}: {}", blamed.part, blamed.fault));
            continue;
        };
        let at = place(system, system.install.parts[fault.part].place);
        let at = at.map_or(String::new(), |p| format!(", at: {p}"));
        row(&mut out, "Repaired", &format!("{}: {}{at}", fault.label, fault.says));
        let Some(mode) = fault.mode(&system.install) else { continue };
        row(&mut out, "Done", &mode.repair);
    }
    shown(&mut out, job);
    for caution in system.cautions_on_moving_off() {
        row(&mut out, "CAUTION", &caution);
    }
    line(&mut out, &format!("{}, about {:.1} min.", counted(tests(job), "test"), job.minutes().get()));
    out
}

/// What was read behind the last repair, and that it is right; what could not be taken is said too.
fn shown(out: &mut String, job: &Diagnosis<'_>) {
    let system = job.system();
    let proofs = job.taken().iter().filter_map(|taken| Some((taken, taken.proof?)));
    let last = job.taken().iter().rposition(|taken| taken.proof == Some(Held::No)).map_or(0, |no| no + 1);
    let behind = |taken: &Taken| job.taken().iter().skip(last).any(|known| std::ptr::eq(known, taken));
    for (taken, held) in proofs.filter(|(taken, _)| behind(taken)) {
        let read = given(system, &taken.answer, &taken.test.probe);
        let with = set_up(system, &taken.test.set_up);
        let right = if held == Held::Yes { ", as it should be" } else { "" };
        row(out, "Proof", &format!("{} ({with}): {read}{right}", brief(system, &taken.test)));
    }
}

/// A culprit in one line.
pub fn culprit(system: &System, culprit: &Culprit) -> String {
    let faults = culprit.faults.iter().filter_map(|fault| system.describe(*fault));
    faults.map(|fault| format!("{}: {}", fault.label, fault.says)).collect::<Vec<_>>().join("; ")
}

fn tests(job: &Diagnosis<'_>) -> usize {
    job.taken().iter().filter(|t| !t.complaint).count()
}

fn misfit(out: &mut String, job: &Diagnosis<'_>, doubtful: Option<usize>) {
    line(out, "THE READINGS DO NOT FIT anything in the description.");
    if let Some(taken) = doubtful.and_then(|d| job.taken_as(d)) {
        // Not the same once more: what went wrong once may go wrong again.
        let instead = doubtful.and_then(|d| job.stand_in(d)).map(|ranked| {
            let with = set_up(job.system(), &ranked.test.set_up);
            format!("Take {} with {with} in its place", brief(job.system(), &ranked.test))
        });
        let text = format!(
            "Doubtful: {} with {}, taken as {}. {}; if it stands, check the description of that circuit.",
            brief(job.system(), &taken.test),
            set_up(job.system(), &taken.test.set_up),
            given(job.system(), &taken.answer, &taken.test.probe),
            instead.unwrap_or_else(|| "Take it again, with the black lead on another point".to_owned())
        );
        paragraph(out, 0, &text);
    }
}

fn named(out: &mut String, job: &Diagnosis<'_>, culprit: &Culprit) {
    let system = job.system();
    for fault in culprit.faults.iter().filter_map(|f| system.describe(*f)) {
        let at = place(system, system.install.parts[fault.part].place);
        let at = at.map_or(String::new(), |p| format!(", at: {p}"));
        row(out, "Fault", &format!("{}: {}{at}", fault.label, fault.says));
        row(out, "Sure", sure(culprit.probability));
        if let Some((low, high)) = culprit.ohms {
            row(out, "Size", &format!("{low} to {high}"));
        }
        if !culprit.consequences.is_empty() {
            row(out, "Follows", &format!("{} open because of it", culprit.consequences.join(", ")));
        }
        let also: Vec<String> = culprit
            .also
            .iter()
            .filter_map(|f| system.describe(*f))
            .map(|f| format!("{}: {}", f.label, f.says))
            .collect();
        if !also.is_empty() {
            row(out, "Or", &format!("{} (the same repair)", also.join("; ")));
        }
        let Some(mode) = fault.mode(&system.install) else { continue };
        row(out, "Repair", &mode.repair);
        row(out, "Prove", &mode.proof);
        if let Some(look) = system.look_for(fault) {
            row(out, "Look for", look);
        }
        for caution in system.cautions_at_repair(fault) {
            row(out, "CAUTION", &caution);
        }
        steps(out, system, fault);
    }
}

/// The usual repair, step by step.
fn steps(out: &mut String, system: &System, fault: &PossibleFault) {
    let Some(repair) = system.steps(fault) else { return };
    line(out, &format!("Steps, about {:.0} min:", repair.minutes));
    for (i, step) in repair.steps.iter().enumerate() {
        numbered(out, i + 1, step);
    }
}

/// Readings that a short paragraph of evidence has room for.
const EVIDENCE: usize = 8;

/// What speaks for it: the readings that excluded most, in the order taken, each beside what a good circuit would have shown.
fn evidence(out: &mut String, job: &Diagnosis<'_>) {
    line(out, "Because:");
    let told = |i: &usize| job.told().get(*i).map_or(0, |t| t.ruled_out.len() + t.back.len());
    let taken = |i: &usize| job.taken().get(*i).is_some_and(|t| t.answer != Answer::NotTaken);
    let mut telling: Vec<usize> = (0..job.taken().len()).filter(taken).filter(|i| told(i) > 0).collect();
    telling.sort_by_key(|i| std::cmp::Reverse(told(i)));
    telling.truncate(EVIDENCE);
    telling.sort_unstable();
    for (i, taken) in telling.into_iter().filter_map(|i| Some((i, job.taken().get(i)?))) {
        let good = job.expected(i).map(|p| would_show(job.system(), &taken.test.probe, &p)).unwrap_or_default();
        let read = given(job.system(), &taken.answer, &taken.test.probe);
        let told = if good == read { "as it should be".to_owned() } else { format!("a good circuit: {good}") };
        let doubt = if job.is_doubtful(i) { "; in doubt" } else { "" };
        let with = set_up(job.system(), &taken.test.set_up);
        paragraph(out, 2, &format!("{} ({with}): {read}; {told}{doubt}", brief(job.system(), &taken.test)));
    }
}

/// How a system is left that is not repaired for good, with what to beware of then.
pub fn left_as(outcome: Outcome, cautions: &[String]) -> String {
    let mut out = String::new();
    let word = Outcome::ALL.iter().find(|(one, _)| *one == outcome).map_or("", |(_, word)| *word);
    line(&mut out, &format!("Kept: {word}. The job stays open."));
    for caution in cautions {
        row(&mut out, "CAUTION", caution);
    }
    out
}

/// What can be typed behind a finding, before what can be typed anywhere.
pub fn behind() -> String {
    format!("y: it is repaired; Enter: it is not. How it is left: {}. A reading of your own:", left_as_forms())
}

/// What is said before anything is asked.
pub fn opening(system: &System) -> String {
    let mut out = String::new();
    line(&mut out, &format!("{}, {}", system.install.title, system.install.nominal));
    for caution in system.cautions_before() {
        row(&mut out, "CAUTION", &caution);
    }
    paragraph(&mut out, 0, "Local codes come first.");
    out
}
