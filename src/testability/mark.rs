//! How a verdict is marked.

use super::alike::alike;
use crate::belief::Verdict;
use crate::bench::Hidden;
use crate::install::PartId;
use crate::job::{Diagnosis, System};
use crate::suspects::GroupId;

/// Repairs that a verdict may name beyond those that no test of the mock-up can tell from the true one.
const BEYOND: usize = 2;

/// What a verdict was worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// A hidden fault named, and hardly more than cannot be told from it; for nothing hidden, that nothing is wrong.
    Right,
    /// A hidden fault named among too many.
    TooBroad,
    /// A culprit named that is not hidden.
    WrongConfident,
    /// 'The readings do not fit', or 'no fault found' where there is one.
    Misfit,
    /// No verdict.
    Undecided,
}

impl Mark {
    /// All of them with their keys.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Right, "right"),
        (Self::TooBroad, "too_broad"),
        (Self::WrongConfident, "wrong_confident"),
        (Self::Misfit, "misfit"),
        (Self::Undecided, "undecided"),
    ];

    /// Its key.
    pub fn key(self) -> &'static str {
        Self::ALL.iter().find(|(mark, _)| *mark == self).map_or("", |(_, key)| key)
    }
}

/// Marks the verdict of a job.
///
/// Of a system that differs from its description nothing in the catalogue is wrong. There it is right to say that the
/// readings do not fit, and to name anything of a part that the difference is at: that is where a person would look.
pub(super) fn mark(job: &Diagnosis<'_>, verdict: &Verdict, hidden: &Hidden) -> Mark {
    let system = job.system();
    let differs = !hidden.changes.is_empty();
    let (named, single) = match verdict {
        Verdict::Misfit(_) if differs => return Mark::Right,
        Verdict::Misfit(_) => return Mark::Misfit,
        Verdict::NoFault if hidden.is_nothing() => return Mark::Right,
        Verdict::NoFault => return Mark::Misfit,
        // A trial's own verdict comes before any repair.
        Verdict::Open | Verdict::Cured => return Mark::Undecided,
        Verdict::Found(groups) => (groups, true),
        Verdict::Ambiguous(groups) => (groups, false),
    };
    let cures: Vec<&str> = repairs(system, hidden);
    let is_hidden = |word: &String| cures.contains(&word.as_str());
    let words = |group: &GroupId| &job.belief().suspects().groups()[*group].repair;
    let hits = named.iter().filter(|g| words(g).iter().any(is_hidden)).count();
    if hits == 0 || single && hits < named.len() {
        return Mark::WrongConfident;
    }
    if differs {
        return Mark::Right;
    }
    // The others are looked at one by one only where they are too many to be let pass.
    let others: Vec<&GroupId> = named.iter().filter(|g| !words(g).iter().any(is_hidden)).collect();
    if others.len() <= BEYOND || others.iter().filter(|g| !alike(job, hidden, ***g)).count() <= BEYOND {
        Mark::Right
    } else {
        Mark::TooBroad
    }
}

/// Whether a repair is one of what is hidden, and nothing beside it; for nothing hidden, whether it is none.
pub(super) fn is_hidden(job: &Diagnosis<'_>, group: GroupId, hidden: &Hidden) -> bool {
    let words = &job.belief().suspects().groups()[group].repair;
    if words.is_empty() {
        return hidden.is_nothing();
    }
    let cures = repairs(job.system(), hidden);
    words.iter().all(|word| cures.contains(&word.as_str()))
}

/// What cures a hidden state: the repairs of its faults, and all those of a part that differs from its description.
pub(super) fn repairs<'s>(system: &'s System, hidden: &Hidden) -> Vec<&'s str> {
    let faults = hidden.faults.iter().filter_map(|(index, _)| system.possible.iter().nth(*index));
    let is_there = |part: PartId| hidden.changes.iter().any(|change| change.parts.contains(&part));
    let there = system.possible.iter().filter(|fault| is_there(fault.part));
    faults.chain(there).map(|fault| fault.repair_group.as_str()).collect()
}
