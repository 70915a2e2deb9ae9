//! What the finished jobs of a workshop tell, for people and for programs.

use super::json::FORMAT;
use super::text::{counted, line, paragraph, row};
use crate::diagnostic::harmless;
use crate::job::past::{At, Failure, Past};
use crate::job::record::{Ended, Failed, Outcome};
use crate::knowledge::Knowledge;
use crate::suspects::Learnt;
use serde_json::{Value, json};

/// Places of one failure, and files of one list, that are named on the screen.
const MOST: usize = 8;

/// All of it in words.
pub fn report(past: &Past, knowledge: &Knowledge) -> String {
    let mut out = String::new();
    row(&mut out, "Jobs", &jobs(past));
    if let Some(minutes) = minutes(&past.minutes()) {
        row(&mut out, "Minutes", &format!("{minutes} (of readings, to the proof)"));
    }
    let failures = past.failures();
    heading(&mut out, "WHAT FAILED", failures.is_empty());
    for failure in &failures {
        paragraph(
            &mut out,
            2,
            &format!("{} {}", failure.times, named(knowledge, failure.kind.as_deref(), &failure.fault)),
        );
        let more = failure.at.len().saturating_sub(MOST);
        for (at, times) in failure.at.iter().take(MOST) {
            paragraph(&mut out, 6, &format!("{times} {}, {}", place(at), harmless(&at.install)));
        }
        rest(&mut out, 6, more);
        if let Some(minutes) = minutes(&failure.minutes) {
            paragraph(&mut out, 6, &format!("minutes: {minutes}"));
        }
    }
    let wrong: Vec<_> = past.wrong().collect();
    heading(&mut out, "WHICH FINDINGS WERE WRONG", wrong.is_empty());
    for (file, closed, failed) in wrong.iter().take(MOST) {
        let right: Vec<String> = closed.failed.iter().filter(|f| f.right).map(|f| failed_part(knowledge, f)).collect();
        let was = match closed.outcome {
            Outcome::Cured | Outcome::Better if !right.is_empty() => format!("; it was {}", right.join(", ")),
            _ => String::new(),
        };
        paragraph(&mut out, 2, &format!("{}{was}, {}", failed_part(knowledge, failed), harmless(file)));
    }
    rest(&mut out, 2, wrong.len().saturating_sub(MOST));
    if !past.torn.is_empty() {
        heading(&mut out, "LAST RECORD TORN OFF, REST COUNTED", false);
        list(&mut out, past.torn.iter().map(|file| harmless(file).into_owned()));
    }
    if !past.skipped.is_empty() {
        heading(&mut out, "SKIPPED", false);
        list(&mut out, past.skipped.iter().map(|(file, why)| format!("{}: {}", harmless(file), harmless(why))));
    }
    out
}

/// What was counted, in one sentence, before a job begins.
pub fn learnt(learnt: &Learnt) -> String {
    format!(
        "History: {} in {} weigh the suspects; what is commonly known counts for {} jobs.",
        counted(learnt.counts.total(), "fault"),
        counted(learnt.jobs, "closed job"),
        learnt.strength,
    )
}

fn jobs(past: &Past) -> String {
    let outcomes = Outcome::ALL.iter().map(|(outcome, says)| (past.ended(*outcome), says)).filter(|(n, _)| *n > 0);
    let outcomes: Vec<String> = outcomes.map(|(n, says)| format!("{n} {says}")).collect();
    let closed = if outcomes.is_empty() { String::new() } else { format!(": {}", outcomes.join(", ")) };
    let found = past.open.iter().filter(|(_, ended)| ended.is_some_and(|e| e != Ended::Open)).count();
    let open = match past.open.len() {
        0 => String::new(),
        n => format!("; {n} not closed, {found} of them with a finding"),
    };
    format!("{} closed{closed}{open}", past.jobs.len())
}

/// Middle, least and most of ascending minutes.
fn minutes(ascending: &[f64]) -> Option<String> {
    let (least, most) = (ascending.first()?, ascending.last()?);
    if ascending.len() == 1 {
        return Some(format!("{least:.1}"));
    }
    Some(format!("median {:.1}, from {least:.1} to {most:.1}", median(ascending)?))
}

/// The middle of ascending figures; of an even number the mean of the middle two.
fn median(ascending: &[f64]) -> Option<f64> {
    let half = ascending.len() / 2;
    let upper = ascending.get(half)?;
    if ascending.len() % 2 == 1 { Some(*upper) } else { Some((ascending.get(half.checked_sub(1)?)? + upper) / 2.0) }
}

/// A mode of a kind as the knowledge base says it; by its key where it is not known there.
fn named(knowledge: &Knowledge, kind: Option<&str>, fault: &str) -> String {
    let Some(kind) = kind else { return format!("{} (kind not recorded)", harmless(fault)) };
    let modes = knowledge.kind(kind).map(|id| &knowledge.kinds[id].modes);
    let says = modes.and_then(|modes| modes.iter().find(|mode| mode.key == fault)).map(|mode| mode.says.as_str());
    format!("{}: {}", harmless(kind), harmless(says.unwrap_or(fault)))
}

fn place(at: &At) -> String {
    let place = at.place.as_ref().map_or(String::new(), |place| format!(", at: {}", harmless(place)));
    format!("{}{place}", harmless(&at.part))
}

fn failed_part(knowledge: &Knowledge, failed: &Failed) -> String {
    format!("{} ({})", harmless(&failed.part), named(knowledge, failed.kind.as_deref(), &failed.fault))
}

fn heading(out: &mut String, text: &str, none: bool) {
    line(out, "");
    line(out, text);
    if none {
        line(out, "  nothing");
    }
}

fn list(out: &mut String, items: impl ExactSizeIterator<Item = String>) {
    let more = items.len().saturating_sub(MOST);
    items.take(MOST).for_each(|item| paragraph(out, 2, &item));
    rest(out, 2, more);
}

fn rest(out: &mut String, indent: usize, more: usize) {
    if more > 0 {
        paragraph(out, indent, &format!("and {more} more (--format json lists all)"));
    }
}

/// All of it for programs.
pub fn json(past: &Past, folder: &str) -> Value {
    let outcomes: serde_json::Map<String, Value> =
        Outcome::ALL.iter().map(|(outcome, says)| (says.replace(' ', "_"), json!(past.ended(*outcome)))).collect();
    let failure = |failure: &Failure| {
        let at = |(at, times): &(At, usize)| json!({"install": at.install, "part": at.part, "place": at.place, "times": times});
        json!({
            "kind": failure.kind,
            "fault": failure.fault,
            "times": failure.times,
            "at": failure.at.iter().map(at).collect::<Vec<_>>(),
            "minutes": failure.minutes,
            "minutes_median": median(&failure.minutes),
        })
    };
    let failed = |f: &Failed| json!({"part": f.part, "fault": f.fault, "kind": f.kind, "place": f.place});
    let wrong = past.wrong().map(|(file, closed, wrong)| {
        let right: Vec<Value> = closed.failed.iter().filter(|f| f.right).map(failed).collect();
        json!({"file": file, "install": closed.install, "found": failed(wrong), "was": right})
    });
    let open = past.open.iter().map(|(file, ended)| {
        let word = ended.and_then(|ended| Ended::ALL.iter().find(|(one, _)| *one == ended)).map(|(_, word)| *word);
        json!({"file": file, "finding": word})
    });
    json!({
        "format": FORMAT,
        "folder": folder,
        "closed": past.jobs.len(),
        "outcomes": outcomes,
        "minutes_median": median(&past.minutes()),
        "failures": past.failures().iter().map(failure).collect::<Vec<_>>(),
        "wrong": wrong.collect::<Vec<_>>(),
        "not_closed": open.collect::<Vec<_>>(),
        "torn": past.torn,
        "skipped": past.skipped.iter().map(|(file, why)| json!({"file": file, "why": why})).collect::<Vec<_>>(),
    })
}

/// What suspects were weighed with, for programs.
pub fn learnt_json(learnt: &Learnt) -> Value {
    let counts = learnt.counts.iter().map(|(kind, fault, times)| json!({"kind": kind, "fault": fault, "times": times}));
    json!({"jobs": learnt.jobs, "strength": learnt.strength, "counts": counts.collect::<Vec<_>>()})
}
