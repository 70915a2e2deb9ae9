//! An install made ready for fault finding: its circuit, its suspects, what can be seen of it.

use super::complaint::Subject;
use super::sights::{costs, left_by, sights};
use super::told::all_loads;
use super::vocabulary::{Said, When};
use crate::belief::{Senses, Strays, Supplies, Timing, Vocabulary};
use crate::choice::{Instruments, LookCost};
use crate::circuit::{Circuit, Edit, Element, Emf, Incomplete, NodeId, PossibleFault, Primitive};
use crate::index::IdVec;
use crate::install::{Install, PartId, PointId};
use crate::knowledge::{NoticedState, Notices, Role, WordTable};
use crate::network::Instrument;
use crate::suspects::{Fault, FaultId, Learnt, Severity, Shares, Suspects};
use crate::units::{Amps, Ohms};
use std::collections::BTreeMap;
use std::rc::Rc;

/// An install with everything that fault finding needs of it.
#[derive(Debug)]
pub struct System {
    /// The install.
    pub install: Install,
    /// Its circuit.
    pub circuit: Circuit,
    /// All that can be wrong, as the knowledge base describes it; the order is that of the suspects' faults.
    pub possible: IdVec<FaultId, PossibleFault>,
    /// What can go wrong with an install that has worked.
    pub suspects: Suspects,
    /// The same with what an installer or repairer can have done wrong. Faults have the same ids in both.
    pub mistakes_too: Suspects,
    /// What can be perceived.
    pub senses: Senses,
    /// Whose each sight is, in the order of the sights.
    pub sights: Vec<SightOf>,
    /// What each look costs beside the way, in the order of the sights.
    pub looks: Rc<[LookCost]>,
    /// The sights on which each fault leaves something to be seen.
    pub left_by: BTreeMap<FaultId, Vec<usize>>,
    /// What was otherwise where it was complained of: empty unless the install lies on the bench now.
    pub elsewhere: Vec<Edit>,
    /// What a workshop's jobs have taught, where the suspects are weighed with it.
    pub learnt: Option<Learnt>,
    /// The minus of the first supply: where a black lead goes when nothing else is near.
    pub reference: PointId,
    /// All loads that can be seen.
    pub(super) loads: Vec<Subject>,
}

/// Whose a sight is, and in which words it is told.
#[derive(Clone, Debug, PartialEq)]
pub struct SightOf {
    /// The part.
    pub part: PartId,
    /// What it is called where the part has several (`main beam`); empty for the only one.
    pub name: String,
    /// Which sight of its kind it is; `None`: the heat of the part.
    pub kind_sight: Option<usize>,
    /// What is noticed.
    pub notices: Notices,
    /// The word table, in the words of the part's kind.
    pub table: Rc<WordTable>,
}

impl SightOf {
    /// Whether what is seen outlasts a change of switches: a fuse is whole or blown.
    pub fn lasts(&self) -> bool {
        self.table.states.contains_key(&NoticedState::Opened)
    }
}

/// Current of a filament test lamp at its nominal voltage: 0.1 to 0.3 A, from memory.
const TEST_LAMP: Amps = Amps::new(0.2);
/// Name of the word table by which the light of a tester is judged.
const TESTER: &str = "lamp";

impl System {
    /// Expands an install.
    ///
    /// # Errors
    /// The parts that lack a figure or have an impossible one.
    pub fn new(install: Install) -> Result<Self, Vec<Incomplete>> {
        let circuit = Circuit::expand(&install)?;
        let possible: IdVec<FaultId, PossibleFault> = circuit.possible_faults(&install)?.into_iter().collect();
        let faults: IdVec<FaultId, Fault> = possible.iter().map(fault).collect();
        let tolerances = &install.knowledge.tolerances;
        let shares = Shares {
            nothing: tolerances.nothing_wrong,
            unknown: tolerances.not_described,
            another: tolerances.second_faults,
            no_good: tolerances.repairs_no_good,
        };
        let suspects = Suspects::singles_of(faults.clone(), shares, |id| !possible[id].mistake);
        let mistakes_too = Suspects::singles(faults, shares);
        let tester: Option<Box<dyn Vocabulary>> = match install.knowledge.words.get(TESTER) {
            Some(table) => Some(Box::new(Said(Rc::new(table.clone())))),
            None => None,
        };
        let timing: Box<dyn Timing> = Box::new(When::new(&install, &possible));
        let (sights, seen) = sights(&install, &circuit, &possible);
        let looks = costs(&install, &sights);
        let left_by = left_by(&seen);
        let senses = Senses { sights: seen, tester, timing: Some(timing) };
        let reference = reference(&install, &circuit);
        let loads = all_loads(&install, &sights);
        Ok(Self {
            install,
            circuit,
            possible,
            suspects,
            mistakes_too,
            senses,
            sights,
            looks,
            left_by,
            elsewhere: Vec::new(),
            learnt: None,
            reference,
            loads,
        })
    }

    /// Weighs the suspects with what a workshop's jobs have taught, wear and mistakes of wiring each among themselves.
    pub fn learn(&mut self, learnt: Learnt) {
        let mut faults: IdVec<FaultId, Fault> = self.possible.iter().map(fault).collect();
        for mistake in [false, true] {
            learnt.weigh(&mut faults, |id| {
                let possible = self.possible.get(id).filter(|possible| possible.mistake == mistake)?;
                Some((self.kind_of(possible), possible.mode.as_str()))
            });
        }
        let shares = self.suspects.shares();
        self.suspects = Suspects::singles_of(faults.clone(), shares, |id| !self.possible[id].mistake);
        self.mistakes_too = Suspects::singles(faults, shares);
        self.learnt = Some(learnt);
    }

    /// The name of the kind of part that a fault is of.
    pub fn kind_of(&self, fault: &PossibleFault) -> &str {
        &self.install.knowledge.kinds[self.install.parts[fault.part].kind].name
    }

    /// The name of the place of the part that a fault is of.
    pub fn place_of(&self, fault: &PossibleFault) -> Option<&str> {
        let place = self.install.parts[fault.part].place?;
        self.install.places.get(place).map(|place| place.name.as_str())
    }

    /// The instruments that are known: a multimeter and a filament test lamp of the system's voltage. A reading of the person's
    /// own may be by any of them.
    pub fn instruments(&self) -> Instruments {
        let nominal = self.install.nominal;
        let meter = Ohms::try_from(self.install.knowledge.tolerances.meter_ohms).ok();
        Instruments {
            voltmeter: meter.map(Instrument::Voltmeter),
            test_lamp: Some(Instrument::TestLamp { hot: nominal / TEST_LAMP, nominal }),
            clamp_meter: false,
            ohmmeter: false,
        }
    }

    /// How far healthy parts stray: each as its figure was stated, a supply at least as its state of charge makes it.
    pub fn strays(&self) -> Strays {
        let tolerances = &self.install.knowledge.tolerances;
        let leading = self.circuit.netlist.elements.enumerate().map(|(id, element)| {
            let spread = self.circuit.spread_of.get(id).copied().unwrap_or(0.0);
            let supply = matches!(element.primitive, Primitive::Source { .. });
            if supply { spread.max(tolerances.supply_shared) } else { spread }
        });
        Strays {
            leading: leading.collect(),
            internal: self.circuit.internal_spread_of.clone(),
            steady: Supplies { own: tolerances.supply_own, drift: tolerances.supply_drift },
            sagging: Supplies { own: tolerances.supply_sag_own, drift: tolerances.supply_sag_drift },
            sags: tolerances.supply_sags,
        }
    }

    /// Volts that no reading of this system can exceed: twice its highest EMF.
    pub fn most_volts(&self) -> f64 {
        let emf = |e: &Element| match &e.primitive {
            Primitive::Source { emf: Emf::Fixed(volts), .. } => volts.get(),
            Primitive::Source { emf: Emf::By { volts, .. }, .. } => {
                volts.iter().flatten().map(|v| v.get()).fold(0.0, f64::max)
            }
            Primitive::ConverterOutput { emf, .. } => emf.get(),
            _ => 0.0,
        };
        2.0 * self.circuit.netlist.elements.iter().map(emf).fold(self.install.nominal.get(), f64::max)
    }

    /// The node of a point.
    pub fn node(&self, point: PointId) -> NodeId {
        self.circuit.node_of[point]
    }

    /// The word table of a sight.
    pub fn words(&self, sight: usize) -> Option<&WordTable> {
        self.sights.get(sight).map(|s| s.table.as_ref())
    }

    /// The word table for the light of a tester.
    pub fn tester_words(&self) -> Option<&WordTable> {
        self.install.knowledge.words.get(TESTER)
    }

    /// The part with this id or label.
    pub fn part(&self, name: &str) -> Option<PartId> {
        let by = |hit: &dyn Fn(&crate::install::Part) -> bool| {
            self.install.parts.enumerate().find(|(_, p)| hit(p)).map(|(id, _)| id)
        };
        by(&|p| p.id == name).or_else(|| by(&|p| p.label == name))
    }

    /// The point with this name.
    pub fn point(&self, name: &str) -> Option<PointId> {
        self.install.points.enumerate().find(|(_, p)| p.name == name).map(|(id, _)| id)
    }
}

fn fault(possible: &PossibleFault) -> Fault {
    let ohms = |r: f64| Ohms::try_from(r).unwrap_or(Ohms::ZERO);
    Fault {
        part: possible.part_id.clone(),
        mode: possible.mode.clone(),
        effect: possible.effect.clone(),
        severity: possible.severity.map(|(low, high)| Severity { low: ohms(low), high: ohms(high) }),
        weight: possible.weight,
        repair: possible.repair_group.clone(),
    }
}

/// The minus post of the first supply; the earth where there is none.
fn reference(install: &Install, circuit: &Circuit) -> PointId {
    for (id, part) in install.parts.enumerate() {
        let kind = &install.knowledge.kinds[part.kind];
        if kind.role != Role::Supply {
            continue;
        }
        let minus = circuit.elements_of[id].iter().find_map(|inner| {
            let to = circuit.netlist.elements[inner.element].to;
            part.terminals.iter().copied().find(|p| circuit.node_of[*p] == to)
        });
        if let Some(minus) = minus {
            return minus;
        }
    }
    install.earth
}
