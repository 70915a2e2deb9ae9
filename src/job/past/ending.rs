//! The end of a job file: its closing record, or what stands there instead.

use crate::document::Source;
use crate::job::record::{Closed, Course, Ended, Failed, Line, Outcome, Record, read_lines, whole_lines};

/// How a job file ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Ending {
    /// What its last whole record says.
    pub look: Look,
    /// Behind that a record was torn off.
    pub torn: bool,
}

/// What the last record of a job says.
#[derive(Clone, Debug, PartialEq)]
pub enum Look {
    /// The job in short.
    Closed(Box<Closed>),
    /// The job is not closed; what it had found.
    Open(Option<Ended>),
}

/// What begins the records that close a job.
const CLOSED: &[u8] = b"- {closed: ";
const OUTCOME: &[u8] = b"- {outcome: ";

/// How a job file ends, by its last bytes, the start of which may lie inside a record. `None`: the whole file must be read,
/// since the closing record is torn, longer than that, or says too little.
///
/// # Errors
/// Why the last record cannot be read.
pub fn ending(tail: &[u8]) -> Result<Option<Ending>, String> {
    // Zeros are what a crash may leave: only the whole file tells whether that is all.
    let Some(end) = tail.iter().rposition(|b| *b == b'\n').filter(|_| !tail.contains(&0)) else { return Ok(None) };
    let torn = end + 1 < tail.len();
    let before = tail.get(..end).unwrap_or_default();
    let Some(start) = before.iter().rposition(|b| *b == b'\n') else { return Ok(None) };
    let last = tail.get(start + 1..=end).unwrap_or_default();
    if last.starts_with(OUTCOME) {
        return Ok(None);
    }
    // Of a job that is not closed no more than its finding is of interest.
    if !last.starts_with(CLOSED) && !last.starts_with(b"- {finding: ") {
        return Ok(Some(Ending { look: Look::Open(None), torn }));
    }
    let lines = lines(last.to_vec())?;
    Ok(match lines.into_iter().next().map(|line| line.record) {
        Some(Record::Closed(closed)) if closed.failed.is_empty() && !closed.culprits.is_empty() => None,
        Some(Record::Closed(closed)) => Some(Ending { look: Look::Closed(Box::new(closed)), torn }),
        Some(Record::Finding(finding)) => Some(Ending { look: Look::Open(Some(finding.ended)), torn }),
        _ => Some(Ending { look: Look::Open(None), torn }),
    })
}

fn lines(bytes: Vec<u8>) -> Result<Vec<Line>, String> {
    let read = Source::from_bytes("", bytes).and_then(|source| read_lines(&source));
    read.map(|lines| lines.into_iter().map(|(_, line)| line).collect()).map_err(|report| {
        let first = report.sorted().first().map_or_else(String::new, |d| d.message.clone());
        format!("its last record cannot be read: {first}")
    })
}

/// How a job file ends, by all of it. A closing record of before kinds were recorded, or one that was torn off behind the
/// outcome, is made up from the other records: the last repair cured, those before it did not.
///
/// # Errors
/// Why it cannot be read.
pub fn whole(bytes: &[u8]) -> Result<Ending, String> {
    let found = whole_lines(bytes).ok_or("no job file")?;
    let (end, torn) = found.map_or_else(|torn| (torn.whole, true), |end| (end, false));
    let text = bytes.get(..end).unwrap_or_default().to_vec();
    let unreadable = |report: crate::diagnostic::Report| {
        let first = report.sorted().first().map(|d| format!("line {}: {}", d.span.line, d.message));
        first.unwrap_or_else(|| "unreadable".to_owned())
    };
    let source = Source::from_bytes("", text).map_err(unreadable)?;
    let lines = read_lines(&source).map_err(unreadable)?;
    let Some(course) = Course::follow(&lines).map_err(unreadable)? else { return Err("empty".to_owned()) };
    let outcome = lines.iter().rev().find_map(|(_, line)| match line.record {
        Record::Outcome { outcome, .. } => Some(outcome),
        _ => None,
    });
    let look = match (&course.closed, outcome) {
        (Some(closed), _) => Look::Closed(Box::new(filled(closed.clone(), &course))),
        (None, Some(outcome)) => Look::Closed(Box::new(filled(closing(&course, outcome), &course))),
        (None, None) => Look::Open(course.finding.as_ref().map(|finding| finding.ended)),
    };
    Ok(Ending { look, torn })
}

/// The closing record of a job that had come to its outcome.
fn closing(course: &Course, outcome: Outcome) -> Closed {
    let facts = course.complaint.iter().flat_map(|complaint| &complaint.facts).filter(|fact| fact.wrong);
    let complaint: Vec<String> = facts.map(|fact| format!("{} {}", fact.look, fact.shows)).collect();
    let done: Vec<&str> = course.repairs.iter().map(|mended| mended.repair.done.as_str()).collect();
    Closed {
        outcome,
        install: course.opened.install.clone(),
        began: course.began,
        complaint: complaint.join(", "),
        ended: course.finding.as_ref().map_or(Ended::Found, |finding| finding.ended),
        culprits: course.repairs.iter().flat_map(|mended| mended.repair.culprits.clone()).collect(),
        failed: Vec::new(),
        repair: (!done.is_empty()).then(|| done.join("; ")),
        readings: course.readings.len(),
        minutes: course.readings.values().map(|entered| entered.reading.minutes).sum(),
        repair_minutes: course.repairs.iter().filter_map(|mended| mended.repair.minutes).reduce(|a, b| a + b),
    }
}

/// A closing record with what was repaired, where it does not say so itself.
fn filled(mut closed: Closed, course: &Course) -> Closed {
    if !closed.failed.is_empty() {
        return closed;
    }
    let last = course.repairs.len().saturating_sub(1);
    for (i, mended) in course.repairs.iter().enumerate() {
        let failed = mended.repair.culprits.iter().map(|blamed| Failed {
            part: blamed.part.clone(),
            fault: blamed.fault.clone(),
            kind: None,
            place: None,
            right: i == last,
        });
        closed.failed.extend(failed);
    }
    // A job that was closed by hand may name the faults in its end alone.
    if course.repairs.is_empty() {
        let named = closed.culprits.iter().map(|blamed| (blamed.part.clone(), blamed.fault.clone()));
        closed.failed =
            named.map(|(part, fault)| Failed { part, fault, kind: None, place: None, right: true }).collect();
    }
    closed
}
