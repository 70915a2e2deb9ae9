//! The way of a current as rows from supply to ground: its parts, what was read between them, where the fault's two sides are.

use super::answer::given;
use super::test::{brief, would_show};
use crate::install::PartId;
use crate::job::reasoning::{Means, Reasoning, Way};
use crate::job::{Diagnosis, Step, System};
use crate::knowledge::Role;

/// One row of a way.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Row {
    /// A part that the current passes.
    Part {
        /// The part.
        part: PartId,
        /// As it is called, with the pin where it has several.
        label: String,
        /// What the current is for.
        load: bool,
    },
    /// A reading.
    Mark {
        /// The observation.
        taken: usize,
        /// Where.
        place: String,
        /// What was read.
        read: String,
        /// What a good circuit shows.
        expected: String,
        /// What it means.
        means: Means,
        /// It is in doubt.
        doubtful: bool,
        /// The other lead is on the way too, not at its end.
        across: bool,
    },
    /// Up to here all is well.
    LastGood,
    /// From here on it is not.
    FirstBad,
}

/// The rows of a way. Of wires and their ends only those of `also` have one.
pub(super) fn rows(job: &Diagnosis<'_>, reasoning: &Reasoning, way: &Way, also: &[PartId]) -> Vec<Row> {
    let system = job.system();
    let mut rows = Vec::new();
    for at in 0..=way.steps.len() {
        if way.sides.is_some_and(|sides| sides.to == at) {
            rows.push(Row::FirstBad);
        }
        for mark in way.marks.iter().filter(|mark| mark.at == at) {
            let (Some(taken), Some(heard)) = (job.taken().get(mark.taken), reasoning.heard.get(mark.taken)) else {
                continue;
            };
            let probe = &taken.test.probe;
            rows.push(Row::Mark {
                taken: mark.taken,
                place: brief(system, &taken.test),
                read: given(system, &taken.answer, &taken.test.probe),
                expected: heard.expected.as_ref().map(|good| would_show(system, probe, good)).unwrap_or_default(),
                means: heard.means,
                doubtful: heard.doubtful,
                across: mark.other < way.steps.len(),
            });
        }
        if way.sides.is_some_and(|sides| sides.from == at) {
            rows.push(Row::LastGood);
        }
        if let Some(step) =
            way.steps.get(at).filter(|step| at == way.load || is_shown(system, step.part) || also.contains(&step.part))
        {
            rows.push(Row::Part { part: step.part, label: label(system, step), load: at == way.load });
        }
    }
    rows
}

/// Whether a part on a way is worth a line: wires and their joints are left to the readings at their ends.
pub(super) fn is_shown(system: &System, part: PartId) -> bool {
    let part = &system.install.parts[part];
    let role = system.install.knowledge.kinds[part.kind].role;
    part.joint_of.is_none() && role != Role::Conductor
}

/// A part, and the pin where the current passes one of several.
pub(super) fn label(system: &System, step: &Step) -> String {
    let part = &system.install.parts[step.part];
    let of_pin = system.install.knowledge.kinds[part.kind].terminals.len().max(1);
    let here = part.terminals.iter().position(|t| system.node(*t) == step.enter);
    match here.and_then(|terminal| part.pins.get(terminal / of_pin)) {
        Some(pin) => format!("{} {pin}", part.label),
        None => part.label.clone(),
    }
}

/// Whether a reading is what it should be.
pub(super) fn is_good(means: Means) -> bool {
    match means {
        Means::Nothing | Means::Right | Means::Arrives | Means::Sound => true,
        Means::Wrong | Means::Dead | Means::Missing(_) | Means::Loses(_) => false,
    }
}

/// What a reading means, in words.
pub(super) fn means(means: Means) -> String {
    match means {
        Means::Nothing => "not taken".to_owned(),
        Means::Right => "as it should be".to_owned(),
        Means::Wrong => "not as it should be".to_owned(),
        Means::Arrives => "it arrives here: good up to here".to_owned(),
        Means::Dead => "nothing arrives here".to_owned(),
        Means::Missing(volts) => format!("{} is missing here", super::text::volts(volts)),
        Means::Sound => "nothing is lost on this stretch".to_owned(),
        Means::Loses(volts) => format!("{} is lost on this stretch", super::text::volts(volts)),
    }
}
