//! 'No fault found': what was tested, in which switch settings, for how long, what remains untested, and what to say.

use super::json;
use super::test::{brief, words};
use super::text::{line, paragraph, row, set_up};
use crate::belief::Answer;
use crate::job::{Diagnosis, Taken};
use serde_json::{Value, json};

/// Suspects that would be looked at next.
const NEXT: usize = 3;

/// The verdict in words.
pub(super) fn no_fault(out: &mut String, job: &Diagnosis<'_>) {
    line(out, "NO FAULT FOUND");
    paragraph(
        out,
        0,
        if job.complaint().what.is_empty() {
            "Nothing wrong was seen, and every reading that a fault would need is right."
        } else {
            "What is complained of did not show when it was tried, and every reading that a fault would need is right."
        },
    );
    tests_and_time(out, job);
    row(out, "Not tested", &format!("what shows {}", conditions(job).join("; ")));
    next_time(out, job);
    row(
        out,
        "Customer",
        "\"It works as it should, and nothing was replaced. If it comes back: leave all switches as they are, note what was on, \
         the weather and how long it had run, and call.\"",
    );
}

/// The end that stays open although nothing was found wrong: what comes and goes was not there, or was seen and is gone.
pub(super) fn not_shown(out: &mut String, job: &Diagnosis<'_>) {
    line(out, "NO FAULT SHOWN");
    paragraph(out, 0, "Every reading is as it should be. The fault may have been away while it was looked for.");
    tests_and_time(out, job);
    for (i, text) in tries(job).iter().enumerate() {
        row(out, if i == 0 { "Try again" } else { "" }, text);
    }
    next_time(out, job);
    row(
        out,
        "Customer",
        "\"It did not fail while we had it, and nothing was replaced. It may come back: then leave all switches as they are, \
         note what was on, the weather and how long it had run, and call.\"",
    );
}

/// What was tested, and for how long.
fn tests_and_time(out: &mut String, job: &Diagnosis<'_>) {
    for (with, tests) in tested(job) {
        row(out, "Tested", &format!("with {with}: {}", tests.join("; ")));
    }
    row(out, "For", &format!("about {:.0} min", job.minutes().get().max(1.0)));
}

/// The suspects to begin with if it comes back.
fn next_time(out: &mut String, job: &Diagnosis<'_>) {
    let next = next(job);
    if !next.is_empty() {
        row(out, "Next", &format!("if it comes back: {}", next.join("; ")));
    }
}

/// When to try again, and how: under the condition that was complained of, else under each.
fn tries(job: &Diagnosis<'_>) -> Vec<String> {
    let occasions = &job.system().install.knowledge.complaints.occasions;
    let named = |word: &usize| job.complaint().occasion == Some(*word);
    let any = !occasions.conditions.iter().any(|(word, _)| named(word));
    let asked = occasions.conditions.iter().filter(|(word, _)| any || named(word));
    let text = |(word, tried): &(usize, String)| Some(format!("{}: {tried}", occasions.words.get(*word)?.says));
    asked.filter_map(text).collect()
}

/// The same for programs.
pub(super) fn value(job: &Diagnosis<'_>) -> Value {
    let system = job.system();
    let set_ups: Vec<Value> = set_ups(job).iter().map(|t| json::set_up(system, &t.test.set_up)).collect();
    let next = job.culprits(NEXT + 1, 0.0);
    let next = next.iter().filter(|c| !c.faults.is_empty()).take(NEXT);
    json!({
        "tests": taken(job).count(),
        "set_ups": set_ups,
        "minutes": job.minutes().get(),
        "not_tested": conditions(job),
        "try_again": tries(job),
        "if_it_comes_back": next.map(|c| json::culprit(system, c)).collect::<Vec<_>>(),
    })
}

/// The tests that were taken.
fn taken<'a>(job: &'a Diagnosis<'_>) -> impl Iterator<Item = &'a Taken> {
    job.taken().iter().filter(|t| !t.complaint && t.answer != Answer::NotTaken)
}

/// One test of each set-up, in the order in which they were first entered.
fn set_ups<'a>(job: &'a Diagnosis<'_>) -> Vec<&'a Taken> {
    let mut list: Vec<&Taken> = Vec::new();
    for taken in taken(job) {
        if list.iter().all(|t| t.test.set_up != taken.test.set_up) {
            list.push(taken);
        }
    }
    list
}

/// The tests of each set-up with what they showed.
fn tested(job: &Diagnosis<'_>) -> Vec<(String, Vec<String>)> {
    let system = job.system();
    let said = |t: &Taken| {
        let read = super::answer::given(system, &t.answer, &t.test.probe);
        let place = if words(system, &t.test.probe).is_some() { ", " } else { " " };
        format!("{}{place}{read}", brief(system, &t.test))
    };
    let of = |first: &Taken| {
        let here = taken(job).filter(|t| t.test.set_up == first.test.set_up);
        (set_up(system, &first.test.set_up), here.map(said).collect())
    };
    set_ups(job).into_iter().map(of).collect()
}

/// The conditions in which nothing was tried.
fn conditions(job: &Diagnosis<'_>) -> Vec<String> {
    let occasions = &job.system().install.knowledge.complaints.occasions;
    let words = occasions.conditions.iter().filter_map(|(word, _)| occasions.words.get(*word));
    words.map(|word| word.says.clone()).collect()
}

/// The suspects that stand next to 'nothing wrong'.
fn next(job: &Diagnosis<'_>) -> Vec<String> {
    let culprits = job.culprits(NEXT + 1, 0.0).into_iter();
    let text = |faults: &[crate::suspects::FaultId]| {
        let all = faults.iter().filter_map(|f| job.system().describe(*f));
        all.map(|f| format!("{}: {}", f.label, f.says)).collect::<Vec<_>>().join(" and ")
    };
    culprits.filter(|c| !c.faults.is_empty()).take(NEXT).map(|c| text(&c.faults)).collect()
}
