//! What an answer has told, why a test is asked, and the suspects that remain.

use super::test::{brief, words, would_show};
use super::text::{amps, counted, line, ohms, paragraph, row, set_up, sure, volts};
use crate::belief::{Answer, Probe};
use crate::choice::Ranked;
use crate::job::{Diagnosis, Expect, System, Told};
use crate::suspects::{FaultId, SuspectId};

/// Names that one line has room for.
const FEW: usize = 3;

/// One line: what the last answer excluded and why, and how many remain.
pub fn told(job: &Diagnosis<'_>, told: &Told) -> String {
    let mut out = String::new();
    let position = job.taken().len().saturating_sub(1);
    let expected = job
        .taken()
        .get(position)
        .and_then(|taken| Some(would_show(job.system(), &taken.test.probe, &job.expected(position)?)));
    let remain = remain(told.remain);
    let good = expected.map_or(String::new(), |e| format!(" (a good circuit: {e})"));
    let text = match told.ruled_out.len() {
        0 => format!("Excludes nothing{good}. {remain}."),
        n => {
            let names = names(job, &told.ruled_out);
            let more = if n > FEW { format!(" and {}", counted(n - FEW, "more fault")) } else { String::new() };
            format!("Excludes {names}{more}{good}. {remain}.")
        }
    };
    paragraph(&mut out, 0, &text);
    if !told.back.is_empty() {
        let text = format!("That does not fit what was read before. Possible again: {}.", names(job, &told.back));
        paragraph(&mut out, 0, &text);
    }
    super::doubt::doubtful(&mut out, job);
    out
}

/// How many repairs are still possible: several faults may have the same.
pub fn remain(count: usize) -> String {
    match count {
        0 => "No known repair is left".to_owned(),
        1 => "1 repair is left; what is asked now confirms it".to_owned(),
        n => format!("{n} repairs are left"),
    }
}

fn names(job: &Diagnosis<'_>, suspects: &[SuspectId]) -> String {
    let names: Vec<String> = suspects.iter().take(FEW).map(|s| suspect(job, *s)).collect();
    names.join(", ")
}

/// A suspect in the workshop's words.
pub fn suspect(job: &Diagnosis<'_>, suspect: SuspectId) -> String {
    let system = job.system();
    let faults = &job.belief().suspects().list()[suspect].faults;
    if faults.is_empty() {
        return "'nothing wrong'".to_owned();
    }
    let text = faults.iter().filter_map(|f| system.describe(*f)).map(|f| format!("{}: {}", f.label, f.says));
    text.collect::<Vec<_>>().join(" and ")
}

/// A fault in the workshop's words.
pub fn suspect_of(job: &Diagnosis<'_>, fault: FaultId) -> Option<String> {
    job.system().describe(fault).map(|fault| format!("{}: {}", fault.label, fault.says))
}

/// Why a test is asked: what each result would leave.
pub fn why(job: &Diagnosis<'_>, ranked: &Ranked, expect: &Expect, next: Option<&Ranked>) -> String {
    let mut out = String::new();
    let system = job.system();
    line(&mut out, "Each result would leave:");
    for (result, suspects) in expect.outcomes.iter().take(6) {
        let ids: Vec<SuspectId> = suspects.iter().map(|(s, _)| *s).collect();
        let more = if ids.len() > FEW { format!(" and {} more", ids.len() - FEW) } else { String::new() };
        row(
            &mut out,
            &format!("{}:", would_show(system, &ranked.test.probe, result)),
            &format!("{}{more}", names(job, &ids)),
        );
    }
    if let Some(next) = next {
        let text = format!(
            "Second best: {} with {}, {:.1} min.",
            brief(system, &next.test),
            set_up(system, &next.test.set_up),
            next.minutes.get()
        );
        paragraph(&mut out, 0, &text);
    }
    line(&mut out, "because: the reasoning so far.");
    out
}

/// The suspects that remain, likeliest first.
pub fn suspects(job: &Diagnosis<'_>) -> String {
    let mut out = String::new();
    for culprit in job.culprits(10, 1e-3) {
        let faults = culprit.faults.iter().filter_map(|f| job.system().describe(*f));
        let text: Vec<String> = faults.map(|f| format!("{}: {}", f.label, f.says)).collect();
        let text = if text.is_empty() { "nothing wrong".to_owned() } else { text.join(" and ") };
        paragraph(&mut out, 2, &format!("{}: {text}", sure(culprit.probability)));
    }
    if job.posterior().unknown >= 1e-3 {
        paragraph(&mut out, 2, "possible: something that is not in the description");
    }
    out
}

/// An answer as it was given.
pub fn given(system: &System, answer: &Answer, probe: &Probe) -> String {
    let number = |value: f64| match probe {
        Probe::Amps { .. } => amps(value),
        Probe::Ohms { .. } => ohms(value),
        Probe::Volts { .. } | Probe::Light { .. } | Probe::Look(_) => volts(value),
    };
    match answer {
        Answer::Number { value, .. } => number(*value),
        Answer::Between(low, high) => format!("{} to {}", number(*low), number(*high)),
        Answer::Unsteady => "jumps".to_owned(),
        Answer::Word(word) => {
            words(system, probe).and_then(|w| w.words.get(*word)).map_or_else(|| "?".to_owned(), |w| w.says.clone())
        }
        Answer::NotTaken => "not taken".to_owned(),
    }
}
