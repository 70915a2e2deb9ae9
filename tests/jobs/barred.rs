//! What is never asked for: the isolator off beside a running engine, a lead on an airbag.

use super::workshop::system;
use crate::support::complaint::first_load_dead;
use halfsplit::choice::{Target, Test};
use halfsplit::circuit::SetUp;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::record::OnBench;
use halfsplit::job::{Diagnosis, System};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use std::path::Path;

#[test]
fn the_isolator_stays_on_while_the_engine_runs() {
    let system = system(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workboat/install.yaml"));
    let netlist = &system.circuit.netlist;
    let rest = SetUp::at_rest(&netlist.controls);
    let (engine, control) = system.engine().expect("an engine");
    let named = |name: &str| netlist.controls.enumerate().find(|(_, c)| c.name == name).map(|(id, _)| id);
    let isolator = named("isolator").expect("an isolator");
    let off = netlist.controls[isolator].positions.iter().position(|p| p == "off").expect("it has an off");
    let runs = (0..control.positions.len()).find(|p| *p != control.rest).expect("the engine runs");
    let running = rest.clone().with(engine, runs);
    assert!(!system.is_barred(&running) && !system.is_barred(&rest.clone().with(isolator, off)));
    assert!(system.is_barred(&running.with(isolator, off)));
}

#[test]
fn what_could_roll_away_is_not_on_the_bench() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/sprayer/install.yaml");
    let brake = |system: &System| system.cautions_before().iter().any(|says| says.contains("park brake"));
    let here = system(&path);
    assert!(brake(&here));
    let bench = OnBench { limit: 10.0, dummies: Vec::new() };
    let there = system(&path).on_bench(&bench).unwrap_or_else(|off| panic!("{}", off.says()));
    assert!(!brake(&there), "{:?}", there.cautions_before());
    assert!(!there.cautions_before().is_empty(), "a battery and a fuse are there as well");
}

const BAG: &str = "install: A lamp beside an airbag
nominal: 12 V
kind: road vehicle
supplies:
  battery: {is: lead-acid battery}
earths:
  frame: {to: battery.-, by: 2.5 mm² 1 m}
controls:
  S1: {is: switch}
runs:
  lamp: battery.+ | 2.5 mm² 1 m | blade fuse F1 10 A | 2.5 mm² 1 m | S1 | 1.5 mm² 1 m | filament lamp 21 W \"NAME\" | 1.5 mm² 1 m | frame
";

#[test]
fn nothing_is_measured_at_what_must_not_be_probed() {
    let tests_at = |name: &str| {
        let source = Source::new("lamp.yaml", BAG.replace("NAME", name));
        let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
        let system = System::new(install).expect("a complete install");
        let network = Network::new(&system.circuit.netlist);
        let load = system.install.wiring().loads()[0];
        let complaint = first_load_dead(&system);
        let job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1).unwrap();
        let at = |point| system.install.points[point].of.is_some_and(|(part, _)| part == load);
        let points = |test: &Test| match test.at {
            Target::Points { red, black } => at(red) || at(black),
            Target::Part(_) => false,
        };
        job.untaken(&job.complaint().set_up).iter().filter(|test| points(test)).count()
    };
    assert!(tests_at("map lamp") > 0);
    assert_eq!(tests_at("airbag lamp"), 0);
}
