//! The mock-up itself: set-ups are entered, instruments attached, parts looked at.

use super::draws::Draws;
use super::kept::Kept;
use super::law::Stand;
use super::machine::{Machine, Settled};
use super::point::{Point, islands};
use super::wired::Wired;
use crate::circuit::{Edit, ElementId, Emf, Netlist, NodeId, Primitive, SetUp};
use crate::index::Id;
use crate::knowledge::{Noticed, NoticedState};
use crate::units::{Ohms, Volts};

/// A reading jumps when the states of a chatter differ by more than this share and by this many volts or amps.
const JUMP: (f64, f64) = (0.01, 0.01);
/// Amps at which an LED tester gives its full light: common practice.
const LED_FULL: f64 = 0.01;
/// The source of a meter on ohms, and what it stands behind: too little for a diode (from memory).
const OHMS_SOURCE: (Volts, Ohms) = (Volts::new(0.2), Ohms::new(1e3));
/// Volts across a lamp that are none.
const NO_VOLTS: f64 = 1e-9;

/// A circuit with something hidden in it.
#[derive(Clone, Debug)]
pub struct MockUp<'c> {
    netlist: &'c Netlist,
    hidden: Vec<Edit>,
    draws: Draws,
    sag: f64,
    kept: Kept,
    here: Option<Here>,
}

/// The set-up in force.
#[derive(Clone, Debug)]
struct Here {
    set_up: SetUp,
    /// How everything stood before the controls of the set-up were moved.
    rest: Vec<Stand>,
    now: Settled,
}

/// The mock-up has no answer: no state was found in which the currents add up, or nothing was entered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoAnswer;

/// What is held between two points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Instrument {
    /// A voltmeter of this input resistance.
    Voltmeter(Ohms),
    /// A filament lamp.
    Lamp {
        /// Its running resistance.
        hot: Ohms,
        /// Its voltage.
        nominal: Volts,
    },
    /// An LED that lights either way round.
    Led {
        /// Forward volts.
        forward: Volts,
        /// Series ohms.
        series: Ohms,
    },
}

/// What an instrument meets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Met {
    /// Volts at the first point against the second.
    pub volts: f64,
    /// Watts that the instrument takes.
    pub watts: f64,
    /// Nothing but the instrument joins the points.
    pub floating: bool,
    /// The reading does not come to rest.
    pub jumps: bool,
}

/// How an element stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stands {
    /// A coil, pulled in or not.
    Coil(bool),
    /// A contact or electronic switch, closed or not.
    Closed(bool),
    /// A fuse or breaker, whole or not.
    Whole(bool),
    /// A motor or a constant power, running or not.
    Runs(bool),
    /// Anything else.
    Plain,
}

impl<'c> MockUp<'c> {
    /// A circuit with `hidden` changes in it, its parts as drawn.
    pub fn new(netlist: &'c Netlist, hidden: Vec<Edit>, draws: Draws) -> Self {
        Self { netlist, hidden, draws, sag: 1.0, kept: Kept::default(), here: None }
    }

    /// Lets all sources sag (or rise) to `share` of what was drawn for them, from the next state on.
    pub fn sag(&mut self, share: f64) {
        self.sag = share;
    }

    /// The set-up in force.
    pub fn set_up(&self) -> Option<&SetUp> {
        self.here.as_ref().map(|here| &here.set_up)
    }

    /// Enters a set-up from all controls at rest (or from the one before, if it says so), one control after the other.
    /// What blew or latched before stays so. Nothing happens when it is in force already.
    ///
    /// # Errors
    /// When the currents of a state on the way cannot be made to add up.
    pub fn enter(&mut self, set_up: &SetUp) -> Result<(), NoAnswer> {
        if self.set_up() == Some(set_up) {
            return Ok(());
        }
        let mut wired = Wired::new(self.netlist, &self.draws);
        wired.change(&set_up.interventions, &self.draws);
        wired.change(&self.hidden, &self.draws);
        wired.sag = self.sag;
        if !set_up.from_rest && self.kept.positions.len() == wired.positions.len() {
            wired.positions.clone_from(&self.kept.positions);
        }
        let stands = self.kept.stands(wired.pieces.len());
        let machine = Machine { wired, stands, point: Point::default() };
        let mut now = machine.settle().map_err(|_| NoAnswer)?;
        let rest = now.machine.stands.clone();
        for (control, position) in set_up.positions.iter().enumerate() {
            if now.machine.wired.positions.get(control).is_none_or(|stands| stands == position) {
                continue;
            }
            let mut machine = now.machine;
            machine.wired.positions[control] = *position;
            machine.try_again();
            now = machine.settle().map_err(|_| NoAnswer)?;
        }
        self.kept = Kept::of(&now.machine);
        self.here = Some(Here { set_up: set_up.clone(), rest, now });
        Ok(())
    }

    /// What an instrument meets between two nodes in the set-up in force.
    ///
    /// # Errors
    /// Before a set-up was entered, for nodes that do not exist, and where no state is found.
    pub fn attach(&self, instrument: Instrument, red: NodeId, black: NodeId) -> Result<Met, NoAnswer> {
        let mut machine = self.here.as_ref().ok_or(NoAnswer)?.now.machine.clone();
        let (Some(a), Some(b)) = (machine.wired.node(red), machine.wired.node(black)) else { return Err(NoAnswer) };
        machine.wired.sag = self.sag;
        let own = machine.wired.pieces.len();
        match instrument {
            Instrument::Voltmeter(ohms) => machine.wired.add(a, b, Primitive::Resistance { ohms }),
            Instrument::Lamp { hot, nominal } => machine.wired.add(a, b, Primitive::Filament { hot, nominal }),
            Instrument::Led { forward, series } => {
                machine.wired.add(a, b, Primitive::Diode { forward, series });
                machine.wired.add(b, a, Primitive::Diode { forward, series });
            }
        }
        machine.stands.resize(machine.wired.pieces.len(), Stand::default());
        let settled = machine.settle().map_err(|_| NoAnswer)?;
        let mut met = Met { volts: 0.0, watts: 0.0, floating: true, jumps: false };
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for phase in &settled.phases {
            let island = islands(&settled.machine.wired, &phase.stands, own);
            let joined = island[a] == island[b];
            met.floating &= !joined;
            let volts = if joined { phase.point.volts[a] - phase.point.volts[b] } else { 0.0 };
            met.volts += phase.weight * volts;
            (low, high) = (low.min(volts), high.max(volts));
            if joined {
                let amps: f64 = phase.point.amps[own..].iter().map(|amps| amps.abs()).sum();
                met.watts += phase.weight * volts.abs() * amps;
            }
        }
        met.jumps = settled.chatters && high - low > (JUMP.0 * high.abs().max(low.abs())).max(JUMP.1);
        Ok(met)
    }

    /// Light of an instrument as a share of its full light.
    pub fn light(met: &Met, instrument: Instrument) -> Noticed {
        if met.jumps {
            return Noticed::State(NoticedState::Unsteady);
        }
        Noticed::Share(match instrument {
            Instrument::Voltmeter(_) => 0.0,
            Instrument::Lamp { hot, nominal } => met.watts * hot.get() / (nominal.get() * nominal.get()),
            Instrument::Led { .. } => met.watts / met.volts.abs().max(1e-9) / LED_FULL,
        })
    }

    /// Whether a lamp between two nodes stays dark because nothing drives a current through it: the circuit rests with no volts
    /// there, or with too few for an LED. It then changes nothing. `false` says nothing: it has to be attached.
    pub fn stays_dark(&self, instrument: Instrument, a: NodeId, b: NodeId) -> bool {
        let least = match instrument {
            Instrument::Lamp { .. } => NO_VOLTS,
            Instrument::Led { forward, .. } => forward.get(),
            Instrument::Voltmeter(_) => return false,
        };
        let rests = self.here.as_ref().is_some_and(|here| here.now.phases.len() == 1);
        rests && matches!(self.volts(a, b), Ok(Some(volts)) if volts.abs() <= least)
    }

    /// Volts of `a` against `b` with nothing attached; `None` where nothing joins them.
    ///
    /// # Errors
    /// Before a set-up was entered, and for nodes that do not exist.
    pub fn volts(&self, a: NodeId, b: NodeId) -> Result<Option<f64>, NoAnswer> {
        let now = &self.here.as_ref().ok_or(NoAnswer)?.now;
        let (Some(a), Some(b)) = (now.machine.wired.node(a), now.machine.wired.node(b)) else { return Err(NoAnswer) };
        let mut mean = None;
        for (weight, volts) in now.between(a, b) {
            if let Some(volts) = volts {
                *mean.get_or_insert(0.0) += weight * volts;
            }
        }
        Ok(mean)
    }

    /// Amps through an element, from its `from` to its `to`: the mean where it does not rest.
    ///
    /// # Errors
    /// Before a set-up was entered.
    pub fn amps(&self, element: ElementId) -> Result<f64, NoAnswer> {
        let now = &self.here.as_ref().ok_or(NoAnswer)?.now;
        let amps = |p: &super::machine::Phase| p.weight * p.point.amps.get(element.position()).copied().unwrap_or(0.0);
        Ok(now.phases.iter().map(amps).sum())
    }

    /// Ohms that a meter's own source meets between two nodes; `None` where nothing joins them.
    ///
    /// # Errors
    /// Before a set-up was entered, for nodes that do not exist, and where no state is found.
    pub fn ohms(&self, red: NodeId, black: NodeId) -> Result<Option<f64>, NoAnswer> {
        let mut machine = self.here.as_ref().ok_or(NoAnswer)?.now.machine.clone();
        let (Some(a), Some(b)) = (machine.wired.node(red), machine.wired.node(black)) else { return Err(NoAnswer) };
        let own = machine.wired.pieces.len();
        let (emf, internal) = (Emf::Fixed(OHMS_SOURCE.0), OHMS_SOURCE.1);
        machine.wired.add(a, b, Primitive::Source { emf, internal, limit: None });
        machine.stands.resize(machine.wired.pieces.len(), Stand::default());
        let settled = machine.settle().map_err(|_| NoAnswer)?;
        let phase = settled.phases.first().ok_or(NoAnswer)?;
        let island = islands(&settled.machine.wired, &phase.stands, own);
        if island[a] != island[b] {
            return Ok(None);
        }
        let volts = phase.point.volts[a] - phase.point.volts[b];
        let amps = -phase.point.amps[own];
        Ok((amps > 0.0).then(|| (volts / amps).max(0.0)))
    }

    /// Amps through an element as a meter around it shows them, and whether they do not come to rest.
    ///
    /// # Errors
    /// Before a set-up was entered.
    pub fn amps_shown(&self, element: ElementId) -> Result<(f64, bool), NoAnswer> {
        let now = &self.here.as_ref().ok_or(NoAnswer)?.now;
        let amps = now.phases.iter().map(|p| p.point.amps.get(element.position()).copied().unwrap_or(0.0));
        let (low, high) = amps.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), a| (l.min(a), h.max(a)));
        let jumps = now.chatters && high - low > (JUMP.0 * high.abs().max(low.abs())).max(JUMP.1);
        Ok((self.amps(element)?, jumps))
    }

    /// Watts that an element takes up: the mean where it does not rest.
    ///
    /// # Errors
    /// Before a set-up was entered.
    pub fn watts(&self, element: ElementId) -> Result<f64, NoAnswer> {
        let now = &self.here.as_ref().ok_or(NoAnswer)?.now;
        let k = element.position();
        if k >= now.machine.wired.own {
            return Err(NoAnswer);
        }
        let watts = |p: &super::machine::Phase| p.weight * p.point.across(&now.machine.wired, k) * p.point.amps[k];
        Ok(now.phases.iter().map(watts).sum())
    }

    /// Whether anything does not come to rest.
    pub fn chatters(&self) -> bool {
        self.here.as_ref().is_some_and(|here| here.now.chatters)
    }

    /// How an element stands.
    ///
    /// # Errors
    /// Before a set-up was entered.
    pub fn stands(&self, element: ElementId) -> Result<Stands, NoAnswer> {
        let now = &self.here.as_ref().ok_or(NoAnswer)?.now;
        let k = element.position();
        if k >= now.machine.wired.own {
            return Err(NoAnswer);
        }
        let piece = &now.machine.wired.pieces[k];
        let on = now.machine.stands[k].on;
        Ok(match &piece.what {
            Primitive::Coil { .. } => Stands::Coil(on),
            Primitive::Contact { .. } | Primitive::ElectronicSwitch { .. } => {
                Stands::Closed(piece.stuck.unwrap_or(on) && !piece.open)
            }
            Primitive::Fuse { .. } => Stands::Whole(!on && !piece.open),
            Primitive::Motor { .. } | Primitive::Power { .. } | Primitive::ConverterInput { .. } => Stands::Runs(on),
            _ => Stands::Plain,
        })
    }

    /// What a person can notice of an element that takes `nominal` watts when all is well.
    ///
    /// # Errors
    /// Before a set-up was entered.
    pub fn noticed(&self, element: ElementId, nominal: f64) -> Result<Noticed, NoAnswer> {
        let here = self.here.as_ref().ok_or(NoAnswer)?;
        if here.now.jumps(element.position()) {
            return Ok(Noticed::State(NoticedState::Unsteady));
        }
        Ok(match self.stands(element)? {
            Stands::Coil(pulled) => {
                let before = here.rest.get(element.position()).is_some_and(|stand| stand.on);
                Noticed::State(if pulled == before { NoticedState::Unchanged } else { NoticedState::Changed })
            }
            Stands::Whole(whole) => Noticed::State(if whole { NoticedState::Whole } else { NoticedState::Opened }),
            Stands::Closed(_) | Stands::Runs(_) | Stands::Plain => {
                Noticed::Share((self.watts(element)? / nominal.max(1e-9)).max(0.0))
            }
        })
    }
}

impl Settled {
    /// Whether what an element shows does not come to rest.
    fn jumps(&self, k: usize) -> bool {
        if !self.chatters || k >= self.machine.wired.own {
            return false;
        }
        let volts = || self.phases.iter().map(|p| p.point.across(&self.machine.wired, k).abs());
        let (low, high) = (volts().fold(f64::INFINITY, f64::min), volts().fold(0.0, f64::max));
        let turns = self.phases.iter().any(|p| p.stands[k].on != self.machine.stands[k].on);
        turns || high - low > JUMP.0 * high + JUMP.1
    }
}
