//! A solved operating point: what can be asked of it.

use super::ElementState;
use super::base::Engine;
use super::dark::{self, DarkWay};
use super::frame::Frame;
use super::islands::Joined;
use super::law::{Law, Part, Status};
use super::linear::Linear;
use super::memory::Memory;
use super::packed::Packed;
use super::point::Point;
use super::settle::Run;
use super::wiring::Wiring;
use crate::circuit::{Edit, ElementId, NodeId};
use crate::index::Id;
use crate::units::{Amps, Volts, Watts};
use std::cell::OnceCell;
use std::collections::VecDeque;
use std::marker::PhantomData;
use std::sync::Arc;

/// A solved operating point.
///
/// Where the circuit chatters, or electronic switches pulse, voltages and currents are the mean over the
/// states that it goes through.
#[derive(Clone)]
pub struct Operating<'n> {
    pub(super) wiring: Packed,
    pub(super) phases: Vec<Phase>,
    /// The phase from which things go on: the last of a chatter, the first (all on) of pulses.
    last: usize,
    memory: Memory,
    chatter: Vec<ElementId>,
    /// Groups of nodes that are joined through good conductors alone, made when first asked for.
    stiff: OnceCell<Vec<u32>>,
    /// In each phase, the dark diodes between islands; made when first asked for.
    ways: OnceCell<Vec<Vec<DarkWay>>>,
    /// Where only a part of the circuit was solved: all else, and the operating point of the whole, made when first asked for.
    pub(super) within: Option<Within>,
    pub(super) all: OnceCell<Box<Operating<'static>>>,
    netlist: PhantomData<&'n ()>,
}

/// The part of a circuit that was solved, and all that was changed.
#[derive(Clone)]
pub(super) struct Within {
    pub(super) frame: Arc<Frame>,
    pub(super) edits: Arc<[Edit]>,
}

/// Conductance in siemens from which a branch counts as a good conductor to a voltmeter of megohms: each
/// such branch on the way moves the reading of a 10 MΩ meter by 0.01 % at most.
pub(super) const STIFF: f64 = 1e-3;

/// What an operating point of a part of a circuit holds beside its numbers, in elements.
const BESIDE: usize = 100;

/// One of the states that the circuit is in, and for which share of the time.
#[derive(Clone)]
pub(super) struct Phase {
    pub weight: f64,
    pub status: Vec<Status>,
    pub point: Point,
    /// Current of each part.
    pub amps: Vec<f64>,
}

impl Phase {
    fn new(weight: f64, wiring: &Wiring, status: Vec<Status>, point: Point) -> Self {
        let amps = Linear::new(wiring, &status, &point).branches.iter().map(|b| b.amps).collect();
        Self { weight, status, point, amps }
    }
}

impl Operating<'_> {
    /// What a run in a part of the circuit has come to, with all edits that were made.
    pub(super) fn in_frame(frame: &Arc<Frame>, run: Run, edits: &Arc<[Edit]>) -> Self {
        let mut run = run;
        // One list for all operating points of a set-up.
        run.wiring.take_positions_of(&frame.core.positions);
        let mut own = Self::new(&frame.engine, run);
        own.memory = frame.memory_outside(&own.memory);
        for element in &mut own.chatter {
            *element = ElementId::new(frame.outside(element.position()));
        }
        own.within = Some(Within { frame: Arc::clone(frame), edits: Arc::clone(edits) });
        own
    }

    /// The operating point of a whole circuit from its phases.
    pub(super) fn of_whole(&self, wiring: Packed, phases: Vec<Phase>) -> Operating<'static> {
        Operating {
            wiring,
            phases,
            last: self.last,
            memory: self.memory.clone(),
            chatter: self.chatter.clone(),
            stiff: OnceCell::new(),
            ways: OnceCell::new(),
            within: None,
            all: OnceCell::new(),
            netlist: PhantomData,
        }
    }

    pub(super) fn new(engine: &Engine, run: Run) -> Self {
        let Run { wiring, status, point, cycle, pulsed, .. } = run;
        let mut chatter = Vec::new();
        for index in 0..wiring.elements {
            let jumps = |(_, other, _): &(f64, Vec<Status>, Point)| {
                other.get(index).map(|s| s.on) != status.get(index).map(|s| s.on)
            };
            if !pulsed && cycle.iter().any(jumps) {
                chatter.push(ElementId::new(index));
            }
        }
        let memory = Memory::of(&wiring.parts[..wiring.elements], &status).standing(Arc::clone(&wiring.positions));
        let phases = if cycle.is_empty() {
            vec![Phase::new(1.0, &wiring, status, point)]
        } else {
            cycle.into_iter().map(|(weight, status, point)| Phase::new(weight, &wiring, status, point)).collect()
        };
        let last = if pulsed { 0 } else { phases.len() - 1 };
        let wiring = Packed::new(&engine.wiring, &wiring);
        Self {
            wiring,
            phases,
            last,
            memory,
            chatter,
            stiff: OnceCell::new(),
            ways: OnceCell::new(),
            within: None,
            all: OnceCell::new(),
            netlist: PhantomData,
        }
    }

    /// The index of a node in what was solved.
    pub(super) fn node(&self, node: NodeId) -> Option<u32> {
        match &self.within {
            Some(within) => within.frame.node(within.frame.whole.node(node)?),
            None => self.wiring.node(node),
        }
    }

    /// Nodes and elements that it holds numbers of: those of the part of the circuit that was solved, and as many as what comes
    /// beside them is worth.
    pub fn size(&self) -> (usize, usize) {
        let nodes = self.phases.first().map_or(0, |phase| phase.point.volts.len());
        let (nodes, elements) = (nodes, self.wiring.elements());
        let (more, beside) = self.all.get().map_or((0, 0), |all| all.size());
        (nodes + more, elements + beside + if self.within.is_some() { BESIDE } else { 0 })
    }

    /// Where the controls stand.
    pub(super) fn positions(&self) -> &[usize] {
        self.wiring.positions()
    }

    /// The index of an element in what was solved.
    pub(super) fn index(&self, element: ElementId) -> Option<usize> {
        match &self.within {
            Some(within) => within.frame.element(element.position()),
            None => Some(element.position()),
        }
    }

    /// What a voltmeter of megohms shows between two nodes that good conductors (1 kΩ or less each) join, without solving
    /// again; `None` where the meter itself may change what it reads, or where the circuit does not settle.
    pub fn plain_volts(&self, red: NodeId, black: NodeId) -> Option<Volts> {
        let [phase] = &self.phases[..] else { return None };
        let (Some(a), Some(b)) = (self.at(red, true), self.at(black, true)) else {
            self.within.as_ref()?;
            return if self.meet_outside(red, black) {
                Some(Volts::ZERO)
            } else {
                self.whole().plain_volts(red, black)
            };
        };
        let stiff = self.stiff.get_or_init(|| {
            let wiring = self.wiring.whole();
            let mut joined = Joined::new(wiring.nodes);
            for (_, part) in good_conductors(&wiring, phase) {
                joined.join(part.from, part.to);
            }
            (0..wiring.nodes).map(|n| joined.find(u32::try_from(n).unwrap_or(u32::MAX))).collect()
        });
        let volts = |n: u32| phase.point.volts[n as usize];
        (stiff[a as usize] == stiff[b as usize]).then(|| finite(volts(a) - volts(b)))
    }

    /// The elements of one way between two nodes, by good conductors alone (1 kΩ or less each), of the fewest elements; `None`
    /// where there is none, or where the circuit does not settle. As long as they are left alone, a voltmeter of megohms reads
    /// what stands between the two nodes.
    pub fn good_way(&self, red: NodeId, black: NodeId) -> Option<Vec<ElementId>> {
        if self.within.is_some() {
            return self.whole().good_way(red, black);
        }
        let [phase] = &self.phases[..] else { return None };
        let (from, to) = (self.wiring.node(red)?, self.wiring.node(black)?);
        let wiring = self.wiring.whole();
        let mut at: Vec<Vec<(usize, u32)>> = vec![Vec::new(); wiring.nodes];
        for (index, part) in good_conductors(&wiring, phase) {
            at[part.from as usize].push((index, part.to));
            at[part.to as usize].push((index, part.from));
        }
        let mut came: Vec<Option<(usize, u32)>> = vec![None; wiring.nodes];
        let mut next = VecDeque::from([from]);
        while let Some(node) = next.pop_front().filter(|node| *node != to) {
            for &(index, other) in &at[node as usize] {
                if other != from && came[other as usize].is_none() {
                    came[other as usize] = Some((index, node));
                    next.push_back(other);
                }
            }
        }
        let mut way = Vec::new();
        let mut node = to;
        while node != from {
            let (index, before) = came[node as usize]?;
            way.push(index);
            node = before;
        }
        // What is laid there by the set-up itself is no element.
        Some(way.into_iter().filter(|index| *index < wiring.elements).map(ElementId::new).collect())
    }

    /// Whether nothing passive between two nodes would carry a current: the circuit rests, and there are no more than `least`
    /// volts there. Whatever is laid between them then changes nothing.
    pub fn drives_nothing(&self, red: NodeId, black: NodeId, least: Volts) -> bool {
        let rests = self.phases.len() == 1 && self.chatter.is_empty();
        rests && self.voltage(red, black).is_some_and(|volts| volts.get().abs() <= least.get())
    }

    /// Whether nothing joins two nodes, and all diodes that are dark now stay so when they are brought level: whatever passive
    /// is laid between them carries nothing and changes nothing.
    pub fn floats(&self, a: NodeId, b: NodeId) -> bool {
        let (red, black) = (a, b);
        let (Some(a), Some(b)) = (self.at(a, false), self.at(b, false)) else {
            return self.within.is_some() && self.whole().floats(red, black);
        };
        if self.phases.iter().any(|p| p.point.islands.joined(a, b)) {
            return false;
        }
        if let Some(within) = &self.within {
            return !within.has_diodes() || self.whole().floats(red, black);
        }
        let ways = self.ways.get_or_init(|| {
            let wiring = self.wiring.whole();
            self.phases.iter().map(|p| dark::dark_ways(&wiring, &p.status, &p.point)).collect()
        });
        self.phases.iter().zip(ways).all(|(p, ways)| !dark::may_carry(ways, &p.point, a, b))
    }

    /// The state from which things go on.
    pub(super) fn last(&self) -> Option<&Phase> {
        self.phases.get(self.last)
    }

    /// Voltage of `a` against `b`; `None` when nothing joins them.
    pub fn voltage(&self, a: NodeId, b: NodeId) -> Option<Volts> {
        let (red, black) = (a, b);
        let (Some(a), Some(b)) = (self.at(a, false), self.at(b, false)) else {
            self.within.as_ref()?;
            return self.whole().voltage(red, black);
        };
        let (mut sum, mut joined) = (0.0, false);
        for phase in &self.phases {
            if phase.point.islands.joined(a, b) {
                joined = true;
                sum += phase.weight * (phase.point.volts[a as usize] - phase.point.volts[b as usize]);
            }
        }
        joined.then(|| finite(sum))
    }

    /// By how much the voltage between two nodes jumps from state to state where the circuit does not settle, as a multiple of
    /// what is seen to jump: 1 % and 10 mV. Where nothing joins the nodes it counts as none.
    pub fn swing(&self, a: NodeId, b: NodeId) -> f64 {
        if self.chatter.is_empty() {
            return 0.0;
        }
        let (red, black) = (a, b);
        let (Some(a), Some(b)) = (self.at(a, false), self.at(b, false)) else {
            return if self.within.is_some() { self.whole().swing(red, black) } else { 0.0 };
        };
        let volts = self.phases.iter().map(|p| {
            let joined = p.point.islands.joined(a, b);
            if joined { p.point.volts[a as usize] - p.point.volts[b as usize] } else { 0.0 }
        });
        let (low, high) = volts.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        swing(low, high)
    }

    /// Current through an element, from `from` to `to`.
    pub fn current(&self, element: ElementId) -> Amps {
        let Some(index) = self.index(element) else { return Amps::ZERO };
        let sum = self.phases.iter().map(|p| p.weight * p.amps.get(index).copied().unwrap_or(0.0)).sum::<f64>();
        Amps::try_from(sum).unwrap_or_default()
    }

    /// By how much the current through an element jumps from state to state where the circuit does not settle, as a multiple of
    /// what is seen to jump: 1 % and 10 mA.
    pub fn current_swing(&self, element: ElementId) -> f64 {
        if self.chatter.is_empty() {
            return 0.0;
        }
        let Some(index) = self.index(element) else { return 0.0 };
        let amps = self.phases.iter().map(|p| p.amps.get(index).copied().unwrap_or(0.0));
        let (low, high) = amps.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), a| (l.min(a), h.max(a)));
        swing(low, high)
    }

    /// Voltage across an element (`from` minus `to`); zero across a floating one.
    pub fn drop(&self, element: ElementId) -> Volts {
        let Some(index) = self.index(element) else { return self.whole().drop(element) };
        let Some(part) = self.wiring.part(index) else { return Volts::ZERO };
        finite(self.phases.iter().map(|p| p.weight * p.point.drop(part)).sum())
    }

    /// Power that an element takes up (negative: delivers), the mean over the states that the circuit goes through.
    pub fn power(&self, element: ElementId) -> Watts {
        // What lies outside carries nothing.
        let Some(index) = self.index(element) else { return Watts::ZERO };
        let Some(part) = self.wiring.part(index) else { return Watts::ZERO };
        let watts = |p: &Phase| p.weight * p.point.drop(part) * p.amps.get(index).copied().unwrap_or(0.0);
        Watts::try_from(self.phases.iter().map(watts).sum::<f64>()).unwrap_or_default()
    }

    /// Whether what an element shows jumps from state to state: the circuit does not settle, and its voltage differs by more
    /// than 1 % and 10 mV.
    pub fn jumps(&self, element: ElementId) -> bool {
        if self.chatter.is_empty() {
            return false;
        }
        let Some(index) = self.index(element) else { return self.whole().jumps(element) };
        let Some(part) = self.wiring.part(index) else { return false };
        let drops = self.phases.iter().map(|p| p.point.drop(part).abs());
        let (low, high) = drops.fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
        high - low > 0.01 * high + 0.01 || self.chatter.contains(&element)
    }

    /// How an element stands.
    pub fn state(&self, element: ElementId) -> ElementState {
        let Some(index) = self.index(element) else {
            return self.within.as_ref().map_or(ElementState::Plain, |w| self.state_outside(w, element.position()));
        };
        let last = self.last().and_then(|p| p.status.get(index));
        let (Some(part), Some(status)) = (self.wiring.part(index), last) else {
            return ElementState::Plain;
        };
        match part.law {
            Law::Coil { .. } => ElementState::Coil(status.on),
            Law::Contact { .. } | Law::Switch { .. } => ElementState::Contact(part.closed(*status) && !part.open),
            // A fuse that is itself at fault is as open to the eye as one that an overload blew.
            Law::Fuse { .. } => ElementState::Fuse(!status.on && !part.open),
            Law::Diode { .. } => ElementState::Diode(status.on),
            Law::Motor { .. } => ElementState::Motor(status.on),
            Law::Power { .. } | Law::ConverterInput { .. } => ElementState::Power(status.on),
            Law::ConverterOutput { limit, .. } => {
                if status.on && limit.is_some() {
                    ElementState::Source(status.held)
                } else {
                    ElementState::Power(status.on)
                }
            }
            Law::Source { limit: Some(_), .. } => ElementState::Source(status.on),
            Law::Source { .. } | Law::Resistance { .. } | Law::Filament { .. } => ElementState::Plain,
        }
    }

    /// Elements that chatter; empty when the state settled.
    pub fn chatter(&self) -> &[ElementId] {
        &self.chatter
    }

    /// What outlives this set-up.
    pub fn memory(&self) -> &Memory {
        &self.memory
    }
}

/// The parts that count as good conductors to a voltmeter, with their place among all.
fn good_conductors<'a>(wiring: &'a Wiring, phase: &'a Phase) -> impl Iterator<Item = (usize, &'a Part)> {
    let all = wiring.parts.iter().zip(&phase.status).enumerate();
    all.filter(|(_, (part, status))| {
        part.conducts(**status) && part.branch(**status, phase.point.drop(part)).siemens > STIFF
    })
    .map(|(index, (part, _))| (index, part))
}

/// A reading jumps when it differs between the states of a chatter by more than this share and this many volts or amps.
const JUMP: (f64, f64) = (0.01, 0.01);

/// How far apart two extremes that a meter sees in turn are, as a multiple of what is seen to jump.
pub(super) fn swing(low: f64, high: f64) -> f64 {
    (high - low) / (JUMP.0 * high.abs().max(low.abs())).max(JUMP.1)
}

/// A voltage that is no number cannot come out of a solved point.
fn finite(volts: f64) -> Volts {
    Volts::try_from(volts).unwrap_or_default()
}
