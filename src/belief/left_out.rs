//! Posteriors with some observations left out, kept until something is learnt: the verdict and the choice of the next test
//! both ask for them.

use super::Posterior;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// What was worked out of them, by the observations that are left out.
#[derive(Default)]
pub(super) struct LeftOut(RefCell<BTreeMap<Vec<usize>, Rc<Posterior>>>);

impl LeftOut {
    /// Forgets all.
    pub(super) fn clear(&mut self) {
        self.0.get_mut().clear();
    }

    /// The posterior without `observations`, by `make` when it is asked for the first time.
    pub(super) fn get(&self, observations: &[usize], make: impl FnOnce() -> Posterior) -> Rc<Posterior> {
        if let Some(known) = self.0.borrow().get(observations) {
            return Rc::clone(known);
        }
        let made = Rc::new(make());
        self.0.borrow_mut().insert(observations.to_vec(), Rc::clone(&made));
        made
    }
}
