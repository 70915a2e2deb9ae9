//! `halfsplit volts`. The figures in these pages are those of the network, which its own tests compare with another
//! simulator; here is how they come out.

use super::program::{GOOD, run};
use insta::assert_snapshot;

#[test]
fn a_healthy_circuit_is_followed_from_supply_to_earth() {
    assert_snapshot!("volts_healthy", run(&["volts", GOOD, "--on", "S1"]).to_string());
}

#[test]
fn a_fault_shows_in_the_volts() {
    let fault = ["volts", GOOD, "--on", "S1", "--fault", "B.1.relay coil-open"];
    assert_snapshot!("volts_fault", run(&fault).to_string());
    let soft = ["volts", GOOD, "--on", "S1", "--on", "S2=on", "--fault", "frame/1.a corroded 0.5 ohm"];
    assert_snapshot!("volts_soft_fault", run(&soft).to_string());
}

#[test]
fn names_that_are_not_known_get_the_nearest() {
    for (what, arguments) in [
        ("control", vec!["--on", "S3"]),
        ("position", vec!["--on", "S1=up"]),
        ("part", vec!["--fault", "B.1.relais coil-open"]),
        ("mode", vec!["--fault", "B.1.relay coil-opne"]),
        ("size", vec!["--fault", "frame/1.a corroded 5 V"]),
        ("mode_of_part", vec!["--fault", "frame/1.a melted 5 ohm"]),
    ] {
        let ran = run(&[&["volts", GOOD], &arguments[..]].concat());
        assert_snapshot!(format!("volts_unknown_{what}"), ran.to_string());
    }
}

#[test]
fn programs_get_the_same_as_json() {
    let ran = run(&["volts", GOOD, "--on", "S1", "--format", "json"]);
    assert_eq!(ran.code, Some(0), "{ran}");
    let json = ran.json();
    assert_eq!(json["format"], 1);
    assert_eq!(json["install"], "Orchard spray trailer");
    assert_eq!(json["with"]["S1"], "on");
    let pump = &json["loads"][0];
    assert_eq!((&pump["load"], &pump["looks"]), (&"pump".into(), &"works".into()));
    for key in ["feed", "return", "through"] {
        assert!(!pump[key].is_null(), "{key}");
    }
    // The same point in both: what the load gets is the difference of its two terminals.
    let at = |point: &str| json["points"][point].as_f64().unwrap();
    let through = |key: &str| pump["through"][key].as_f64().unwrap();
    assert!((at("pump.+") - through("enters")).abs() < 1e-9);
    assert!((at("pump.-") - through("leaves")).abs() < 1e-9);
    // A battery at rest, less what leads and joints take: between the 10.5 V of a flat one and its full 12.8 V.
    assert!((10.5..12.8).contains(&at("battery.+")), "{}", at("battery.+"));
}
