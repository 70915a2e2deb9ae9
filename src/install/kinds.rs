//! Finds kinds of part by what the file calls them.

use super::grammar;
use crate::diagnostic::nearest;
use crate::knowledge::{Amount, ConductorSpec, Kind, KindId, Knowledge, PrimitiveSpec, Unit};
use crate::units::Dimension;
use std::collections::BTreeMap;

/// Names and aliases of all kinds.
#[derive(Debug)]
pub(super) struct KindNames {
    names: BTreeMap<String, KindId>,
    longest: usize,
}

impl KindNames {
    pub(super) fn new(knowledge: &Knowledge) -> Self {
        let mut names = BTreeMap::new();
        for (id, kind) in knowledge.kinds.enumerate() {
            for name in std::iter::once(&kind.name).chain(&kind.aliases) {
                names.entry(name.to_lowercase()).or_insert(id);
            }
        }
        let longest = names.keys().map(|n| n.split(' ').count()).max();
        Self {
            names,
            longest: longest.unwrap_or(0),
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
        nearest(wrong, self.names.keys().map(String::as_str))
    }

    /// The wire.
    pub(super) fn wire(&self) -> Option<KindId> {
        self.get(grammar::WIRE)
    }
}

/// The dimension in which a figure of this unit is written.
pub(super) const fn dimension(unit: Unit) -> Dimension {
    match unit {
        Unit::Volts => Dimension::Volts,
        Unit::Amps => Dimension::Amps,
        Unit::Ohms => Dimension::Ohms,
        Unit::Watts => Dimension::Watts,
        Unit::Metres => Dimension::Metres,
        Unit::SquareMillimetres => Dimension::SquareMillimetres,
        Unit::Ratio => Dimension::Ratio,
    }
}

/// Whether an element of the kind cannot be computed without the figure `key`.
pub(super) fn needs(kind: &Kind, key: &str) -> bool {
    let asks = |amount: &Amount| amount.figures.iter().any(|(k, _)| k == key);
    kind.elements.iter().any(|e| match &e.primitive {
        PrimitiveSpec::Source {
            emf,
            internal,
            limit,
        } => emf.iter().flatten().any(asks) || asks(internal) || limit.as_ref().is_some_and(asks),
        PrimitiveSpec::Resistance(ohms) => asks(ohms),
        PrimitiveSpec::Conductor(ConductorSpec { size, length, .. }) => size == key || length == key,
        PrimitiveSpec::Filament { hot, nominal } => asks(hot) || asks(nominal),
        PrimitiveSpec::Motor {
            winding,
            running,
            start,
            stop,
        } => [winding, running, start, stop].into_iter().any(asks),
        PrimitiveSpec::Power {
            watts,
            cut_off,
            leakage,
            polarised: _,
        } => [watts, cut_off, leakage].into_iter().any(asks),
        PrimitiveSpec::Fuse {
            ohms,
            rating,
            gate: _,
            reset: _,
        } => asks(ohms) || asks(rating),
        PrimitiveSpec::Coil {
            ohms,
            pull_in,
            release,
        } => [ohms, pull_in, release].into_iter().any(asks),
        PrimitiveSpec::Contact { closed, drive: _ } => asks(closed),
        PrimitiveSpec::ElectronicSwitch {
            on,
            leakage,
            trip,
            on_share: _,
            drive: _,
        } => asks(on) || asks(leakage) || trip.as_ref().is_some_and(asks),
        PrimitiveSpec::Diode { forward, series } => asks(forward) || asks(series),
        PrimitiveSpec::ConverterInput { cut_off, idle, .. } => asks(cut_off) || asks(idle),
        PrimitiveSpec::ConverterOutput {
            emf,
            internal,
            limit,
            input: _,
        } => asks(emf) || asks(internal) || limit.as_ref().is_some_and(asks),
    })
}
