//! What may be wrong: faults, sets of them, how severe, and how likely beforehand.
//!
//! A fault is (part, mode); a suspect is a set of faults, none included. It deliberately knows no readings.

mod learnt;
mod severity;

pub use learnt::{Counts, Learnt};
pub use severity::{Grid, Severity};

use crate::circuit::{Edit, Effect};
use crate::id_type;
use crate::index::IdVec;
use crate::units::Ohms;
use std::collections::BTreeMap;

id_type! {
    /// A fault that may be present.
    FaultId;
    /// A set of faults.
    SuspectId;
    /// Suspects that one and the same repair cures.
    GroupId;
}

/// Something that can be wrong with one part.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Stable id of the part.
    pub part: String,
    /// Stable key of the mode.
    pub mode: String,
    /// What it does to the circuit.
    pub effect: Effect,
    /// Range of a soft fault; `None` for a hard one.
    pub severity: Option<Severity>,
    /// Prior weight against all other faults, above zero.
    pub weight: f64,
    /// Faults with the same word are cured by one repair.
    pub repair: String,
}

/// A set of faults that are present together; the empty set is 'nothing wrong'.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// Its faults, ascending.
    pub faults: Vec<FaultId>,
    /// The sizes of those soft faults that are held fast; of the others one at most is spread over its range.
    pub pins: Vec<Pin>,
    /// Whether the faults stay whatever is repaired: the repair was no good, or was made elsewhere.
    pub stays: bool,
    /// Supplies that stand at another level than described, as edits that no repair takes back: no faults.
    pub supplies: Vec<Edit>,
    /// Probability before any evidence; those of all suspects and the unknown sum to 1.
    pub prior: f64,
    /// The repair that cures it.
    pub group: GroupId,
}

/// What makes a suspect.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Set {
    /// Its faults, ascending.
    pub faults: Vec<FaultId>,
    /// The soft faults that are held fast.
    pub pins: Vec<Pin>,
    /// Whether they stay whatever is repaired.
    pub stays: bool,
    /// Supplies that stand at another level than described.
    pub supplies: Vec<Edit>,
}

/// A soft fault held at one size of its range, which stands for the sizes around it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pin {
    /// The fault.
    pub fault: FaultId,
    /// Its size.
    pub ohms: Ohms,
    /// The largest of the sizes that it stands for.
    pub up_to: Ohms,
}

impl Pin {
    /// The sizes that it stands for: as far below its own as above.
    pub fn range(&self) -> Option<Severity> {
        let low = Ohms::try_from(self.ohms.get() * self.ohms.get() / self.up_to.get()).ok()?;
        Some(Severity { low, high: self.up_to })
    }
}

/// Suspects cured by one repair, or by several together.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// The repair words of its faults.
    pub repair: Vec<String>,
    /// Its suspects.
    pub members: Vec<SuspectId>,
}

/// Prior shares of what is no single fault of the catalogue.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shares {
    /// Nothing is wrong.
    pub nothing: f64,
    /// Something that is not modelled.
    pub unknown: f64,
    /// Of the jobs in which something of the catalogue is wrong, about the share in which a second fault is there too.
    pub another: f64,
    /// Of repairs, those that are no good.
    pub no_good: f64,
}

/// All faults and suspects of one circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspects {
    faults: IdVec<FaultId, Fault>,
    list: IdVec<SuspectId, Suspect>,
    groups: IdVec<GroupId, Group>,
    by_repair: BTreeMap<Vec<String>, GroupId>,
    /// Weight of all faults that are suspected.
    weight: f64,
    shares: Shares,
}

impl Suspects {
    /// 'Nothing wrong' and every single fault, with priors in proportion to the weights.
    pub fn singles(faults: IdVec<FaultId, Fault>, shares: Shares) -> Self {
        Self::singles_of(faults, shares, |_| true)
    }

    /// The same with those faults alone that `is_suspected`; the others stay known, by the same ids.
    pub fn singles_of(faults: IdVec<FaultId, Fault>, shares: Shares, is_suspected: impl Fn(FaultId) -> bool) -> Self {
        let suspected: Vec<FaultId> = faults.ids().filter(|id| is_suspected(*id)).collect();
        let total: f64 = suspected.iter().map(|id| faults[*id].weight).sum();
        let rest = 1.0 - shares.nothing - shares.unknown;
        let mut suspects = Self {
            faults,
            list: IdVec::new(),
            groups: IdVec::new(),
            by_repair: BTreeMap::new(),
            weight: total,
            shares,
        };
        suspects.add(Vec::new(), shares.nothing);
        for id in suspected {
            let prior = rest * suspects.faults[id].weight / total;
            suspects.add(vec![id], prior);
        }
        suspects
    }

    /// Adds a set of faults with its prior probability.
    pub fn add(&mut self, faults: Vec<FaultId>, prior: f64) -> SuspectId {
        self.add_set(Set { faults, ..Set::default() }, prior)
    }

    /// The same with all that makes a suspect.
    pub fn add_set(&mut self, set: Set, prior: f64) -> SuspectId {
        let Set { faults, pins, stays, supplies } = set;
        let mut repair: Vec<String> = faults.iter().map(|f| self.faults[*f].repair.clone()).collect();
        repair.sort();
        repair.dedup();
        let group = if let Some(known) = self.by_repair.get(&repair) {
            *known
        } else {
            let group = self.groups.push(Group { repair: repair.clone(), members: Vec::new() });
            self.by_repair.insert(repair, group);
            group
        };
        let id = self.list.push(Suspect { faults, pins, stays, supplies, prior, group });
        self.groups[group].members.push(id);
        id
    }

    /// Gives a suspect another prior probability.
    pub fn weigh(&mut self, suspect: SuspectId, prior: f64) {
        self.list[suspect].prior = prior;
    }

    /// The faults.
    pub fn faults(&self) -> &IdVec<FaultId, Fault> {
        &self.faults
    }
    /// The suspects; the first is 'nothing wrong'.
    pub fn list(&self) -> &IdVec<SuspectId, Suspect> {
        &self.list
    }
    /// The repair groups.
    pub fn groups(&self) -> &IdVec<GroupId, Group> {
        &self.groups
    }
    /// Prior shares of nothing and of the unknown.
    pub fn shares(&self) -> Shares {
        self.shares
    }
    /// The suspect that is exactly this fault.
    pub fn single(&self, part: &str, mode: &str) -> Option<SuspectId> {
        let is = |f: &Fault| f.part == part && f.mode == mode;
        self.list.enumerate().find(|(_, s)| matches!(s.faults[..], [f] if is(&self.faults[f]))).map(|(id, _)| id)
    }
    /// The single repairs that make up the repair of a group.
    pub fn repairs(&self, group: GroupId) -> Vec<GroupId> {
        match &self.groups[group].repair[..] {
            [] | [_] => vec![group],
            several => several.iter().filter_map(|w| self.by_repair.get(std::slice::from_ref(w)).copied()).collect(),
        }
    }
    /// Prior probability of faults that are present together, each independent of the others.
    pub fn prior_of(&self, faults: &[FaultId]) -> f64 {
        let named = 1.0 - self.shares.nothing - self.shares.unknown;
        // Over all pairs this sums to the share of jobs with a second fault: each pair is counted once.
        let again = 2.0 * self.shares.another / named;
        let product: f64 = faults.iter().map(|f| named * self.faults[*f].weight / self.weight).product();
        product * again.powi(i32::try_from(faults.len()).unwrap_or(i32::MAX).saturating_sub(1))
    }
    /// The range over which a suspect's severity is spread: that of its first soft fault that is not held fast.
    pub fn severity(&self, suspect: SuspectId) -> Option<Severity> {
        let suspect = &self.list[suspect];
        let free = |f: &&FaultId| !suspect.pins.iter().any(|pin| pin.fault == **f);
        suspect.faults.iter().filter(free).find_map(|f| self.faults[*f].severity)
    }
    /// The edits of a suspect at one severity, without the faults that were `cured`.
    pub fn edits(&self, suspect: SuspectId, severity: Ohms, cured: &[FaultId]) -> Vec<Edit> {
        self.edits_with(suspect, severity, cured, |pin| pin.ohms)
    }
    /// The same with each fault that is held fast at the largest size that it stands for.
    pub fn edits_at_most(&self, suspect: SuspectId, severity: Ohms, cured: &[FaultId]) -> Vec<Edit> {
        self.edits_with(suspect, severity, cured, |pin| pin.up_to)
    }

    fn edits_with(
        &self,
        suspect: SuspectId,
        severity: Ohms,
        cured: &[FaultId],
        size: impl Fn(&Pin) -> Ohms,
    ) -> Vec<Edit> {
        let suspect = &self.list[suspect];
        let is_there = |f: &&FaultId| suspect.stays || !cured.contains(*f);
        let of = |f: &FaultId| {
            let pin = suspect.pins.iter().find(|pin| pin.fault == *f);
            self.faults[*f].effect.edits(pin.map_or(severity, &size))
        };
        let faults = suspect.faults.iter().filter(is_there).flat_map(of);
        suspect.supplies.iter().cloned().chain(faults).collect()
    }
}
