//! What a person must beware of, and when that is said: before the job, above a test, with the repair, where a system is left.

use super::{Diagnosis, System};
use crate::belief::{Probe, Verdict};
use crate::choice::{Target, Test};
use crate::circuit::{Drive, ElementId, PossibleFault, Primitive, SetUp};
use crate::install::{PartId, PlaceId, PointId};
use crate::knowledge::{Caution, Moment, Role};
use crate::network::Instrument;

impl System {
    /// The cautions of the whole system, said once before a job; they stand above the first question.
    pub fn cautions_before(&self) -> Vec<String> {
        self.general(Moment::Job)
    }

    /// The cautions that stand with a test: of what is `energised` in its set-up, of its instrument, its places and its parts,
    /// those that are taken out for it among them.
    pub fn cautions_at_test(&self, test: &Test, energised: &[PartId]) -> Vec<String> {
        let install = &self.install;
        let (mut parts, places): (Vec<_>, Vec<_>) = match &test.at {
            Target::Part(id) => (vec![*id], vec![install.parts[*id].place]),
            Target::Points { red, black } => {
                let points = [&install.points[*red], &install.points[*black]];
                (
                    points.iter().filter_map(|p| p.of.map(|(part, _)| part)).collect(),
                    points.iter().map(|p| p.place).collect(),
                )
            }
        };
        parts.extend(test.set_up.taken_out());
        let engine = self.engine_runs(&test.set_up);
        let mut all = Said::default();
        self.labelled(Moment::Runs, energised).into_iter().for_each(|says| all.add(says));
        let by = match &test.probe {
            Probe::Light { instrument: Instrument::TestLamp { .. }, .. } => Some(Moment::Lamp),
            Probe::Ohms { .. } => Some(Moment::Ohms),
            Probe::Light { .. } | Probe::Volts { .. } | Probe::Look(_) | Probe::Amps { .. } => None,
        };
        let jumper = test.set_up.is_bridged().then_some(Moment::Jumper);
        by.into_iter().chain(jumper).flat_map(|moment| self.general(moment)).for_each(|says| all.add(says));
        for place in places.into_iter().flatten() {
            self.of_place(place, Moment::Test).into_iter().for_each(|says| all.add(says));
        }
        let of_test = |part: PartId| self.of_part(part, Moment::Test);
        let of_engine = |part: PartId| if engine { self.of_part(part, Moment::Engine) } else { Vec::new() };
        let opened = self.parting_here(&test.set_up).into_iter().flat_map(of_engine).collect::<Vec<_>>();
        // What is to be minded with a supply that comes off is what its repair says.
        let supplies = test.set_up.taken_out().filter(|part| self.is_supply(*part));
        for caution in supplies.flat_map(|part| self.of_part(part, Moment::Repair)) {
            all.add(caution.says.clone());
        }
        for part in parts {
            of_test(part).into_iter().chain(of_engine(part)).for_each(|caution| all.add(caution.says.clone()));
        }
        for caution in opened {
            all.add(caution.says.clone());
        }
        all.0
    }

    pub(super) fn is_supply(&self, part: PartId) -> bool {
        self.install.knowledge.kinds[self.install.parts[part].kind].role == Role::Supply
    }

    /// The parts of the controls that part a way in a set-up: an isolator that is off is a battery lead that is open.
    fn parting_here(&self, set_up: &SetUp) -> Vec<PartId> {
        let elements = &self.circuit.netlist.elements;
        let parts = |id: ElementId| match &elements[id].primitive {
            Primitive::Contact { drive: Drive::Control { control, positions }, .. } => {
                set_up.positions.get(*control).is_some_and(|position| !positions.contains(position))
            }
            _ => false,
        };
        let controls = self.install.controls.iter().map(|control| control.part);
        controls.filter(|part| self.circuit.elements_of[*part].iter().any(|inner| parts(inner.element))).collect()
    }

    /// Whether a set-up is never asked for: while the engine runs nothing is opened or taken out that must not be then.
    pub fn is_barred(&self, set_up: &SetUp) -> bool {
        let opened = || self.parting_here(set_up).into_iter().chain(set_up.taken_out());
        self.engine_runs(set_up) && opened().any(|part| !self.of_part(part, Moment::Engine).is_empty())
    }

    /// Whether nothing is measured at a point: it is a part's whose name says that it must not be probed.
    pub fn is_barred_point(&self, point: PointId) -> bool {
        let part = self.install.points[point].of.map(|(part, _)| part);
        part.is_some_and(|part| self.of_part(part, Moment::Test).iter().any(|caution| caution.no_test_there))
    }

    /// Whether no jumper gives current to a part.
    pub(super) fn bars_jumpers(&self, part: PartId) -> bool {
        self.of_part(part, Moment::Test).iter().any(|caution| caution.no_jumper_there)
    }

    /// What the kind of a part or its name calls for at a moment.
    fn of_part(&self, part: PartId, moment: Moment) -> Vec<&Caution> {
        let Some(part) = self.install.parts.get(part) else { return Vec::new() };
        let keys = &self.install.knowledge.kinds[part.kind].cautions;
        let called = |(key, caution): &(&String, &Caution)| {
            keys.contains(key) || caution.is_called_by(&part.label) || caution.is_called_by(&part.id)
        };
        // In the order of the kind, then what the name calls for.
        let mut found: Vec<(&String, &Caution)> = self.install.knowledge.cautions.iter().filter(called).collect();
        found.sort_by_key(|(key, _)| keys.iter().position(|known| known == *key).unwrap_or(usize::MAX));
        found.into_iter().map(|(_, caution)| caution).filter(|caution| self.is_said(caution, moment)).collect()
    }

    /// What a place calls for: what the install says of it, and what its name does.
    fn of_place(&self, place: PlaceId, moment: Moment) -> Vec<String> {
        let Some(place) = self.install.places.get(place) else { return Vec::new() };
        let cautions = self.install.knowledge.cautions.values();
        let called = cautions.filter(|caution| caution.is_called_by(&place.name) && self.is_said(caution, moment));
        place.caution.iter().cloned().chain(called.map(|caution| caution.says.clone())).collect()
    }

    /// The cautions of the usual repair of a fault: of its place, of its mode, of the work itself.
    pub fn cautions_at_repair(&self, fault: &PossibleFault) -> Vec<String> {
        let install = &self.install;
        let Some(part) = install.parts.get(fault.part) else { return Vec::new() };
        let kind = &install.knowledge.kinds[part.kind];
        let of_mode = fault.mode(install).map(|mode| mode.cautions.as_slice()).unwrap_or_default();
        let of_work = install.knowledge.repair_steps(kind, &fault.mode).map_or(&[][..], |row| &row.cautions);
        let mut all = Said::default();
        let of_place = part.place.map_or_else(Vec::new, |place| self.of_place(place, Moment::Repair));
        for says in of_place {
            all.add(says);
        }
        let by_name = install.knowledge.cautions.values();
        let by_name = by_name.filter(|caution| caution.is_called_by(&part.label) || caution.is_called_by(&part.id));
        for caution in of_mode.iter().chain(of_work).filter_map(|key| self.known(key)).chain(by_name) {
            if self.is_said(caution, Moment::Repair) {
                all.add(caution.says.clone());
            }
        }
        all.0
    }

    /// The cautions for a system that is left with these parts not working, each with the parts that call for it.
    pub fn cautions_on_leaving(&self, idle: &[PartId]) -> Vec<String> {
        self.labelled(Moment::Leaving, idle)
    }

    /// The cautions once a repair is proven.
    pub fn cautions_on_moving_off(&self) -> Vec<String> {
        self.general(Moment::MovingOff)
    }

    /// Whether a caution of this key is said at a moment.
    pub(super) fn is_cautioned(&self, key: &str, moment: Moment) -> bool {
        self.known(key).is_some_and(|caution| self.is_said(caution, moment))
    }

    fn known(&self, key: &str) -> Option<&Caution> {
        self.install.knowledge.cautions.get(key)
    }

    fn is_said(&self, caution: &Caution, moment: Moment) -> bool {
        // On the bench nothing rolls away: what the setting calls for before a job stayed where the install came from.
        let stayed_away = !self.elsewhere.is_empty() && moment == Moment::Job && !caution.on.is_empty();
        !stayed_away && caution.is_for(moment, &self.install.setting, &self.install.fuel)
    }

    fn general(&self, moment: Moment) -> Vec<String> {
        let cautions = self.install.knowledge.cautions.values();
        cautions.filter(|caution| self.is_said(caution, moment)).map(|caution| caution.says.clone()).collect()
    }

    /// What the kinds of some parts name for a moment; what several parts have in common is said once, with their labels.
    fn labelled(&self, moment: Moment, parts: &[PartId]) -> Vec<String> {
        let mut found: Vec<(Vec<&str>, &str)> = Vec::new();
        for id in parts {
            let Some(part) = self.install.parts.get(*id) else { continue };
            for caution in self.of_part(*id, moment) {
                match found.iter_mut().find(|(_, says)| *says == caution.says) {
                    Some((labels, _)) if labels.contains(&part.label.as_str()) => {}
                    Some((labels, _)) => labels.push(&part.label),
                    None => found.push((vec![&part.label], &caution.says)),
                }
            }
        }
        found.into_iter().map(|(labels, says)| format!("{}: {says}", labels.join(", "))).collect()
    }
}

impl Diagnosis<'_> {
    /// The cautions for the system as a verdict leaves it, as long as nothing is repaired: of what is complained of, and of what
    /// hangs on the parts that are named.
    pub fn left_idle(&self, verdict: &Verdict) -> Vec<String> {
        if matches!(verdict, Verdict::Cured | Verdict::NoFault) {
            return Vec::new();
        }
        let system = self.system();
        let complained = self.complaint().wrong().filter_map(|fact| system.sights.get(fact.sight)).map(|s| s.part);
        let mut idle: Vec<PartId> = complained.collect();
        let named = self.named(verdict);
        let faults = named.iter().flat_map(|culprit| &culprit.faults).filter_map(|fault| system.describe(*fault));
        let parts: Vec<PartId> = faults.map(|fault| fault.part).collect();
        let wiring = system.install.wiring();
        for load in wiring.loads() {
            let needs = || wiring.upstream(load).iter().any(|part| parts.contains(part));
            if !idle.contains(&load) && (parts.contains(&load) || needs()) {
                idle.push(load);
            }
        }
        system.cautions_on_leaving(&idle)
    }
}

/// Cautions, each once.
#[derive(Default)]
struct Said(Vec<String>);

impl Said {
    fn add(&mut self, says: String) {
        if !self.0.contains(&says) {
            self.0.push(says);
        }
    }
}
