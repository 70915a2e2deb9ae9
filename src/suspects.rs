//! What may be wrong: faults, sets of them, how severe, and how likely beforehand.
//!
//! A fault is (part, mode); a suspect is a set of faults, none included. It deliberately knows no readings.

mod severity;

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
    /// Its faults.
    pub faults: Vec<FaultId>,
    /// Probability before any evidence; those of all suspects and the unknown sum to 1.
    pub prior: f64,
    /// The repair that cures it.
    pub group: GroupId,
}

/// Suspects cured by one repair.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// The repair words of its faults.
    pub repair: Vec<String>,
    /// Its suspects.
    pub members: Vec<SuspectId>,
}

/// Prior shares of what is no fault of the catalogue.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shares {
    /// Nothing is wrong.
    pub nothing: f64,
    /// Something that is not modelled.
    pub unknown: f64,
}

impl Default for Shares {
    /// 2 % each: common practice, no source (a complaint is seldom mistaken, a description seldom wrong).
    fn default() -> Self {
        Self { nothing: 0.02, unknown: 0.02 }
    }
}

/// All faults and suspects of one circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspects {
    faults: IdVec<FaultId, Fault>,
    list: IdVec<SuspectId, Suspect>,
    groups: IdVec<GroupId, Group>,
    by_repair: BTreeMap<Vec<String>, GroupId>,
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
        let mut suspects =
            Self { faults, list: IdVec::new(), groups: IdVec::new(), by_repair: BTreeMap::new(), shares };
        suspects.add(Vec::new(), shares.nothing);
        for id in suspected {
            let prior = rest * suspects.faults[id].weight / total;
            suspects.add(vec![id], prior);
        }
        suspects
    }

    /// Adds a set of faults with its prior probability.
    pub fn add(&mut self, faults: Vec<FaultId>, prior: f64) -> SuspectId {
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
        let id = self.list.push(Suspect { faults, prior, group });
        self.groups[group].members.push(id);
        id
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
    /// The range over which a suspect's severity is spread: that of its first soft fault.
    pub fn severity(&self, suspect: SuspectId) -> Option<Severity> {
        self.list[suspect].faults.iter().find_map(|f| self.faults[*f].severity)
    }
    /// The edits of a suspect at one severity.
    pub fn edits(&self, suspect: SuspectId, severity: Ohms) -> Vec<Edit> {
        self.list[suspect].faults.iter().flat_map(|f| self.faults[*f].effect.edits(severity)).collect()
    }
}
