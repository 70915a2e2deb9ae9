//! Every row of the knowledge base has what a row must have, and the tables hold what was published.

use halfsplit::knowledge::{FILES, Knowledge, ModeEffect, Noticed, NoticedState, Role, SOUND, Wrong};
use std::collections::BTreeSet;

#[test]
fn every_row_has_a_source_and_a_fitting_weight() {
    let knowledge = Knowledge::built_in();
    let mut modes = 0;
    for kind in knowledge.kinds.iter() {
        for figure in &kind.figures {
            assert!(figure.source.len() > 10, "{} {}", kind.name, figure.key);
            assert!(figure.tolerance < 1.0, "{} {}", kind.name, figure.key);
        }
        for mode in &kind.modes {
            modes += 1;
            assert!(mode.source.len() > 10, "{} {}", kind.name, mode.key);
            assert!(mode.weight > 0.0 && mode.weight <= 1.0, "{} {}", kind.name, mode.key);
            let soft = matches!(
                mode.effect,
                ModeEffect::Series(..)
                    | ModeEffect::Leak(..)
                    | ModeEffect::LeakToEarth(..)
                    | ModeEffect::LeakBetweenPins(_)
            );
            let severity = match &mode.effect {
                ModeEffect::Series(_, s)
                | ModeEffect::Leak(_, _, s)
                | ModeEffect::LeakToEarth(_, s)
                | ModeEffect::LeakBetweenPins(s) => Some(*s),
                _ => None,
            };
            assert_eq!(
                soft,
                severity.is_some_and(|s| s.low > 0.0 && s.high >= 10.0 * s.low),
                "{} {}",
                kind.name,
                mode.key
            );
        }
        assert!(!kind.modes.is_empty(), "{} never fails", kind.name);
    }
    for (name, table) in &knowledge.tables {
        assert!(table.rows.iter().all(|row| row.source.len() > 10), "{name}");
    }
    assert!(knowledge.terminals.values().all(|t| !t.source.is_empty()));
    assert!(knowledge.cautions.values().all(|c| c.source.len() > 10));
    assert!(knowledge.facts.values().all(|f| f.source.len() > 3));
    for (name, table) in &knowledge.words {
        assert!(table.source.len() > 10 && table.ask.len() > 10, "{name}");
    }
    // Counted by hand when the last kind was written; a mode less is a mode lost.
    assert!(knowledge.kinds.len() >= 77, "{} kinds", knowledge.kinds.len());
    assert!(modes >= 442, "only {modes} modes");
}

/// What wears out by something else has a cause to look for: a blown fuse, a burnt contact, a wet joint, a chafed wire. Every row is
/// for a role and a mode that there are.
#[test]
fn every_cause_is_of_some_mode_and_what_is_usual_has_one() {
    let knowledge = Knowledge::built_in();
    let modes = || knowledge.kinds.iter().flat_map(|kind| kind.modes.iter().map(move |mode| (kind, mode)));
    for cause in &knowledge.causes {
        assert!(cause.look.len() > 40 && cause.source.len() > 10, "{}", cause.key);
        for key in &cause.modes {
            let used = modes().any(|(kind, mode)| {
                &mode.key == key && knowledge.cause(kind.role, key).is_some_and(|found| found.key == cause.key)
            });
            assert!(used, "{}: nothing has the mode {key}", cause.key);
        }
    }
    let wears = [Role::Protection, Role::Joint, Role::Switching, Role::Conductor, Role::Supply];
    let without: Vec<String> = modes()
        .filter(|(kind, mode)| wears.contains(&kind.role) && !mode.mistake)
        .filter(|(kind, mode)| knowledge.cause(kind.role, &mode.key).is_none())
        .map(|(kind, mode)| format!("{}: {}", kind.name, mode.key))
        .collect();
    assert!(without.len() < 20, "{} without a cause: {without:?}", without.len());
    for (role, mode, word) in [
        (Role::Protection, "blown", "what blew it"),
        (Role::Joint, "corroded", "where the water came in"),
        (Role::Switching, "burnt-contact", "against its rating"),
    ] {
        assert!(knowledge.cause(role, mode).unwrap().look.contains(word), "{mode}");
    }
}

#[test]
fn every_name_is_unique_and_every_file_is_embedded() {
    let knowledge = Knowledge::built_in();
    let mut names = BTreeSet::new();
    for kind in knowledge.kinds.iter() {
        for name in std::iter::once(&kind.name).chain(&kind.aliases) {
            assert!(names.insert(name.clone()), "`{name}` names two kinds");
        }
        let says: BTreeSet<_> = kind.modes.iter().map(|m| &m.says).collect();
        assert_eq!(says.len(), kind.modes.len(), "two modes of {} read the same", kind.name);
    }
    // A name given twice takes it from the first kind in silence: so all names that are written must still be there.
    let written = FILES.iter().flat_map(|(_, text)| text.lines());
    let written: usize = written
        .map(|line| match line.strip_prefix("  also: [") {
            Some(list) => list.split(',').count(),
            None => usize::from(line.starts_with("- kind: ")),
        })
        .sum();
    assert_eq!(names.len(), written);
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/knowledge");
    let mut on_disk = Vec::new();
    for folder in ["", "facts/", "parts/", "tables/"] {
        for entry in std::fs::read_dir(format!("{root}/{folder}")).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            if std::path::Path::new(&name).extension().is_some_and(|e| e == "yaml") {
                on_disk.push(format!("{folder}{name}"));
            }
        }
    }
    on_disk.sort();
    let mut embedded: Vec<_> = FILES.iter().map(|(name, _)| (*name).to_owned()).collect();
    embedded.sort();
    assert_eq!(on_disk, embedded);
}

/// Rows of the published tables, typed in again here by hand.
#[test]
fn tables_hold_the_published_rows() {
    let knowledge = Knowledge::built_in();
    let row = |table: &str, at: f64| knowledge.tables[table].row(at).unwrap_or_else(|| panic!("{table} {at}")).gives;
    // IEC 60228 class 5, plain copper, maximum Ω/km at 20 °C (etechnik-synergie.com condutor-resistance).
    for (mm2, ohms) in [(0.75, 26.0), (1.5, 13.3), (2.5, 7.98), (6.0, 3.30), (10.0, 1.91), (120.0, 0.161)] {
        assert!((row("iec-60228-class-5", mm2) - ohms).abs() < 1e-9, "{mm2} mm²");
    }
    // Printed wire table (pastebin.com/UuPEWau2): 22 AWG 16.14 and 24 AWG 25.67 Ω per 1000 ft; 1000 ft = 0.3048 km.
    for (mm2, per_1000_ft) in [(0.3255, 16.14), (0.2047, 25.67)] {
        assert!((row("awg", mm2) * 0.3048 - per_1000_ft).abs() < 0.01, "{mm2} mm²");
    }
    // ASTM B258 law: diameter 0.127 mm x 92^((36-n)/39), area π d²/4; IEC 60028: 0.017241 Ω mm²/m.
    for (n, mm2) in [(18_u32, 0.8230), (14, 2.0809), (10, 5.2612)] {
        let d = 0.127 * 92_f64.powf((36.0 - f64::from(n)) / 39.0);
        let area = std::f64::consts::PI * d * d / 4.0;
        assert!((area - mm2).abs() < 1e-4, "{n} AWG");
        assert!((row("awg", mm2) - 17.241 / area).abs() < 0.01, "{n} AWG");
    }
    // Typical cold resistance of medium blade fuses, from memory; 40 A from a maker data sheet.
    for (amps, milliohms) in [(3.0, 31.1), (10.0, 7.70), (15.0, 4.80), (40.0, 1.44)] {
        assert!((row("blade-fuse-ohms", amps) * 1e3 - milliohms).abs() < 1e-6, "{amps} A");
    }
}

#[test]
fn mean_melting_times_are_the_geometric_means_of_their_gates() {
    // Gate limits: ISO 8820-3 and a maker data sheet (blade-fuse-gate.yaml names which row is which).
    let knowledge = Knowledge::built_in();
    let gate = &knowledge.tables["blade-fuse-gate"];
    let mut checked = 0;
    for row in &gate.rows {
        if let (Some(least), Some(most)) = (row.least, row.most) {
            checked += 1;
            assert!((row.gives / (least * most).sqrt() - 1.0).abs() < 0.005, "{} times", row.at);
        }
    }
    assert_eq!(checked, 3);
    assert!(gate.rows.windows(2).all(|w| w[1].gives < w[0].gives), "more current melts it sooner");
}

#[test]
fn sizes_between_rows_lie_on_a_straight_line_of_logarithms() {
    let knowledge = Knowledge::built_in();
    let table = &knowledge.tables["iec-60228-class-5"];
    // Between 1.5 mm² (13.3) and 2.5 mm² (7.98) at their geometric mean: sqrt(13.3 x 7.98) = 10.302.
    let between = table.value((1.5_f64 * 2.5).sqrt()).unwrap();
    assert!((between - (13.3_f64 * 7.98).sqrt()).abs() < 1e-9);
    assert_eq!(table.value(0.0), None);
    assert_eq!(table.value(-1.0), None);
}

#[test]
fn the_words_of_a_table_share_one_probability_whatever_is_seen() {
    let knowledge = Knowledge::built_in();
    for (name, table) in &knowledge.words {
        let shares = [0.0, 1e-6, 0.01, 0.06, 0.1, 0.2, 0.5, 0.7, 1.0, 1.5, 30.0].map(Noticed::Share);
        let states = NoticedState::ALL.map(|(state, _)| Noticed::State(state));
        for noticed in shares.into_iter().chain(states) {
            let sum: f64 = table.words.iter().map(|w| table.likelihood(&w.key, noticed)).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{name} {noticed:?}: {sum}");
        }
    }
}

/// Each row of marks is a distribution, and some mode of some kind leaves each mark but that of a sound part.
#[test]
fn every_mark_is_left_by_some_mode() {
    let knowledge = Knowledge::built_in();
    let sights = || knowledge.kinds.iter().flat_map(|kind| &kind.sights);
    for (name, table) in &knowledge.words {
        for mark in table.marks.keys() {
            let sum: f64 = table.marked(mark).unwrap().iter().sum();
            assert!((sum - 1.0).abs() < 1e-9, "{name} {mark}: {sum}");
            let left =
                sights().filter(|s| s.table == *name).flat_map(|s| s.marks.values()).flatten().any(|m| m == mark);
            assert!(left || mark == SOUND, "nothing leaves {name} {mark}");
        }
        assert!(sights().any(|s| s.table == *name) || table.marks.is_empty(), "nobody looks for {name}");
    }
}

#[test]
fn words_follow_what_is_seen_and_change_smoothly() {
    let knowledge = Knowledge::built_in();
    let lamp = &knowledge.words["lamp"];
    // Common practice: the word that most people use at this share of full power.
    for (share, word) in [(0.0, "dark"), (0.12, "glows"), (0.4, "dim"), (1.0, "lit"), (1.2, "lit")] {
        assert!(lamp.likelihood(word, Noticed::Share(share)) > 0.65, "{word} at {share}");
    }
    // A look never excludes for good: a contradicting word keeps the table's share.
    assert!(lamp.likelihood("lit", Noticed::Share(0.0)) >= 0.015 / 5.0);
    assert!(lamp.likelihood("flickers", Noticed::State(NoticedState::Unsteady)) > 0.7);
    assert!(
        (lamp.likelihood("stays on", Noticed::Share(1.0)) - lamp.likelihood("lit", Noticed::Share(1.0))).abs() < 1e-12
    );
    assert!(lamp.likelihood("purple", Noticed::Share(1.0)).abs() < 1e-12);
    // No jump at any edge: a thousandth of full power more changes no probability by more than 0.03.
    for i in 1..3000 {
        let (a, b) = (f64::from(i) * 1e-3, f64::from(i + 1) * 1e-3);
        for word in &lamp.words {
            let step = lamp.likelihood(&word.key, Noticed::Share(b)) - lamp.likelihood(&word.key, Noticed::Share(a));
            assert!(step.abs() < 0.03, "{} between {a} and {b}", word.key);
        }
    }
    let relay = &knowledge.words["relay"];
    assert!(relay.likelihood("clicks", Noticed::State(NoticedState::Changed)) > 0.9);
    assert!(relay.likelihood("silent", Noticed::State(NoticedState::Unchanged)) > 0.9);
    let fuse = &knowledge.words["fuse"];
    assert!(fuse.likelihood("blown", Noticed::State(NoticedState::Opened)) > 0.9);
}

#[test]
fn a_kind_has_its_own_words_for_what_is_seen() {
    let knowledge = Knowledge::built_in();
    let motor = &knowledge.kinds[knowledge.kind("pump").unwrap()];
    let sight = motor.sights.first().unwrap();
    let table = &knowledge.words[&sight.table];
    for said in ["slow", "weak", "dim"] {
        let word = sight.word(table, said).unwrap();
        assert_eq!((word.key.as_str(), sight.says(word)), ("weak", "slow"));
    }
    assert!(sight.word(table, "purple").is_none());
}

const LAMP: &str = "\
- kind: signal lamp
  about: a small lamp
  role: load
  terminals: {a: one side, b: other side}
  through: a > b
  figures:
    watts: {unit: W, default: 5 W, tolerance: 5 %, source: common practice}
  elements:
    filament: {from: a, to: b, filament: {hot: nominal^2 / watts, nominal: nominal}}
  access: open
  modes:
    dead:
      says: dead
      open: [filament]
      weight: 0.5
      source: common practice
      repair group: bulb
      shows: dark
      proof: volts across it
      repair: new bulb
";

#[test]
fn a_users_folder_adds_and_replaces_kinds() {
    let replaced = LAMP.replace("signal lamp", "filament lamp\n  also: [horn button]");
    let files = [("parts/mine.yaml", LAMP), ("parts/other.yaml", replaced.as_str())];
    let built_in = Knowledge::built_in();
    let knowledge = Knowledge::with_files(&files).unwrap();
    assert_eq!(knowledge.kinds.len(), built_in.kinds.len() + 1);
    let lamp = &knowledge.kinds[knowledge.kind("filament lamp").unwrap()];
    assert_eq!(lamp.about, "a small lamp");
    let button = knowledge.kind("horn button").unwrap();
    assert_eq!(knowledge.kinds[button].name, "filament lamp", "the user's word is the last");
    let mut own = Knowledge::built_in();
    let install = format!("install: x\nkinds:\n{LAMP}parts: {{}}\n");
    own.add_kinds_of_install("van.yaml", &install).unwrap();
    assert!(own.kind("signal lamp").is_some());
}

#[track_caller]
fn refused(from: &str, to: &str, line: usize, column: usize, wrong: &Wrong) {
    assert!(LAMP.contains(from), "{from}");
    let text = LAMP.replacen(from, to, 1);
    let read = Knowledge::with_files(&[("parts/mine.yaml", &text)]);
    let mistakes = read.err().unwrap_or_default();
    let found = mistakes.iter().find(|m| m.wrong == *wrong);
    let found = found.unwrap_or_else(|| panic!("{mistakes:?}"));
    assert_eq!((found.line, found.column, found.file.as_str()), (line, column, "parts/mine.yaml"));
}

#[test]
fn mistakes_in_a_kind_are_named_at_their_place() {
    let unknown = |what, name: &str| Wrong::Unknown { what, name: name.into() };
    let range = |text: &str, expected| Wrong::OutOfRange { text: text.into(), expected };
    refused("role: load", "role: lamp", 3, 9, &unknown("role", "lamp"));
    refused("open: [filament]", "open: [wire]", 14, 14, &unknown("element", "wire"));
    refused("/ watts", "/ wats", 9, 48, &unknown("figure", "wats"));
    refused("weight: 0.5", "weight: 1.5", 15, 15, &range("1.5", "a weight above 0, at most 1"));
    refused("source: common practice\n      repair", "source: \"\"\n      repair", 16, 15, &Wrong::Missing("a source"));
    let unfit = Wrong::Unfit {
        element: "filament".into(),
        effect: "a series resistance (give it a resistance element in series)",
    };
    refused("open: [filament]", "series: {in: filament, from: 1 Ω, to: 9 Ω}", 14, 20, &unfit);
    let unitless = Wrong::Unreadable { text: "5".into(), expected: "an amount with its unit, or a product of figures" };
    refused("default: 5 W", "default: 5", 7, 31, &unitless);
}

#[test]
fn hostile_files_are_refused_without_harm() {
    let deep = format!("- kind: {}", "[".repeat(100_000));
    let bomb = "a: &a [x, x]\nb: &b [*a, *a, *a, *a, *a, *a, *a, *a, *a]\nc: &c [*b, *b, *b, *b, *b, *b, *b, *b, *b]\n\
        d: &d [*c, *c, *c, *c, *c, *c, *c, *c, *c]\ne: [*d, *d, *d, *d, *d, *d, *d, *d, *d]\n";
    let endless = LAMP.replace("5 W", "1e999 W");
    let no_number = LAMP.replace("weight: 0.5", "weight: .nan");
    let dotted = LAMP.replace("{a: one side", "{a.b: one side");
    let control = LAMP.replace("kind: signal lamp", "kind: \"signal\\e lamp\"");
    for text in [&deep, bomb, &endless, &no_number, &dotted, &control, "", "7", "- kind: x\n  kind: y\n"] {
        let read = Knowledge::with_files(&[("parts/mine.yaml", text)]);
        let shown: String = text.chars().take(40).collect();
        if text.is_empty() {
            assert!(read.is_ok(), "an empty file adds nothing");
        } else {
            assert!(read.is_err(), "{shown}");
        }
    }
    let words = "lamp: {ask: look, contradiction: 0, width: 1, source: x, words: {lit: {says: lit}}, bands: [{words: {lit: .nan}}]}";
    assert!(Knowledge::with_files(&[("words.yaml", words)]).is_err());
    assert!(Knowledge::with_files(&[("nonsense.yaml", "a: 1")]).is_err());
}

#[test]
fn all_mistakes_of_all_files_come_at_once() {
    let first = LAMP.replace("role: load", "role: lamp").replace("weight: 0.5", "weight: -1");
    let files = [("parts/a.yaml", first.as_str()), ("parts/b.yaml", "- kind: [")];
    let mistakes = Knowledge::with_files(&files).unwrap_err();
    let places: Vec<_> = mistakes.iter().map(|m| (m.file.as_str(), m.line)).collect();
    assert_eq!(places, [("parts/a.yaml", 3), ("parts/a.yaml", 15), ("parts/b.yaml", 1)]);
}
