//! What stands in each section of a sheet.

use super::readings::{proof, readings, setting, shown};
use super::{Block, Section, Told, clean};
use crate::job::record::{Blamed, Complained, Course, Ended, Outcome, Repair};
use crate::job::{AtHand, System};
use crate::show::text::{part, place, sure};

/// How a job stands, in one line.
pub(super) fn state(course: &Course) -> String {
    let outcome = |outcome| Outcome::ALL.iter().find(|(one, _)| *one == outcome).map_or("", |(_, word)| *word);
    if let (None, Some((left, says))) = (&course.closed, &course.outcome) {
        let says = says.as_ref().map_or(String::new(), |says| format!(" ({})", clean(says)));
        return format!("{}{says}; the job is not closed", outcome(*left));
    }
    match (&course.closed, &course.finding) {
        (Some(closed), _) => format!("closed: {}", outcome(closed.outcome)),
        (None, Some(finding)) => format!("{}; the job is not closed", ended(finding.ended)),
        (None, None) => "OPEN: there is no finding yet".to_owned(),
    }
}

/// How a search ended, in words.
pub(super) fn ended(ended: Ended) -> &'static str {
    Ended::ALL.iter().find(|(one, _)| *one == ended).map_or("", |(_, word)| word)
}

pub(super) fn sections(told: &Told<'_, '_>) -> Vec<Section> {
    let course = told.course;
    let section = |heading, block| Section { heading, block };
    let all = [
        section("Job", Block::Fields(job(course))),
        section("Complaint", Block::Fields(course.complaint.as_ref().map_or_else(Vec::new, |c| complaint(told, c)))),
        section("On the bench", Block::Fields(on_bench(course))),
        section("Cause", Block::Fields(cause(told))),
        section("Correction", Block::Fields(correction(told))),
        section("Proof", Block::Table { head: super::readings::PROOF_HEAD, rows: proof(told) }),
        section("Readings", Block::Table { head: super::readings::HEAD, rows: readings(told) }),
        section("Open", Block::List(open(course))),
        section("Cautions shown", Block::List(cautions(course))),
        section("Notes", Block::List(course.notes.iter().map(|(at, text)| format!("{at}: {}", clean(text))).collect())),
    ];
    all.into_iter().filter(|section| !section.block.is_empty()).collect()
}

fn field(name: &str, text: impl Into<String>) -> (String, String) {
    (name.to_owned(), text.into())
}

fn job(course: &Course) -> Vec<(String, String)> {
    let mut fields = vec![field("began", course.began.to_string())];
    // What the customer says stands with the complaint.
    let about = course.about.0.iter().filter(|(name, _)| !TOLD_BY_CUSTOMER.contains(&name.as_str()) && name != PARTS);
    fields.extend(about.map(|(name, text)| (clean(name), clean(text))));
    if course.at_hand != AtHand::USUAL {
        fields.push(field("at hand", course.at_hand.to_string()));
    }
    if course.lesson {
        fields.push(field("lesson", "yes"));
    }
    fields.push(field("minutes", minutes(course)));
    fields.push(field("install", clean(&course.file)));
    fields.push(field("program", clean(&course.opened.program)));
    fields
}

/// The free field that belongs to the correction.
const PARTS: &str = "parts";

/// Free fields that belong to the complaint.
const TOLD_BY_CUSTOMER: [&str; 2] = ["says", "changed"];

/// Minutes of readings and of repairs, as far as they are known.
fn minutes(course: &Course) -> String {
    let readings = minutes_of_readings(course);
    match minutes_of_repairs(course) {
        Some(repairs) => format!("{readings:.1} of readings, {repairs:.1} of repairs"),
        None => format!("{readings:.1} of readings"),
    }
}

pub(super) fn minutes_of_readings(course: &Course) -> f64 {
    course.readings.values().map(|entered| entered.reading.minutes).sum()
}

pub(super) fn minutes_of_repairs(course: &Course) -> Option<f64> {
    repairs(course).filter_map(|repair| repair.minutes).reduce(|a, b| a + b)
}

/// Everything that was repaired, also what names no fault.
pub(super) fn repairs(course: &Course) -> impl Iterator<Item = &Repair> {
    course.repairs.iter().map(|mended| &mended.repair).chain(&course.works)
}

fn complaint(told: &Told<'_, '_>, complaint: &Complained) -> Vec<(String, String)> {
    let customer = told.course.about.0.iter().filter(|(name, _)| TOLD_BY_CUSTOMER.contains(&name.as_str()));
    let mut fields: Vec<_> = customer.map(|(name, text)| (clean(name), clean(text))).collect();
    for fact in &complaint.facts {
        let name = if fact.wrong { "wrong" } else { "works" };
        let word = shown(told.system, &fact.look, &fact.shows);
        fields.push(field(name, clean(&format!("{}: {word} ({})", fact.look, setting(&fact.with)))));
    }
    if complaint.facts.is_empty() {
        fields.push(field("about", clean(&complaint.what.join(", "))));
    }
    fields.extend(complaint.when.iter().map(|when| field("when", clean(when))));
    fields.extend(complaint.history.iter().map(|history| field("before", clean(history))));
    if !complaint.seen {
        fields.push(field("seen", "by the customer alone"));
    }
    fields
}

/// What stood in on the bench, and what was found when it came in.
fn on_bench(course: &Course) -> Vec<(String, String)> {
    let Some(bench) = &course.bench else { return Vec::new() };
    let mut fields = vec![field("limit", format!("{} A", bench.limit))];
    if !bench.dummies.is_empty() {
        fields.push(field("dummy lamps", clean(&bench.dummies.join(", "))));
    }
    fields.extend(course.incoming.iter().map(|(about, says)| (clean(about), clean(says))));
    fields
}

/// The faults that were named: those of the last finding, of the end, or of the repairs.
pub(super) fn culprits(course: &Course) -> Vec<&Blamed> {
    let found = course.finding.iter().flat_map(|finding| &finding.culprits);
    let closed = course.closed.iter().flat_map(|closed| &closed.culprits);
    let repaired = course.repairs.iter().flat_map(|mended| &mended.repair.culprits);
    let mut all: Vec<&Blamed> = Vec::new();
    for blamed in repaired.chain(closed).chain(found) {
        if !all.iter().any(|known| (&known.part, &known.fault) == (&blamed.part, &blamed.fault)) {
            all.push(blamed);
        }
    }
    all
}

/// A fault that a record names, in words.
pub(super) fn fault(system: Option<&System>, blamed: &Blamed) -> String {
    let known = system.and_then(|system| Some((system, system.describe(system.fault(&blamed.part, &blamed.fault)?)?)));
    match known {
        Some((system, fault)) => {
            let at = place(system, system.install.parts[fault.part].place);
            let at = at.map_or(String::new(), |place| format!(", at: {place}"));
            clean(&format!("{}: {}{at}", fault.label, fault.says))
        }
        None => clean(&format!("{}: {}", blamed.part, blamed.fault)),
    }
}

fn cause(told: &Told<'_, '_>) -> Vec<(String, String)> {
    let mut fields = Vec::new();
    let ended = told.course.finding.as_ref().map(|f| f.ended).or(told.course.closed.as_ref().map(|c| c.ended));
    if let Some(ended) = ended {
        fields.push(field("finding", self::ended(ended)));
    }
    for blamed in culprits(told.course) {
        fields.push(field("fault", fault(told.system, blamed)));
        fields.push(field("sure", sure(blamed.sure)));
        let look = told
            .system
            .and_then(|system| system.look_for(system.describe(system.fault(&blamed.part, &blamed.fault)?)?));
        fields.extend(look.map(|look| field("look for", clean(look))));
    }
    if ended.is_none() && fields.is_empty() {
        fields.push(field("finding", "none yet"));
    }
    fields
}

fn correction(told: &Told<'_, '_>) -> Vec<(String, String)> {
    let mut fields = Vec::new();
    for repair in repairs(told.course) {
        fields.push(field("repaired", clean(&repair.part)));
        let parts = repair.culprits.iter().filter_map(|blamed| {
            let system = told.system?;
            Some(part(system, system.part(&blamed.part)?))
        });
        let mut parts: Vec<String> = parts.collect();
        parts.dedup();
        if !parts.is_empty() {
            fields.push(field("part", clean(&parts.join(", "))));
        }
        if !repair.done.is_empty() {
            fields.push(field("done", clean(&repair.done)));
        }
        fields.extend(repair.minutes.map(|minutes| field("minutes", format!("{minutes:.1}"))));
    }
    // What was fitted stands with what was done.
    let used = told.course.about.0.iter().filter(|(name, _)| name == PARTS);
    fields.extend(used.map(|(_, text)| field("parts", clean(text))));
    if fields.is_empty() {
        let usual = culprits(told.course).into_iter().filter(|blamed| !blamed.repair.is_empty());
        fields.extend(usual.map(|blamed| field("usual", clean(&blamed.repair))));
    }
    if let Some((outcome, says)) = &told.course.outcome {
        let word = Outcome::ALL.iter().find(|(one, _)| one == outcome).map_or("", |(_, word)| *word);
        fields.push(field("outcome", word));
        fields.extend(says.iter().map(|says| field("said", clean(says))));
    }
    fields
}

/// What stays open: what the finding left, or the last time that the person left.
pub(super) fn open_ends(course: &Course) -> &[String] {
    let open = course.finding.as_ref().map(|f| &f.open).or(course.left.as_ref().map(|l| &l.open));
    open.map_or(&[], Vec::as_slice)
}

fn open(course: &Course) -> Vec<String> {
    let mut open: Vec<String> = open_ends(course).iter().map(|text| clean(text)).collect();
    if course.closed.is_none() {
        open.push("the job is not closed: no proof that what was complained of works again".to_owned());
    }
    open
}

/// Cautions that were shown, each once.
pub(super) fn cautions(course: &Course) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for caution in course.opened.cautions.iter().chain(&course.cautions) {
        let caution = clean(caution);
        if !all.contains(&caution) {
            all.push(caution);
        }
    }
    all
}
