//! How one reading moves with the unknowns that all readings share: a row of the matrix of sensitivities.

use super::{Probe, Strays};
use crate::circuit::{Edit, ElementId, Netlist, Primitive};
use crate::index::Id;
use crate::network::{Instrument, Network, Operating, Sensitivities};

/// What moves a reading by less than this share of its largest mover is not kept as a shared unknown; it still counts as
/// the reading's own spread.
const NEGLIGIBLE: f64 = 0.02;

/// First-order sensitivities of a reading, in volts or amps.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Row {
    /// Change for one standard deviation of each unknown that matters, ascending by unknown.
    parts: Vec<(u32, f64)>,
    /// Change for each relative change of a supply's EMF, ascending by element.
    supplies: Vec<(u32, f64)>,
    /// Variance by all other unknowns together.
    rest: f64,
}

impl Row {
    /// The row of what `probe` shows at an operating point; empty where it is no number, or nothing strays.
    /// Of an unsigned reading it is the row of its size.
    pub(super) fn new<'n>(
        network: &Network<'n>,
        state: &Operating<'n>,
        probe: &Probe,
        edits: &[Edit],
        strays: &Strays,
    ) -> Self {
        if strays.is_none() {
            return Self::default();
        }
        let (found, turned) = match probe {
            Probe::Volts { instrument, red, black, unsigned } => {
                let plain = match instrument {
                    Instrument::Voltmeter(_) => state.plain_volts(*red, *black),
                    Instrument::TestLamp { .. } | Instrument::LedTester { .. } => None,
                };
                let found = match plain {
                    Some(_) => network.plain_sensitivities(state, *red, *black),
                    None => network.sensitivities(state, instrument, *red, *black),
                };
                let Ok(found) = found else { return Self::default() };
                let turned = *unsigned && found.volts().get() < 0.0;
                (found, turned)
            }
            Probe::Amps { element, unsigned } => {
                let Ok(found) = network.current_sensitivities(state, *element) else { return Self::default() };
                (found, *unsigned && state.current(*element).get() < 0.0)
            }
            // How ohms move with the parts is not followed: their spread is the reading's own.
            Probe::Ohms { .. } | Probe::Light { .. } | Probe::Look(_) => return Self::default(),
        };
        Self::of(network, &found, edits, strays, if turned { -1.0 } else { 1.0 })
    }

    fn of(network: &Network<'_>, found: &Sensitivities, edits: &[Edit], strays: &Strays, sign: f64) -> Self {
        let mut all: Vec<(u32, f64)> = Vec::new();
        let mut supplies = Vec::new();
        for id in found.elements() {
            let Some(element) = network.netlist().elements.get(id) else { continue };
            let spread = strays.leading.get(id).copied().unwrap_or(0.0);
            let keeps = share_left(&element.primitive, id, edits);
            let unknown = unknown(id);
            let by = sign * found.leading(id);
            if by != 0.0 && spread > 0.0 {
                all.push((unknown, by * spread * if source(&element.primitive) { 1.0 } else { keeps }));
            }
            if source(&element.primitive) {
                if by != 0.0 && matches!(element.primitive, Primitive::Source { .. }) {
                    supplies.push((unknown, by));
                }
                let internal = strays.internal.get(id).copied().unwrap_or(0.0);
                let by = sign * found.relative(id);
                if by != 0.0 && internal > 0.0 {
                    all.push((unknown + 1, by * internal * keeps));
                }
            }
        }
        let most = all.iter().fold(0.0_f64, |m, (_, v)| m.max(v.abs()));
        let mut rest = 0.0;
        all.retain(|(_, v)| {
            let keep = v.abs() >= NEGLIGIBLE * most;
            if !keep {
                rest += v * v;
            }
            keep
        });
        Self { parts: all, supplies, rest }
    }

    /// The row of a reading of `volts` that moves in proportion to one supply: exact where that supply alone feeds a circuit
    /// of plain resistances, and near it elsewhere.
    pub(super) fn in_proportion(supply: ElementId, volts: f64, strays: &Strays) -> Self {
        let unknown = unknown(supply);
        let spread = strays.leading.get(supply).copied().unwrap_or(0.0);
        Self { parts: vec![(unknown, volts * spread)], supplies: vec![(unknown, volts)], rest: 0.0 }
    }

    /// The same moved by the EMF of supplies alone.
    pub(super) fn by_supplies_alone(&self, netlist: &Netlist) -> Self {
        let emf = |u: &u32| {
            let element = netlist.elements.get(ElementId::new(*u as usize / 2));
            u.is_multiple_of(2) && element.is_some_and(|e| matches!(e.primitive, Primitive::Source { .. }))
        };
        let parts = self.parts.iter().filter(|(u, _)| emf(u)).copied().collect();
        Self { parts, supplies: self.supplies.clone(), rest: 0.0 }
    }

    /// Covariance of two readings by the unknowns that they share for the whole job.
    pub(super) fn shared(&self, other: &Self) -> f64 {
        dot(&self.parts, &other.parts)
    }

    /// The same by the supplies, for each unit of variance of their relative EMF.
    pub(super) fn by_supply(&self, other: &Self) -> f64 {
        dot(&self.supplies, &other.supplies)
    }

    /// Variance of the reading's own.
    pub(super) fn rest(&self) -> f64 {
        self.rest
    }

    /// A row between two others, at `t` of the way.
    pub(super) fn between(a: &Self, b: &Self, t: f64) -> Self {
        Self {
            parts: mixed(&a.parts, &b.parts, t),
            supplies: mixed(&a.supplies, &b.supplies, t),
            rest: (1.0 - t) * a.rest + t * b.rest,
        }
    }
}

fn source(primitive: &Primitive) -> bool {
    matches!(primitive, Primitive::Source { .. } | Primitive::ConverterOutput { .. })
}

/// The unknown of an element's leading figure; the next one is that of its internal resistance.
fn unknown(element: ElementId) -> u32 {
    u32::try_from(element.position()).map_or(u32::MAX - 1, |e| e.saturating_mul(2))
}

/// The share of an element's resistance that is its own, the rest being a fault in series with it, whose size is an
/// unknown of the suspect and not a tolerance.
fn share_left(primitive: &Primitive, id: ElementId, edits: &[Edit]) -> f64 {
    let added: f64 = edits
        .iter()
        .filter_map(|edit| match edit {
            Edit::Series(e, ohms) if *e == id => Some(ohms.get()),
            _ => None,
        })
        .sum();
    if added == 0.0 {
        return 1.0;
    }
    let own = match primitive {
        Primitive::Resistance { ohms } | Primitive::Fuse { ohms, .. } | Primitive::Coil { ohms, .. } => ohms.get(),
        Primitive::Contact { closed, .. } => closed.get(),
        Primitive::ElectronicSwitch { on, .. } => on.get(),
        Primitive::Source { internal, .. } | Primitive::ConverterOutput { internal, .. } => internal.get(),
        Primitive::Diode { .. }
        | Primitive::Filament { .. }
        | Primitive::Motor { .. }
        | Primitive::Power { .. }
        | Primitive::ConverterInput { .. } => return 1.0,
    };
    own / (own + added)
}

/// Sum of the products of the entries that two lists have in common.
fn dot(a: &[(u32, f64)], b: &[(u32, f64)]) -> f64 {
    let (mut i, mut j, mut sum) = (0, 0, 0.0);
    while let (Some((x, u)), Some((y, v))) = (a.get(i), b.get(j)) {
        if x == y {
            sum += u * v;
        }
        i += usize::from(x <= y);
        j += usize::from(y <= x);
    }
    sum
}

/// Both lists mixed; an entry that one of them lacks counts as zero there.
fn mixed(a: &[(u32, f64)], b: &[(u32, f64)], t: f64) -> Vec<(u32, f64)> {
    let mut out = Vec::with_capacity(a.len().max(b.len()));
    let (mut i, mut j) = (0, 0);
    loop {
        match (a.get(i), b.get(j)) {
            (Some((x, u)), Some((y, v))) => {
                let value = if x <= y { (1.0 - t) * u } else { 0.0 } + if y <= x { t * v } else { 0.0 };
                out.push((*x.min(y), value));
                i += usize::from(x <= y);
                j += usize::from(y <= x);
            }
            (Some((x, u)), None) => {
                out.push((*x, (1.0 - t) * u));
                i += 1;
            }
            (None, Some((y, v))) => {
                out.push((*y, t * v));
                j += 1;
            }
            (None, None) => return out,
        }
    }
}
