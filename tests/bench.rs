//! The mock-up against two other solvers: ngspice, and the engine's network, which shares no code with it.

mod against_network;
mod against_ngspice;
mod examples;
mod person;

use halfsplit::bench::{Draws, Instrument, MockUp, Stands};
use halfsplit::circuit::{Edit, Netlist, SetUp};
use halfsplit::network::{self, ElementState, Network, Operating};
use halfsplit::units::Ohms;

/// Whether two voltages (or currents) are the same: to 1e-6 of the larger one; below a microvolt nothing is asked.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * a.abs().max(b.abs()) + 1e-6
}

/// The engine's way of ending in a set-up that is likeliest, as long as it does not race.
fn engine<'n>(
    network: &Network<'n>,
    edits: &[Edit],
    before: &network::Memory,
    set_up: &SetUp,
) -> Option<Operating<'n>> {
    let branches = network.enter(edits, before, set_up).ok()?;
    let raced = branches.len() > 1;
    branches.into_iter().next().filter(|_| !raced).map(|b| b.state)
}

/// Where a mock-up and an operating point of the engine differ, if anywhere.
fn differs(netlist: &Netlist, mock_up: &MockUp<'_>, state: &Operating<'_>) -> Option<String> {
    if mock_up.chatters() == state.chatter().is_empty() {
        return Some(format!("chatter: bench {}, engine {:?}", mock_up.chatters(), state.chatter()));
    }
    for (id, element) in netlist.elements.enumerate() {
        let (bench, engine) = (mock_up.stands(id).unwrap(), state.state(id));
        let alike = match (bench, engine) {
            (Stands::Coil(a), ElementState::Coil(b))
            | (Stands::Closed(a), ElementState::Contact(b))
            | (Stands::Whole(a), ElementState::Fuse(b))
            | (Stands::Runs(a), ElementState::Motor(b) | ElementState::Power(b)) => a == b || mock_up.chatters(),
            _ => true,
        };
        if !alike {
            return Some(format!("{} stands {bench:?}, engine {engine:?}", element.name));
        }
        let (bench, engine) = (mock_up.amps(id).unwrap(), state.current(id).get());
        if !same(bench, engine) && (bench - engine).abs() > 1e-6 * throughput(netlist, state) {
            return Some(format!("{}: bench {bench} A, engine {engine} A", element.name));
        }
        let (bench, engine) =
            (mock_up.volts(element.from, element.to).unwrap(), state.voltage(element.from, element.to));
        match (bench, engine.map(halfsplit::units::Volts::get)) {
            (None, None) => {}
            (Some(a), Some(b)) if same(a, b) => {}
            (a, b) => return Some(format!("{}: bench {a:?} V, engine {b:?} V", element.name)),
        }
    }
    None
}

/// The largest current anywhere: what differs by a millionth of it is rounding in a dead short.
fn throughput(netlist: &Netlist, state: &Operating<'_>) -> f64 {
    netlist.elements.ids().map(|id| state.current(id).get().abs()).fold(0.0, f64::max)
}

/// The common meter of 10 MΩ, for both.
fn meters() -> (Instrument, network::Instrument) {
    let ohms = Ohms::new(10e6);
    (Instrument::Voltmeter(ohms), network::Instrument::Voltmeter(ohms))
}

fn mock_up<'n>(netlist: &'n Netlist, edits: &[Edit]) -> MockUp<'n> {
    MockUp::new(netlist, edits.to_vec(), Draws::none())
}
