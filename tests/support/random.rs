//! Random relay-switched circuits with random faults, from a seed.

use super::circuits::{Circuit, blade, breaks, makes, ohms, volts};
use halfsplit::circuit::{Drive, Edit, ElementId, Emf, NodeId, Primitive, Reset, SetUp};
use halfsplit::index::Id;
use halfsplit::units::Amps;

/// A small generator of pseudo-random numbers (xorshift64*, G. Marsaglia and S. Vigna).
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }
    /// A whole number below `n`.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n as u64).unwrap()
    }
    /// A number between 0 and 1.
    pub(crate) fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
    /// Log-uniform between two positive numbers.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.share())
    }
}

/// A board of `ways`: battery, main fuse, and for each way a fuse, a relay driven by a dash switch over a
/// cable, a load of some kind, and its earth over a shared frame; with some cross links.
pub(crate) fn board(dice: &mut Dice, ways: usize) -> Circuit {
    let mut c = Circuit::default();
    let nominal = 12.0;
    c.source("B", "plus", "minus", 12.6, dice.between(0.005, 0.1));
    c.fuse("F0", "plus", "f0", 20.0 + 10.0 * ways as f64, Reset::Never);
    c.resistor("W0", "f0", "bus", dice.between(0.001, 0.02));
    c.resistor("E0", "frame", "minus", dice.between(0.001, 0.05));
    c.fuse("F9", "plus", "f9", 5.0, Reset::Never);
    c.resistor("W9", "f9", "cab", dice.between(0.01, 0.2));
    for way in 0..ways {
        let name = |what: &str| format!("{what}{way}");
        let (fused, contact, load, earth) = (name("f"), name("r"), name("l"), name("e"));
        let reset = [Reset::Never, Reset::Never, Reset::ByHand, Reset::WhenDead][dice.below(4)];
        c.fuse(&name("F"), "bus", &fused, 10.0, reset);
        c.switch(&name("S"), "cab", &name("s"));
        c.resistor(&name("C"), &name("s"), &name("k"), dice.between(0.05, 0.5));
        let coil = c.coil(&name("K"), &name("k"), "frame", dice.between(60.0, 120.0), (7.5, 2.5));
        if dice.below(3) == 0 {
            c.diode(&name("D"), "frame", &name("k"), 0.7, 0.05);
        }
        let drive = if dice.below(5) == 0 { breaks(coil) } else { makes(coil) };
        c.contact(&name("K.30-"), &fused, &contact, drive);
        c.resistor(&name("W"), &contact, &load, dice.between(0.005, 0.1));
        a_load(&mut c, dice, way, &load, &earth, nominal);
        c.resistor(&name("E"), &earth, "frame", dice.between(0.001, 0.05));
        if dice.below(3) == 0 {
            // An indicator on the output.
            c.resistor(&name("R"), &load, &name("i"), 560.0);
            c.diode(&name("I"), &name("i"), "frame", 1.9, 12.0);
        }
    }
    for _ in 0..ways / 3 {
        let (a, b) = (dice.below(ways), dice.below(ways));
        if a != b {
            c.resistor(&format!("X{a}-{b}"), &format!("l{a}"), &format!("l{b}"), dice.between(0.5, 500.0));
        }
    }
    c
}

fn a_load(c: &mut Circuit, dice: &mut Dice, way: usize, load: &str, earth: &str, nominal: f64) {
    let name = format!("L{way}");
    match dice.below(6) {
        0 => {
            c.lamp(&name, load, earth, dice.between(2.6, 30.0), nominal);
        }
        1 => {
            let running = dice.between(2.0, 10.0);
            c.motor(&name, load, earth, (running / 5.0, running), (4.0, 2.0));
        }
        2 => {
            c.power(&name, load, earth, dice.between(2.0, 40.0), 8.0);
        }
        3 => {
            let control = c.control(&format!("Q{way}"));
            let middle = format!("q{way}");
            let switch = Primitive::ElectronicSwitch {
                on: ohms(0.02),
                leakage: ohms(1e6),
                trip: Some(Amps::new(8.0)),
                on_share: 1.0,
                drive: Drive::Control { control, positions: vec![1] },
            };
            c.add(&format!("Q{way}"), load, &middle, switch);
            c.resistor(&name, &middle, earth, dice.between(2.0, 50.0));
        }
        4 => {
            let input = ElementId::new(c.netlist.elements.len());
            let output = ElementId::new(c.netlist.elements.len() + 1);
            let feed = Primitive::ConverterInput {
                output,
                efficiency: 0.85,
                cut_off: volts(8.0),
                idle: ohms(2e3),
                enable: None,
            };
            c.add(&format!("{name}.in"), load, earth, feed);
            let limit = (dice.below(2) == 0).then_some(Amps::new(1.5));
            let out = Primitive::ConverterOutput { emf: volts(5.0), internal: ohms(0.05), limit, input };
            let (o, g) = (format!("o{way}"), format!("g{way}"));
            c.add(&format!("{name}.out"), &o, &g, out);
            c.resistor(&format!("{name}.load"), &o, &g, dice.between(2.0, 20.0));
        }
        _ => {
            c.resistor(&name, load, earth, dice.between(1.5, 50.0));
        }
    }
}

/// A set-up with each control on or off.
pub(crate) fn set_up(dice: &mut Dice, c: &Circuit) -> SetUp {
    let mut set_up = SetUp::at_rest(&c.netlist.controls);
    for control in c.netlist.controls.ids() {
        set_up = set_up.with(control, dice.below(2));
    }
    set_up
}

/// A fault: an opening, a bad joint, a leak, a short, a stuck contact, a wrong part, a moved end.
pub(crate) fn fault(dice: &mut Dice, c: &Circuit) -> Edit {
    let nodes = c.netlist.nodes.len();
    let node = |dice: &mut Dice| NodeId::new(dice.below(nodes));
    let element = ElementId::new(dice.below(c.netlist.elements.len()));
    let primitive = &c.netlist.elements[element].primitive;
    match (dice.below(7), primitive) {
        (1, _) => Edit::Series(element, ohms(dice.between(0.05, 1e4))),
        (2, _) => Edit::Bridge(node(dice), node(dice), ohms(dice.between(0.5, 1e5))),
        (3, _) => Edit::Bridge(node(dice), node(dice), ohms(1e-3)),
        (4, Primitive::Contact { .. }) => Edit::Stuck(element, dice.below(2) == 0),
        (5, _) => Edit::Move { element, from_end: dice.below(2) == 0, to: node(dice) },
        (6, Primitive::Source { .. }) => {
            let flat = Primitive::Source { emf: Emf::Fixed(volts(9.0)), internal: ohms(0.5), limit: None };
            Edit::Replace(element, flat)
        }
        (6, Primitive::Fuse { .. }) => {
            let small =
                Primitive::Fuse { ohms: ohms(0.02), rating: Amps::new(2.0), gate: blade(), reset: Reset::Never };
            Edit::Replace(element, small)
        }
        _ => Edit::Open(element),
    }
}
