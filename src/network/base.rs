//! Factored states of the healthy circuit, kept to be changed by a few branches and pins at a time.

use super::Counts;
use super::islands::Islands;
use super::law::{Law, Part, Status};
use super::linear::Linear;
use super::point::Point;
use super::shadow::Trace;
use super::solver::{Factor, Plan, Port};
use super::wiring::Wiring;
use std::collections::{HashMap, VecDeque};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// So many nodes are kept over all factored states, the oldest going first, and as many over all ways; and so many of each at
/// least and at most.
const NODES: usize = 400_000;
const LEAST: usize = 8;
const MOST_STATES: usize = 64;
const MOST_WAYS: usize = 256;
/// So many ways are kept or noted.
const ASKED: usize = 4096;
/// So many plans are kept.
const PLANS: usize = 256;
/// So many numbers in columns of inverses are kept (64 MB).
const ROOM: usize = 8 << 20;

/// Plans of factors, by the branches that the healthy circuit has not.
type Plans = HashMap<Vec<(u32, u32)>, Arc<Plan>>;

/// Where a way into a set-up begins and ends: what is remembered, and the positions of the controls.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Way {
    pub(super) memory: Box<[(u32, u8)]>,
    pub(super) positions: Box<[usize]>,
}

/// One factored state of the healthy circuit.
pub(super) struct Base {
    pub(super) factor: Factor,
    /// Conductance of each element in the factor; zero where it joins nothing.
    pub(super) stamps: Vec<f64>,
    pub(super) islands: Arc<Islands>,
    /// The potentials that the tangents were taken at.
    pub(super) volts: Vec<f64>,
    key: Vec<u64>,
    columns: Mutex<HashMap<Port, Arc<[f64]>>>,
    /// Where the numbers in its columns are given back.
    room: Arc<AtomicUsize>,
}

/// The healthy circuit, its factored states, and how often what was done.
pub(super) struct Engine {
    pub(super) wiring: Arc<Wiring>,
    bases: Mutex<VecDeque<Arc<Base>>>,
    /// The healthy circuit's way into each set-up; nothing where it was asked for once and not gone yet.
    traces: Mutex<HashMap<Way, Option<Arc<Trace>>>>,
    plans: Mutex<Plans>,
    /// Numbers that may still be kept in columns, with all others that solve parts of the same circuit.
    room: Arc<AtomicUsize>,
    /// So many states, and so many ways, are kept at most.
    most: [usize; 2],
    pub(super) tally: Arc<Tally>,
}

/// Running counts.
#[derive(Default)]
pub(super) struct Tally {
    pub(super) factorizations: AtomicU64,
    pub(super) low_rank: AtomicU64,
    pub(super) refinements: AtomicU64,
    pub(super) refactorizations: AtomicU64,
}

impl Tally {
    pub(super) fn add(counter: &AtomicU64) {
        counter.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn counts(&self) -> Counts {
        Counts {
            factorizations: self.factorizations.load(Ordering::Relaxed),
            low_rank: self.low_rank.load(Ordering::Relaxed),
            refinements: self.refinements.load(Ordering::Relaxed),
            refactorizations: self.refactorizations.load(Ordering::Relaxed),
        }
    }
}

impl Engine {
    pub(super) fn new(wiring: Wiring) -> Self {
        let most = [MOST_STATES, MOST_WAYS].map(|most| kept(wiring.nodes, most));
        Self::with(wiring, most, Arc::new(AtomicUsize::new(ROOM)), Arc::default())
    }

    /// A part of a circuit, of which so many states are kept, with the counts of the whole and a room that all parts share.
    pub(super) fn part(wiring: Wiring, most: usize, room: &Arc<AtomicUsize>, whole: &Self) -> Self {
        Self::with(wiring, [most; 2], Arc::clone(room), Arc::clone(&whole.tally))
    }

    fn with(wiring: Wiring, most: [usize; 2], room: Arc<AtomicUsize>, tally: Arc<Tally>) -> Self {
        Self {
            wiring: Arc::new(wiring),
            bases: Mutex::default(),
            traces: Mutex::default(),
            plans: Mutex::default(),
            room,
            most,
            tally,
        }
    }

    /// So many of what is as large as the whole are kept.
    pub(super) fn most_states(&self) -> usize {
        self.most[0]
    }

    /// The healthy way into a set-up, if it is known.
    pub(super) fn trace(&self, way: &Way) -> Option<Arc<Trace>> {
        let traces = self.traces.lock().unwrap_or_else(PoisonError::into_inner);
        traces.get(way).cloned().flatten()
    }

    /// Whether a way was asked for before.
    pub(super) fn is_asked(&self, way: &Way) -> bool {
        self.traces.lock().unwrap_or_else(PoisonError::into_inner).contains_key(way)
    }

    /// Keeps the healthy way into a set-up.
    pub(super) fn keep(&self, way: Way, trace: Option<Arc<Trace>>) {
        let mut traces = self.traces.lock().unwrap_or_else(PoisonError::into_inner);
        // A tool that tries endless set-ups must not fill the memory.
        if traces.values().flatten().count() >= self.most[1] || traces.len() >= ASKED {
            traces.clear();
        }
        traces.insert(way, trace);
    }

    /// The factored state nearest to this one, and in how many elements they differ.
    pub(super) fn nearest(&self, key: &[u64]) -> Option<(Arc<Base>, u32)> {
        let bases = self.bases.lock().unwrap_or_else(PoisonError::into_inner);
        bases
            .iter()
            .map(|base| (base, distance(&base.key, key)))
            .min_by_key(|(_, distance)| *distance)
            .map(|(base, distance)| (Arc::clone(base), distance))
    }

    /// Factors the healthy circuit in the state `status`, tangents at `volts`.
    pub(super) fn make(&self, wiring: &Wiring, status: &[Status], volts: &[f64]) -> Option<Arc<Base>> {
        let mut healthy = (*self.wiring).clone();
        healthy.take_positions(&wiring.positions);
        let status = &status[..healthy.parts.len()];
        let islands = Arc::new(Islands::new(healthy.nodes, &healthy.parts, status, None));
        let mut volts = volts.to_vec();
        volts.resize(healthy.nodes, 0.0);
        let point = Point { volts, islands: Arc::clone(&islands), close: true, fine: false };
        let linear = Linear::new(&healthy, status, &point);
        // The slopes of constant powers are negative; mostly the whole stays positive definite.
        let (factor, stamps) = [true, false].into_iter().find_map(|whole| {
            let stamps = stamps(&healthy, status, &linear, whole);
            let all = healthy.parts.iter().zip(&stamps);
            let mut branches = all.map(|(part, siemens)| (part.from, part.to, *siemens)).collect();
            Some((self.factor(&mut branches, &[], &islands.data)?, stamps))
        })?;
        Tally::add(&self.tally.factorizations);
        let base = Arc::new(Base {
            factor,
            stamps,
            islands,
            volts: point.volts,
            key: key(&healthy.parts, status),
            columns: Mutex::default(),
            room: Arc::clone(&self.room),
        });
        let mut bases = self.bases.lock().unwrap_or_else(PoisonError::into_inner);
        let equal = bases.iter().position(|b| b.key == base.key);
        match equal {
            Some(place) => drop(bases.remove(place)),
            None if bases.len() >= self.most[0] => drop(bases.pop_front()),
            None => {}
        }
        bases.push_back(Arc::clone(&base));
        Some(base)
    }

    /// Factors conductances that are listed for every branch of the healthy circuit in its order, 0 S where nothing conducts,
    /// and then for `more`.
    pub(super) fn factor(
        &self,
        stamps: &mut Vec<(u32, u32, f64)>,
        more: &[(u32, u32, f64)],
        pins: &[u32],
    ) -> Option<Factor> {
        let places: Vec<(u32, u32)> = more.iter().map(|(a, b, _)| (*a, *b)).collect();
        stamps.extend_from_slice(more);
        let mut plans = self.plans.lock().unwrap_or_else(PoisonError::into_inner);
        if plans.len() >= PLANS {
            plans.clear();
        }
        let plan = plans.entry(places).or_insert_with(|| Arc::new(Plan::new(self.wiring.nodes, stamps)));
        let plan = Arc::clone(plan);
        drop(plans);
        Factor::new(&plan, self.wiring.nodes, stamps, pins).ok()
    }

    /// The column of the inverse of `base` at a port, kept while there is room.
    pub(super) fn column(&self, base: &Base, port: Port, scratch: &mut Vec<f64>) -> Arc<[f64]> {
        let mut columns = base.columns.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(column) = columns.get(&port) {
            return Arc::clone(column);
        }
        let column: Arc<[f64]> = base.factor.column(port, scratch).into();
        let taken = self.room.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |room| room.checked_sub(column.len()));
        if taken.is_ok() {
            columns.insert(port, Arc::clone(&column));
        }
        column
    }
}

impl Drop for Base {
    fn drop(&mut self) {
        self.room.fetch_add(self.size(), Ordering::Relaxed);
    }
}

/// How many of something that holds numbers for every node are kept.
fn kept(nodes: usize, most: usize) -> usize {
    (NODES / nodes.max(1)).clamp(LEAST, most)
}

impl Base {
    /// How many numbers its columns hold.
    fn size(&self) -> usize {
        let columns = self.columns.lock().unwrap_or_else(PoisonError::into_inner);
        columns.len() * self.volts.len()
    }
}

fn stamps(wiring: &Wiring, status: &[Status], linear: &Linear, whole: bool) -> Vec<f64> {
    wiring
        .parts
        .iter()
        .zip(status)
        .zip(&linear.branches)
        .map(|((part, status), branch)| {
            if !part.conducts(*status) {
                0.0
            } else if whole {
                branch.siemens
            } else {
                part.stamp(*status, branch.siemens)
            }
        })
        .collect()
}

/// The states that a conductance depends on, two bits an element.
pub(super) fn key(parts: &[Part], status: &[Status]) -> Vec<u64> {
    let mut key = vec![0_u64; parts.len().div_ceil(32)];
    for (index, (part, status)) in parts.iter().zip(status).enumerate() {
        let (first, second) = match part.law {
            Law::Source { dead, .. } => (status.on, dead),
            Law::Contact { .. }
            | Law::Switch { .. }
            | Law::Fuse { .. }
            | Law::Diode { .. }
            | Law::Motor { .. }
            | Law::Power { .. }
            | Law::ConverterInput { .. } => (status.on, false),
            Law::ConverterOutput { .. } => (status.on, status.held),
            Law::Resistance { .. } | Law::Filament { .. } | Law::Coil { .. } => (false, false),
        };
        key[index / 32] |= (u64::from(first) | u64::from(second) << 1) << (index % 32 * 2);
    }
    key
}

fn distance(a: &[u64], b: &[u64]) -> u32 {
    let even = 0x5555_5555_5555_5555;
    a.iter()
        .zip(b)
        .map(|(a, b)| {
            let differ = a ^ b;
            ((differ | differ >> 1) & even).count_ones()
        })
        .sum()
}
