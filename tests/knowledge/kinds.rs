//! Every kind and mode of the knowledge base.

use super::bench::Bench;
use halfsplit::circuit::Circuit;
use halfsplit::knowledge::Knowledge;

/// Figures without a default, for the kinds that have such.
const STATED: [(&str, &[(&str, f64)]); 3] = [
    ("blade fuse", &[("rating", 10.0)]),
    ("breaker", &[("rating", 10.0)]),
    ("resistor", &[("ohms", 100.0)]),
];

#[test]
fn every_mode_of_every_kind_resolves_on_a_circuit_of_that_part_alone() {
    let knowledge = Knowledge::built_in();
    for nominal in [12.0, 24.0] {
        for kind in knowledge.kinds.iter() {
            let mut bench = Bench::new(nominal);
            let figures = STATED
                .iter()
                .find(|(name, _)| *name == kind.name)
                .map_or(&[][..], |(_, f)| f);
            let pins: &[&str] = if kind.per_pin {
                &["plus", "minus", "spare"]
            } else {
                &[]
            };
            bench.part(&kind.name, "it", figures, pins);
            let circuit =
                Circuit::expand(&bench.install).unwrap_or_else(|e| panic!("{}: {e:?}", kind.name));
            let faults = circuit
                .possible_faults(&bench.install)
                .unwrap_or_else(|e| panic!("{}: {e:?}", kind.name));
            for mode in &kind.modes {
                assert!(
                    faults.iter().any(|f| f.mode == mode.key),
                    "{}: {}",
                    kind.name,
                    mode.key
                );
            }
            assert!(
                circuit.spread_of.iter().all(|s| (0.0..3.0).contains(s)),
                "{}",
                kind.name
            );
        }
    }
}

#[test]
fn the_kind_in_the_readme_reads_and_expands() {
    let readme = include_str!("../../knowledge/README.md");
    let block = readme
        .split("```yaml\n")
        .nth(1)
        .and_then(|rest| rest.split("```").next());
    let read = Knowledge::with_files(&[("parts/readme.yaml", block.unwrap())]);
    let mut bench = Bench::new(24.0);
    bench.install.knowledge = read.unwrap_or_else(|mistakes| panic!("{mistakes:?}"));
    bench.part("float switch", "sump float", &[], &[]);
    let circuit = Circuit::expand(&bench.install).unwrap();
    let faults = circuit.possible_faults(&bench.install).unwrap();
    let modes: Vec<_> = faults.iter().map(|f| f.mode.as_str()).collect();
    assert_eq!(modes, ["hangs-down", "dirty"]);
}
