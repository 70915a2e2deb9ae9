//! A complaint that nobody but the customer has seen: how likely it is made although nothing is wrong.
//!
//! A person who sees a lamp judges that lamp; a customer may name the wrong switch, remember another day, or have asked
//! too much of it. With `m` the chance that a complaint is mistaken and `n` things that can be complained of, 'nothing
//! wrong' enters the job with the weight `m / n` against the priors of the faults: of those, too, only the `n`-th part
//! or so makes people complain of just this.

use super::{Answer, Belief, Evidence, Path, Posterior, Predicted, Track};
use crate::suspects::SuspectId;

/// A complaint this many times as likely as in a healthy circuit is explained by a fault. Common practice, no source.
const EXPLAINED: f64 = 10.0;

/// What was reported, not seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Hearsay {
    /// The observations that are the customer's word (positions in the evidence).
    pub observations: Vec<usize>,
    /// Probability beforehand that nothing is wrong and just this is complained of.
    pub mistaken: f64,
}

impl Hearsay {
    /// The evidence without what was only reported.
    pub(super) fn left_aside(&self, evidence: &Evidence) -> Evidence {
        let mut rest = evidence.clone();
        for (i, observation) in rest.observations.iter_mut().enumerate() {
            if self.observations.contains(&i) {
                observation.answer = Answer::NotTaken;
            }
        }
        rest
    }
}

/// What is added to the logarithm of the likelihood of 'nothing wrong', which has been judged as if the complaint had been
/// seen: its own chance in the place of that. Nothing where the complaint as a whole is left out.
pub(super) fn correction(evidence: &Evidence, healthy: &Track<'_>, prior: f64, left_out: &[usize]) -> f64 {
    let Some(hearsay) = &evidence.hearsay else { return 0.0 };
    let path = healthy.points.first().and_then(|p| p.paths.first());
    let heard: Vec<usize> = hearsay.observations.iter().copied().filter(|i| !left_out.contains(i)).collect();
    if heard.is_empty() {
        return 0.0;
    }
    let as_seen = |i: &usize| {
        let observation = evidence.observations.get(*i)?;
        match (&observation.answer, path?.predicted.get(*i)?) {
            (Answer::Word(word), Predicted::Words(shares)) => {
                Some(f64::from(observation.times) * shares.get(*word).copied().unwrap_or(0.0).ln())
            }
            _ => None,
        }
    };
    let seen: f64 = heard.iter().filter_map(as_seen).filter(|log| log.is_finite()).sum();
    (hearsay.mistaken / prior).ln() - seen
}

impl Belief<'_> {
    /// What stands against 'no fault found': the probability of all faults that would cause the complaint, and of what is not
    /// modelled. A fault elsewhere that leaves what is complained of working makes the complaint no less mistaken.
    pub(super) fn against_nothing(&self, posterior: &Posterior, evidence: &Evidence) -> f64 {
        let Some(hearsay) = evidence.hearsay.as_ref().filter(|h| !h.observations.is_empty()) else {
            let nothing = self.suspects().list().ids().filter(|id| self.suspects().list()[*id].faults.is_empty());
            return 1.0 - nothing.map(|id| posterior.probability[id]).sum::<f64>();
        };
        let ids = self.suspects().list().ids();
        let faulty = ids.filter(|id| !self.inert[*id] && !self.suspects().list()[*id].faults.is_empty());
        let explaining = |id: SuspectId| -> f64 {
            let points = self.tracks()[id].points.iter().zip(&posterior.severities[id]);
            points.filter(|(p, _)| self.explains(&p.paths, hearsay, evidence)).map(|(_, share)| share).sum()
        };
        posterior.unknown + faulty.map(|id| posterior.probability[id] * explaining(id)).sum::<f64>()
    }

    /// Whether a complaint follows from one of these courses of a fault.
    fn explains(&self, paths: &[Path<'_>], hearsay: &Hearsay, evidence: &Evidence) -> bool {
        let healthy = self.tracks().iter().next().and_then(|t| t.points.first()?.paths.first());
        let share = |path: &Path<'_>, i: usize| match (&evidence.observations.get(i)?.answer, path.predicted.get(i)?) {
            (Answer::Word(word), Predicted::Words(shares)) => shares.get(*word).copied(),
            _ => None,
        };
        paths.iter().any(|path| {
            hearsay.observations.iter().all(|i| {
                let well = healthy.and_then(|h| share(h, *i)).unwrap_or(0.0);
                share(path, *i).is_some_and(|share| share > EXPLAINED * well)
            })
        })
    }
}
