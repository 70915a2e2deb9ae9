//! The parts that a question offers.

use super::choose::Choice;
use crate::job::{Subject, System};
use crate::knowledge::{Notices, Role};
use crate::show::text;

/// Parts in the order in which they are offered.
pub(super) struct Subjects<'a> {
    system: &'a System,
    /// The parts.
    pub(super) list: Vec<Subject>,
}

impl<'a> Subjects<'a> {
    /// Loads, then lamps that only tell something, then what stores.
    pub(super) fn of(system: &'a System) -> Self {
        let mut list = system.all_loads().to_vec();
        for (part, of) in system.install.parts.enumerate() {
            if system.install.knowledge.kinds[of.kind].role == Role::Indicator && system.sight(part).is_some() {
                list.push(Subject { part, sight: None });
            }
        }
        for (part, of) in system.install.parts.enumerate() {
            let supply = system.install.knowledge.kinds[of.kind].role == Role::Supply;
            let stores = system.sight_as(part, Notices::Standing).or(system.sight_as(part, Notices::Charge));
            if supply && stores.is_some() {
                list.push(Subject { part, sight: None });
            }
        }
        Self { system, list }
    }

    /// Loads other than these.
    pub(super) fn working(system: &'a System, than: &[Subject]) -> Self {
        let same = |a: &Subject| than.iter().any(|b| a.part == b.part && (b.sight.is_none() || a.sight == b.sight));
        Self { system, list: system.all_loads().iter().copied().filter(|s| !same(s)).collect() }
    }

    /// Parts whose heat can be felt.
    pub(super) fn hot(system: &'a System) -> Self {
        let parts = system.install.parts.ids();
        let felt = parts.filter(|part| system.sight_as(*part, Notices::Heat).is_some());
        Self { system, list: felt.map(|part| Subject { part, sight: None }).collect() }
    }

    /// As numbered choices with their places.
    pub(super) fn numbered(&self) -> Vec<Choice> {
        let of = |(i, subject): (usize, &Subject)| {
            let label = label(self.system, *subject);
            let place = self.system.install.parts[subject.part].place;
            let place = text::place(self.system, place).map_or(String::new(), |p| format!(", at: {p}"));
            Choice::numbered(i, &format!("{label}{place}"), &[&label, &self.system.install.parts[subject.part].id])
        };
        self.list.iter().enumerate().map(of).collect()
    }
}

/// A part, and which of its sights where it has several.
pub(super) fn label(system: &System, subject: Subject) -> String {
    let part = &system.install.parts[subject.part].label;
    match subject.sight.and_then(|sight| system.sights.get(sight)).filter(|sight| !sight.name.is_empty()) {
        Some(sight) => format!("{part}, {}", sight.name),
        None => part.clone(),
    }
}
