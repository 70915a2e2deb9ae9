//! Set-ups in which a jumper with a fuse in it stands in for a part: with a relay out of its socket, whether its load works then
//! tells the relay and what controls it from the load and its wires (common practice).

use super::Diagnosis;
use crate::choice::{Hypothesis, in_play};
use crate::circuit::{ByHand, Edit, Jumper, SetUp};
use crate::network::{ElementState, Operating};

/// Share of the posterior that suspects may hold together under which a jumper would carry more than its fuse bears. Common
/// practice, no source: no jumper goes in while a short or a stalled motor behind it is still a suspect.
const MOST_AT_RISK: f64 = 0.01;

/// Share of something that is not modelled from which on nobody knows what a jumper would feed. Common practice, no source.
const MOST_UNKNOWN: f64 = 0.5;

impl Diagnosis<'_> {
    /// The set-ups with all in its place but for one part that is bridged; none while the engine runs.
    pub(super) fn bridged(&self) -> Vec<SetUp> {
        let rest = SetUp::at_rest(&self.system.circuit.netlist.controls);
        let refused = self.not_taken_out();
        let mut list: Vec<SetUp> = Vec::new();
        for removable in self.offer.removable.iter().filter(|r| r.jumper.is_some() && !refused.contains(&vec![r.part]))
        {
            for from in [&self.complaint.usual, &self.complaint.set_up, &rest] {
                let set_up = self.system.circuit.bridged(&self.system.install, from, removable.part);
                if let Some(set_up) = set_up.filter(|s| !self.system.engine_runs(s) && !list.contains(s)) {
                    list.push(set_up);
                }
            }
        }
        list
    }

    /// Those of some set-ups in which the fuse of each jumper bears what flows.
    pub(super) fn borne(&self, set_ups: &[SetUp]) -> Vec<SetUp> {
        set_ups.iter().filter(|set_up| self.is_borne(set_up)).cloned().collect()
    }

    /// A set-up with no jumper in; the parts stay out.
    pub(super) fn without_jumpers(&self, set_up: SetUp) -> SetUp {
        let bridged: Vec<_> =
            set_up.by_hand.iter().filter(|(_, how)| how.is_bridged()).map(|(part, _)| *part).collect();
        bridged.into_iter().fold(set_up, |set_up, part| self.system.circuit.out_of(&set_up, part))
    }

    /// Whether the jumpers of a set-up may be put in. Each suspect in play is followed into it, from what it has left blown: under
    /// all but one part in a hundred of what is believed the jumper has to carry no more than its fuse bears, and the protection of
    /// its way has to be whole. That covers a short or a stalled motor behind the jumper, and a short that has blown the protection
    /// already, wherever it is. A protection that is open by a fault of its own lets nothing through and does not count. A suspect that
    /// was not looked at, or that cannot be solved, counts as one that blows it.
    fn is_borne(&self, set_up: &SetUp) -> bool {
        if self.posterior.unknown > MOST_UNKNOWN {
            return false;
        }
        let jumpers: Vec<&Jumper> = (self.offer.removable.iter())
            .filter(|r| set_up.how(r.part).is_some_and(ByHand::is_bridged))
            .filter_map(|r| r.jumper.as_ref())
            .collect();
        let present = self.standing().set_up == *set_up;
        let is_borne = |hypothesis: &Hypothesis| {
            let state = self.foresight.state(&self.belief, hypothesis, set_up, present)?;
            let ohms = self.belief.tracks()[hypothesis.suspect].points.get(hypothesis.point)?.ohms;
            let faults = self.belief.suspects().edits(hypothesis.suspect, ohms, &self.belief.cured());
            Some(jumpers.iter().all(|jumper| bears(jumper, &state, &faults)))
        };
        let hypotheses = in_play(&self.belief, &self.posterior);
        let mut at_risk = 1.0 - self.posterior.unknown - hypotheses.iter().map(|h| h.weight).sum::<f64>();
        // The likeliest come first: where it is not borne that is known after a few.
        for hypothesis in &hypotheses {
            if at_risk > MOST_AT_RISK {
                return false;
            }
            at_risk += if is_borne(hypothesis) == Some(true) { 0.0 } else { hypothesis.weight };
        }
        at_risk <= MOST_AT_RISK
    }
}

/// Whether a jumper and the protection of its way bear what flows in a state, which some faults have led to.
fn bears(jumper: &Jumper, state: &Operating<'_>, faults: &[Edit]) -> bool {
    let [from, to] = jumper.ends;
    let amps = state.voltage(from, to).map_or(0.0, |volts| volts.get().abs() / jumper.ohms.get());
    let of_itself = faults.iter().any(|edit| matches!(edit, Edit::Open(element) if *element == jumper.protection));
    let whole = of_itself || state.state(jumper.protection) == ElementState::Fuse(true);
    amps <= jumper.fuse.get() && whole && !state.chatter().contains(&jumper.protection)
}
