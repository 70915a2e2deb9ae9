//! Finds kinds of part by what the file calls them.

use crate::diagnostic::{nearest, with_article};
use crate::index::IdVec;
use crate::knowledge::{KindId, Knowledge, Service};
use crate::units::Dimension;
use std::collections::BTreeMap;

/// Names and aliases of all kinds.
#[derive(Debug)]
pub(super) struct KindNames {
    names: BTreeMap<String, KindId>,
    longest: usize,
    takes: IdVec<KindId, String>,
    wire: Option<KindId>,
    /// No nearest names are sought any more: so much is wrong that nobody reads them.
    pub(super) quiet: bool,
}

impl KindNames {
    pub(super) fn new(knowledge: &Knowledge) -> Self {
        let mut names = BTreeMap::new();
        // A kind's own name goes before another's alias; of equal ones the last counts: an install's own.
        for (id, kind) in knowledge.kinds.enumerate() {
            for name in &kind.aliases {
                names.insert(name.to_lowercase(), id);
            }
        }
        for (id, kind) in knowledge.kinds.enumerate() {
            names.insert(kind.name.to_lowercase(), id);
        }
        let longest = names.keys().map(|n| n.split(' ').count()).max();
        let takes = knowledge.kinds.iter().map(|kind| {
            // The first of a unit is the one that a figure alone is taken for.
            let mut units: Vec<Dimension> = Vec::new();
            let mut figures: Vec<String> = Vec::new();
            for figure in kind.figures.iter().filter(|f| f.unit != Dimension::Ohms) {
                if !units.contains(&figure.unit) {
                    units.push(figure.unit);
                    let unit = figure.unit.symbol();
                    figures.push(format!("{} in {unit}", figure.key));
                }
            }
            match figures.join(", ") {
                none if none.is_empty() => format!("{} takes no figures", with_article(&kind.name)),
                known => format!("{} takes {known}", with_article(&kind.name)),
            }
        });
        Self {
            names,
            longest: longest.unwrap_or(0),
            takes: takes.collect(),
            wire: knowledge.serving(Service::Wire),
            quiet: false,
        }
    }

    /// The kind of exactly this name.
    pub(super) fn get(&self, name: &str) -> Option<KindId> {
        self.names.get(&name.to_lowercase()).copied()
    }

    /// The kind with the longest name at the start of `words`, and how many words its name has.
    pub(super) fn at_start(&self, words: &[&str]) -> Option<(KindId, usize)> {
        (1..=self.longest.min(words.len())).rev().find_map(|n| {
            let id = self.get(&words.get(..n)?.join(" "))?;
            Some((id, n))
        })
    }

    /// The known name nearest to a wrong one.
    pub(super) fn nearest(&self, wrong: &str) -> Option<&str> {
        let known = self.names.keys().filter(|_| !self.quiet);
        nearest(wrong, known.map(String::as_str))
    }

    /// The figures that a kind takes, in words.
    pub(super) fn takes(&self, kind: KindId) -> &str {
        self.takes.get(kind).map_or("", String::as_str)
    }

    /// The wire.
    pub(super) fn wire(&self) -> Option<KindId> {
        self.wire
    }
}
