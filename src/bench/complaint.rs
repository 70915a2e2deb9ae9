//! The complaint that a hidden state causes: the load that is most affected, in the words of its owner.

use super::draws::Draws;
use super::mock_up::MockUp;
use crate::circuit::{Circuit, Edit, SetUp, Sighted};
use crate::install::Install;
use crate::knowledge::{Noticed, Role, WordTable};

/// Set-ups with two controls moved that are tried at most, for loads that no single one makes work.
const PAIRS: usize = 400;
/// Effects that differ by less than this share of nominal power are equal.
const ALIKE: f64 = 1e-3;

/// What a customer says: which part, the word for it, and the set-up in which it shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Grievance {
    /// Position in `Circuit::sights`.
    pub sight: usize,
    /// Position of the word in its table.
    pub word: usize,
    /// The set-up.
    pub set_up: SetUp,
}

/// The set-ups in which a system is used, and what its loads do in them when all is well.
#[derive(Clone, Debug)]
pub struct Uses {
    /// Positions in `Circuit::sights` of what complaints are about.
    loads: Vec<usize>,
    /// Each set-up with what is noticed of each load.
    set_ups: Vec<(SetUp, Vec<Option<Noticed>>)>,
}

impl Uses {
    /// Rest, every set-up with one control moved, and for each load that works in none of these the first with two in
    /// which it does.
    pub fn new(circuit: &Circuit, install: &Install) -> Self {
        let role = |s: &Sighted| install.knowledge.kinds[install.parts[s.part].kind].role;
        let loads: Vec<usize> = (0..circuit.sights.len()).filter(|k| role(&circuit.sights[*k]) == Role::Load).collect();
        let mut uses = Self { loads, set_ups: Vec::new() };
        let rest = SetUp::at_rest(&circuit.netlist.controls);
        let ones = moved(circuit, &rest);
        for set_up in std::iter::once(&rest).chain(&ones) {
            let seen = uses.look(circuit, &[], set_up);
            uses.set_ups.push((set_up.clone(), seen));
        }
        let mut idle: Vec<usize> = (0..uses.loads.len()).filter(|k| !uses.works(circuit, install, *k)).collect();
        let twos = ones.iter().flat_map(|one| moved(circuit, one)).filter(|two| !ones.contains(two));
        for two in twos.take(PAIRS) {
            if idle.is_empty() {
                break;
            }
            let seen = uses.look(circuit, &[], &two);
            uses.set_ups.push((two, seen));
            let before = idle.len();
            idle.retain(|k| !uses.works(circuit, install, *k));
            if idle.len() == before {
                uses.set_ups.pop();
            }
        }
        uses
    }

    /// The set-ups.
    pub fn set_ups(&self) -> impl Iterator<Item = &SetUp> {
        self.set_ups.iter().map(|(set_up, _)| set_up)
    }

    fn look(&self, circuit: &Circuit, hidden: &[Edit], set_up: &SetUp) -> Vec<Option<Noticed>> {
        let mut mock_up = MockUp::new(&circuit.netlist, hidden.to_vec(), Draws::none());
        self.seen(circuit, &mut mock_up, set_up)
    }

    fn seen(&self, circuit: &Circuit, mock_up: &mut MockUp<'_>, set_up: &SetUp) -> Vec<Option<Noticed>> {
        let entered = mock_up.enter(set_up).is_ok();
        let noticed = |k: &usize| {
            let sight = &circuit.sights[*k];
            mock_up.noticed(*sight.elements.first()?, sight.nominal).ok().filter(|_| entered)
        };
        self.loads.iter().map(noticed).collect()
    }

    /// Whether a load (position in `loads`) works in any set-up so far.
    fn works(&self, circuit: &Circuit, install: &Install, load: usize) -> bool {
        let Some(table) = table(circuit, install, self.loads[load]) else { return true };
        let good = table.most_said(Noticed::Share(1.0));
        self.set_ups.iter().any(|(_, seen)| seen[load].is_some_and(|noticed| table.most_said(noticed) == good))
    }

    /// The complaint that a mock-up gives cause for: of all loads and set-ups the one whose power differs most from that of
    /// the healthy system, among those whose word differs. `None`: nobody would notice. `fresh` makes the mock-up
    /// anew for each set-up.
    pub fn complaint<'c>(
        &self,
        circuit: &Circuit,
        install: &Install,
        mut fresh: impl FnMut() -> MockUp<'c>,
    ) -> Option<Grievance> {
        let mut worst: Option<(f64, Grievance)> = None;
        for (set_up, healthy) in &self.set_ups {
            let seen = self.seen(circuit, &mut fresh(), set_up);
            for ((sight, healthy), seen) in self.loads.iter().zip(healthy).zip(seen) {
                let (Some(healthy), Some(seen)) = (*healthy, seen) else { continue };
                let Some(table) = table(circuit, install, *sight) else { continue };
                let word = table.most_said(seen);
                let effect = (share(healthy) - share(seen)).abs();
                if word != table.most_said(healthy) && worst.as_ref().is_none_or(|(most, _)| effect > most + ALIKE) {
                    worst = Some((effect, Grievance { sight: *sight, word, set_up: set_up.clone() }));
                }
            }
        }
        worst.map(|(_, grievance)| grievance)
    }

    /// What is left of a complaint: the word for its load now, where that is another one than for the same system with
    /// nothing hidden in it. `None`: it is cured.
    pub fn still(
        &self,
        circuit: &Circuit,
        install: &Install,
        was: &Grievance,
        [now, well]: [MockUp<'_>; 2],
    ) -> Option<Grievance> {
        let load = self.loads.iter().position(|sight| *sight == was.sight)?;
        let table = table(circuit, install, was.sight)?;
        let word = |mut mock_up: MockUp<'_>| {
            self.seen(circuit, &mut mock_up, &was.set_up)[load].map(|noticed| table.most_said(noticed))
        };
        // What cannot be solved is not cured.
        let now = word(now).unwrap_or(was.word);
        (word(well) != Some(now)).then(|| Grievance { word: now, ..was.clone() })
    }

    /// A complaint without any cause: the `pick`-th load that should work in some set-up, said to be what it is with
    /// no power at all.
    pub fn mistaken(&self, circuit: &Circuit, install: &Install, pick: usize) -> Option<Grievance> {
        let count = self.loads.len().max(1);
        let order = (0..self.loads.len()).map(|k| (k + pick) % count);
        for load in order {
            let sight = self.loads[load];
            let Some(table) = table(circuit, install, sight) else { continue };
            let (good, word) = (table.most_said(Noticed::Share(1.0)), table.most_said(Noticed::Share(0.0)));
            let works = |seen: &[Option<Noticed>]| seen[load].is_some_and(|n| table.most_said(n) == good);
            if let Some((set_up, _)) = self.set_ups.iter().find(|(_, seen)| works(seen)) {
                return Some(Grievance { sight, word, set_up: set_up.clone() });
            }
        }
        None
    }
}

/// Every set-up with one control moved from where it is.
fn moved(circuit: &Circuit, from: &SetUp) -> Vec<SetUp> {
    let controls = circuit.netlist.controls.enumerate();
    let all = controls.flat_map(|(id, c)| (0..c.positions.len()).map(move |p| from.clone().with(id, p)));
    all.filter(|s| s != from).collect()
}

fn table<'i>(circuit: &Circuit, install: &'i Install, sight: usize) -> Option<&'i WordTable> {
    install.knowledge.words.get(&circuit.sights.get(sight)?.table)
}

/// Share of its power that a load gives; what flickers gives half.
fn share(noticed: Noticed) -> f64 {
    match noticed {
        Noticed::Share(share) => share.min(1.0),
        Noticed::State(_) => 0.5,
    }
}
