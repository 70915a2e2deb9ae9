//! Readings in doubt, with what may have happened.

use super::answer::given;
use super::json::test_value;
use super::test::brief;
use super::text::{paragraph, set_up};
use crate::belief::{Blunder, Probe};
use crate::job::{Diagnosis, Taken};
use serde_json::{Value, json};

/// One paragraph for each doubt that is held more likely than not.
pub(super) fn doubtful(out: &mut String, job: &Diagnosis<'_>) {
    for (blunder, _) in job.doubtful() {
        let spoilt: Vec<&Taken> = blunder.spoils().iter().filter_map(|o| job.taken_as(*o)).collect();
        let Some(first) = spoilt.first() else { continue };
        let system = job.system();
        let with = set_up(system, &first.test.set_up);
        let text = match blunder {
            Blunder::Reading(_) => format!(
                "Doubtful reading: {} ({with}), {}. {} may have been {}, or the scale misread.",
                brief(system, &first.test),
                given(system, &first.answer, &first.test.probe),
                if is_amps(first) { "The clamp" } else { "A probe" },
                if is_amps(first) { "around another wire, or around several" } else { "on another point" },
            ),
            Blunder::BlackLead(_) => format!(
                "Doubtful readings: {} from {} on. The black lead may have had no contact there, or been on another point.",
                spoilt.len(),
                brief(system, &first.test)
            ),
            Blunder::SetUp(_) => {
                format!("Doubtful readings: {} with {with}. A switch may not have stood as said.", spoilt.len())
            }
        };
        paragraph(out, 0, &text);
    }
}

fn is_amps(taken: &Taken) -> bool {
    matches!(taken.test.probe, Probe::Amps { .. })
}

/// The same for programs: what may have gone wrong, the positions of the readings that it spoils, and its probability.
pub(super) fn value(job: &Diagnosis<'_>) -> Vec<Value> {
    let position = |observation: &usize| (0..job.taken().len()).find(|i| job.observation(*i) == Some(*observation));
    let one = |(blunder, probability): (&Blunder, f64)| {
        let positions: Vec<usize> = blunder.spoils().iter().filter_map(position).collect();
        json!({"what": key(blunder), "readings": positions, "probability": probability})
    };
    job.doubtful().map(one).collect()
}

/// The test that stands in for an observation, for programs.
pub(super) fn instead(job: &Diagnosis<'_>, observation: usize) -> Value {
    job.stand_in(observation).map_or(Value::Null, |ranked| test_value(job.system(), &ranked.test))
}

fn key(blunder: &Blunder) -> &'static str {
    match blunder {
        Blunder::Reading(_) => "reading",
        Blunder::BlackLead(_) => "black_lead",
        Blunder::SetUp(_) => "set_up",
    }
}
