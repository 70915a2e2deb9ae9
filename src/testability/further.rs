//! Where one more test point, or an indicator lamp, would tell suspects apart that no offered test does: every candidate is
//! tried on the mock-up.
//!
//! A large install has thousands of faults, of which some hundred are looked into, spread evenly over their prior weight.
//!
//! Faults are *alike* when all that is offered shows the same of them in every set-up in which the install is used, every part
//! in its place: volts within the meter's accuracy, looks, and the light of a test lamp. A fuse pulled may tell some apart. Readings here are those without the meter's own load. It
//! deliberately knows no job: what is alike here is alike however long somebody measures.

use super::alike::SIGMAS;
use super::cases::evenly;
use super::offered;
use super::scene::Scene;
use crate::bench::{Draws, Hidden, Instrument, MockUp};
use crate::choice::Offer;
use crate::circuit::{NodeId, SetUp, Sighted};
use crate::install::PointId;
use crate::job::{System, meter_sigma};
use crate::knowledge::{Noticed, Notices, Origin, WordTable};
use crate::network;
use crate::units::{Amps, Volts};
use std::collections::{BTreeMap, BTreeSet};

/// Groups that are looked into.
const GROUPS: usize = 3;
/// Faults that are looked into at most, spread evenly over the prior weight of all: each costs a solve in every set-up.
const FAULTS: usize = 400;
/// What tells less than this, in bits, tells nothing: rounding.
const LEAST_BITS: f64 = 1e-9;
/// Forward volts of an indicator LED, and its current at nominal volts (the indicator of `knowledge/parts/loads.yaml`).
const LED: (Volts, Amps) = (Volts::new(2.0), Amps::new(0.01));

/// Faults that no offered test tells apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Alike {
    /// Their repairs, each with its share of the group by prior weight, heaviest first.
    pub repairs: Vec<(String, f64)>,
    /// The share, by prior weight, of all faults that are complained of and end in this group.
    pub share: f64,
    /// What would tell most of them apart; `None`: no candidate would tell any.
    pub further: Option<Further>,
}

/// One more test point or lamp, and what it would do to a group.
#[derive(Clone, Debug, PartialEq)]
pub struct Further {
    /// Where, against the minus of the supply.
    pub point: PointId,
    /// What is fitted there.
    pub fitted: Fitted,
    /// The repairs that would still be alike, part by part, each with its share of the group; heaviest first.
    pub parts: Vec<(Vec<String>, f64)>,
    /// What it tells about the repair, in bits.
    pub bits: f64,
}

/// What can be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fitted {
    /// A place for the red lead.
    TestPoint,
    /// A lamp that is looked at.
    Lamp,
}

/// One fault with all that can be read and seen of it, set-up after set-up.
struct State {
    hidden: Hidden,
    /// The set-up in which it is complained of.
    complained: SetUp,
    repair: String,
    weight: f64,
    pictures: Vec<Picture>,
}

/// What one set-up shows.
struct Picture {
    /// Volts between the pairs of points that are offered.
    offered: Vec<Option<f64>>,
    /// Volts of the candidates against the minus.
    inner: Vec<Option<f64>>,
    /// Words of what is seen.
    words: Vec<Option<usize>>,
}

/// The largest groups of alike faults with the best candidate for each.
pub(super) fn further(scene: &Scene<'_>, system: &System) -> Vec<Alike> {
    let Some(offer) = offered::offer(system) else { return Vec::new() };
    let bench = Bench { scene, system, offer: &offer, candidates: candidates(system, &offer) };
    let states = bench.states();
    let total: f64 = states.iter().map(|s| s.weight).sum();
    let all: Vec<&State> = states.iter().collect();
    let classes = classes(&all, |a, b| a.pictures.iter().zip(&b.pictures).all(|(a, b)| same_offered(a, b)));
    // Severities of the same faults make groups of the same repairs: the heaviest stands for all of them.
    let mut groups: BTreeMap<BTreeSet<&str>, (f64, Vec<&State>)> = BTreeMap::new();
    for class in classes {
        let repairs: BTreeSet<&str> = class.iter().map(|s| s.repair.as_str()).collect();
        if repairs.len() > 1 {
            let weight = weight(&class);
            let (sum, heaviest) = groups.entry(repairs).or_default();
            *sum += weight;
            if weight > self::weight(heaviest) {
                *heaviest = class;
            }
        }
    }
    let mut groups: Vec<(f64, Vec<&State>)> = groups.into_values().collect();
    groups.sort_by(|a, b| b.0.total_cmp(&a.0));
    let alike = groups.into_iter().filter_map(|(sum, class)| bench.alike(&class, sum / total));
    alike.take(GROUPS).collect()
}

fn weight(states: &[&State]) -> f64 {
    states.iter().map(|s| s.weight).sum()
}

/// One named point for each piece of metal that no offered reading touches.
fn candidates(system: &System, offer: &Offer) -> Vec<(PointId, NodeId)> {
    let pairs = offer.volts.iter().flat_map(|(red, black)| [*red, *black]);
    let mut taken: BTreeSet<NodeId> = pairs.map(|point| system.node(point)).collect();
    taken.insert(system.node(system.reference));
    let points = system.install.points.ids().map(|point| (point, system.node(point)));
    points.filter(|(_, node)| taken.insert(*node)).collect()
}

struct Bench<'b> {
    scene: &'b Scene<'b>,
    system: &'b System,
    offer: &'b Offer,
    candidates: Vec<(PointId, NodeId)>,
}

impl Bench<'_> {
    /// The single faults that somebody would complain of.
    fn states(&self) -> Vec<State> {
        let circuit = &self.system.circuit;
        let all = few(Hidden::every(self.scene.possible, Origin::Wear));
        let of = |hidden: Hidden| {
            let complained = self.scene.grievance(circuit, &hidden, &Draws::none())?.set_up;
            let fault = self.scene.possible.get(hidden.faults.first()?.0)?;
            let pictures = self.in_use(&hidden, &complained, |mock_up| self.picture(mock_up))?;
            Some(State { repair: fault.repair_group.clone(), weight: hidden.weight, hidden, complained, pictures })
        };
        all.into_iter().filter_map(of).collect()
    }

    /// What is to be had in each set-up of use, one entered after the other: what has blown while somebody found the
    /// complaint is blown in all of them.
    fn in_use<T>(
        &self,
        hidden: &Hidden,
        complained: &SetUp,
        each: impl Fn(&MockUp<'_>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let mut mock_up = self.scene.mock_up(&self.system.circuit, hidden, &Draws::none());
        mock_up.enter(complained).ok()?;
        let in_set_up = |set_up: &SetUp| {
            mock_up.enter(set_up).ok()?;
            each(&mock_up)
        };
        self.scene.uses.set_ups().map(in_set_up).collect()
    }

    fn picture(&self, mock_up: &MockUp<'_>) -> Option<Picture> {
        let system = self.system;
        let minus = system.node(system.reference);
        let between = |(red, black): &(PointId, PointId)| mock_up.volts(system.node(*red), system.node(*black)).ok();
        let sights = system.circuit.sights.iter().filter(|s| s.notices == Notices::Work);
        let word = |s: &Sighted| {
            let noticed = mock_up.noticed(*s.elements.first()?, s.nominal).ok()?;
            Some(system.install.knowledge.words.get(&s.table)?.most_said(noticed))
        };
        Some(Picture {
            offered: self.offer.volts.iter().map(between).collect::<Option<_>>()?,
            inner: self.candidates.iter().map(|(_, n)| mock_up.volts(*n, minus).ok()).collect::<Option<_>>()?,
            words: sights.map(word).collect(),
        })
    }

    /// The heaviest of a class that no test lamp tells apart either, and what would.
    fn alike(&self, class: &[&State], share: f64) -> Option<Alike> {
        let lamps = self.offer.lamp_to_minus.iter().chain(&self.offer.lamp_to_plus);
        let pairs: Vec<(NodeId, NodeId)> = lamps.map(|(a, b)| (self.system.node(*a), self.system.node(*b))).collect();
        let lit = |state: &&State| match self.system.instruments().test_lamp {
            Some(network::Instrument::TestLamp { hot, nominal }) => {
                self.lights(state, Instrument::Lamp { hot, nominal }, &pairs)
            }
            _ => Vec::new(),
        };
        let lit: Vec<_> = class.iter().map(lit).collect();
        let sets = parted(class.len(), |a, b| lit[a] == lit[b]).into_iter();
        let left = sets.map(|set| set.into_iter().map(|i| class[i]).collect::<Vec<&State>>());
        let left = left.max_by(|a, b| weight(a).total_cmp(&weight(b)))?;
        let repairs = repairs(&left, weight(&left));
        let share = share * weight(&left) / weight(class);
        (repairs.len() > 1).then(|| Alike { further: self.best(&left), repairs, share })
    }

    /// The candidate that tells most; a test point before a lamp that tells no more.
    fn best(&self, left: &[&State]) -> Option<Further> {
        let nominal = self.scene.install.nominal;
        let led = Instrument::Led { forward: LED.0, series: (nominal - LED.0) / LED.1 };
        let minus = self.system.node(self.system.reference);
        let mut best: Option<Further> = None;
        let mut offer = |point: PointId, fitted: Fitted, sets: Vec<Vec<usize>>| {
            let found = split(left, sets, point, fitted);
            if found.bits > LEAST_BITS && best.as_ref().is_none_or(|b| found.bits > b.bits + LEAST_BITS) {
                best = Some(found);
            }
        };
        for (k, (point, _)) in self.candidates.iter().enumerate() {
            let volts = |i: usize| left[i].pictures.iter().map(move |p| p.inner.get(k).copied().flatten());
            offer(*point, Fitted::TestPoint, parted(left.len(), |a, b| volts(a).zip(volts(b)).all(near)));
        }
        let pairs: Vec<(NodeId, NodeId)> = self.candidates.iter().map(|(_, node)| (*node, minus)).collect();
        let lit: Vec<_> = left.iter().map(|state| self.lights(state, led, &pairs)).collect();
        for (k, (point, _)) in self.candidates.iter().enumerate() {
            // Set-up after set-up, every candidate in each.
            let own = |i: usize| lit[i].iter().skip(k).step_by(pairs.len());
            offer(*point, Fitted::Lamp, parted(left.len(), |a, b| own(a).eq(own(b))));
        }
        best
    }

    /// The word for a lamp between pairs of nodes, in every set-up; `None` where there is no answer.
    fn lights(&self, state: &State, lamp: Instrument, pairs: &[(NodeId, NodeId)]) -> Vec<Option<usize>> {
        let Some(table) = self.system.tester_words() else { return Vec::new() };
        let words = |mock_up: &MockUp<'_>| {
            Some(pairs.iter().map(|pair| light(table, mock_up, lamp, *pair)).collect::<Vec<_>>())
        };
        self.in_use(&state.hidden, &state.complained, words).unwrap_or_default().concat()
    }
}

/// As many of the faults as are looked into, each with the weight of those that it stands for.
fn few(all: Vec<Hidden>) -> Vec<Hidden> {
    if all.len() <= FAULTS {
        return all;
    }
    let weights: Vec<f64> = all.iter().map(|hidden| hidden.weight).collect();
    let total = weights.iter().sum();
    let mut few: Vec<(usize, Hidden)> = Vec::new();
    for k in evenly(&weights, total, FAULTS, 0.5) {
        match few.last_mut().filter(|(last, _)| *last == k) {
            Some((_, same)) => same.weight += 1.0,
            None => few.push((k, Hidden { weight: 1.0, ..all[k].clone() })),
        }
    }
    few.into_iter().map(|(_, hidden)| hidden).collect()
}

/// The repairs of some states, each with its share of a weight; heaviest first.
fn repairs(states: &[&State], of: f64) -> Vec<(String, f64)> {
    let mut sums: BTreeMap<&str, f64> = BTreeMap::new();
    for state in states {
        *sums.entry(&state.repair).or_default() += state.weight / of;
    }
    let mut list: Vec<(String, f64)> = sums.into_iter().map(|(repair, share)| (repair.to_owned(), share)).collect();
    list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    list
}

/// What a candidate makes of a group: `I = H(repair) - sum over parts of P(part) H(repair | part)`, in bits. What splits the
/// ways in which one part fails, and no repair from another, tells nothing.
fn split(left: &[&State], sets: Vec<Vec<usize>>, point: PointId, fitted: Fitted) -> Further {
    let total = weight(left);
    let entropy = |list: &[(String, f64)]| -list.iter().map(|(_, p)| p * p.log2()).sum::<f64>();
    let mut bits = entropy(&repairs(left, total));
    let mut parts = Vec::new();
    for set in sets {
        let states: Vec<&State> = set.into_iter().map(|i| left[i]).collect();
        let own = weight(&states);
        let list = repairs(&states, own);
        bits -= own / total * entropy(&list);
        parts.push((list.into_iter().map(|(repair, _)| repair).collect::<Vec<String>>(), own / total));
    }
    parts.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    Further { point, fitted, parts, bits }
}

fn light(table: &WordTable, mock_up: &MockUp<'_>, lamp: Instrument, (red, black): (NodeId, NodeId)) -> Option<usize> {
    if mock_up.stays_dark(lamp, red, black) {
        return Some(table.most_said(Noticed::Share(0.0)));
    }
    let met = mock_up.attach(lamp, red, black).ok()?;
    Some(table.most_said(MockUp::light(&met, lamp)))
}

/// Whether all that is offered shows the same, but for the light of a test lamp.
fn same_offered(a: &Picture, b: &Picture) -> bool {
    a.words == b.words && a.offered.iter().copied().zip(b.offered.iter().copied()).all(near)
}

/// Whether a meter shows the same; on an open line it shows next to nothing.
fn near((a, b): (Option<f64>, Option<f64>)) -> bool {
    let (a, b) = (a.unwrap_or(0.0), b.unwrap_or(0.0));
    (a - b).abs() < SIGMAS * meter_sigma(a.abs().max(b.abs()))
}

/// States with the first of their kind.
fn classes<'s>(states: &[&'s State], alike: impl Fn(&State, &State) -> bool) -> Vec<Vec<&'s State>> {
    let sets = parted(states.len(), |a, b| alike(states[a], states[b]));
    sets.into_iter().map(|set| set.into_iter().map(|i| states[i]).collect()).collect()
}

/// Parts of `0..count`: each joins the first part whose first member it is like.
fn parted(count: usize, alike: impl Fn(usize, usize) -> bool) -> Vec<Vec<usize>> {
    let mut sets: Vec<Vec<usize>> = Vec::new();
    for i in 0..count {
        match sets.iter_mut().find(|set| set.first().is_some_and(|first| alike(*first, i))) {
            Some(set) => set.push(i),
            None => sets.push(vec![i]),
        }
    }
    sets
}
