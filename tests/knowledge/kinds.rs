//! Every kind and mode of the knowledge base.

use super::bench::Bench;
use halfsplit::circuit::Circuit;
use halfsplit::knowledge::{Figures, Knowledge, NoFigure, Service, Wrong};
use halfsplit::units::Volts;
use std::collections::BTreeMap;

#[test]
fn every_mode_of_every_kind_resolves_on_a_circuit_of_that_part_alone() {
    let knowledge = Knowledge::built_in();
    for nominal in [12.0, 24.0] {
        for kind in knowledge.kinds.iter() {
            let mut bench = Bench::new(nominal);
            let without_default = kind.figures.iter().filter(|f| !f.has_default());
            let figures: Vec<_> = without_default.map(|f| (f.key.as_str(), 10.0)).collect();
            let pins: &[&str] = if kind.per_pin { &["plus", "minus", "spare"] } else { &[] };
            bench.part(&kind.name, "it", &figures, pins);
            let circuit = Circuit::expand(&bench.install).unwrap_or_else(|e| panic!("{}: {e:?}", kind.name));
            let faults = circuit.possible_faults(&bench.install).unwrap_or_else(|e| panic!("{}: {e:?}", kind.name));
            for mode in &kind.modes {
                assert!(faults.iter().any(|f| f.mode == mode.key), "{}: {}", kind.name, mode.key);
            }
            assert!(circuit.spread_of.iter().all(|s| (0.0..3.0).contains(s)), "{}", kind.name);
        }
    }
}

#[test]
fn the_kind_in_the_readme_reads_and_expands() {
    let readme = include_str!("../../knowledge/README.md");
    let block = readme.split("```yaml\n").nth(1).and_then(|rest| rest.split("```").next());
    let read = Knowledge::with_files(&[("parts/readme.yaml", block.unwrap())]);
    let mut bench = Bench::new(24.0);
    bench.install.knowledge = read.unwrap_or_else(|mistakes| panic!("{mistakes:?}"));
    bench.part("float switch", "sump float", &[], &[]);
    let circuit = Circuit::expand(&bench.install).unwrap();
    let faults = circuit.possible_faults(&bench.install).unwrap();
    let modes: Vec<_> = faults.iter().map(|f| f.mode.as_str()).collect();
    assert_eq!(modes, ["hangs-down", "dirty"]);
}

/// Value and spread of a figure of a kind, in an install of this nominal voltage, with these figures stated.
fn figure(kind: &str, nominal: f64, stated: &[(&str, f64)], key: &str) -> Result<(f64, f64), NoFigure> {
    let knowledge = Knowledge::built_in();
    let kind = knowledge.kind(kind).unwrap_or_else(|| panic!("no kind {kind}"));
    let stated: BTreeMap<_, _> = stated.iter().map(|(k, v)| ((*k).to_owned(), *v)).collect();
    let figures = Figures {
        kind: &knowledge.kinds[kind],
        stated: &stated,
        nominal: Volts::new(nominal),
        tables: &knowledge.tables,
    };
    figures.value(key).map(|spread| (spread.value, spread.sigma))
}

#[test]
fn figures_fall_back_on_what_is_usual_at_that_voltage() {
    let value = |kind, nominal, stated: &[(&str, f64)], key| figure(kind, nominal, stated, key).unwrap().0;
    let same = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} for {b}");
    // Plug-in relays: 70 to 100 Ω at 12 V, 260 to 360 Ω at 24 V (from memory).
    same(value("relay", 12.0, &[], "coil-ohms"), 85.0);
    same(value("relay", 24.0, &[], "coil-ohms"), 310.0);
    same(value("relay", 28.0, &[], "coil-ohms"), 310.0);
    same(value("relay", 12.0, &[("nominal", 24.0)], "coil-ohms"), 310.0);
    same(value("relay", 12.0, &[("coil-ohms", 90.0)], "coil-ohms"), 90.0);
    // Twelve cells at rest: 2 x 12.6 V.
    same(value("lead-acid battery", 24.0, &[], "volts"), 25.2);
    // 15 A medium blade: 4.80 mΩ (typical maker data, from memory).
    same(value("blade fuse", 12.0, &[("rating", 15.0)], "ohms"), 0.0048);
    assert_eq!(figure("blade fuse", 12.0, &[], "ohms"), Err(NoFigure::NotStated("rating".into())));
    assert_eq!(figure("relay", 12.0, &[], "colour"), Err(NoFigure::NotStated("colour".into())));
    let nonsense = figure("relay", 12.0, &[("coil-ohms", f64::NAN)], "coil-ohms");
    assert_eq!(nonsense, Err(NoFigure::Impossible("coil-ohms".into())));
}

#[test]
fn what_is_not_stated_is_less_certain() {
    for (kind, key, stated) in [("wire", "length", 3.0), ("filament lamp", "watts", 55.0), ("relay", "coil-ohms", 85.0)]
    {
        let known = figure(kind, 12.0, &[(key, stated)], key).unwrap().1;
        let unknown = figure(kind, 12.0, &[], key).unwrap().1;
        assert!(unknown > known && known > 0.0, "{kind} {key}: {unknown} against {known}");
    }
}

/// What an install file calls for without naming a kind is offered by exactly one kind; a user's own takes it over.
#[test]
fn each_service_is_offered_by_exactly_one_kind() {
    let offered = |knowledge: &Knowledge, service| {
        let kinds = knowledge.kinds.iter().filter(|k| k.serves.contains(&service));
        kinds.map(|k| k.name.clone()).collect::<Vec<_>>()
    };
    // As written, before a later file could take a service over.
    let written: String = halfsplit::knowledge::FILES.iter().map(|(_, text)| *text).collect();
    let knowledge = Knowledge::built_in();
    for (words, service) in Service::ALL {
        assert_eq!(offered(&knowledge, service).len(), 1, "{words}");
        assert_eq!(written.matches(&format!("serves: [{words}]")).count(), 1, "{words}");
    }
    let kind = "- {kind: strip fuse, about: a strip, role: protection, serves: [fuse of a way], terminals: {a: x, b: y}, \
        through: a > b, access: free, elements: {e: {from: a, to: b, resistance: 1 mΩ}}, modes: {blown: {says: blown, \
        open: [e], weight: 1, source: s, repair group: g, shows: x, proof: y, repair: z}}}\n";
    let own = Knowledge::with_files(&[("parts/own.yaml", kind)]).unwrap();
    assert_eq!(offered(&own, Service::WayFuse), ["strip fuse"]);
    let twice = kind.to_owned() + &kind.replace("strip fuse", "other fuse");
    let mistakes = Knowledge::with_files(&[("parts/own.yaml", &twice)]).unwrap_err();
    assert_eq!(mistakes[0].wrong, Wrong::Twice("fuse of a way".to_owned()));
    let mistakes = Knowledge::load(&[]).unwrap_err();
    assert_eq!(mistakes.len(), Service::ALL.len(), "{mistakes:?}");
}
