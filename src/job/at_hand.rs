//! The instruments that a person has at hand: what is not there is not asked for.

use super::{System, meter_sigma};
use crate::belief::Probe;
use crate::choice::{Accuracy, Instruments, Target, Test};
use crate::circuit::{ElementId, SetUp};
use crate::diagnostic::{nearest, quoted};
use crate::install::{PartId, PointId};
use crate::knowledge::Role;
use std::fmt::{self, Display};

/// An instrument that a person may have at hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tool {
    /// It reads volts.
    Multimeter,
    /// A filament test lamp of the system's voltage.
    TestLamp,
    /// It reads the amps of a wire that it goes around, direct current too.
    ClampMeter,
    /// The ohms of a multimeter, where it was proved dead by its volts.
    Ohmmeter,
}

impl Tool {
    /// All of them with their names, in the order in which they are told.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Multimeter, "multimeter"),
        (Self::TestLamp, "test-lamp"),
        (Self::ClampMeter, "clamp-meter"),
        (Self::Ohmmeter, "ohmmeter"),
    ];
}

/// What is at hand: one instrument at least. Without anything said it is a multimeter and a test lamp.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AtHand([bool; Tool::ALL.len()]);

impl Default for AtHand {
    fn default() -> Self {
        Self::USUAL
    }
}

impl AtHand {
    /// A multimeter and a test lamp.
    pub const USUAL: Self = Self([true, true, false, false]);

    /// Reads a list such as `multimeter,test-lamp`.
    ///
    /// # Errors
    /// Everything that is wrong with it, and what there is.
    pub fn read(text: &str) -> Result<Self, String> {
        let names = text.split(',').map(str::trim).filter(|name| !name.is_empty());
        Self::of(names).map_err(|wrong| wrong.join("; "))
    }

    /// The instruments of these names.
    ///
    /// # Errors
    /// Each name that is none, or that there is no name.
    pub fn of<'t>(names: impl Iterator<Item = &'t str>) -> Result<Self, Vec<String>> {
        let known = || Tool::ALL.iter().map(|(_, name)| *name);
        let mut found = Self([false; Tool::ALL.len()]);
        let mut wrong = Vec::new();
        for name in names {
            match known().position(|one| one == name.to_lowercase()) {
                Some(at) => found.0[at] = true,
                None => {
                    let near = nearest(name, known());
                    let hint = near.map_or(String::new(), |near| format!(" (did you mean {}?)", quoted(near)));
                    wrong.push(format!("no instrument called {}{hint}", quoted(name)));
                }
            }
        }
        let there_are = || format!("there are {}", known().collect::<Vec<_>>().join(", "));
        if found.has(Tool::Ohmmeter) && !found.has(Tool::Multimeter) {
            wrong.push("an ohmmeter needs a multimeter: volts say that it is dead before ohms are read".to_owned());
        }
        if !wrong.is_empty() {
            wrong.push(there_are());
            Err(wrong)
        } else if found.0.contains(&true) {
            Ok(found)
        } else {
            Err(vec!["name one instrument at least".to_owned(), there_are()])
        }
    }

    /// Whether an instrument is at hand.
    pub fn has(&self, tool: Tool) -> bool {
        Tool::ALL.iter().zip(&self.0).any(|((one, _), has)| *one == tool && *has)
    }

    /// The names of what is at hand.
    pub fn names(&self) -> Vec<String> {
        let at_hand = Tool::ALL.iter().zip(&self.0).filter(|(_, has)| **has);
        at_hand.map(|((_, name), _)| (*name).to_owned()).collect()
    }
}

impl Display for AtHand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.names().join(", "))
    }
}

impl System {
    /// The instruments with which tests are offered.
    pub fn instruments_at_hand(&self, at_hand: &AtHand) -> Instruments {
        let Instruments { voltmeter, test_lamp, .. } = self.instruments();
        Instruments {
            voltmeter: voltmeter.filter(|_| at_hand.has(Tool::Multimeter)),
            test_lamp: test_lamp.filter(|_| at_hand.has(Tool::TestLamp)),
            clamp_meter: at_hand.has(Tool::ClampMeter),
            ohmmeter: at_hand.has(Tool::Ohmmeter) && at_hand.has(Tool::Multimeter),
        }
    }

    /// The ends of wires that a clamp meter goes around where the complaint is about `what`: those on the way of a current that it
    /// can show, with `amps` through each element when all is well. Everything hangs on a supply: what drains it may be anywhere.
    pub fn clamps(&self, what: &[PartId], amps: impl Fn(ElementId) -> f64) -> Vec<(PartId, ElementId)> {
        let install = &self.install;
        let least = install.knowledge.tolerances.clamp_amps;
        let of_supply = what.iter().any(|part| install.knowledge.kinds[install.parts[*part].kind].role == Role::Supply);
        let ends = install.parts.enumerate().filter(|(_, part)| part.joint_of.is_some());
        let ends = ends.filter(|(_, part)| !part.terminals.iter().any(|point| self.is_barred_point(*point)));
        let carrying = ends.filter_map(|(id, _)| Some((id, self.carries(id)?)));
        carrying.filter(|(_, element)| of_supply || amps(*element).abs() >= least).collect()
    }

    /// The one element through which all current enters a part that has two ends; `None` where there are several ways.
    fn carries(&self, part: PartId) -> Option<ElementId> {
        let at = self.node(self.ends(part)?[0]);
        let elements = &self.circuit.netlist.elements;
        let own = self.circuit.elements_of.get(part)?.iter().map(|inner| inner.element);
        let mut there = own.filter(|id| elements.get(*id).is_some_and(|e| e.from == at || e.to == at));
        let only = there.next();
        only.filter(|_| there.next().is_none())
    }

    /// Amps by a clamp meter around a wire, or of any part that just one wire leads into, without regard to the sign.
    /// `None` where there are several.
    pub fn amps(&self, set_up: SetUp, part: PartId) -> Option<Test> {
        let probe = Probe::Amps { element: self.carries(part)?, unsigned: true };
        Some(Test { set_up, probe, at: Target::Part(part) })
    }

    /// Ohms between two points.
    pub fn ohms(&self, set_up: SetUp, [red, black]: [PointId; 2]) -> Test {
        let probe = Probe::Ohms { red: self.node(red), black: self.node(black) };
        Test { set_up, probe, at: Target::Points { red, black } }
    }

    /// How well the instruments read.
    pub fn accuracy(&self) -> Accuracy {
        let tolerances = &self.install.knowledge.tolerances;
        Accuracy {
            volts: meter_sigma,
            clamp: (tolerances.clamp_share, tolerances.clamp_amps),
            ohms: (tolerances.ohms_share, tolerances.ohms_leads, tolerances.ohms_parts),
        }
    }

    /// Standard deviation of the instrument of a probe at a value in volts or amps.
    pub fn sigma(&self, probe: &Probe, value: f64) -> f64 {
        self.accuracy().sigma(probe, value)
    }
}

/// What a number of a probe is of.
pub fn measured(probe: &Probe) -> &'static str {
    match probe {
        Probe::Amps { .. } => "amps",
        Probe::Ohms { .. } => "ohms",
        Probe::Volts { .. } | Probe::Light { .. } | Probe::Look(_) => "volts",
    }
}

/// The unit of what a probe reads; words have none and count as volts.
pub fn unit(probe: &Probe) -> &'static str {
    match probe {
        Probe::Amps { .. } => "A",
        Probe::Ohms { .. } => "Ω",
        Probe::Volts { .. } | Probe::Light { .. } | Probe::Look(_) => "V",
    }
}

#[cfg(test)]
mod tests {
    use super::{AtHand, Tool};

    #[track_caller]
    fn refuses(text: &str, why: &[&str]) {
        let message = AtHand::read(text).expect_err("it is refused");
        assert!(why.iter().all(|part| message.contains(part)), "{message}");
    }

    #[test]
    fn what_is_named_is_at_hand_and_nothing_else() {
        let lamp = AtHand::read(" Test-Lamp ,").unwrap();
        assert!(lamp.has(Tool::TestLamp) && !lamp.has(Tool::Multimeter));
        assert_eq!(AtHand::read("test-lamp,multimeter"), Ok(AtHand::default()));
        assert!(AtHand::USUAL.has(Tool::Multimeter) && AtHand::USUAL.has(Tool::TestLamp));
        assert_eq!(AtHand::USUAL.to_string(), "multimeter, test-lamp");
    }

    #[test]
    fn all_that_is_wrong_is_said_at_once() {
        refuses("multimetre,hammer", &["`multimetre` (did you mean `multimeter`?)", "`hammer`", "there are"]);
        refuses("ohmmeter", &["an ohmmeter needs a multimeter", "there are"]);
        refuses(" , ", &["name one instrument at least"]);
    }
}
