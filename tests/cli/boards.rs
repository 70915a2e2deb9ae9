//! The generator of boards that the benches use, as the program takes it: it loads without a complaint and has its volts.

#[path = "../../benches/boards.rs"]
pub(crate) mod generator;

use super::program::run;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::System;
use halfsplit::knowledge::Knowledge;
use std::path::PathBuf;

/// Boards of so many circuits.
pub(crate) fn system(circuits: usize) -> System {
    let source = Source::new("boards.yaml", generator::install(circuits));
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).expect("a complete install")
}

/// A file that goes with its owner.
struct File(PathBuf);

impl Drop for File {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.0);
    }
}

fn generated(circuits: usize) -> File {
    let name = format!("halfsplit-boards-{circuits}-{}.yaml", std::process::id());
    let path = std::env::temp_dir().join(name);
    std::fs::write(&path, generator::install(circuits)).unwrap();
    File(path)
}

#[test]
fn generated_boards_check_clean_and_have_their_volts() {
    for circuits in [5, 50] {
        let file = generated(circuits);
        let path = file.0.display().to_string();
        let checked = run(&["check", &path, "--format", "json"]);
        assert_eq!(checked.code, Some(0), "{checked}");
        assert_eq!(checked.json()["problems"].as_array().map(Vec::len), Some(0), "{checked}");
        // The last circuit works with its switch on, through everything that it shares.
        let volts = run(&["volts", &path, "--on", &format!("S{circuits}")]);
        assert_eq!(volts.code, Some(0), "{volts}");
        let load = format!("pump {circuits}: ");
        assert!(volts.stdout.lines().any(|line| line.starts_with(&load) && line.contains("A (")), "{volts}");
    }
}

#[test]
fn every_size_has_as_many_circuits_as_asked_for() {
    for circuits in [1, 5, 6, 7, 50, 500, 5_000] {
        let text = generator::install(circuits);
        let ways = text.lines().filter(|line| line.starts_with("  way ")).count();
        assert_eq!(ways, circuits);
        // By hand: six ways a board, four boards a feed.
        let feeds = text.lines().filter(|line| line.starts_with("  main ")).count();
        assert_eq!(feeds, circuits.div_ceil(6).div_ceil(4));
    }
}
