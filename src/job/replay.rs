//! A job taken up again: its readings looked up in the install as it is described now, and entered once more.

use super::record::{Blamed, Course, Gone, Mended, Repair};
use super::{Diagnosis, System};
use crate::belief::Answer;
use crate::choice::{Instruments, Test};
use crate::network::Network;
use crate::suspects::{FaultId, GroupId};

/// A reading to be entered again.
#[derive(Clone, Debug, PartialEq)]
pub struct Again {
    /// Its number in the job.
    pub number: usize,
    /// The test.
    pub test: Test,
    /// Its answer.
    pub answer: Answer,
}

impl System {
    /// The readings of a job that this install knows, in order; and the others, each with what is missing.
    pub fn again(&self, instruments: &Instruments, course: &Course) -> (Vec<Again>, Vec<(usize, Gone)>) {
        let mut known = Vec::new();
        let mut lost = Vec::new();
        for (&number, entered) in &course.readings {
            match self.observed(instruments, &entered.rest, &entered.reading) {
                Ok((test, answer)) => known.push(Again { number, test, answer }),
                Err(gone) => lost.push((number, gone)),
            }
        }
        (known, lost)
    }
}

/// A job told once more from its records.
pub struct Retold<'n> {
    /// The job.
    pub job: Diagnosis<'n>,
    /// The number of each reading, in order.
    pub numbers: Vec<usize>,
    /// Readings that the install does not know any more.
    pub lost: Vec<(usize, Gone)>,
}

/// Why a job cannot be told once more.
#[derive(Clone, Debug, PartialEq)]
pub enum Untold {
    /// The records end before the complaint.
    NoComplaint,
    /// The complaint does not fit the install any more.
    Complaint(Vec<Gone>),
    /// The healthy circuit cannot be solved.
    Unsolvable(String),
}

impl<'n> Retold<'n> {
    /// Takes a job through its records. Where mistakes of wiring became suspects at any time they are from the start, so that
    /// each reading tells all that it says; where the job ends is the same.
    ///
    /// # Errors
    /// Why it cannot be done.
    pub fn of(system: &'n System, network: &'n Network<'n>, course: &Course) -> Result<Self, Untold> {
        let said = course.complaint.as_ref().ok_or(Untold::NoComplaint)?;
        let complaint = system.complaint_named(&course.described.rest, said).map_err(Untold::Complaint)?;
        let (known, lost) = system.again(&system.instruments(), course);
        let instruments = system.instruments_at_hand(&course.at_hand);
        let job = Diagnosis::begin(system, network, instruments, complaint, course.opened.seed);
        let mut job = job.map_err(|unsolvable| Untold::Unsolvable(unsolvable.why))?;
        job.enter_again(&known, &course.repairs, course.mistakes_since.map(|_| 0));
        Ok(Self { job, numbers: known.iter().map(|again| again.number).collect(), lost })
    }
}

impl Diagnosis<'_> {
    /// Enters readings as if they had just been taken, and repairs where they were made. Mistakes of wiring become suspects
    /// where they had in the job: behind reading `mistakes_since`. Gives the faults of repairs that the install does not know.
    pub fn enter_again(&mut self, readings: &[Again], repairs: &[Mended], mistakes_since: Option<usize>) -> Vec<Gone> {
        let mut due = mistakes_since;
        let mut repairs = repairs.iter().peekable();
        let mut gone = Vec::new();
        let ends = std::iter::once((usize::MAX, None));
        for (number, again) in readings.iter().map(|again| (again.number, Some(again))).chain(ends) {
            while let Some(mended) = repairs.next_if(|mended| mended.after < number) {
                // A repair follows a finding; what was asked in at the same reading had led to it.
                if due.is_some_and(|since| since <= mended.after) {
                    self.ask_mistakes_in();
                    due = None;
                }
                gone.extend(self.mend(&mended.repair));
            }
            if due.is_some_and(|since| since < number) {
                self.ask_mistakes_in();
                due = None;
            }
            if let Some(again) = again {
                self.answer(again.test.clone(), again.answer.clone());
            }
        }
        gone
    }

    /// Enters a repair by the names of its faults; gives those that the install does not know. Where it was of a mistake of
    /// wiring, mistakes are suspects from here on.
    pub fn mend(&mut self, repair: &Repair) -> Vec<Gone> {
        let system = self.system();
        let mut gone = Vec::new();
        let mut faults = Vec::new();
        for Blamed { part, fault, .. } in &repair.culprits {
            match system.fault(part, fault) {
                Some(fault) => faults.push(fault),
                None => gone.push(Gone::Fault(part.clone(), fault.clone())),
            }
        }
        if faults.iter().any(|fault| self.cure_of(*fault).is_none()) {
            self.ask_mistakes_in();
        }
        let mut groups: Vec<GroupId> = Vec::new();
        for group in faults.iter().filter_map(|fault| self.cure_of(*fault)) {
            if !groups.contains(&group) {
                groups.push(group);
            }
        }
        if !groups.is_empty() {
            self.repaired(&groups);
        }
        gone
    }

    /// The repair group of a fault by itself.
    fn cure_of(&self, fault: FaultId) -> Option<GroupId> {
        let suspects = self.belief().suspects();
        let repair = &suspects.faults().get(fault)?.repair;
        suspects.groups().enumerate().find(|(_, g)| matches!(&g.repair[..], [one] if one == repair)).map(|(id, _)| id)
    }
}
