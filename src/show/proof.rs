//! The proof of a repair in words: what a reading is to show, between what it is right, how it came out.

use super::answer::{given, suspect_of};
use super::test::brief;
use super::text::{amps, line, paragraph, set_up, volts};
use crate::choice::Test;
use crate::install::PartId;
use crate::job::{Diagnosis, Held, Limit, Proves, Taken};

/// Names that a line has room for.
const FEW: usize = 2;

/// What a test is to show of a repair; `None` where it belongs to no proof.
pub fn shows(job: &Diagnosis<'_>, test: &Test) -> Option<String> {
    if job.is_retry(test) {
        return Some("what was complained of is gone".to_owned());
    }
    let system = job.system();
    let label = |part: &PartId| system.install.parts[*part].label.clone();
    Some(match &job.proving(test)?.proves {
        Proves::Carries { part, .. } => format!("{} carries its current again", label(part)),
        Proves::Neighbour { shares, load } if shares.is_empty() => format!("{} works as before", label(load)),
        Proves::Neighbour { shares, load } => {
            let shares: Vec<String> = shares.iter().map(label).collect();
            format!("{} works as before; it hangs on {} too", label(load), shares.join(" and "))
        }
        Proves::NotThat(faults) => {
            let mut names: Vec<String> = Vec::new();
            for name in faults.iter().filter_map(|fault| suspect_of(job, *fault)) {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            let more = if names.len() > FEW { ", or others" } else { "" };
            names.truncate(FEW);
            format!("it was not {}{more}", names.join(", "))
        }
    })
}

/// Between what a reading is right, and how that is known.
pub fn limit(job: &Diagnosis<'_>, test: &Test) -> Option<String> {
    let proof = job.proving(test)?;
    let limit = job.limit(proof)?;
    let text = in_short(&limit);
    Some(match limit {
        Limit::AtMost { rule: Some(rule), amps: current, .. } => format!("{text} at {}: {}", amps(current), rule.says),
        Limit::AtMost { amps: current, .. } => format!("{text}, computed for this part at {}", amps(current)),
        Limit::Between(..) => format!("{text}, computed for this circuit"),
    })
}

fn in_short(limit: &Limit) -> String {
    match limit {
        Limit::AtMost { volts: most, .. } => format!("at most {}", volts(*most)),
        Limit::Between(low, high) => format!("{} to {}", volts(*low), volts(*high)),
    }
}

/// How a proof came out, where that is all there is to say of an answer.
pub fn told(job: &Diagnosis<'_>, test: &Test, held: Held) -> Option<String> {
    let mut out = String::new();
    match held {
        Held::Yes => paragraph(&mut out, 0, "As it should be."),
        Held::NotTaken => paragraph(&mut out, 0, "Left open in the record."),
        // What was complained of is still there: what that tells is told as of any answer.
        Held::No if job.is_retry(test) => return None,
        Held::No if job.is_asked_again(test) => {
            paragraph(&mut out, 0, "Not as it should be. Look once more before that counts.");
        }
        Held::No => paragraph(
            &mut out,
            0,
            "NOT as it should be. What was repaired counts as changed, not as right, and the search goes on.",
        ),
    }
    Some(out)
}

/// How a proof came out, in a word.
pub fn word(held: Held) -> &'static str {
    match held {
        Held::Yes => "passed",
        Held::No => "NOT PASSED",
        Held::NotTaken => "not taken",
    }
}

/// That what was complained of is gone, and what was read of the repair is not right all the same.
pub(super) fn not_proven(out: &mut String, job: &Diagnosis<'_>) {
    line(out, "NOT PROVEN: what was complained of works, but");
    let system = job.system();
    let mended = |taken: &Taken| job.taken().iter().any(|t| t.test == taken.test && t.proof == Some(Held::Yes));
    let wrong = |taken: &&Taken| taken.proof == Some(Held::No) && !job.is_retry(&taken.test) && !mended(taken);
    for taken in job.taken().iter().filter(wrong) {
        let with = set_up(system, &taken.test.set_up);
        let read = given(system, &taken.answer, &taken.test.probe);
        paragraph(out, 2, &format!("{} ({with}): {read} is not as it should be", brief(system, &taken.test)));
    }
    let text = "Nothing else that was read is wrong. Look at that place once more before the job is called done; `correct` \
                gives a reading that was misread its right value.";
    paragraph(out, 0, text);
}
