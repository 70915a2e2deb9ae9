//! The reasoning of a job, as a technician tells it: reading by reading, along the way of the current, suspect by suspect.

use super::answer::{given, suspect, suspects};
use super::json::{answer, expected, fault, test_value};
use super::test::{brief, would_show};
use super::text::{counted, line, paragraph, row, set_up};
use super::way::{Row, is_good, means, rows};
use crate::belief::{Answer, Verdict};
use crate::job::reasoning::{Excluded, Heard, Means, Reasoning, Way};
use crate::job::{Diagnosis, Next, Taken};
use crate::suspects::SuspectId;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// A job and its reasoning, and how much of it is to be told.
pub struct Telling<'a, 'n> {
    /// The job.
    pub job: &'a Diagnosis<'n>,
    /// The number of each reading, in order; the complaint has none.
    pub numbers: &'a [usize],
    /// Why it stands where it stands.
    pub reasoning: &'a Reasoning,
    /// Say how likely each of those that are left is.
    pub odds: bool,
    /// Name every suspect that was ruled out.
    pub all: bool,
}

/// Groups of suspects that one reading has room for, and names in a group.
const GROUPS: usize = 4;
const NAMES: usize = 3;

/// The reasoning in words.
pub fn text(telling: &Telling<'_, '_>) -> String {
    let mut out = String::new();
    let Telling { job, reasoning, .. } = telling;
    line(&mut out, &format!("{}, {}", job.system().install.title, job.system().install.nominal));
    let mut numbers = telling.numbers.iter();
    for (taken, heard) in job.taken().iter().zip(&reasoning.heard) {
        let heading = if taken.complaint {
            "Complaint:".to_owned()
        } else {
            numbers.next().map_or_else(String::new, |number| format!("{number}."))
        };
        observation(&mut out, telling, &heading, taken, heard);
    }
    if !reasoning.together.is_empty() {
        let names = names(telling, &reasoning.together, NAMES);
        row(&mut out, "Together", &format!("the readings as a whole rule out {names}"));
    }
    for way in &reasoning.ways {
        along(&mut out, telling, way);
    }
    line(&mut out, "");
    out.push_str(&ending(job, &reasoning.next));
    super::doubt::doubtful(&mut out, job);
    if telling.odds {
        odds(&mut out, job);
    }
    out
}

fn observation(out: &mut String, telling: &Telling<'_, '_>, heading: &str, taken: &Taken, heard: &Heard) {
    let system = telling.job.system();
    let with = set_up(system, &taken.test.set_up);
    let read = given(system, &taken.answer, &taken.test.probe);
    if !taken.complaint {
        line(out, "");
    }
    paragraph(out, 0, &format!("{heading} {} ({with}): {read}", brief(system, &taken.test)));
    if taken.answer == Answer::NotTaken {
        return;
    }
    let good = heard.expected.as_ref().map(|good| would_show(system, &taken.test.probe, good)).unwrap_or_default();
    let doubt = if heard.doubtful { "; in doubt" } else { "" };
    row(out, "   Good", &good);
    if let Some(held) = taken.proof {
        row(out, "   Proof", super::proof::word(held));
    }
    row(out, "   So", &format!("{}{doubt}", means(heard.means)));
    excluded(out, telling, taken, heard);
}

/// Suspects that would have shown the same, with that.
struct Alike {
    would: String,
    suspects: Vec<SuspectId>,
}

fn excluded(out: &mut String, telling: &Telling<'_, '_>, taken: &Taken, heard: &Heard) {
    let count = heard.excluded.len();
    if count == 0 {
        return;
    }
    if taken.complaint && !telling.all {
        row(out, "   Out", &format!("{}, for they would show otherwise", counted(count, "suspect")));
        return;
    }
    let alike = grouped(telling, taken, &heard.excluded);
    let most = if telling.all { usize::MAX } else { GROUPS };
    for group in alike.iter().take(most) {
        let names = names(telling, &group.suspects, NAMES);
        row(out, "   Out", &format!("{names} - it would be {}", group.would));
    }
    let more: usize = alike.iter().skip(most).map(|group| group.suspects.len()).sum();
    if more > 0 {
        row(out, "   Out", &format!("{more} more (halfsplit because --all)"));
    }
}

/// Suspects by what they would have shown; those on the way of the current first.
fn grouped(telling: &Telling<'_, '_>, taken: &Taken, excluded: &[Excluded]) -> Vec<Alike> {
    let mut groups: Vec<Alike> = Vec::new();
    for one in excluded {
        let would = would_show(telling.job.system(), &taken.test.probe, &one.would);
        match groups.iter_mut().find(|group| group.would == would) {
            Some(group) => group.suspects.push(one.suspect),
            None => groups.push(Alike { would, suspects: vec![one.suspect] }),
        }
    }
    let on_way = on_way(telling);
    for group in &mut groups {
        group.suspects.sort_by_key(|s| (!on_way.contains(s), *s));
    }
    groups.sort_by_key(|group| {
        let on = group.suspects.iter().filter(|s| on_way.contains(s)).count();
        (std::cmp::Reverse(on), std::cmp::Reverse(group.suspects.len()))
    });
    groups
}

/// Suspects at parts that the current should pass.
fn on_way(telling: &Telling<'_, '_>) -> BTreeSet<SuspectId> {
    let job = telling.job;
    let parts: BTreeSet<&str> = (telling.reasoning.ways.iter().flat_map(|way| &way.steps))
        .map(|step| job.system().install.parts[step.part].id.as_str())
        .collect();
    let suspects = job.belief().suspects();
    let here = |faults: &[crate::suspects::FaultId]| {
        faults.iter().any(|f| suspects.faults().get(*f).is_some_and(|fault| parts.contains(fault.part.as_str())))
    };
    suspects.list().enumerate().filter(|(_, s)| here(&s.faults)).map(|(id, _)| id).collect()
}

fn names(telling: &Telling<'_, '_>, suspects: &[SuspectId], few: usize) -> String {
    let most = if telling.all { usize::MAX } else { few };
    let names: Vec<String> = suspects.iter().take(most).map(|s| suspect(telling.job, *s)).collect();
    let more = if suspects.len() > most { format!(" and {} more", suspects.len() - most) } else { String::new() };
    format!("{}{more}", names.join(", "))
}

/// The way of a current with its readings, where there are any.
fn along(out: &mut String, telling: &Telling<'_, '_>, way: &Way) {
    let job = telling.job;
    if way.marks.is_empty() {
        return;
    }
    let Some(load) = way.steps.get(way.load) else { return };
    let name = &job.system().install.parts[load.part].label;
    let of = if way.controls { format!("the control wire of {name}") } else { name.clone() };
    line(out, "");
    paragraph(out, 0, &format!("From supply to {}, through {of}:", job.system().install.earth_word));
    for row in rows(job, telling.reasoning, way, &[]) {
        match row {
            Row::Part { label, .. } => paragraph(out, 2, &label),
            Row::Mark { place, read, expected, means, doubtful, .. } => {
                let doubt = if doubtful { ", in doubt" } else { "" };
                let mark = if is_good(means) { "good" } else { "BAD" };
                paragraph(out, 6, &format!("{mark}: {place} {read} (good: {expected}){doubt}"));
            }
            Row::LastGood => paragraph(out, 2, "--- good up to here"),
            Row::FirstBad => paragraph(out, 2, "--- not from here on"),
        }
    }
}

fn ending(job: &Diagnosis<'_>, next: &Next) -> String {
    match next {
        Next::Stop(verdict) => super::finding::verdict(job, verdict),
        Next::Take(ranked) => {
            let mut out = String::new();
            line(&mut out, "Not at its end. Still suspected:");
            out.push_str(&suspects(job));
            let with = set_up(job.system(), &ranked.test.set_up);
            paragraph(&mut out, 0, &format!("Next: {} ({with})", brief(job.system(), &ranked.test)));
            out
        }
    }
}

/// Repairs with their probabilities, as far as they are worth a line.
fn odds(out: &mut String, job: &Diagnosis<'_>) {
    line(out, "Odds:");
    // Nothing is certain.
    let percent = |share: f64| if share > 0.999 { "over 99.9 %".to_owned() } else { format!("{:.1} %", 100.0 * share) };
    for culprit in job.culprits(10, 1e-3) {
        let name = super::finding::culprit(job.system(), &culprit);
        let name = if name.is_empty() { "nothing wrong".to_owned() } else { name };
        paragraph(out, 2, &format!("{}: {name}", percent(culprit.probability)));
    }
    let unknown = percent(job.posterior().unknown);
    paragraph(out, 2, &format!("{unknown}: something that is not in the description"));
}

/// The reasoning for programs.
pub fn json(telling: &Telling<'_, '_>) -> Value {
    let Telling { job, reasoning, .. } = telling;
    let system = job.system();
    let mut numbers = telling.numbers.iter();
    let readings = job.taken().iter().zip(&reasoning.heard).map(|(taken, heard)| {
        let mut value = test_value(system, &taken.test);
        value["number"] = if taken.complaint { Value::Null } else { json!(numbers.next()) };
        value["complaint"] = json!(taken.complaint);
        value["read"] = answer(system, &taken.answer, &taken.test.probe);
        value["expected"] = json!(heard.expected.as_ref().map(|e| expected(system, e, &taken.test.probe)));
        value["means"] = json!(means_key(heard.means));
        value["doubtful"] = json!(heard.doubtful);
        let out = heard.excluded.iter().map(|one| {
            json!({"faults": faults(job, one.suspect), "would_read": expected(system, &one.would, &taken.test.probe)})
        });
        value["rules_out"] = out.collect();
        value
    });
    let readings: Vec<Value> = readings.collect();
    let verdict = match &reasoning.next {
        Next::Stop(verdict) => super::json::verdict_key(verdict),
        Next::Take(_) => super::json::verdict_key(&Verdict::Open),
    };
    let mut value = json!({
        "format": super::json::FORMAT,
        "install": system.install.title,
        "verdict": verdict,
        "readings": readings,
        "ruled_out_together": reasoning.together.iter().map(|s| faults(job, *s)).collect::<Vec<_>>(),
        "ways": reasoning.ways.iter().map(|way| way_value(telling, way)).collect::<Vec<_>>(),
        "left": job.culprits(50, 1e-4).iter().map(|c| super::json::culprit(system, c)).collect::<Vec<_>>(),
    });
    if !telling.odds {
        for left in value["left"].as_array_mut().into_iter().flatten() {
            left.as_object_mut().map(|left| left.remove("probability"));
        }
    }
    value
}

fn faults(job: &Diagnosis<'_>, suspect: SuspectId) -> Vec<Value> {
    job.belief().suspects().list()[suspect].faults.iter().map(|f| fault(job.system(), *f)).collect()
}

fn way_value(telling: &Telling<'_, '_>, way: &Way) -> Value {
    let system = telling.job.system();
    let id = |step: &crate::job::Step| system.install.parts[step.part].id.clone();
    let marks = way.marks.iter().map(|mark| json!({"at": mark.at, "other": mark.other, "reading": mark.taken}));
    json!({
        "parts": way.steps.iter().map(id).collect::<Vec<_>>(),
        "load": way.steps.get(way.load).map(id),
        "controls": way.controls,
        "marks": marks.collect::<Vec<_>>(),
        "fault_between": way.sides.map(|sides| [sides.from, sides.to]),
    })
}

fn means_key(means: Means) -> Value {
    let (key, volts) = match means {
        Means::Nothing => ("not_taken", None),
        Means::Right => ("right", None),
        Means::Wrong => ("wrong", None),
        Means::Arrives => ("arrives", None),
        Means::Dead => ("nothing_arrives", None),
        Means::Missing(volts) => ("missing", Some(volts)),
        Means::Sound => ("nothing_lost", None),
        Means::Loses(volts) => ("lost", Some(volts)),
    };
    json!({"what": key, "volts": volts})
}
