//! What the finished jobs of a workshop tell: which parts and modes fail, where, how long it took, which findings were wrong.
//!
//! A finished job is its closing record alone, read off the end of its file (`ending`). It deliberately knows no files.

mod ending;

pub use ending::{Ending, Look, ending, whole};

use super::record::{Closed, Ended, Failed, Outcome};
use crate::suspects::{Counts, Learnt};
use std::collections::{BTreeMap, BTreeSet};

/// The jobs of a workshop, in the order of their files' names.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Past {
    /// Closed jobs, each with the name of its file.
    pub jobs: Vec<(String, Closed)>,
    /// Jobs that are not closed, with what they had found, if anything.
    pub open: Vec<(String, Option<Ended>)>,
    /// Files whose last record was torn off; each counts with what is whole.
    pub torn: Vec<String>,
    /// What was no job file or could not be read, with the reason.
    pub skipped: Vec<(String, String)>,
    /// The closing records so far: a copy of a file is no second job.
    known: BTreeSet<String>,
}

/// What failed in one way.
#[derive(Clone, Debug, PartialEq)]
pub struct Failure {
    /// The kind of part; `None` in files of before kinds were recorded.
    pub kind: Option<String>,
    /// The mode.
    pub fault: String,
    /// In how many jobs, or how often in one.
    pub times: usize,
    /// Where, most often first.
    pub at: Vec<(At, usize)>,
    /// Minutes of readings of each of those jobs, ascending.
    pub minutes: Vec<f64>,
}

/// Where a part is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct At {
    /// The title of the install.
    pub install: String,
    /// The part.
    pub part: String,
    /// Its place.
    pub place: Option<String>,
}

/// A failure while it is counted.
#[derive(Default)]
struct Tally {
    minutes: Vec<f64>,
    at: BTreeMap<At, usize>,
}

impl Tally {
    fn of(mut self, kind: Option<String>, fault: &str) -> Failure {
        self.minutes.sort_by(f64::total_cmp);
        let mut at: Vec<(At, usize)> = self.at.into_iter().collect();
        at.sort_by_key(|(_, times)| std::cmp::Reverse(*times));
        Failure { kind, fault: fault.to_owned(), times: self.minutes.len(), at, minutes: self.minutes }
    }
}

impl Past {
    /// Adds a file; a copy of a job that is here already is skipped.
    pub fn add(&mut self, name: String, found: Ending) {
        if found.torn {
            self.torn.push(name.clone());
        }
        match found.look {
            Look::Closed(closed) => {
                let same = format!("{closed:?}");
                if self.known.insert(same) {
                    self.jobs.push((name, *closed));
                } else {
                    self.skipped.push((name, "a copy of a job that was counted".to_owned()));
                }
            }
            Look::Open(ended) => self.open.push((name, ended)),
        }
    }

    /// Jobs that ended so.
    pub fn ended(&self, outcome: Outcome) -> usize {
        self.jobs.iter().filter(|(_, closed)| closed.outcome == outcome).count()
    }

    /// What was right of the repairs after which the complaint was gone or less.
    fn right(&self) -> impl Iterator<Item = (&Closed, &Failed)> {
        let cured = |closed: &&Closed| matches!(closed.outcome, Outcome::Cured | Outcome::Better);
        let closed = self.jobs.iter().map(|(_, closed)| closed).filter(cured);
        closed.flat_map(|closed| closed.failed.iter().filter(|f| f.right).map(move |failed| (closed, failed)))
    }

    /// What failed, most often first; equals by name.
    pub fn failures(&self) -> Vec<Failure> {
        let mut all: BTreeMap<(&Option<String>, &str), Tally> = BTreeMap::new();
        for (closed, failed) in self.right() {
            let tally = all.entry((&failed.kind, &failed.fault)).or_default();
            tally.minutes.push(closed.minutes);
            let at = At { install: closed.install.clone(), part: failed.part.clone(), place: failed.place.clone() };
            *tally.at.entry(at).or_insert(0) += 1;
        }
        let mut all: Vec<Failure> =
            all.into_iter().map(|((kind, fault), tally)| tally.of(kind.clone(), fault)).collect();
        // Both maps were in the order of names, and sorting keeps that among equals.
        all.sort_by_key(|failure| std::cmp::Reverse(failure.times));
        all
    }

    /// Repairs that cured nothing, each with its job: a finding that was wrong.
    pub fn wrong(&self) -> impl Iterator<Item = (&str, &Closed, &Failed)> {
        self.jobs.iter().flat_map(|(name, closed)| {
            let cured = matches!(closed.outcome, Outcome::Cured | Outcome::Better);
            let wrong = closed.failed.iter().filter(move |failed| !cured || !failed.right);
            wrong.map(move |failed| (name.as_str(), closed, failed))
        })
    }

    /// Minutes of readings of the jobs that were cured, ascending.
    pub fn minutes(&self) -> Vec<f64> {
        let cured = self.jobs.iter().filter(|(_, closed)| closed.outcome == Outcome::Cured);
        let mut minutes: Vec<f64> = cured.map(|(_, closed)| closed.minutes).collect();
        minutes.sort_by(f64::total_cmp);
        minutes
    }

    /// What suspects are weighed with: each fault that was found and cured, by kind and mode. `strength`: for how many jobs the
    /// knowledge base's own weights count.
    pub fn learnt(&self, strength: f64) -> Learnt {
        let mut counts = Counts::default();
        for (_, failed) in self.right() {
            if let Some(kind) = &failed.kind {
                counts.add(kind, &failed.fault, 1);
            }
        }
        Learnt { jobs: self.jobs.len(), strength, counts }
    }
}
