//! An install, or what came back of it, on the workshop bench: what stands in for what is not here, and where all of it lies.
//!
//! A supply with a current limit stands in for each supply with two posts that nobody has to start; a dummy lamp for each load that
//! stayed on the vehicle. Everything lies open within arm's reach. What else the description says holds on the bench too.

use super::System;
use super::record::OnBench;
use crate::circuit::{Edit, ElementId, Incomplete, Primitive, SetUp};
use crate::diagnostic::{nearest, quoted};
use crate::install::{Install, PartId};
use crate::knowledge::{Figures, Kind, KindId, Role, Service};
use crate::network::{ElementState, Network};
use crate::units::{Dimension, Minutes};

/// Why a job cannot be done on the bench.
#[derive(Clone, Debug, PartialEq)]
pub enum OffBench {
    /// No load with just two ends is called so; the nearest one.
    NoLoad(String, Option<String>),
    /// A limit that no supply has.
    Limit,
    /// The install with what stands in is not complete.
    Incomplete(Vec<Incomplete>),
}

impl OffBench {
    /// In words.
    pub fn says(&self) -> String {
        match self {
            Self::NoLoad(name, near) => {
                let hint = near.as_ref().map_or(String::new(), |near| format!("; did you mean {}?", quoted(near)));
                format!("no load with two ends is called {}{hint}", quoted(name))
            }
            Self::Limit => "a current limit lies above 0 A and is no more than 200 A".to_owned(),
            Self::Incomplete(_) => "what stands in on the bench has figures that do not fit this install".to_owned(),
        }
    }
}

/// The figure that stands for a part's own nominal voltage (`Figure::key`).
const NOMINAL: &str = "nominal";
/// The largest current limit in amps that is taken for one.
const MOST_AMPS: f64 = 200.0;

impl System {
    /// The same install on the bench.
    ///
    /// # Errors
    /// Why it cannot be done there.
    pub fn on_bench(self, bench: &OnBench) -> Result<Self, OffBench> {
        if !(bench.limit > 0.0 && bench.limit <= MOST_AMPS) {
            return Err(OffBench::Limit);
        }
        let loads: Vec<PartId> =
            bench.dummies.iter().map(|name| self.load_called(name)).collect::<Result<Vec<_>, _>>()?;
        let mut install = self.install;
        for place in install.places.iter_mut() {
            (place.access, place.open, place.caution) = (Minutes::ZERO, Minutes::ZERO, None);
        }
        let (supply, lamp) =
            (install.knowledge.serving(Service::BenchSupply), install.knowledge.serving(Service::BenchLoad));
        if let Some(supply) = supply {
            for id in supplies(&install) {
                let figure = install.knowledge.kinds[supply].figures.iter().find(|f| f.unit == Dimension::Amps);
                let limit = figure.map(|figure| (figure.key.clone(), bench.limit));
                stand_in(&mut install, id, supply, limit);
            }
        }
        if let Some(lamp) = lamp {
            for id in loads {
                stand_in(&mut install, id, lamp, None);
            }
        }
        let system = Self::new(install).map_err(OffBench::Incomplete)?;
        let elsewhere = unlimited(&system);
        Ok(Self { elsewhere, ..system })
    }

    /// The limit in amps that a bench supply for this install is set to unless another one is said.
    pub fn usual_limit(&self) -> Option<f64> {
        let install = &self.install;
        let kind = &install.knowledge.kinds[install.knowledge.serving(Service::BenchSupply)?];
        let key = &kind.figures.iter().find(|f| f.unit == Dimension::Amps)?.key;
        Some(bench_figures(install, kind).value(key).ok()?.value)
    }

    /// The volts that it is set to.
    pub fn bench_volts(&self) -> Option<f64> {
        let install = &self.install;
        let kind = &install.knowledge.kinds[install.knowledge.serving(Service::BenchSupply)?];
        let volts = kind.figures.iter().rfind(|f| f.unit == Dimension::Volts)?;
        Some(bench_figures(install, kind).value(&volts.key).ok()?.value)
    }

    /// The supplies that a bench supply stands in for.
    pub fn bench_supplies(&self) -> Vec<&str> {
        supplies(&self.install).into_iter().map(|id| self.install.parts[id].label.as_str()).collect()
    }

    /// The loads that a dummy lamp can stand in for.
    pub fn bench_loads(&self) -> Vec<PartId> {
        let two_ends = |id: &PartId| self.install.parts[*id].terminals.len() == 2;
        self.install.wiring().loads().into_iter().filter(two_ends).collect()
    }

    fn load_called(&self, name: &str) -> Result<PartId, OffBench> {
        let loads = self.bench_loads();
        let same = name.to_lowercase();
        let called = |id: &&PartId| {
            let part = &self.install.parts[**id];
            part.id.to_lowercase() == same || part.label.to_lowercase() == same
        };
        loads.iter().find(called).copied().ok_or_else(|| {
            let near = nearest(name, loads.iter().map(|id| self.install.parts[*id].id.as_str()));
            OffBench::NoLoad(name.to_owned(), near.map(str::to_owned))
        })
    }

    /// What is done before power is put on, in order.
    pub fn before_power(&self, bench: &OnBench) -> Vec<String> {
        let volts = self.bench_volts().map_or(String::new(), |volts| format!("{volts:.1}"));
        let supplies = self.bench_supplies().join(", ");
        let label =
            |name: &String| self.part(name).map_or_else(|| name.clone(), |id| self.install.parts[id].label.clone());
        let loads = bench.dummies.iter().map(label).collect::<Vec<_>>().join(", ");
        let lines = self.install.knowledge.bench.power.iter();
        let needed = lines.filter(|line| !loads.is_empty() || !line.contains("{loads}"));
        let filled = needed.map(|line| {
            let line = line.replace("{volts}", &volts).replace("{limit}", &bench.limit.to_string());
            line.replace("{supplies}", &supplies).replace("{loads}", &loads)
        });
        filled.collect()
    }

    /// Whether the healthy system in this set-up wants more than a supply's limit.
    pub fn exceeds_limit(&self, set_up: &SetUp) -> bool {
        let network = Network::new(&self.circuit.netlist);
        let Ok(branches) = network.enter(&[], &network.fresh(), set_up) else { return false };
        let mut sources = supplies(&self.install).into_iter().flat_map(|id| &self.circuit.elements_of[id]);
        sources.any(|inner| branches.iter().any(|b| b.state.state(inner.element) == ElementState::Source(true)))
    }
}

fn bench_figures<'a>(install: &'a Install, kind: &'a Kind) -> Figures<'a> {
    static NONE: std::collections::BTreeMap<String, f64> = std::collections::BTreeMap::new();
    Figures { kind, stated: &NONE, nominal: install.nominal, tables: &install.knowledge.tables }
}

/// The supplies with two posts that nobody has to start.
fn supplies(install: &Install) -> Vec<PartId> {
    let fits = |kind: &Kind| kind.role == Role::Supply && kind.terminals.len() == 2 && kind.positions.is_empty();
    let all = install.parts.enumerate().filter(|(_, part)| fits(&install.knowledge.kinds[part.kind]));
    all.map(|(id, _)| id).collect()
}

/// The supplies without the limit of the bench: what blew a fuse on the vehicle blew it there, and it comes in blown.
fn unlimited(system: &System) -> Vec<Edit> {
    let (install, circuit) = (&system.install, &system.circuit);
    let elements = supplies(install).into_iter().flat_map(|id| &circuit.elements_of[id]).map(|inner| inner.element);
    let without = |id: ElementId| match &circuit.netlist.elements[id].primitive {
        Primitive::Source { emf, internal, limit: Some(_) } => {
            let free = Primitive::Source { emf: emf.clone(), internal: *internal, limit: None };
            Some(Edit::Replace(id, free))
        }
        _ => None,
    };
    elements.filter_map(without).collect()
}

/// Makes a part one of another kind with as many terminals.
fn stand_in(install: &mut Install, id: PartId, kind: KindId, figure: Option<(String, f64)>) {
    let part = &mut install.parts[id];
    // Its own nominal voltage is that of what it stands in for.
    let nominal = part.figures.remove_entry(NOMINAL);
    part.kind = kind;
    part.figures = figure.into_iter().chain(nominal).collect();
}
