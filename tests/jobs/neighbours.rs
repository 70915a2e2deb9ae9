//! The switches of a load are found among the controls on its way, however many others an install has.

use super::proof::said;
use super::record::records;
use super::workshop::system;
use crate::cli::boards::generator;
use crate::support::complaint::first_load_dead;
use halfsplit::bench::{Draws, MockUp, Person};
use halfsplit::circuit::SetUp;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Diagnosis, Next, Proves, System};
use halfsplit::knowledge::{Knowledge, Notices};
use halfsplit::network::Network;
use halfsplit::units::Ohms;
use std::fmt::Write;

/// Controls that are off rest.
fn moved(system: &System, set_up: &SetUp) -> usize {
    let controls = system.circuit.netlist.controls.enumerate();
    controls.filter(|(id, control)| set_up.positions.get(*id).is_some_and(|p| *p != control.rest)).count()
}

/// In the example installs nothing nearer to rest is missed: where one control of all there are makes a load work, one is moved.
#[test]
fn no_nearer_set_up_is_missed() {
    let mut installs: Vec<_> = records().into_iter().map(|record| record.install).collect();
    installs.dedup();
    let mut loads = 0;
    for install in &installs {
        let system = system(install);
        let rest = SetUp::at_rest(&system.circuit.netlist.controls);
        for (sight, of) in system.sights.iter().enumerate().filter(|(_, of)| of.notices == Notices::Work) {
            let label = &system.install.parts[of.part].label;
            let Some(usual) = system.usual_set_up(sight) else { continue };
            let good = |set_up: &SetUp| system.word_when_well(sight, set_up) == system.good_word(sight);
            assert!(good(&usual), "{label} does not work with {usual:?}");
            let controls = system.circuit.netlist.controls.enumerate();
            let ones = controls.flat_map(|(id, c)| (0..c.positions.len()).map(move |p| (id, p)));
            let one = ones.map(|(id, p)| rest.clone().with(id, p)).any(|one| good(&one));
            let nearest = usize::from(!good(&rest));
            if one {
                assert_eq!(moved(&system, &usual), nearest, "{label}: {usual:?}");
            }
            loads += 1;
        }
    }
    assert!(loads > 20, "{loads} loads");
}

/// An install with far more switches than loads on the board that is repaired.
fn crowded() -> System {
    let mut text = String::new();
    for line in generator::install(6).lines() {
        writeln!(text, "{line}").unwrap();
        if line == "controls:" {
            // In front of those that matter.
            (100..300).for_each(|spare| writeln!(text, "  S{spare}: {{is: switch, place: cab}}").unwrap());
        }
        if line == "runs:" {
            let spares: Vec<String> = (100..300).map(|spare| format!("S{spare}")).collect();
            for (i, pair) in spares.chunks(2).enumerate() {
                writeln!(text, "  spare {i}: bus 1 | {}", pair.join(" | ")).unwrap();
            }
        }
    }
    let (install, _) =
        load(&Source::new("crowded.yaml", text), &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).unwrap()
}

#[test]
fn neighbours_are_looked_at_in_an_install_of_200_controls() {
    let system = crowded();
    assert!(system.install.controls.len() > 200);
    let network = Network::new(&system.circuit.netlist);
    let complaint = first_load_dead(&system);
    let mut job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1).unwrap();
    let fault = system.fault("B1.1.relay", "coil-open").unwrap();
    let edits = system.suspects.faults()[fault].effect.edits(Ohms::ZERO);
    let mut person = Person::exact(&system.circuit, MockUp::new(&system.circuit.netlist, edits, Draws::none()));
    let verdict = loop {
        match job.next() {
            Next::Take(ranked) => {
                let answer = said(&system, &mut person, &ranked.test);
                job.answer(ranked.test, answer);
            }
            Next::Stop(verdict) => break verdict,
        }
    };
    assert_eq!(job.mend(&job.repair_of(&job.named(&verdict))), []);
    let mut well = Person::exact(&system.circuit, MockUp::new(&system.circuit.netlist, Vec::new(), Draws::none()));
    let mut neighbours = Vec::new();
    while let Next::Take(ranked) = job.next() {
        let proof = job.proving(&ranked.test).cloned();
        if let Some(Proves::Neighbour { load, .. }) = proof.map(|proof| proof.proves) {
            neighbours.push(system.install.parts[load].label.clone());
        }
        let answer = said(&system, &mut well, &ranked.test);
        job.answer(ranked.test, answer);
    }
    assert!(job.is_proven());
    assert!(!neighbours.is_empty(), "no neighbour was looked at");
}
