//! The circuit of the fault as a line from supply to ground: its parts, what was read at the points between them, the culprit.

use super::content::culprits;
use super::{Told, clean};
use crate::install::PartId;
use crate::job::reasoning::{Means, Reasoning, Way};
use crate::job::{Retold, System};
use crate::knowledge::Role;
use crate::show::way::{Row, is_good, rows};

/// One way, drawn.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Drawing {
    pub(super) title: String,
    pub(super) items: Vec<Item>,
    /// What ground is called there.
    pub(super) ground: String,
}

/// Something on the line.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Item {
    /// A part.
    Part {
        symbol: Symbol,
        label: String,
        /// The finding names it.
        culprit: bool,
    },
    /// A reading, with its number in the tables.
    Mark { number: Option<usize>, place: String, read: String, good: String, is: Is, across: bool },
    /// Up to here all is well.
    LastGood,
    /// From here on it is not.
    FirstBad,
}

/// How a reading is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Is {
    Good,
    Bad,
    InDoubt,
}

/// Plain symbols, after the sort of part that they stand for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Symbol {
    /// A box with the line through it, as for what melts or trips (IEC 60617, 07-21-01).
    Protection,
    /// A contact.
    Contact,
    /// A circle with a cross, as for what works.
    Load,
    /// A dot.
    Joint,
    /// A box.
    Other,
}

/// Drawings that a sheet has room for.
const MOST: usize = 2;

/// Longest label, in characters.
const LABEL: usize = 34;

/// The ways of what is complained of, those with readings or with the culprit.
pub(super) fn drawings(told: &Told<'_, '_>) -> Vec<Drawing> {
    let (Some((retold, reasoning)), Some(system)) = (told.retold, told.system) else { return Vec::new() };
    let culprits: Vec<PartId> = culprits(told.course).iter().filter_map(|blamed| system.part(&blamed.part)).collect();
    let holds = |way: &&Way| way.steps.iter().any(|step| culprits.contains(&step.part));
    let told_of = |way: &&Way| !way.marks.is_empty() || holds(way);
    let mut ways: Vec<&Way> = reasoning.ways.iter().filter(told_of).collect();
    ways.sort_by_key(|way| !holds(way));
    ways.truncate(MOST);
    ways.into_iter().map(|way| drawing(system, retold, reasoning, way, &culprits)).collect()
}

fn drawing(system: &System, retold: &Retold<'_>, reasoning: &Reasoning, way: &Way, culprits: &[PartId]) -> Drawing {
    let ground = &system.install.earth_word;
    let of = way.steps.get(way.load).map_or("", |step| system.install.parts[step.part].label.as_str());
    let of = if way.controls { format!("the control wire of {of}") } else { of.to_owned() };
    // A culprit that has no row of its own, a wire or its end, is drawn all the same.
    let complained = retold.job.taken().iter().take_while(|taken| taken.complaint).count();
    let number = |taken: usize| taken.checked_sub(complained).and_then(|at| retold.numbers.get(at)).copied();
    let all = rows(&retold.job, reasoning, way, culprits);
    let items = all.into_iter().map(|row| match row {
        Row::Part { part, label, load } => Item::Part {
            symbol: symbol(system, part, load),
            label: short(&clean(&label)),
            culprit: culprits.contains(&part),
        },
        Row::Mark { taken, place, read, expected, means, doubtful, across } => Item::Mark {
            number: number(taken),
            place: clean(&place),
            read: clean(&read),
            good: clean(&expected),
            is: is(means, doubtful),
            across,
        },
        Row::LastGood => Item::LastGood,
        Row::FirstBad => Item::FirstBad,
    });
    Drawing {
        title: clean(&format!("From supply to {ground}, through {of}")),
        items: items.collect(),
        ground: clean(ground),
    }
}

fn is(means: Means, doubtful: bool) -> Is {
    match (doubtful, is_good(means)) {
        (true, _) => Is::InDoubt,
        (false, true) => Is::Good,
        (false, false) => Is::Bad,
    }
}

fn symbol(system: &System, part: PartId, load: bool) -> Symbol {
    let install = &system.install;
    match install.knowledge.kinds[install.parts[part].kind].role {
        Role::Protection => Symbol::Protection,
        Role::Control | Role::Switching if !load => Symbol::Contact,
        Role::Load | Role::Indicator => Symbol::Load,
        Role::Joint => Symbol::Joint,
        Role::Supply | Role::Conductor | Role::Component | Role::Control | Role::Switching => Symbol::Other,
    }
}

fn short(label: &str) -> String {
    if label.chars().count() <= LABEL {
        return label.to_owned();
    }
    let mut short: String = label.chars().take(LABEL - 1).collect();
    short.push('…');
    short
}

impl Is {
    /// In a word.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Bad => "BAD",
            Self::InDoubt => "in doubt",
        }
    }
}

impl Drawing {
    /// The same in lines.
    pub(super) fn lines(&self) -> Vec<String> {
        let items = self.items.iter().map(|item| match item {
            Item::Part { label, culprit: true, .. } => format!("{label} <== FAULT"),
            Item::Part { label, .. } => label.clone(),
            Item::Mark { place, read, good, is, .. } => format!(".  {}: {place} {read} (good: {good})", is.word()),
            Item::LastGood => "== good up to here".to_owned(),
            Item::FirstBad => "== not from here on".to_owned(),
        });
        items.collect()
    }
}
