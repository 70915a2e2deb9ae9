//! What is declared: names and what they stand for.

use super::{PartId, PointId};
use crate::diagnostic::{Span, nearest};
use std::collections::BTreeMap;

/// What a name stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Named {
    /// A part.
    Part(PartId),
    /// An earth: its joint, where loads land.
    Earth(PartId),
    /// A cable: the part; a core must be named.
    Cable(PartId),
    /// A way of a board: index into the builder's ways.
    Way(usize),
    /// A board: a way must be named.
    Board,
    /// A junction.
    Junction(PointId),
    /// Something that was declared wrongly; said once, it is not said again.
    Broken,
}

/// A name in the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Declared {
    pub(super) what: Named,
    pub(super) span: Span,
    pub(super) used: usize,
}

/// All names of parts, earths, cables, boards, ways and junctions: one space.
#[derive(Debug, Default)]
pub(super) struct Scope {
    names: BTreeMap<String, Declared>,
}

impl Scope {
    /// Declares a name; the earlier declaration if there is one.
    pub(super) fn declare(&mut self, name: &str, what: Named, span: Span) -> Result<(), Span> {
        if let Some(earlier) = self.names.get(name) {
            return Err(earlier.span);
        }
        let used = 0;
        self.names.insert(name.to_owned(), Declared { what, span, used });
        Ok(())
    }

    /// Says what a name reserved earlier stands for.
    pub(super) fn settle(&mut self, name: &str, what: Named) {
        if let Some(declared) = self.names.get_mut(name) {
            declared.what = what;
        }
    }

    /// What `name` stands for.
    pub(super) fn get(&self, name: &str) -> Option<&Declared> {
        self.names.get(name)
    }

    /// The longest name that `path` starts with at a dot or its end, and the rest behind the dot.
    pub(super) fn split<'p>(&self, path: &'p str) -> Option<(&'p str, &'p str)> {
        let mut head = path;
        loop {
            if self.names.contains_key(head) {
                let rest = path.get(head.len()..).unwrap_or_default();
                return Some((head, rest.strip_prefix('.').unwrap_or(rest)));
            }
            head = head.get(..head.rfind('.')?)?;
        }
    }

    /// Counts a use.
    pub(super) fn touch(&mut self, name: &str) {
        if let Some(declared) = self.names.get_mut(name) {
            declared.used += 1;
        }
    }

    /// The nearest declared name.
    pub(super) fn nearest(&self, wrong: &str) -> Option<&str> {
        nearest(wrong, self.names.keys().map(String::as_str))
    }

    /// All names, sorted.
    pub(super) fn iter(&self) -> impl Iterator<Item = (&str, &Declared)> {
        self.names.iter().map(|(n, d)| (n.as_str(), d))
    }
}
