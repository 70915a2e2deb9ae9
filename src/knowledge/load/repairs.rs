//! Reads what is done about faults, and what a handbook lets a repaired part lose.

use super::super::amount::read_quantity;
use super::super::raw::{Ordered, Text};
use super::super::resolve::Report;
use super::super::{DropLimit, Knowledge, RepairSteps, Words};
use crate::units::Dimension;
use serde::Deserialize;
use serde_yaml::Spanned;

/// The usual repair of some faults, as written.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRepair {
    of: Vec<Text>,
    #[serde(default)]
    kinds: Vec<Text>,
    modes: Vec<Text>,
    minutes: Spanned<f64>,
    #[serde(default)]
    cautions: Vec<Text>,
    steps: Vec<Text>,
    status: Text,
    source: Text,
}

/// A limit, as written.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawLimit {
    of: Vec<Text>,
    fact: Text,
    says: Text,
    status: Text,
    source: Text,
}

impl Knowledge {
    pub(super) fn add_repairs(&mut self, text: &str, report: &mut Report<'_>) {
        for (key, raw) in report.parse::<Ordered<RawRepair>>(text).unwrap_or_default().0 {
            for caution in raw.cautions.iter().filter(|caution| !self.cautions.contains_key(&caution.value)) {
                report.unknown(caution, "caution");
            }
            let row = report.repair(&key, &raw);
            match self.repairs.iter_mut().find(|known| known.key == row.key) {
                Some(known) => *known = row,
                None => self.repairs.push(row),
            }
        }
    }

    /// Facts are read before limits, which name them.
    pub(super) fn add_limits(&mut self, text: &str, report: &mut Report<'_>) {
        for (key, raw) in report.parse::<Ordered<RawLimit>>(text).unwrap_or_default().0 {
            report.status(&raw.status);
            report.said(&raw.source, "a source");
            let Some(fact) = self.facts.get(&raw.fact.value) else {
                report.unknown(&raw.fact, "fact");
                continue;
            };
            // `0.2 V, loaded circuit`.
            let figure = fact.value.split(',').next().unwrap_or_default();
            let Some(volts) = read_quantity(figure, Dimension::Volts).filter(|volts| *volts > 0.0) else {
                report.unreadable(&raw.fact, "a fact whose value begins with volts above zero");
                continue;
            };
            let limit = DropLimit {
                key: key.value.clone(),
                of: report.roles(&raw.of),
                volts,
                says: report.said(&raw.says, "how it is told"),
                source: fact.source.clone(),
            };
            match self.drop_limits.iter_mut().find(|known| known.key == limit.key) {
                Some(known) => *known = limit,
                None => self.drop_limits.push(limit),
            }
        }
    }
}

impl Report<'_> {
    fn repair(&mut self, key: &Text, raw: &RawRepair) -> RepairSteps {
        let mut steps = Vec::new();
        for step in &raw.steps {
            match Words::read(&step.value) {
                Some(words) => steps.push(words),
                None => self.unreadable(step, "a step, with figures as `{size|the same size}`"),
            }
        }
        if steps.is_empty() {
            self.unreadable(key, "a repair with steps");
        }
        let minutes = raw.minutes.value;
        if !(minutes.is_finite() && minutes > 0.0 && minutes < MOST) {
            self.unreadable(key, "a repair with `minutes:` above zero");
        }
        RepairSteps {
            key: key.value.clone(),
            of: self.roles(&raw.of),
            kinds: raw.kinds.iter().map(|kind| kind.value.clone()).collect(),
            modes: raw.modes.iter().map(|mode| mode.value.clone()).collect(),
            minutes,
            cautions: raw.cautions.iter().map(|caution| caution.value.clone()).collect(),
            steps,
            status: self.status(&raw.status),
            source: self.said(&raw.source, "a source"),
        }
    }
}

/// A day of work.
const MOST: f64 = 1440.0;
