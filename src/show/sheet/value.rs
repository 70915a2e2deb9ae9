//! The sheet for programs: what the records say, word for word.

use super::Told;
use super::content::{
    cautions, culprits, ended, fault, minutes_of_readings, minutes_of_repairs, open_ends, repairs, state,
};
use super::readings::{is_doubtful, is_proof, place};
use crate::job::record::{Got, Outcome, Reading, Seen, Setting};
use crate::job::{AtHand, Held};
use crate::show::json::FORMAT;
use serde_json::{Map, Value, json};

/// The sheet as JSON.
pub fn value(told: &Told<'_, '_>) -> Value {
    let course = told.course;
    let readings = course.readings.iter().map(|(number, entered)| {
        let mut value = reading(&entered.reading);
        value["at"] = json!(entered.at.to_string());
        value["corrected"] = json!(entered.corrected);
        value["doubtful"] = json!(is_doubtful(told, *number));
        value["proof"] = json!(is_proof(course, entered));
        value
    });
    let proofs = course.readings.values().filter(|e| e.reading.proof.is_some()).map(|e| reading(&e.reading));
    let blamed = culprits(course).into_iter().map(|blamed| {
        json!({
            "part": blamed.part,
            "mode": blamed.fault,
            "says": fault(told.system, blamed),
            "probability": blamed.sure,
            "usual_repair": blamed.repair,
        })
    });
    let repaired =
        repairs(course).map(|repair| json!({"part": repair.part, "done": repair.done, "minutes": repair.minutes}));
    let complaint = course.complaint.as_ref().map(|complaint| {
        json!({
            "what": complaint.what,
            "facts": complaint.facts.iter().map(fact).collect::<Vec<_>>(),
            "when": complaint.when,
            "history": complaint.history,
            "seen": complaint.seen,
        })
    });
    let about: Map<String, Value> = course.about.0.iter().map(|(name, text)| (name.clone(), json!(text))).collect();
    let notes = course.notes.iter().map(|(at, text)| json!({"at": at.to_string(), "note": text}));
    let outcome = course.outcome.as_ref().map(|(outcome, says)| {
        let word = Outcome::ALL.iter().find(|(one, _)| one == outcome).map_or("", |(_, word)| *word);
        json!({"outcome": word, "says": says})
    });
    let bench = course.bench.as_ref().map(|bench| {
        let incoming: Map<String, Value> = course.incoming.iter().map(|(k, v)| (k.clone(), json!(v))).collect();
        json!({"limit": bench.limit, "dummies": bench.dummies, "incoming": incoming})
    });
    let mut sheet = json!({
        "format": FORMAT,
        "bench": bench,
        "lesson": course.lesson,
        "install": course.opened.install,
        "description": course.file,
        "program": course.opened.program,
        "state": state(course),
        "closed": course.closed.is_some(),
        "began": course.began.to_string(),
        "about": about,
        "complaint": complaint,
        "finding": course.finding.as_ref().map(|finding| ended(finding.ended)),
        "culprits": blamed.collect::<Vec<_>>(),
        "repairs": repaired.collect::<Vec<_>>(),
        "outcome": outcome,
        "readings": readings.collect::<Vec<_>>(),
        "proofs": proofs.collect::<Vec<_>>(),
        "minutes": {"readings": minutes_of_readings(course), "repairs": minutes_of_repairs(course)},
        "open": open_ends(course),
        "cautions": cautions(course),
        "notes": notes.collect::<Vec<_>>(),
    });
    if course.at_hand != AtHand::USUAL {
        sheet["instruments"] = json!(course.at_hand.names());
    }
    sheet
}

fn reading(reading: &Reading) -> Value {
    let (key, text) = match &reading.got {
        Got::Reads(text) => ("reads", text),
        Got::Shows(word) => ("shows", word),
        Got::Skipped(why) => ("skipped", why),
    };
    let mut value = json!({
        "number": reading.number,
        "where": place(&reading.probed),
        "with": with(&reading.with),
        "expected": reading.expected,
        "minutes": reading.minutes,
        "asked": reading.asked,
    });
    value[key] = json!(text);
    if let Some(proof) = &reading.proof {
        value["shows_that"] = json!(proof.shows);
        value["passed"] = json!(match proof.held {
            Held::Yes => Some(true),
            Held::No => Some(false),
            Held::NotTaken => None,
        });
    }
    value
}

fn fact(seen: &Seen) -> Value {
    json!({"with": with(&seen.with), "look": seen.look, "shows": seen.shows, "wrong": seen.wrong})
}

fn with(setting: &Setting) -> Value {
    Value::Object(setting.iter().map(|(name, position)| (name.clone(), json!(position))).collect())
}
