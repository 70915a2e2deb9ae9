//! A record's bare circuit as a netlist, its faults as suspects, its steps as evidence.

use super::record::{Component, Key, Named, Reading, Record, Step};
use crate::support::SHARES;
use halfsplit::belief::{Answer, Evidence, Observation, Probe, Seen, Senses, Shown, Sight, Vocabulary};
use halfsplit::circuit::{
    Control, ControlId, Drive, Edit, Effect, Element, ElementId, Emf, FuseGate, Netlist, Node, NodeId, Primitive,
    Reset, SetUp,
};
use halfsplit::index::IdVec;
use halfsplit::network::Instrument;
use halfsplit::suspects::{Fault, SuspectId, Suspects};
use halfsplit::units::{Amps, Ohms, Volts};
use serde_json::Value;
use std::collections::BTreeMap;

/// Chance of a wrong reading and of a mistaken word, as the issue lays down for published cases.
pub const MISTAKE: f64 = 1e-4;
/// Resistance of an ideal wire, closed contact or source.
const IDEAL: Ohms = Ohms::new(1e-3);
/// A published problem's meter: 10 MΩ.
pub const METER: Instrument = Instrument::Voltmeter(Ohms::new(1e7));

pub struct Bench {
    pub netlist: Netlist,
    pub suspects: Suspects,
    pub senses: Senses,
    pub loads: Vec<String>,
    /// The largest supply voltage: the scale of the readings.
    pub scale: f64,
    nodes: BTreeMap<String, NodeId>,
    elements: BTreeMap<String, ElementId>,
    voltage_sources: Vec<ElementId>,
    controls: BTreeMap<String, ControlId>,
}

/// On or off, by the lowest voltage counted as on.
#[derive(Debug)]
struct OnOff;

pub const ON: usize = 1;

impl Vocabulary for OnOff {
    fn count(&self) -> usize {
        2
    }
    fn likelihood(&self, word: usize, seen: &Seen) -> f64 {
        if seen.unsteady {
            return 0.5;
        }
        if (word == ON) == (seen.share >= 1.0) { 1.0 - MISTAKE } else { MISTAKE }
    }
}

impl Bench {
    pub fn new(record: &Record) -> Self {
        let mut bench = Self {
            netlist: Netlist::default(),
            suspects: Suspects::singles(IdVec::new(), SHARES),
            senses: Senses::default(),
            loads: Vec::new(),
            scale: 0.0,
            nodes: BTreeMap::new(),
            elements: BTreeMap::new(),
            voltage_sources: Vec::new(),
            controls: BTreeMap::new(),
        };
        // Coils first, so that contacts can point at them.
        let coils = record.components.iter().filter(|c| c.kind == "coil");
        let others = record.components.iter().filter(|c| c.kind != "coil");
        for component in coils.chain(others) {
            bench.add(component, &record.components);
        }
        let named = |key: &Key| -> Vec<Named> {
            let expected = key.expected.iter().filter_map(|e| e.fault.clone());
            let lists = [&key.possible, &key.impossible, &key.accepted, &key.must_be_good];
            lists.into_iter().flatten().cloned().chain(expected).collect()
        };
        bench.accuse(record, &named(&record.answer));
        bench
    }

    fn node(&mut self, name: &str) -> NodeId {
        let nodes = &mut self.netlist.nodes;
        *self.nodes.entry(name.to_owned()).or_insert_with(|| nodes.push(Node { name: name.to_owned() }))
    }

    fn add(&mut self, c: &Component, all: &[Component]) {
        let (mut from, mut to) = (self.node(&c.from), self.node(&c.to));
        let ohms = Ohms::new(c.value.unwrap_or(1.0).max(1e-6));
        let primitive = match c.kind.as_str() {
            "vsource" => {
                let volts = c.value.expect("a supply has a voltage");
                self.scale = self.scale.max(volts.abs());
                Primitive::Source {
                    emf: Emf::Fixed(Volts::new(volts)),
                    internal: IDEAL,
                    limit: c.limit_a.map(Amps::new),
                }
            }
            "isource" => {
                // Current leaves the source at `to`, so that is its plus pole.
                std::mem::swap(&mut from, &mut to);
                let volts = c.limit_v.unwrap_or(1000.0);
                self.scale = self.scale.max(volts);
                Primitive::Source { emf: Emf::Fixed(Volts::new(volts)), internal: IDEAL, limit: c.value.map(Amps::new) }
            }
            "wire" => Primitive::Resistance { ohms: IDEAL },
            "resistor" | "lamp" | "load" | "motor" => Primitive::Resistance { ohms },
            "coil" => {
                let pull_in = c.pull_in_v.expect("a coil has a pull-in voltage");
                // Release at a quarter of pull-in: common practice (0.1 to 0.2 against 0.6 to 0.7 of nominal).
                Primitive::Coil { ohms, pull_in: Volts::new(pull_in), release: Volts::new(pull_in / 4.0) }
            }
            "contact" => {
                let of_relay = |o: &&Component| o.kind == "coil" && o.relay == c.relay && c.relay.is_some();
                let coils = all.iter().filter(of_relay).filter_map(|o| self.elements.get(&o.name)).copied();
                let drive = Drive::Coils { coils: coils.collect(), closed_at_rest: c.contact.as_deref() == Some("NC") };
                Primitive::Contact { closed: IDEAL, drive }
            }
            "switch" => {
                let control = self.netlist.controls.push(Control {
                    name: c.name.clone(),
                    positions: vec!["open".to_owned(), "closed".to_owned()],
                    rest: usize::from(c.contact.as_deref() == Some("NC")),
                });
                self.controls.insert(c.name.clone(), control);
                Primitive::Contact { closed: IDEAL, drive: Drive::Control { control, positions: vec![1] } }
            }
            "fuse" => Primitive::Fuse {
                ohms: IDEAL,
                // Without a printed rating only a dead short of an unlimited supply blows it.
                rating: Amps::new(c.rating_a.unwrap_or(100.0)),
                // ISO 8820-3 shape, from memory: 135 % within 600 s, 200 % 5 s, 350 % 0.5 s, 600 % 0.1 s.
                gate: FuseGate { points: vec![(1.35, 60.0), (2.0, 1.0), (3.5, 0.2), (6.0, 0.08)] },
                reset: Reset::Never,
            },
            other => panic!("component kind `{other}` is not known"),
        };
        let element = self.netlist.elements.push(Element { name: c.name.clone(), from, to, primitive });
        self.elements.insert(c.name.clone(), element);
        if c.kind == "vsource" {
            self.voltage_sources.push(element);
        }
        if matches!(c.kind.as_str(), "lamp" | "load" | "motor" | "coil") {
            let on = c.on_v.or(c.pull_in_v).unwrap_or(self.scale / 2.0);
            self.senses.sights.push(Sight {
                shown: Shown::Work { element, nominal: on * on / ohms.get() },
                vocabulary: Box::new(OnOff),
            });
            self.loads.push(c.name.clone());
        }
    }

    /// Every single fault of every component, and those that the key names.
    fn accuse(&mut self, record: &Record, named: &[Named]) {
        let mut pairs: Vec<(String, String)> = Vec::new();
        for c in &record.components {
            let modes: &[&str] = match c.kind.as_str() {
                "vsource" | "isource" => &["dead"],
                "wire" => &["open"],
                "fuse" => &["blown"],
                _ => &["open", "shorted"],
            };
            pairs.extend(modes.iter().map(|m| (c.name.clone(), (*m).to_owned())));
        }
        for pair in named.iter().flat_map(Named::parts) {
            if !pairs.contains(&pair) {
                pairs.push(pair);
            }
        }
        let faults = pairs.into_iter().map(|(part, mode)| {
            let effect = self.effect(&part, &mode);
            let repair = format!("{part} {mode}");
            Fault { part, mode, effect, severity: None, weight: 1.0, repair }
        });
        let faults: IdVec<_, Fault> = faults.collect();
        self.suspects = Suspects::singles(faults, SHARES);
        for several in named.iter().filter(|n| n.all.is_some()) {
            let parts = several.parts();
            let ids = parts.iter().map(|(p, m)| {
                let fits = |f: &&(halfsplit::suspects::FaultId, &Fault)| f.1.part == *p && f.1.mode == *m;
                self.suspects.faults().enumerate().find(|f| fits(&f)).expect("added above").0
            });
            let ids: Vec<_> = ids.collect();
            self.suspects.add(ids, 1e-3);
        }
    }

    fn effect(&self, part: &str, mode: &str) -> Effect {
        let id = *self.elements.get(part).unwrap_or_else(|| panic!("no component `{part}`"));
        let element = &self.netlist.elements[id];
        match mode {
            "open" | "blown" => Effect::Open(vec![id]),
            // A dead source gives nothing: no voltage, or, where it is a current source, no current.
            "dead" => match &element.primitive {
                Primitive::Source { internal, .. } if self.voltage_sources.contains(&id) => {
                    let emf = Emf::Fixed(Volts::ZERO);
                    Effect::Value(vec![(id, Primitive::Source { emf, internal: *internal, limit: None })])
                }
                _ => Effect::Open(vec![id]),
            },
            // A short inside the component: a current read at it includes the short.
            "shorted" => Effect::Value(vec![(id, Primitive::Resistance { ohms: IDEAL })]),
            ohms => {
                let ohms = Ohms::new(ohms.parse().unwrap_or_else(|_| panic!("fault mode `{ohms}` is not known")));
                Effect::Value(vec![(id, Primitive::Resistance { ohms })])
            }
        }
    }

    pub fn suspect(&self, named: &Named) -> SuspectId {
        let parts = named.parts();
        let list = self.suspects.list();
        let found = list.enumerate().find(|(_, s)| {
            let is: Vec<(String, String)> = s
                .faults
                .iter()
                .map(|f| (self.suspects.faults()[*f].part.clone(), self.suspects.faults()[*f].mode.clone()))
                .collect();
            is == parts
        });
        found.unwrap_or_else(|| panic!("`{}` is no suspect", named.text())).0
    }

    /// The set-ups of a record's steps. A switch that a step does not name stays as it was.
    pub fn stays(&self, steps: &[Step]) -> Vec<SetUp> {
        let mut set_up = SetUp::at_rest(&self.netlist.controls);
        let mut stays = Vec::new();
        for step in steps {
            for (name, closed) in &step.switches {
                let control = *self.controls.get(name).unwrap_or_else(|| panic!("no switch `{name}`"));
                set_up.positions[control] = usize::from(*closed);
            }
            let element = |name: &String| self.elements[name];
            let cut = step.cut.iter().map(|name| Edit::Open(element(name)));
            let set = step
                .set_value
                .iter()
                .map(|(name, ohms)| Edit::Replace(element(name), Primitive::Resistance { ohms: Ohms::new(*ohms) }));
            set_up.interventions = cut.chain(set).collect();
            set_up.from_rest = false;
            stays.push(set_up.clone());
        }
        stays
    }

    pub fn probe(&self, reading: &Reading) -> Probe {
        match &reading.branch {
            Some(branch) => Probe::Amps { element: self.elements[branch], unsigned: true },
            None => Probe::Volts {
                instrument: METER,
                red: self.nodes[reading.plus.as_ref().expect("plus")],
                black: self.nodes[reading.minus.as_ref().expect("minus")],
                unsigned: !reading.signed && reading.sign.is_none(),
            },
        }
    }

    /// Tolerance of a reading in volts or amps: the printed one; else 2 % of the value or 1 % of the supply, whichever is more.
    pub fn tolerance(&self, reading: &Reading) -> f64 {
        if let Some(tol) = reading.tol {
            return tol;
        }
        match reading.amps {
            Some(amps) => (0.02 * amps).abs().max(1e-6),
            None => (0.02 * reading.volts.unwrap_or(0.0).abs()).max(0.01 * self.scale),
        }
    }

    /// A reading as an answer; `healthy` is what the good circuit reads there.
    pub fn answer(&self, reading: &Reading, healthy: Option<f64>) -> Answer {
        let far = 3.0 * self.scale;
        let tolerance = self.tolerance(reading);
        if reading.nonzero {
            return Answer::Between(0.1 * self.scale, far);
        }
        if let Some(sign) = &reading.sign {
            let least = reading.threshold.unwrap_or(tolerance);
            return if sign == "-" { Answer::Between(-far, -least) } else { Answer::Between(least, far) };
        }
        if let Some(trend) = &reading.trend {
            let healthy = healthy.unwrap_or(0.0);
            return match trend.as_str() {
                "up" => Answer::Between(healthy + tolerance, far),
                "down" => Answer::Between(-far, healthy - tolerance),
                _ => Answer::Number { value: healthy, sigma: tolerance },
            };
        }
        let value = reading.amps.or(reading.volts).expect("a reading has a value");
        let value = if reading.signed { value } else { value.abs() };
        Answer::Number { value, sigma: tolerance }
    }

    pub fn evidence(&self, steps: &[Step], healthy: &[f64]) -> Evidence {
        let mut evidence = Evidence { stays: self.stays(steps), observations: Vec::new(), ..Evidence::default() };
        let mut healthy = healthy.iter();
        for (stay, step) in steps.iter().enumerate() {
            for reading in &step.readings {
                let probe = self.probe(reading);
                let answer = self.answer(reading, healthy.next().copied());
                evidence.observations.push(Observation { stay, probe, answer, blunder: MISTAKE, times: 1 });
            }
            for (name, word) in &step.loads {
                let sight = self.loads.iter().position(|l| l == name).unwrap_or_else(|| panic!("no load `{name}`"));
                let answer = Answer::Word(usize::from(is_on(word)));
                let probe = Probe::Look(sight);
                // The vocabulary itself holds the chance of a mistaken word.
                evidence.observations.push(Observation { stay, probe, answer, blunder: 0.0, times: 1 });
            }
        }
        evidence
    }
}

/// Whether a record's word for a load says that it is on.
pub fn is_on(word: &Value) -> bool {
    match word {
        Value::Bool(on) => *on,
        Value::String(word) => word == "on",
        other => panic!("a load is on or off, not {other}"),
    }
}
