//! First-order sensitivities against central differences of the solver itself.

use crate::support::circuits::{Circuit, enter, near, ohms, volts};
use halfsplit::circuit::{Edit, ElementId, Emf, Primitive};
use halfsplit::network::{Instrument, Network};
use halfsplit::units::{Amps, Ohms, Watts};

const METER: Instrument = Instrument::Voltmeter(Ohms::new(10e6));

/// A circuit with every law that has a tangent of its own.
fn circuit() -> Circuit {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.2);
    c.resistor("W", "plus", "a", 0.3);
    c.lamp("L", "a", "frame", 6.857, 12.0);
    c.power("P", "a", "frame", 10.0, 6.0);
    c.resistor("E", "frame", "minus", 0.2);
    c.diode("D", "a", "d", 0.7, 5.0);
    c.resistor("R", "d", "minus", 50.0);
    let input = ElementId::new(7);
    let output = ElementId::new(8);
    c.add(
        "C.in",
        "a",
        "minus",
        Primitive::ConverterInput { output, efficiency: 0.8, cut_off: volts(6.0), idle: ohms(1e3), enable: None },
    );
    c.add(
        "C.out",
        "o",
        "minus",
        Primitive::ConverterOutput { emf: volts(5.0), internal: ohms(0.2), limit: None, input },
    );
    c.resistor("O", "o", "minus", 4.0);
    c.limited("I", "d", "minus", 100.0, 1.0, Some(0.2));
    c
}

use halfsplit::index::Id;

/// The element with its strength times `factor`.
fn stronger(primitive: &Primitive, factor: f64) -> Primitive {
    let mut new = primitive.clone();
    let weaker = |r: &Ohms| ohms(r.get() / factor);
    match &mut new {
        Primitive::Source { limit: Some(limit), .. } => {
            *limit = Amps::try_from(limit.get() * factor).unwrap();
        }
        Primitive::Source { internal: r, .. }
        | Primitive::ConverterOutput { internal: r, .. }
        | Primitive::Resistance { ohms: r }
        | Primitive::Diode { series: r, .. }
        | Primitive::Filament { hot: r, .. } => *r = weaker(r),
        Primitive::Power { watts, .. } => {
            *watts = Watts::try_from(watts.get() * factor).unwrap();
        }
        other => panic!("not in this circuit: {other:?}"),
    }
    new
}

#[test]
fn sensitivities_agree_with_central_differences() {
    let c = circuit();
    let n = Network::new(&c.netlist);
    let reading = |edits: &[Edit], red: &str, black: &str| {
        let state = enter(&n, edits, &n.fresh(), &c.with(&[]));
        n.measure(&state, &METER, c.id(red), c.id(black)).unwrap().volts.get()
    };
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let mut compared = 0;
    for (red, black) in [("a", "minus"), ("frame", "minus"), ("d", "frame"), ("o", "minus")] {
        let found = n.sensitivities(&state, &METER, c.id(red), c.id(black)).unwrap();
        near(found.volts().get(), reading(&[], red, black), 1e-9);
        for (id, element) in c.netlist.elements.enumerate() {
            if matches!(element.primitive, Primitive::ConverterInput { .. }) {
                continue;
            }
            let step = 1e-4;
            let at = |factor: f64| {
                let edit = Edit::Replace(id, stronger(&element.primitive, factor));
                reading(&[edit], red, black)
            };
            let slope = (at(1.0 + step) - at(1.0 - step)) / (2.0 * step);
            near(found.relative(id), slope, 1e-6 + 1e-5 * slope.abs());
            compared += 1;
            let emf = |shift: f64| {
                let mut new = element.primitive.clone();
                match &mut new {
                    Primitive::Source { emf: Emf::Fixed(v), .. } | Primitive::ConverterOutput { emf: v, .. } => {
                        *v = volts(v.get() + shift);
                    }
                    _ => return None,
                }
                Some(reading(&[Edit::Replace(id, new)], red, black))
            };
            if let (Some(up), Some(down)) = (emf(1e-3), emf(-1e-3)) {
                let slope = (up - down) / 2e-3;
                near(found.emf(id), slope, 1e-6 + 1e-5 * slope.abs());
            }
        }
        // A leak from `a` to the frame: the slope at no leak, from 0.1 and 0.2 millisiemens.
        let leak = |siemens: f64| {
            let edit = Edit::Bridge(c.id("a"), c.id("frame"), ohms(1.0 / siemens));
            reading(&[edit], red, black)
        };
        let (none, one, two) = (found.volts().get(), leak(1e-4), leak(2e-4));
        let slope = (4.0 * one - two - 3.0 * none) / 2e-4;
        near(found.between(c.id("a"), c.id("frame")), slope, 1e-4 + 1e-4 * slope.abs());
    }
    assert_eq!(compared, 4 * 10);
}
