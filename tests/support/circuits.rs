//! Circuits written by hand in a few lines: nodes and controls are made by their first mention.

use halfsplit::circuit::{
    Control, ControlId, Drive, Edit, Element, ElementId, Emf, FuseGate, Netlist, Node, NodeId, Primitive, Reset, SetUp,
};
use halfsplit::network::{Branch, Memory, Network, Operating};
use halfsplit::units::{Amps, Ohms, Volts, Watts};

/// A netlist under construction.
#[derive(Default)]
pub(crate) struct Circuit {
    pub(crate) netlist: Netlist,
}

pub(crate) fn ohms(value: f64) -> Ohms {
    Ohms::try_from(value).unwrap()
}
pub(crate) fn volts(value: f64) -> Volts {
    Volts::try_from(value).unwrap()
}

/// A gate like that of a blade fuse: 135 % for ten minutes, 200 % for half a second (from memory, the
/// middle of the usual blade-fuse figures).
pub(crate) fn blade() -> FuseGate {
    FuseGate { points: vec![(1.35, 600.0), (2.0, 5.0), (3.5, 0.5), (6.0, 0.1)] }
}

impl Circuit {
    pub(crate) fn node(&mut self, name: &str) -> NodeId {
        let found = self.netlist.nodes.enumerate().find(|(_, n)| n.name == name);
        match found {
            Some((id, _)) => id,
            None => self.netlist.nodes.push(Node { name: name.to_owned() }),
        }
    }

    /// A control with positions `off` and `on`, at rest off.
    pub(crate) fn control(&mut self, name: &str) -> ControlId {
        let found = self.netlist.controls.enumerate().find(|(_, c)| c.name == name);
        match found {
            Some((id, _)) => id,
            None => self.netlist.controls.push(Control {
                name: name.to_owned(),
                positions: vec!["off".to_owned(), "on".to_owned()],
                rest: 0,
            }),
        }
    }

    pub(crate) fn add(&mut self, name: &str, from: &str, to: &str, primitive: Primitive) -> ElementId {
        let (from, to) = (self.node(from), self.node(to));
        self.netlist.elements.push(Element { name: name.to_owned(), from, to, primitive })
    }

    pub(crate) fn source(&mut self, name: &str, from: &str, to: &str, emf: f64, internal: f64) -> ElementId {
        self.limited(name, from, to, emf, internal, None)
    }

    pub(crate) fn limited(
        &mut self,
        name: &str,
        from: &str,
        to: &str,
        emf: f64,
        internal: f64,
        limit: Option<f64>,
    ) -> ElementId {
        self.add(
            name,
            from,
            to,
            Primitive::Source {
                emf: Emf::Fixed(volts(emf)),
                internal: ohms(internal),
                limit: limit.map(|l| Amps::try_from(l).unwrap()),
            },
        )
    }

    pub(crate) fn resistor(&mut self, name: &str, from: &str, to: &str, value: f64) -> ElementId {
        self.add(name, from, to, Primitive::Resistance { ohms: ohms(value) })
    }

    pub(crate) fn fuse(&mut self, name: &str, from: &str, to: &str, rating: f64, reset: Reset) -> ElementId {
        self.add(
            name,
            from,
            to,
            Primitive::Fuse { ohms: ohms(0.01), rating: Amps::try_from(rating).unwrap(), gate: blade(), reset },
        )
    }

    /// A coil that pulls in at `pull_in` and lets go below `release`.
    pub(crate) fn coil(
        &mut self,
        name: &str,
        from: &str,
        to: &str,
        value: f64,
        (pull_in, release): (f64, f64),
    ) -> ElementId {
        self.add(
            name,
            from,
            to,
            Primitive::Coil { ohms: ohms(value), pull_in: volts(pull_in), release: volts(release) },
        )
    }

    pub(crate) fn contact(&mut self, name: &str, from: &str, to: &str, drive: Drive) -> ElementId {
        self.add(name, from, to, Primitive::Contact { closed: ohms(0.01), drive })
    }

    /// A contact that closes with a control of that name.
    pub(crate) fn switch(&mut self, name: &str, from: &str, to: &str) -> ElementId {
        let control = self.control(name);
        self.contact(name, from, to, Drive::Control { control, positions: vec![1] })
    }

    pub(crate) fn lamp(&mut self, name: &str, from: &str, to: &str, hot: f64, nominal: f64) -> ElementId {
        self.add(name, from, to, Primitive::Filament { hot: ohms(hot), nominal: volts(nominal) })
    }

    pub(crate) fn diode(&mut self, name: &str, from: &str, to: &str, forward: f64, series: f64) -> ElementId {
        self.add(name, from, to, Primitive::Diode { forward: volts(forward), series: ohms(series) })
    }

    pub(crate) fn power(&mut self, name: &str, from: &str, to: &str, watts: f64, cut_off: f64) -> ElementId {
        self.add(
            name,
            from,
            to,
            Primitive::Power {
                watts: Watts::try_from(watts).unwrap(),
                cut_off: volts(cut_off),
                leakage: ohms(50e3),
                polarised: true,
            },
        )
    }

    pub(crate) fn motor(
        &mut self,
        name: &str,
        from: &str,
        to: &str,
        (winding, running): (f64, f64),
        (start, stop): (f64, f64),
    ) -> ElementId {
        self.add(
            name,
            from,
            to,
            Primitive::Motor { winding: ohms(winding), running: ohms(running), start: volts(start), stop: volts(stop) },
        )
    }

    /// All controls at rest but those named, which are on.
    pub(crate) fn with(&self, on: &[&str]) -> SetUp {
        let mut set_up = SetUp::at_rest(&self.netlist.controls);
        for (id, control) in self.netlist.controls.enumerate() {
            if on.contains(&control.name.as_str()) {
                set_up = set_up.with(id, 1);
            }
        }
        set_up
    }

    pub(crate) fn id(&self, name: &str) -> NodeId {
        let found = self.netlist.nodes.enumerate().find(|(_, n)| n.name == name);
        found.unwrap_or_else(|| panic!("no node `{name}`")).0
    }
}

/// Makes a drive by coils.
pub(crate) fn makes(coil: ElementId) -> Drive {
    Drive::Coils { coils: vec![coil], closed_at_rest: false }
}

/// Makes a drive that opens with the coil.
pub(crate) fn breaks(coil: ElementId) -> Drive {
    Drive::Coils { coils: vec![coil], closed_at_rest: true }
}

/// Enters a set-up that must have one outcome.
#[track_caller]
pub(crate) fn enter<'n>(network: &Network<'n>, edits: &[Edit], before: &Memory, set_up: &SetUp) -> Operating<'n> {
    let mut branches: Vec<Branch<'n>> = network.enter(edits, before, set_up).unwrap();
    assert_eq!(branches.len(), 1, "one outcome");
    branches.remove(0).state
}

#[track_caller]
pub(crate) fn near(got: f64, expected: f64, tolerance: f64) {
    assert!((got - expected).abs() <= tolerance, "got {got}, expected {expected} within {tolerance}");
}
