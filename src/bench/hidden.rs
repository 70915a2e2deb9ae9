//! What is hidden in a trial: faults of the catalogue, drawn by prior or visited one after the other.

use super::change::Change;
use crate::circuit::{Edit, PossibleFault};
use crate::install::PartId;
use crate::knowledge::Origin;
use crate::units::Ohms;
use fastrand::Rng;

/// Severities at which a soft fault is visited.
const SEVERITIES: usize = 5;

/// Faults that are present together, and how much such a trial counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Hidden {
    /// Position in the list of possible faults, and the ohms of a soft one.
    pub faults: Vec<(usize, Option<Ohms>)>,
    /// What differs from the description.
    pub changes: Vec<Change>,
    /// Prior weight; all equal where they are drawn by it.
    pub weight: f64,
}

impl Hidden {
    /// Nothing at all.
    pub fn nothing() -> Self {
        Self { faults: Vec::new(), changes: Vec::new(), weight: 1.0 }
    }

    /// Whether that is so.
    pub fn is_nothing(&self) -> bool {
        self.faults.is_empty() && self.changes.is_empty()
    }

    /// One difference from the description.
    pub fn change(change: Change) -> Self {
        Self { changes: vec![change], ..Self::nothing() }
    }

    /// Every single fault of an origin, the soft ones at five severities that divide their range evenly on a logarithmic
    /// scale.
    pub fn every(possible: &[PossibleFault], origin: Origin) -> Vec<Self> {
        let mut all = Vec::new();
        for (index, fault) in possible.iter().enumerate().filter(|(_, fault)| comes_of(fault, origin)) {
            let sizes: Vec<Option<Ohms>> = match fault.severity {
                None => vec![None],
                Some(range) => (0..SEVERITIES).map(|k| Some(at(range, (k as f64 + 0.5) / SEVERITIES as f64))).collect(),
            };
            let weight = fault.weight / sizes.len() as f64;
            all.extend(sizes.into_iter().map(|ohms| Self { faults: vec![(index, ohms)], weight, ..Self::nothing() }));
        }
        all
    }

    /// `count` different faults of an origin by prior, severities log-uniform. `None` where there are not so many.
    pub fn draw(possible: &[PossibleFault], count: usize, origin: Origin, rng: &mut Rng) -> Option<Self> {
        let mut faults: Vec<(usize, Option<Ohms>)> = Vec::new();
        for _ in 0..count {
            let free =
                |index: &usize| comes_of(&possible[*index], origin) && faults.iter().all(|(taken, _)| taken != index);
            let left = (0..possible.len()).filter(free);
            let total: f64 = left.clone().map(|index| possible[index].weight).sum();
            let mut mark = rng.f64() * total;
            let mut left = left.peekable();
            let chosen = loop {
                let index = left.next()?;
                mark -= possible[index].weight;
                if mark <= 0.0 || left.peek().is_none() {
                    break index;
                }
            };
            faults.push((chosen, possible[chosen].severity.map(|range| at(range, rng.f64()))));
        }
        Some(Self { faults, ..Self::nothing() })
    }

    /// What is left when everything is repaired that `is_made` says of its repair group.
    #[must_use]
    pub fn without(&self, possible: &[PossibleFault], is_made: impl Fn(&str) -> bool) -> Self {
        let stays = |(index, _): &&(usize, Option<Ohms>)| {
            possible.get(*index).is_none_or(|fault| !is_made(&fault.repair_group))
        };
        let made: Vec<PartId> = possible.iter().filter(|f| is_made(&f.repair_group)).map(|f| f.part).collect();
        Self {
            faults: self.faults.iter().filter(stays).copied().collect(),
            changes: self.changes.iter().filter(|c| !c.parts.iter().any(|part| made.contains(part))).cloned().collect(),
            weight: self.weight,
        }
    }

    /// The changes that it makes to the circuit.
    pub fn edits(&self, possible: &[PossibleFault]) -> Vec<Edit> {
        let of = |(index, ohms): &(usize, Option<Ohms>)| {
            possible.get(*index).map(|fault| fault.effect.edits(ohms.unwrap_or(Ohms::ZERO)))
        };
        let changes = self.changes.iter().flat_map(|change| change.edits.iter().cloned());
        self.faults.iter().filter_map(of).flatten().chain(changes).collect()
    }
}

fn comes_of(fault: &PossibleFault, origin: Origin) -> bool {
    match origin {
        Origin::Nothing => false,
        Origin::Wear => !fault.mistake,
        Origin::Mistake => fault.mistake,
    }
}

/// The ohms at a share of the way through a range, on a logarithmic scale.
fn at((low, high): (f64, f64), share: f64) -> Ohms {
    Ohms::try_from(low * (high / low).powf(share)).unwrap_or(Ohms::ZERO)
}
