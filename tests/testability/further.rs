//! Where one more test point would help: a lamp whose feed holds a splice under a sleeve.
//!
//! By hand: no probe reaches anything between the switch and the lamp, so that whatever opens in the first wire, the splice
//! or the second wire shows the same everywhere. At the splice a meter shows the supply if the fault is behind it, and
//! nothing if it is before it.

use halfsplit::circuit::SetUp;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::AtHand;
use halfsplit::knowledge::Knowledge;
use halfsplit::network::{Instrument, Network};
use halfsplit::testability::{Alike, Campaign, Faults, Fitted, Plan, campaign};
use halfsplit::units::Ohms;

/// The install; `SPLICE` is what joins the two wires.
const INSTALL: &str = r#"
install: A lamp behind a splice
nominal: 12 V
places: {cab: {access: 1 min}, bed: {access: 2 min}, mast: {access: 3 min}}
supplies: {battery: {is: lead-acid battery, place: cab}}
earths: {body: {to: battery.-, place: cab}}
controls: {S1: {is: switch, place: cab}}
runs:
  lamp: battery.+ | 4 mm² 1 m | blade fuse F1 10 A at cab | 1 mm² 1 m | S1 | 1 mm² 3 m | SPLICE at bed | 1 mm² 3 m | filament lamp 21 W "lamp" at mast | 1 mm² 6 m | body
"#;

fn run(splice: &str) -> Campaign {
    let text = INSTALL.replace("SPLICE", splice);
    let (install, _) =
        load(&Source::new("splice.yaml", text), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let plan = Plan {
        faults: Faults::Single,
        noise: false,
        tolerance_scale: 1.0,
        at_hand: AtHand::USUAL,
        trials: Some(1),
        baselines: Some(0),
        seed: 1,
        threads: 1,
    };
    campaign(&install, plan).unwrap_or_else(|trouble| panic!("{trouble:?}"))
}

/// The repairs of the first wire, the splice and the second wire.
const CHAIN: [&str; 3] = ["lamp/6: conductor", "lamp/7: splice", "lamp/8: conductor"];

fn holds(alike: &Alike, repair: &str) -> bool {
    alike.repairs.iter().any(|(name, _)| name == repair)
}

#[test]
fn a_test_point_at_a_hidden_splice_is_named_and_splits_what_it_says() {
    let campaign = run("solder splice");
    let alike = campaign.alike.first().unwrap_or_else(|| panic!("nothing is alike: {:?}", campaign.alike));
    for repair in CHAIN {
        assert!(holds(alike, repair), "{repair}: {alike:#?}");
    }
    let sum: f64 = alike.repairs.iter().map(|(_, share)| share).sum();
    assert!((sum - 1.0).abs() < 1e-9, "{alike:#?}");
    let further = alike.further.as_ref().unwrap_or_else(|| panic!("{alike:#?}"));
    assert_eq!(further.fitted, Fitted::TestPoint, "{further:#?}");
    assert!(further.parts.len() > 1 && further.bits > 0.5, "{further:#?}");
    // The two wires end up in different parts, whole.
    let with = |repair: &str| -> Vec<usize> {
        let parts = further.parts.iter().enumerate();
        parts.filter(|(_, (repairs, _))| repairs.iter().any(|r| r == repair)).map(|(i, _)| i).collect()
    };
    let (first, second) = (with(CHAIN[0]), with(CHAIN[2]));
    assert!(first.len() == 1 && second.len() == 1 && first != second, "{further:#?}");
    // The engine's own network, which shares no code with the mock-up that the search was made on: a broken first wire leaves
    // nothing there, a broken second one the battery.
    let system = &campaign.system;
    let network = Network::new(&system.circuit.netlist);
    let control = system.circuit.netlist.controls.ids().next().unwrap();
    let on = SetUp::at_rest(&system.circuit.netlist.controls).with(control, 1);
    let volts = |part: &str| {
        let fault = system.fault(part, "broken").unwrap_or_else(|| panic!("{part}"));
        let edits = system.suspects.faults()[fault].effect.edits(Ohms::ZERO);
        let state = network.enter(&edits, &network.fresh(), &on).unwrap().remove(0).state;
        let meter = Instrument::Voltmeter(Ohms::new(10e6));
        let (red, black) = (system.node(further.point), system.node(system.reference));
        network.measure(&state, &meter, red, black).unwrap().volts.get()
    };
    assert!(volts("lamp/6").abs() < 0.1, "{}", volts("lamp/6"));
    assert!(volts("lamp/8") > 12.0, "{}", volts("lamp/8"));
}

#[test]
fn with_that_test_point_added_the_group_is_split() {
    // A crimp under a sleeve that a probe goes into (its kind is not sealed) is reached from both sides.
    let campaign = run("crimp splice");
    for alike in &campaign.alike {
        assert!(!(holds(alike, CHAIN[0]) && holds(alike, CHAIN[2])), "{alike:#?}");
    }
}
