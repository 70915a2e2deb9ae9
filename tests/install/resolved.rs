//! Install files resolved: the sketch of the design, the example, and every form that a board's way may take.
//!
//! What must be joined with what is taken from the grammar (design, 'The install file') and counted by hand.

use halfsplit::document::Source;
use halfsplit::install::{Install, Part, PartId, PointId, load};
use halfsplit::knowledge::Knowledge;
use halfsplit::show::diagnostics;
use std::fmt::Write;

fn try_resolve(text: &str) -> Result<(Install, String), String> {
    let source = Source::new("install.yaml", text);
    match load(&source, &Knowledge::built_in()) {
        Ok((install, warnings)) => Ok((install, diagnostics(&warnings, &source, false))),
        Err(report) => Err(diagnostics(&report, &source, false)),
    }
}

#[track_caller]
fn resolve(text: &str) -> Install {
    let (install, warnings) = try_resolve(text).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(warnings, "");
    install
}

#[track_caller]
fn part<'i>(install: &'i Install, id: &str) -> (PartId, &'i Part) {
    let mut all = install.parts.enumerate();
    let found = all.find(|(_, p)| p.id == id);
    found.unwrap_or_else(|| panic!("no part {id}"))
}

/// The terminal `name` of a part.
#[track_caller]
fn terminal(install: &Install, id: &str, name: &str) -> PointId {
    let (_, part) = part(install, id);
    let kind = &install.knowledge.kinds[part.kind];
    let at = kind.terminals.iter().position(|t| t.name == name);
    part.terminals[at.expect("such a terminal")]
}

#[track_caller]
fn junction(install: &Install, name: &str) -> PointId {
    let mut all = install.points.enumerate();
    all.find(|(_, p)| p.of.is_none() && p.name == name).expect("such a junction").0
}

fn joined(install: &Install, a: PointId, b: PointId) -> bool {
    let wiring = install.wiring();
    wiring.node(a) == wiring.node(b)
}

fn ids(install: &Install, parts: &[PartId]) -> Vec<String> {
    parts.iter().map(|p| install.parts[*p].id.clone()).collect()
}

/// Everything in an install, one line each.
fn written_out(install: &Install) -> String {
    let mut out = String::new();
    let place = |p: Option<_>| p.map_or("?", |p| install.places[p].name.as_str());
    let _ = writeln!(out, "PARTS");
    for p in install.parts.iter() {
        let _ = write!(out, "{} [{}] {} @{}", p.id, p.label, install.knowledge.kinds[p.kind].name, place(p.place));
        for (key, value) in &p.figures {
            let _ = write!(out, " {key}={value}");
        }
        let _ = writeln!(out, " {}:{}", p.line, p.column);
    }
    let _ = writeln!(out, "JOINS");
    for (a, b) in &install.joins {
        let _ = writeln!(out, "{} = {}", install.points[*a].name, install.points[*b].name);
    }
    let _ = writeln!(out, "RUNS");
    for run in install.runs.iter() {
        let steps = run.steps.iter().map(|(part, enter, _)| match part {
            Some(part) => install.parts[*part].id.as_str(),
            None => install.points[*enter].name.as_str(),
        });
        let _ = writeln!(out, "{}: {}", run.name, steps.collect::<Vec<_>>().join(" | "));
    }
    out
}

#[test]
fn the_sketch_of_the_design_resolves() {
    let install = resolve(include_str!("good.yaml"));
    insta::assert_snapshot!("good", written_out(&install));
    let bus = junction(&install, "bus");
    assert!(joined(&install, bus, terminal(&install, "B.1.fuse", "in")));
    assert!(joined(&install, bus, terminal(&install, "F9", "in")));
    let common = terminal(&install, "B.earth", "a");
    assert!(joined(&install, common, terminal(&install, "B.1.relay", "85")));
    assert!(joined(&install, common, terminal(&install, "B.2.relay", "85")));
    assert_eq!(install.points[install.earth].name, "frame, bare metal");
    let places = install.places.iter().map(|p| p.name.as_str());
    assert_eq!(places.collect::<Vec<_>>(), ["tractor", "cab", "board", "mast"]);
    let controls = install.controls.iter().map(|c| c.name.as_str());
    assert_eq!(controls.collect::<Vec<_>>(), ["S1", "S2"]);
}

#[test]
fn the_sprayer_resolves_in_sixty_lines() {
    let text = include_str!("../../examples/sprayer/install.yaml");
    // Design, 'The install file': such an install takes at most 60 lines.
    assert!(text.lines().count() <= 60);
    let install = resolve(text);
    insta::assert_snapshot!("sprayer", written_out(&install));
}

#[test]
fn a_wire_stands_between_two_joints_that_know_their_places() {
    let install = resolve(include_str!("good.yaml"));
    let (wire, _) = part(&install, "return/2");
    let (_, a) = part(&install, "return/2.a");
    let (_, b) = part(&install, "return/2.b");
    assert_eq!(a.joint_of.map(|j| (j.conductor, j.first_end)), Some((wire, true)));
    assert_eq!(b.joint_of.map(|j| (j.conductor, j.first_end)), Some((wire, false)));
    let place = |p: &Part| p.place.map(|id| install.places[id].name.clone());
    assert_eq!(place(a).as_deref(), Some("board"));
    assert_eq!(place(b).as_deref(), Some("tractor"));
    assert_eq!(b.label, "wire of \"return\", tractor end");
    // The wire's side of a joint is its first terminal, the metal its second.
    assert!(joined(&install, a.terminals[0], terminal(&install, "return/2", "a")));
    assert!(joined(&install, b.terminals[0], terminal(&install, "return/2", "b")));
    assert!(joined(&install, b.terminals[1], terminal(&install, "battery", "-")));
}

#[test]
fn a_core_is_turned_so_that_each_end_is_where_the_cable_says() {
    let install = resolve(include_str!("good.yaml"));
    let (cable, control) = part(&install, "control");
    // from: cab is end a, to: board is end b; yellow is the first core, brown the fifth.
    let end = |core: usize, b: bool| control.terminals[2 * core + usize::from(b)];
    let (_, yellow_cab) = part(&install, "pump on/3.a");
    assert!(joined(&install, yellow_cab.terminals[0], end(0, false)));
    let (_, brown_board) = part(&install, "control/3.a");
    assert!(joined(&install, brown_board.terminals[0], end(4, true)));
    assert_eq!(brown_board.label, "brown core of \"control\", board end");
    assert_eq!(brown_board.joint_of.map(|j| j.conductor), Some(cable));
    let run = install.runs.iter().find(|r| r.name == "control").unwrap();
    let pass = run.steps.iter().find(|(p, ..)| *p == Some(cable)).unwrap();
    assert_eq!((pass.1, pass.2), (end(4, true), end(4, false)));
}

#[test]
fn loads_land_on_the_joint_of_an_earth_and_frames_on_its_metal() {
    let install = resolve(include_str!("good.yaml"));
    let lug = terminal(&install, "frame", "a");
    let metal = terminal(&install, "frame", "b");
    let (_, pump) = part(&install, "pump/4.b");
    assert!(joined(&install, pump.terminals[1], lug));
    assert!(joined(&install, terminal(&install, "mast foot/1", "b"), metal));
    assert!(!joined(&install, lug, metal));
}

#[test]
fn what_is_upstream_and_shared_is_known() {
    let install = resolve(include_str!("good.yaml"));
    let wiring = install.wiring();
    let (pump, _) = part(&install, "pump");
    let (light, _) = part(&install, "mast light");
    assert_eq!(ids(&install, &wiring.loads()), ["pump", "mast light"]);
    let (enter, leave) = wiring.ends(pump).unwrap();
    assert_eq!(
        ids(&install, &wiring.feed_of(enter)),
        [
            "feed/2.a",
            "feed/2",
            "feed/2.b",
            "F0",
            "feed/4.a",
            "feed/4",
            "feed/4.b",
            "power plug",
            "B.1.fuse",
            "B.1.relay",
            "pump/2.a",
            "pump/2",
            "pump/2.b"
        ]
    );
    assert_eq!(
        ids(&install, &wiring.return_of(leave)),
        [
            "return/2.b",
            "return/2",
            "return/2.a",
            "power plug",
            "frame/1.b",
            "frame/1",
            "frame/1.a",
            "frame",
            "pump/4.b",
            "pump/4",
            "pump/4.a"
        ]
    );
    let shared = wiring.sharing(pump);
    assert_eq!(shared.len(), 1);
    assert_eq!(shared[0].load, light);
    // Up to the bus, and from the frame's metal on: not the joint of the frame, on which the mast does not land.
    assert_eq!(ids(&install, &shared[0].feed).last().map(String::as_str), Some("power plug"));
    assert_eq!(ids(&install, &shared[0].earth).last().map(String::as_str), Some("frame/1.a"));
}

const HEAD: &str =
    "install: x\nnominal: 12 V\nsupplies: {battery: lead-acid battery}\nearths: {frame: {to: battery.-}}\n";

#[test]
fn ways_of_a_board_may_differ() {
    let install = resolve(&format!(
        "{HEAD}boards:\n  B:\n    live: bus\n    earth: frame\n    ways:\n      \
         1: {{fuse: 10 A, relay: changeover relay}}\n      2: {{fuse: none, fed from: lit}}\n      \
         3: {{fuse: breaker 10 A, switched: minus}}\n      4: {{relay: none, fuse: 5 A}}\n\
         runs:\n  feed: battery.+ | *bus\n  a: B.1 | lamp 21 W \"a\" | frame\n  \
         rest: B.1.30>87a | lamp 21 W \"rest\" | frame\n  \
         lit: bus | fuse F9 3 A | *lit\n  b: B.2 | lamp 21 W \"b\" | frame\n  c: B.3 | lamp 21 W \"c\" | frame\n  \
         d: B.4 | lamp 21 W \"d\" | frame\n  on: bus | switch \"S1\" | B.1.coil\n  \
         minus: B.3.coil | switch \"S3\" | frame\n"
    ));
    let at = |id, name| terminal(&install, id, name);
    let bus = junction(&install, "bus");
    assert!(joined(&install, at("rest", "feed"), at("B.1.relay", "87a")));
    assert!(joined(&install, junction(&install, "lit"), at("B.2.relay", "30")));
    assert!(install.parts.iter().all(|p| p.id != "B.2.fuse" && p.id != "B.4.relay"));
    let (_, breaker) = part(&install, "B.3.fuse");
    assert_eq!(install.knowledge.kinds[breaker.kind].name, "breaker");
    // Switched on its minus side: plus from the board's live, minus to the switch alone.
    assert!(joined(&install, at("B.3.relay", "86"), bus));
    assert!(joined(&install, at("B.3.relay", "85"), at("S3", "in")));
    let common = at("B.earth", "a");
    assert!(!joined(&install, at("B.3.relay", "85"), common));
    assert!(joined(&install, at("B.1.relay", "85"), common));
    assert!(joined(&install, at("d", "feed"), at("B.4.fuse", "out")));
}

#[test]
fn steps_may_be_written_in_any_order_and_language_of_units() {
    let install = resolve(&format!(
        "{HEAD}parts:\n  K1: relay\n  plug: {{is: connector, pins: [one, two]}}\nplaces: {{shed: {{}}}}\n\
         runs:\n  a: battery.+ | 14 AWG 10 ft | \"main\" fuse 15 A at shed | plug.one | wire | K1.30>87 | *x\n  \
         b: x | brown/white 0,75mm² | plug.two.in>out | filament lamp \"lit\" 55 W 24 V | 3 m | frame\n  \
         c: x | K1.coil | plug.one.out\n"
    ));
    let (_, wire) = part(&install, "a/2");
    assert!((wire.figures["length"] - 3.048).abs() < 1e-9);
    // 14 AWG is 2.08 mm² (ASTM B258).
    assert!((wire.figures["size"] - 2.08).abs() < 5e-3);
    let (_, main) = part(&install, "main");
    assert_eq!(main.place.map(|p| install.places[p].name.as_str()), Some("shed"));
    let (_, mark) = part(&install, "b/2");
    assert_eq!(mark.colour.as_deref(), Some("brown/white"));
    let (_, lit) = part(&install, "lit");
    assert!((lit.figures["watts"] - 55.0).abs() < 1e-9 && (lit.figures["nominal"] - 24.0).abs() < 1e-9);
    assert!(joined(&install, terminal(&install, "K1", "86"), junction(&install, "x")));
}

#[test]
fn an_install_brings_its_own_kinds() {
    let own = "kinds:\n  - kind: heated seat\n    about: a seat with a heating mat\n    role: load\n    \
               terminals: {a: feed, b: return}\n    through: a > b\n    figures:\n      watts: {unit: W, default: 40 W, tolerance: 10 %, source: from memory}\n    \
               elements:\n      mat: {from: a, to: b, resistance: nominal^2 / watts}\n    access: open\n    modes:\n      \
               open:\n        says: open\n        open: [mat]\n        weight: 0.1\n        source: from memory\n        repair group: mat\n        \
               shows: cold\n        proof: volts across it while cold\n        repair: new mat\n";
    let text = format!("{HEAD}{own}runs:\n  a: battery.+ | heated seat 60 W \"seat\" | frame\n");
    match try_resolve(&text) {
        Ok((install, _)) => {
            let (_, seat) = part(&install, "seat");
            assert_eq!(install.knowledge.kinds[seat.kind].name, "heated seat");
        }
        Err(e) => panic!("{e}"),
    }
    let wrong = try_resolve(&text.replace("role: load", "role: lode")).unwrap_err();
    assert!(wrong.starts_with("install.yaml:8:"), "{wrong}");
}
