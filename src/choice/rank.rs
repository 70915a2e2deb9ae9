//! Ranks the offered tests by information per minute.

use super::cost::{Standing, minutes, switching};
use super::foresight::{Foresight, has_diodes};
use super::in_play::{Hypothesis, in_play};
use super::information::{Outcome, entropy, gain};
use super::test::Test;
use crate::belief::{Belief, Outlook, Posterior, Probe, Reading, Shown};
use crate::circuit::{ElementId, NodeId, Primitive, SetUp};
use crate::install::Install;
use crate::network::{Alike, Instrument, Operating};
use crate::units::{Minutes, Ohms};
use std::cell::OnceCell;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// A test with what it is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    /// The test.
    pub test: Test,
    /// Information about the repair in bits.
    pub bits: f64,
    /// Minutes from where the person stands.
    pub minutes: Minutes,
    /// Minutes by which a person would rather do something else; they count for the order alone.
    pub reluctance: Minutes,
}

/// Minutes below which a test counts as free; keeps the rate finite.
const FLOOR: f64 = 0.1;
/// Voltmeter readings of a set-up, best first, at whose points a test lamp is considered too: it has to be solved for
/// each hypothesis, and where volts tell nothing a lamp seldom does.
const LAMPS_AT: usize = 6;
/// Bits below which a test tells nothing, in whatever doubt: far below all that is ever asked for.
const NOTHING: f64 = 1e-9;
/// Input resistance of the voltmeter that is thought of where there is none.
const METER: Ohms = Ohms::new(1e7);

impl Ranked {
    /// Bits per minute.
    pub fn rate(&self) -> f64 {
        rate(self.bits, (self.minutes + self.reluctance).get())
    }
}

/// Bits per minute.
pub(super) fn rate(bits: f64, minutes: f64) -> f64 {
    bits / minutes.max(FLOOR)
}

/// What the tests of each set-up tell, for as long as nothing is learnt.
#[derive(Clone, Debug, Default)]
pub struct Worth(Vec<(SetUp, Vec<Ranked>)>);

impl Worth {
    /// Forgets all.
    pub fn clear(&mut self) {
        self.0.clear();
    }
}

/// Standard deviation, in decades, of what insulation comes to in ohms, far above a megohm. Common practice, no source.
const DAMP: f64 = 0.4;
const MEGOHM: f64 = 1e6;

/// How well the instruments read.
#[derive(Clone, Copy, Debug)]
pub struct Accuracy {
    /// Standard deviation of a voltmeter at a value in volts.
    pub volts: fn(f64) -> f64,
    /// Accuracy of a clamp meter, share of the reading and amps: the half-width of an even spread.
    pub clamp: (f64, f64),
    /// Of ohms: share of the reading and ohms of the leads, half-widths of an even spread, and the spread of the parts as a share.
    pub ohms: (f64, f64, f64),
}

impl Accuracy {
    /// Standard deviation of ohms at the logarithm that stands for them.
    pub fn ohms_at(&self, value: f64) -> f64 {
        self.of_ohms(10_f64.powf(value))
    }

    /// Standard deviation of the logarithm of so many ohms. From a megohm on damp and dirt lie beside whatever is measured.
    fn of_ohms(&self, ohms: f64) -> f64 {
        let (share, leads, parts) = self.ohms;
        let meter = (share + leads / ohms) / 3_f64.sqrt();
        meter.hypot(parts) / std::f64::consts::LN_10 + DAMP * ohms / (ohms + MEGOHM)
    }

    /// Standard deviation of the instrument of a probe at a value in volts, amps or the logarithm of ohms.
    pub fn sigma(&self, probe: &Probe, value: f64) -> f64 {
        match probe {
            Probe::Amps { .. } => (self.clamp.0 * value.abs() + self.clamp.1) / 3_f64.sqrt(),
            Probe::Ohms { .. } => self.ohms_at(value),
            Probe::Volts { .. } | Probe::Light { .. } | Probe::Look(_) => (self.volts)(value),
        }
    }
}

/// What is fixed while tests are ranked.
pub struct Ranking<'a, 'n> {
    /// The install.
    pub install: &'a Install,
    /// The belief with all readings so far.
    pub belief: &'a Belief<'n>,
    /// Its posterior.
    pub posterior: &'a Posterior,
    /// What hypotheses would do in other set-ups.
    pub foresight: &'a Foresight<'n>,
    /// Where the person stands.
    pub standing: &'a Standing,
    /// The accuracy of the instruments.
    pub accuracy: Accuracy,
    /// Chance that a reading says nothing.
    pub blunder: f64,
    /// Observations that the test is to stand in for: the readings to come are foreseen without them.
    pub left_out: &'a [usize],
    /// Probability of something that is not modelled, where tests are to speak against it too; else zero.
    pub unknown: f64,
}

impl<'n> Ranking<'_, 'n> {
    /// The tests that tell something, best rate first; equal ones in the order offered. `tests_in` lists the tests of a
    /// set-up, `open` says which of them may be asked now. A set-up is left out when even full certainty would not be worth its
    /// switching: if it told fewer bits per minute than the best test that was met so far, or than `worth_switching`, whichever
    /// is less.
    pub fn rank(
        &self,
        set_ups: &[SetUp],
        (tests_in, open): (&impl Fn(&SetUp) -> Vec<Test>, &impl Fn(&Test) -> bool),
        least_bits: f64,
        worth_switching: f64,
        worth: &mut Worth,
    ) -> Vec<Ranked> {
        let hypotheses = in_play(self.belief, self.posterior);
        let doubt = if self.unknown > 0.0 { 1.0 } else { 0.0 };
        let most_bits = entropy(hypotheses.iter().map(|h| (h.group, h.weight))) + doubt;
        let mut ranked: Vec<Ranked> = Vec::new();
        let mut best_rate = 0.0_f64;
        let mut outlooks: Option<Vec<Outlook>> = None;
        for set_up in set_ups {
            let least = switching(self.install, self.standing, set_up).get().max(FLOOR);
            if best_rate.min(worth_switching) > most_bits / least {
                continue;
            }
            let known = worth.0.iter().find(|(known, _)| known == set_up);
            let telling = if let Some((_, telling)) = known {
                telling.clone()
            } else {
                let outlook = |h: &Hypothesis| self.belief.outlook_without(self.left_out, h.suspect, h.point, h.path);
                let outlooks = outlooks.get_or_insert_with(|| hypotheses.iter().map(outlook).collect());
                let telling = self.in_set_up(&hypotheses, outlooks, set_up, &tests_in(set_up));
                worth.0.push((set_up.clone(), telling.clone()));
                telling
            };
            for mut one in telling.into_iter().filter(|one| open(&one.test)) {
                one.minutes = minutes(self.install, self.standing, &one.test);
                if one.bits >= least_bits {
                    best_rate = best_rate.max(one.rate());
                    ranked.push(one);
                }
            }
        }
        // A stable sort: ties stay in the order of the offer.
        ranked.sort_by(|a, b| b.rate().total_cmp(&a.rate()));
        ranked
    }

    fn in_set_up(
        &self,
        hypotheses: &[Hypothesis],
        outlooks: &[Outlook],
        set_up: &SetUp,
        tests: &[Test],
    ) -> Vec<Ranked> {
        let present = self.standing.set_up == *set_up;
        let states: Vec<Option<Rc<Operating<'n>>>> =
            hypotheses.iter().map(|h| self.foresight.state(self.belief, h, set_up, present)).collect();
        let diodes = has_diodes(self.belief);
        let place = self.belief.next_place(present);
        let foreseen = Foreseen { hypotheses, outlooks, states: &states, place, diodes };
        let worth_of = |test: &Test, bits: f64| Ranked {
            bits,
            minutes: minutes(self.install, self.standing, test),
            reluctance: Minutes::ZERO,
            test: test.clone(),
        };
        let worth = |test: &Test| worth_of(test, self.bits(&foreseen, &test.probe));
        let lamp = |test: &&Test| matches!(test.probe, Probe::Light { .. });
        let mut same = Same {
            alike: Alike::new(states.iter().flatten().map(Rc::as_ref)),
            known: BTreeMap::new(),
            at_rest: OnceCell::new(),
        };
        let all: Vec<(&Test, f64)> = tests
            .iter()
            .filter(|t| !lamp(t))
            .map(|test| (test, self.bits_as_known(&foreseen, test, &mut same)))
            .collect();
        // In a large install most readings tell nothing at all, and nobody has to know what they cost.
        let is_volts = |test: &Test| matches!(test.probe, Probe::Volts { .. });
        let telling_volts = all.iter().filter(|(test, bits)| is_volts(test) && *bits >= NOTHING).count();
        let kept = |(test, bits): &&(&Test, f64)| *bits >= NOTHING || is_volts(test) && telling_volts < LAMPS_AT;
        let mut ranked: Vec<Ranked> = all.iter().filter(kept).map(|(test, bits)| worth_of(test, *bits)).collect();
        // Without a voltmeter at hand its readings tell all the same where to hold the lamp.
        let told = if tests.iter().any(is_volts) {
            telling(&ranked)
        } else {
            let volts: Vec<Ranked> = tests.iter().filter_map(read_by_meter).map(|test| worth(&test)).collect();
            telling(&volts)
        };
        let at_told = |test: &&Test| match &test.probe {
            Probe::Light { red, .. } => told.contains(red),
            Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. } | Probe::Look(_) => false,
        };
        // While a part is out there are few tests, and a lamp in its place is one of them.
        let apart = set_up.by_hand.iter().any(|(_, how)| !how.is_bridged());
        ranked.extend(tests.iter().filter(lamp).filter(|test| apart || at_told(test)).map(worth));
        ranked
    }

    /// The bits of a test. What stands at the same volts as its points under every hypothesis tells the same.
    fn bits_as_known(&self, foreseen: &Foreseen<'_, 'n>, test: &Test, same: &mut Same) -> f64 {
        let Probe::Volts { instrument: Instrument::Voltmeter(_), red, black, unsigned } = test.probe else {
            let tells = self.unknown > 0.0 || !self.looks_the_same(foreseen, &test.probe, same);
            return if tells { self.bits(foreseen, &test.probe) } else { 0.0 };
        };
        let key = (same.alike.of(red), same.alike.of(black), unsigned);
        if let Some(bits) = same.known.get(&key) {
            return *bits;
        }
        let bits = self.bits(foreseen, &test.probe);
        // Where the meter itself may light a diode it matters what it is held to.
        let joined = |state: &Rc<Operating<'n>>| state.voltage(red, black).is_some();
        if !foreseen.diodes || foreseen.states.iter().flatten().all(joined) {
            same.known.insert(key, bits);
        }
        bits
    }

    /// Whether a look shows the same under every hypothesis, because nothing reaches what is looked at in any.
    fn looks_the_same(&self, foreseen: &Foreseen<'_, 'n>, probe: &Probe, same: &Same) -> bool {
        let Probe::Look(sight) = probe else { return false };
        let network = self.belief.network();
        let is_coil = |element: ElementId| {
            network.netlist().elements.get(element).is_some_and(|e| matches!(e.primitive, Primitive::Coil { .. }))
        };
        // A relay is heard against how it stands with all controls at rest.
        let at_rest = || {
            same.at_rest.get_or_init(|| {
                let all: Option<Vec<_>> =
                    foreseen.hypotheses.iter().map(|h| self.foresight.rest(self.belief, h)).collect();
                all.map(|all| Alike::new(all.iter().map(Rc::as_ref)))
            })
        };
        let rests = |element: ElementId| at_rest().as_ref().is_some_and(|rest| rest.is_still(element));
        match self.belief.senses().sights.get(*sight).map(|sight| &sight.shown) {
            Some(Shown::Work { element, .. }) => {
                same.alike.is_still(*element) && (!is_coil(*element) || rests(*element))
            }
            Some(Shown::Heat { elements, .. }) => elements.iter().all(|element| same.alike.is_still(*element)),
            Some(Shown::Standing { .. } | Shown::Charge { .. } | Shown::Marks(_)) | None => false,
        }
    }

    fn bits(&self, foreseen: &Foreseen<'_, 'n>, probe: &Probe) -> f64 {
        let Foreseen { hypotheses, outlooks, states, place, diodes } = *foreseen;
        let outcomes: Vec<Outcome> = hypotheses
            .iter()
            .zip(outlooks)
            .zip(states)
            .filter_map(|((h, outlook), state)| {
                let state = state.as_ref()?;
                let predicted = self.foresight.glance(self.belief, h, state, probe, diodes)?;
                let (predicted, strays) = self.belief.glance(outlook, &Reading { probe, state, place }, predicted);
                Some(Outcome { group: h.group, weight: h.weight, predicted, strays })
            })
            .collect();
        self.gain(probe, &outcomes)
    }

    /// Bits that these outcomes of a probe tell.
    pub(super) fn gain(&self, probe: &Probe, outcomes: &[Outcome]) -> f64 {
        gain(outcomes, |value| self.accuracy.sigma(probe, value), self.blunder, self.unknown, self.belief.noise())
    }
}

/// The hypotheses in one set-up.
#[derive(Clone, Copy)]
struct Foreseen<'a, 'n> {
    hypotheses: &'a [Hypothesis],
    /// What the readings so far say under each.
    outlooks: &'a [Outlook],
    states: &'a [Option<Rc<Operating<'n>>>],
    /// Where the next reading stands in the job.
    place: (usize, usize),
    diodes: bool,
}

/// Readings of a set-up that are one and the same.
struct Same {
    alike: Alike,
    /// Bits by the nodes at whose volts red and black stand.
    known: BTreeMap<(NodeId, NodeId, bool), f64>,
    /// What nothing reaches with all controls at rest; worked out when first asked for.
    at_rest: OnceCell<Option<Alike>>,
}

/// The reading of a voltmeter between the ends of a test lamp.
fn read_by_meter(test: &Test) -> Option<Test> {
    let Probe::Light { red, black, .. } = test.probe else { return None };
    let instrument = Instrument::Voltmeter(METER);
    Some(Test { probe: Probe::Volts { instrument, red, black, unsigned: false }, ..test.clone() })
}

/// The points of the voltmeter readings that tell most.
fn telling(ranked: &[Ranked]) -> BTreeSet<NodeId> {
    let mut volts: Vec<(f64, NodeId)> = ranked
        .iter()
        .filter_map(|r| match r.test.probe {
            Probe::Volts { red, .. } => Some((r.rate(), red)),
            Probe::Amps { .. } | Probe::Ohms { .. } | Probe::Light { .. } | Probe::Look(_) => None,
        })
        .collect();
    volts.sort_by(|a, b| b.0.total_cmp(&a.0));
    volts.into_iter().take(LAMPS_AT).map(|(_, node)| node).collect()
}
