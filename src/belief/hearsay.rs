//! A complaint that nobody but the customer has seen: how likely it is made although nothing is wrong.
//!
//! A person who sees a lamp judges that lamp; a customer may name the wrong switch, remember another day, or have asked
//! too much of it. With `m` the chance that a complaint is mistaken and `n` things that can be complained of, 'nothing
//! wrong' enters the job with the weight `m / n` against the priors of the faults: of those, too, only the `n`-th part
//! or so makes people complain of just this.

use super::{Answer, Belief, Evidence, Path, Posterior, Predicted, Track};

/// A fault explains a complaint if this many times as many people complain of it as do of a healthy circuit: then more do so for
/// the fault than would have without it.
const EXPLAINED: f64 = 2.0;
/// And if its word is at least this share as likely, while it is there, as the likeliest: who says 'dead' of a motor that mostly
/// seems to run is mistaken with the fault as without it. Common practice, no source.
const READILY: f64 = 0.5;

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
    /// A posterior as far as the complaint is concerned: a fault elsewhere, or one too slight to complain of, makes the complaint no
    /// less mistaken, so that its probability is added to that of 'nothing wrong'. What was seen, not reported, stands as it is.
    pub fn as_reported(&self, posterior: &Posterior, evidence: &Evidence) -> Posterior {
        let mut all = posterior.clone();
        let list = self.suspects().list();
        let heard = evidence.hearsay.as_ref().filter(|h| !h.observations.is_empty());
        let Some((hearsay, nothing)) = heard.zip(list.ids().find(|id| list[*id].faults.is_empty())) else { return all };
        for id in list.ids().filter(|id| !list[*id].faults.is_empty() && posterior.probability[*id] > 0.0) {
            let mut explaining = 0.0;
            if !self.inert[id] {
                for (point, share) in self.tracks()[id].points.iter().zip(&mut all.severities[id]) {
                    if !self.explains(&point.paths, hearsay, evidence) {
                        *share = 0.0;
                    }
                    explaining += *share;
                }
            }
            if explaining > 0.0 {
                all.severities[id].iter_mut().for_each(|share| *share /= explaining);
            } else {
                all.severities[id].clone_from(&posterior.severities[id]);
            }
            all.probability[id] = posterior.probability[id] * explaining;
            all.probability[nothing] += posterior.probability[id] * (1.0 - explaining);
        }
        (all.groups, all.sets) = self.repairs(&all.probability);
        all
    }

    /// What stands against 'no fault found' in such a posterior: the probability of every fault that would cause the complaint, and
    /// of what is not modelled.
    pub(super) fn against_nothing(&self, as_reported: &Posterior) -> f64 {
        let nothing = self.suspects().list().ids().filter(|id| self.suspects().list()[*id].faults.is_empty());
        1.0 - nothing.map(|id| as_reported.probability[id]).sum::<f64>()
    }

    /// Whether a complaint follows from one of these courses of a fault.
    fn explains(&self, paths: &[Path<'_>], hearsay: &Hearsay, evidence: &Evidence) -> bool {
        let healthy = self.tracks().iter().next().and_then(|t| t.points.first()?.paths.first());
        // How likely the word is, and the likeliest.
        let share = |path: &Path<'_>, i: usize| match (&evidence.observations.get(i)?.answer, path.predicted.get(i)?) {
            (Answer::Word(word), Predicted::Words(shares)) => {
                Some((shares.get(*word).copied()?, shares.iter().copied().fold(0.0, f64::max)))
            }
            _ => None,
        };
        paths.iter().any(|path| {
            hearsay.observations.iter().all(|i| {
                let well = healthy.and_then(|h| share(h, *i)).map_or(0.0, |(said, _)| said);
                share(path, *i).is_some_and(|(said, most)| said > EXPLAINED * well && said >= READILY * most)
            })
        })
    }
}
