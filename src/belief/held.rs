//! Sets of which a soft fault is held at one of several sizes, while another is spread over its range.

use super::{Belief, Posterior};
use crate::suspects::{FaultId, Pin, Set, Severity, SuspectId};
use crate::units::Ohms;

/// Sizes a decade at which a soft fault is held when another one is spread over its range: at first, and where it matters.
pub(super) const PINS: [usize; 2] = [2, 8];
/// The factor by which the sizes at which a fault is held go beyond the decade of the estimate, either way: a quarter of a decade.
const SPARE: f64 = 1.778;
/// Sets at least this likely have their held sizes refined.
const REFINE_ABOVE: f64 = 1e-3;

/// Sets of the same faults, of which one is held at several sizes.
struct Family {
    faults: Vec<FaultId>,
    pins: Vec<Pin>,
    held: FaultId,
    members: Vec<(SuspectId, Severity)>,
    /// The sizes at which they are likely, with all that lies between.
    likely: Option<Severity>,
    /// Prior probability of a decade of sizes.
    density: f64,
}

impl Belief<'_> {
    /// Takes the likely sets of which a fault is held at few sizes apart into such with more; the new ones. They reach beyond
    /// the sizes that were likely: one held size may have fitted by what its neighbour stands for.
    pub(super) fn hold_finer(&mut self, posterior: &Posterior) -> Vec<SuspectId> {
        let mut families: Vec<Family> = Vec::new();
        for id in self.suspects().list().ids().filter(|id| self.active[*id]) {
            let suspect = &self.suspects().list()[id];
            let Some((last, before)) = suspect.pins.split_last().filter(|(last, _)| is_wide(last)) else { continue };
            let Some(range) = last.range() else { continue };
            let likely = posterior.probability[id] >= REFINE_ABOVE;
            let own = |f: &&mut Family| f.faults == suspect.faults && f.pins == before && f.held == last.fault;
            let density = suspect.prior / range.decades();
            match families.iter_mut().find(own) {
                Some(family) => family.take_in(id, range, likely),
                None => families.push(Family {
                    faults: suspect.faults.clone(),
                    pins: before.to_vec(),
                    held: last.fault,
                    members: vec![(id, range)],
                    likely: likely.then_some(range),
                    density,
                }),
            }
        }
        let mut finer = Vec::new();
        for family in families {
            let whole = self.suspects().faults()[family.held].severity;
            let Some(range) = family.likely.zip(whole).map(|(likely, whole)| widened(likely, whole)) else { continue };
            for (id, own) in &family.members {
                // What would stand for sizes that the new ones stand for goes; a part that sticks out of both is nothing much.
                if own.low.get() < range.high.get() && own.high.get() > range.low.get() {
                    self.active[*id] = false;
                }
            }
            let set = Set { faults: family.faults, pins: family.pins, ..Set::default() };
            let sets = with_pins(&set, Some((family.held, range)), PINS[1]);
            let share = family.density * range.decades() / sets.len().max(1) as f64;
            finer.extend(sets.into_iter().map(|set| self.admit(set, share)));
        }
        for id in &finer {
            self.logs[*id] = f64::NEG_INFINITY;
        }
        finer
    }

    /// The share of a fault's range that a pin stands for.
    pub(super) fn share_of(&self, pin: &Pin) -> f64 {
        let whole = self.suspects().faults()[pin.fault].severity;
        whole.zip(pin.range()).map_or(1.0, |(whole, own)| (own.decades() / whole.decades()).min(1.0))
    }
}

impl Family {
    fn take_in(&mut self, id: SuspectId, range: Severity, likely: bool) {
        self.members.push((id, range));
        if likely {
            let wider = |all: Severity| Severity {
                low: if range.low.get() < all.low.get() { range.low } else { all.low },
                high: if range.high.get() > all.high.get() { range.high } else { all.high },
            };
            self.likely = Some(self.likely.map_or(range, wider));
        }
    }
}

/// Whether the sizes that a fault held at one of them stands for can be told apart further.
fn is_wide(pin: &Pin) -> bool {
    2.0 * (pin.up_to.get() / pin.ohms.get()).log10() * PINS[1] as f64 > 1.5
}

/// A part of a range with something to spare on either side.
pub(super) fn widened(part: Severity, whole: Severity) -> Severity {
    let ohms = |ohms: f64| Ohms::try_from(ohms).unwrap_or(whole.low);
    Severity {
        low: ohms((part.low.get() / SPARE).max(whole.low.get())),
        high: ohms((part.high.get() * SPARE).min(whole.high.get())),
    }
}

/// A set once for each size at which one more of its faults is held, so many a decade.
pub(super) fn with_pins(set: &Set, held: Option<(FaultId, Severity)>, pins: usize) -> Vec<Set> {
    let Some((fault, range)) = held else { return vec![set.clone()] };
    let ratio = range.high.get() / range.low.get();
    let count = ((range.decades() * pins as f64).round() as usize).max(1);
    let at = |steps: f64| Ohms::try_from(range.low.get() * ratio.powf(steps / count as f64)).ok();
    let one = |k: usize| {
        let mut set = set.clone();
        set.pins.push(Pin { fault, ohms: at(k as f64 + 0.5)?, up_to: at(k as f64 + 1.0)? });
        Some(set)
    };
    (0..count).filter_map(one).collect()
}
