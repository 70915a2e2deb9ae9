//! First-order sensitivities against central differences of the solver itself.

use crate::support::circuits::{Circuit, enter, near, ohms, volts};
use crate::support::ngspice::{Kept, Problem, Solved, is_there, solve_all};
use crate::support::random::{Dice, board, set_up};
use halfsplit::circuit::{Edit, ElementId, Emf, Primitive};
use halfsplit::network::{Instrument, Network};
use halfsplit::units::{Amps, Ohms, Watts};
use std::io::Write;

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

/// The change of one element's leading figure by `share`, for those whose law has one that ngspice is given plainly.
fn changed(primitive: &Primitive, share: f64) -> Option<Primitive> {
    match primitive {
        Primitive::Source { emf: Emf::Fixed(v), internal, limit } => {
            let emf = Emf::Fixed(volts(v.get() * (1.0 + share)));
            Some(Primitive::Source { emf, internal: *internal, limit: *limit })
        }
        Primitive::Resistance { .. } | Primitive::Filament { .. } | Primitive::Power { .. } => {
            Some(stronger(primitive, 1.0 + share))
        }
        _ => None,
    }
}

/// The share by which a figure is moved to either side.
const STEP: f64 = 0.01;

/// Random boards, one reading each, 10 MΩ meter attached: the adjoint's figures for every EMF, resistance, filament and constant
/// power against central differences (1 % to either side) of ngspice solutions. The differences carry an error of the
/// second order in the step, 1e-4, and ngspice's own 1e-6 of 12 V over twice the step, 6e-4 V.
#[test]
fn adjoints_agree_with_differences_of_ngspice() {
    if !is_there() {
        let _ =
            writeln!(std::io::stderr(), "SKIPPED: ngspice is not installed, sensitivities are not compared with it");
        return;
    }
    let boards: Vec<(Circuit, _)> = (0..40)
        .map(|seed| {
            let mut dice = Dice::new(seed + 900);
            let circuit = board(&mut dice, 2);
            let set_up = set_up(&mut dice, &circuit);
            (circuit, set_up)
        })
        .collect();
    let mut problems: Vec<Problem<'_>> = Vec::new();
    let mut asked: Vec<(usize, ElementId)> = Vec::new();
    for (b, (circuit, set_up)) in boards.iter().enumerate() {
        let meter = Edit::Bridge(circuit.id("l0"), circuit.id("minus"), ohms(10e6));
        for (id, element) in circuit.netlist.elements.enumerate() {
            let (Some(up), Some(down)) = (changed(&element.primitive, STEP), changed(&element.primitive, -STEP)) else {
                continue;
            };
            asked.push((b, id));
            for new in [up, down] {
                let edits = vec![meter.clone(), Edit::Replace(id, new)];
                problems.push(Problem {
                    netlist: &circuit.netlist,
                    edits,
                    set_up: set_up.clone(),
                    before: Kept::new(),
                });
            }
        }
    }
    let solved: Vec<Option<Solved>> = solve_all(&problems).into_iter().map(Result::ok).collect();
    let (mut compared, mut moved) = (0, 0);
    for ((b, id), pair) in asked.iter().zip(solved.chunks(2)) {
        let (circuit, set_up) = &boards[*b];
        let [Some(up), Some(down)] = pair else { continue };
        // Across a change of state there is no derivative.
        if up.chatters || down.chatters || up.pulled != down.pulled || up.active != down.active {
            continue;
        }
        let (red, black) = (circuit.id("l0"), circuit.id("minus"));
        let (Some(high), Some(low)) = (up.between(red, black), down.between(red, black)) else { continue };
        let n = Network::new(&circuit.netlist);
        let branches = n.enter(&[], &n.fresh(), set_up).unwrap();
        let [branch] = &branches[..] else { continue };
        if !branch.state.chatter().is_empty() {
            continue;
        }
        let found = n.sensitivities(&branch.state, &METER, red, black).unwrap();
        let slope = (high - low) / (2.0 * STEP);
        near(found.leading(*id), slope, 1e-3 + 1e-3 * slope.abs());
        compared += 1;
        moved += usize::from(slope.abs() > 0.01);
    }
    println!("{compared} sensitivities agree with ngspice, {moved} of them above 10 mV");
    assert!(compared > 100 && moved > 20, "{compared} compared, {moved} above 10 mV");
}

/// A current through an element, against central differences of the solver itself.
#[test]
fn sensitivities_of_currents_agree_with_central_differences() {
    let c = circuit();
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let mut compared = 0;
    for (of, _) in c.netlist.elements.enumerate().take(5) {
        let found = n.current_sensitivities(&state, of).unwrap();
        for (id, element) in c.netlist.elements.enumerate() {
            let step = 1e-4;
            let at = |share: f64| {
                let new = changed(&element.primitive, share)?;
                Some(enter(&n, &[Edit::Replace(id, new)], &n.fresh(), &c.with(&[])).current(of).get())
            };
            let limited = matches!(element.primitive, Primitive::Source { limit: Some(_), .. });
            if let (Some(up), Some(down), false) = (at(step), at(-step), limited) {
                let slope = (up - down) / (2.0 * step);
                near(found.leading(id), slope, 1e-6 + 1e-4 * slope.abs());
                compared += 1;
            }
        }
    }
    assert!(compared >= 30, "{compared}");
}
