//! A job taken up again: its readings looked up in the install as it is described now, and entered once more.

use super::record::{Course, Gone};
use super::{Diagnosis, System};
use crate::belief::Answer;
use crate::choice::{Instruments, Test};

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

impl Diagnosis<'_> {
    /// Enters readings as if they had just been taken. Mistakes of wiring become suspects where they had in the job: behind
    /// reading `mistakes_since`.
    pub fn enter_again(&mut self, readings: &[Again], mistakes_since: Option<usize>) {
        let mut due = mistakes_since;
        for again in readings {
            if due.is_some_and(|since| since < again.number) {
                self.ask_mistakes_in();
                due = None;
            }
            self.answer(again.test.clone(), again.answer.clone());
        }
        if due.is_some() {
            self.ask_mistakes_in();
        }
    }
}
