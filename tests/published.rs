//! Published troubleshooting problems with their answer keys, run through the same network, suspects and belief as an
//! install (see `tests/published/README.md` for sources and fields).

mod bench;
mod judge;
mod record;

use record::Record;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    std::env::var_os("PUBLISHED_CASES")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published"), PathBuf::from)
}

fn records() -> Vec<Record> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder())
        .expect("the folder of published cases can be read")
        .map(|entry| entry.expect("a folder entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "yaml" || e == "yml"))
        .collect();
    files.sort();
    files.iter().flat_map(|file| record::read(file)).collect()
}

#[test]
fn published_cases() {
    let (mut passed, mut failed) = (0, 0);
    for record in records() {
        let wrong = judge::judge(&record);
        if wrong.is_empty() {
            passed += 1;
            println!("passed {}", record.id);
        } else {
            failed += 1;
            println!("FAILED {}", record.id);
            for line in wrong {
                println!("    {line}");
            }
        }
    }
    println!("{passed} passed, {failed} failed");
    assert!(passed + failed > 0, "no record found in {}", folder().display());
    assert_eq!(failed, 0, "{failed} published cases failed");
}

#[test]
fn exchanged_keys_are_noticed() {
    let tables: Vec<Record> = records().into_iter().filter(|r| r.kind == "possible_table").collect();
    for record in &tables {
        let mut exchanged = record.clone();
        std::mem::swap(&mut exchanged.answer.possible, &mut exchanged.answer.impossible);
        assert!(!judge::judge(&exchanged).is_empty(), "{} passed with its key exchanged", record.id);
    }
    assert!(!tables.is_empty() || std::env::var_os("PUBLISHED_CASES").is_some());
}
