//! What every point along the way of a current should read.

use super::text::{amps, line, paragraph, set_up, volts};
use super::way::{is_shown, label};
use crate::belief::{Predicted, Probe, predict};
use crate::circuit::{Inner, NodeId, SetUp};
use crate::job::{Step, System, Trace};
use crate::knowledge::{Role, Word};
use crate::network::{ElementState, Network, Operating};
use serde_json::{Value, json};

/// An operating point of a system, with all controls at rest beside it.
pub struct Picture<'a, 'n> {
    /// The system.
    pub system: &'a System,
    /// Its network.
    pub network: &'a Network<'n>,
    /// All controls at rest.
    pub rest: &'a Operating<'n>,
    /// The set-up asked for.
    pub state: &'a Operating<'n>,
    /// That set-up.
    pub set_up: &'a SetUp,
}

impl Picture<'_, '_> {
    /// A node against the supply's minus; `None` where nothing joins them.
    fn at(&self, node: NodeId) -> Option<f64> {
        self.state.voltage(node, self.system.node(self.system.reference)).map(super::super::units::Volts::get)
    }

    /// What a person would see of a part.
    fn seen(&self, step: &Step) -> Option<&Word> {
        let sight = self.system.sight(step.part)?;
        let senses = &self.system.senses;
        let probe = Probe::Look(sight);
        let Predicted::Words(shares) = predict(self.network, senses, self.state, &probe, |e| self.rest.state(e)) else {
            return None;
        };
        let best = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]))?;
        self.system.words(sight)?.words.get(best)
    }

    /// How a part on the way stands, if it can stand in more than one way.
    fn stands(&self, step: &Step) -> &'static str {
        let elements = &self.system.circuit.elements_of[step.part];
        // Of a part with several contacts, the one at which the current enters or leaves speaks first.
        let on_way = |inner: &&Inner| {
            let element = &self.system.circuit.netlist.elements[inner.element];
            [element.from, element.to].iter().any(|n| *n == step.enter || *n == step.leave)
        };
        let (first, rest): (Vec<&Inner>, Vec<&Inner>) = elements.iter().partition(on_way);
        let states = first.into_iter().chain(rest).map(|inner| self.state.state(inner.element));
        for state in states {
            match state {
                ElementState::Contact(true) => return "closed",
                ElementState::Contact(false) => return "open",
                ElementState::Fuse(false) => return "BLOWN",
                ElementState::Plain
                | ElementState::Coil(_)
                | ElementState::Fuse(true)
                | ElementState::Diode(_)
                | ElementState::Motor(_)
                | ElementState::Power(_)
                | ElementState::Source(_) => {}
            }
        }
        ""
    }

    /// Current through a part, along the way.
    fn current(&self, step: &Step) -> f64 {
        let netlist = &self.system.circuit.netlist;
        self.system.circuit.elements_of[step.part]
            .iter()
            .map(|inner| {
                let element = &netlist.elements[inner.element];
                let i = self.state.current(inner.element).get();
                if element.from == step.enter {
                    i
                } else if element.to == step.enter {
                    -i
                } else {
                    0.0
                }
            })
            .sum()
    }
}

/// The table of one load: part, volts where the current enters and leaves it, how it stands.
pub fn table(picture: &Picture<'_, '_>, trace: &Trace) -> String {
    let mut out = String::new();
    let load = &trace.load;
    let name = &picture.system.install.parts[load.part].label;
    let seen = picture.seen(load).map_or("", |word| word.says.as_str());
    let current = amps(picture.current(load));
    paragraph(&mut out, 0, &format!("{name}: {seen}, {current} ({})", set_up(picture.system, picture.set_up)));
    line(&mut out, &format!("  {:<26}{:>8} {:>8}  {}", "current flows down", "enters", "leaves", "stands"));
    let shown = |steps: &[Step]| -> Vec<Step> {
        steps.iter().filter(|step| is_shown(picture.system, step.part)).copied().collect()
    };
    let feed = shown(&trace.feed);
    let back = shown(&trace.back);
    for step in feed.iter().chain([load]).chain(&back) {
        let label: String = label(picture.system, step).chars().take(25).collect();
        let show = |node| picture.at(node).map_or_else(|| "open".to_owned(), volts);
        let stands = picture.stands(step);
        let (enters, leaves) = (show(step.enter), show(step.leave));
        line(&mut out, &format!("  {label:<26}{enters:>8} {leaves:>8}  {stands}"));
    }
    out
}

/// The states of all relays and fuses that are not as at rest, and what chatters.
pub fn states(picture: &Picture<'_, '_>) -> String {
    let mut out = String::new();
    let circuit = &picture.system.circuit;
    let install = &picture.system.install;
    let mut last = None;
    for (element, _) in circuit.netlist.elements.enumerate() {
        let part = circuit.part_of[element];
        let label = &install.parts[part].label;
        let supplies = install.knowledge.kinds[install.parts[part].kind].role == Role::Supply;
        match picture.state.state(element) {
            // Two coils of one relay are said once; the field of a generator pulls nothing in.
            ElementState::Coil(true) if supplies || last == Some(part) => {}
            ElementState::Coil(true) => {
                last = Some(part);
                line(&mut out, &format!("{label}: pulled in"));
            }
            ElementState::Fuse(false) => line(&mut out, &format!("{label}: BLOWN")),
            ElementState::Plain
            | ElementState::Coil(false)
            | ElementState::Contact(_)
            | ElementState::Fuse(true)
            | ElementState::Diode(_)
            | ElementState::Motor(_)
            | ElementState::Power(_)
            | ElementState::Source(_) => {}
        }
    }
    for element in picture.state.chatter() {
        let label = &picture.system.install.parts[circuit.part_of[*element]].label;
        line(&mut out, &format!("{label}: does not settle: it buzzes or flickers"));
    }
    out
}

/// The same for machines.
pub fn json(picture: &Picture<'_, '_>, traces: &[Trace]) -> Value {
    let system = picture.system;
    let id = |step: &Step| system.install.parts[step.part].id.clone();
    let step = |s: &Step| {
        json!({
            "part": id(s),
            "enters": picture.at(s.enter),
            "leaves": picture.at(s.leave),
            "amps": picture.current(s),
            "stands": picture.stands(s),
        })
    };
    let loads: Vec<Value> = traces
        .iter()
        .map(|trace| {
            json!({
                "load": id(&trace.load),
                "looks": picture.seen(&trace.load).map(|word| word.key.as_str()),
                "feed": trace.feed.iter().map(step).collect::<Vec<_>>(),
                "through": step(&trace.load),
                "return": trace.back.iter().map(step).collect::<Vec<_>>(),
            })
        })
        .collect();
    let points: serde_json::Map<String, Value> = system
        .install
        .points
        .enumerate()
        .map(|(point, at)| (at.name.clone(), json!(picture.at(system.node(point)))))
        .collect();
    json!({
        "format": super::json::FORMAT,
        "install": system.install.title,
        "with": super::json::set_up(system, picture.set_up),
        "loads": loads,
        "points": points,
    })
}
