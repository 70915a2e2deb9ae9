//! The house rules: modules import only from the rows above their own, and only what their allow list names.

use std::fs;
use std::path::{Path, PathBuf};

/// The layers, lowest first, each with the modules that it may import from.
const LAYERS: &[(&str, &[&str])] = &[
    ("index", &[]),
    ("units", &[]),
    ("diagnostic", &[]),
    ("document", &["diagnostic"]),
    ("knowledge", &["index", "units", "diagnostic", "document"]),
    ("install", &["index", "units", "diagnostic", "document", "knowledge"]),
    ("circuit", &["index", "units", "knowledge", "install"]),
    // The mock-up must not share the errors of the engine that is tried against it.
    ("bench", &["index", "units", "diagnostic", "knowledge", "install", "circuit"]),
    ("network", &["index", "units", "circuit"]),
    ("suspects", &["index", "units", "circuit", "knowledge"]),
    ("belief", &["index", "units", "knowledge", "circuit", "network", "suspects"]),
    ("choice", &["index", "units", "knowledge", "install", "circuit", "network", "suspects", "belief"]),
    (
        "job",
        &[
            "index",
            "units",
            "diagnostic",
            "document",
            "knowledge",
            "install",
            "circuit",
            "network",
            "suspects",
            "belief",
            "choice",
        ],
    ),
    (
        "testability",
        &[
            "index",
            "units",
            "knowledge",
            "install",
            "circuit",
            "bench",
            "network",
            "suspects",
            "belief",
            "choice",
            "job",
        ],
    ),
    (
        "show",
        &[
            "index",
            "units",
            "diagnostic",
            "document",
            "knowledge",
            "install",
            "circuit",
            "network",
            "suspects",
            "belief",
            "choice",
            "job",
            "testability",
        ],
    ),
    (
        "cli",
        &[
            "index",
            "units",
            "diagnostic",
            "document",
            "knowledge",
            "install",
            "circuit",
            "network",
            "suspects",
            "belief",
            "choice",
            "job",
            "testability",
            "show",
        ],
    ),
];

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn rust_files(folder: &Path, into: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            rust_files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// Every source file with the module it belongs to and its text, tests at its end left out.
fn files() -> Vec<(String, PathBuf, String)> {
    let mut paths = Vec::new();
    rust_files(&source(), &mut paths);
    paths
        .into_iter()
        .map(|path| {
            let relative = path.strip_prefix(source()).unwrap().to_path_buf();
            let first = relative.components().next().unwrap().as_os_str().to_string_lossy().into_owned();
            let text = fs::read_to_string(&path).unwrap();
            let code = text.split("#[cfg(test)]").next().unwrap_or_default().to_owned();
            (first.trim_end_matches(".rs").to_owned(), relative, code)
        })
        .collect()
}

/// Modules named after `crate::` in a text.
fn imports(code: &str) -> Vec<String> {
    code.match_indices("crate::")
        .filter(|(at, _)| !code[..*at].ends_with('$'))
        .map(|(at, word)| code[at + word.len()..].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect())
        .collect()
}

#[test]
fn modules_import_only_what_their_row_allows() {
    let mut wrong = Vec::new();
    for (module, path, code) in files() {
        if module == "lib" || module == "main" {
            continue;
        }
        let Some(row) = LAYERS.iter().position(|(name, _)| *name == module) else {
            wrong.push(format!("{}: module `{module}` has no row", path.display()));
            continue;
        };
        for import in imports(&code) {
            let own = import == module || import == "id_type";
            if !own && !LAYERS[row].1.contains(&import.as_str()) {
                wrong.push(format!("{}: `{module}` may not import `{import}`", path.display()));
            }
        }
        if code.contains("::*;") {
            wrong.push(format!("{}: glob import", path.display()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn rows_point_upwards_only() {
    for (row, (module, allowed)) in LAYERS.iter().enumerate() {
        for import in *allowed {
            let above = LAYERS.iter().position(|(name, _)| name == import);
            assert!(above.is_some_and(|a| a < row), "`{module}` lists `{import}`, which is not above it");
        }
    }
}

#[test]
fn only_the_command_line_prints_exits_or_reads_files_and_clocks() {
    let mut wrong = Vec::new();
    for (module, path, code) in files() {
        if module == "cli" || module == "main" {
            continue;
        }
        for word in ["println!", "eprintln!", "std::fs", "std::env", "std::time", "std::process", "std::io"] {
            if code.contains(word) {
                wrong.push(format!("{}: `{word}`", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Keys of the install grammar that are also names of kinds: a way of a board says `fuse:` and `relay:` whatever kinds
/// are fitted there. They stand as constants in the one file of the grammar's words.
const GRAMMAR_KEYS: [&str; 2] = ["\"fuse\"", "\"relay\""];
const GRAMMAR: &str = "install/grammar.rs";

#[test]
fn kinds_of_part_are_named_in_data_alone() {
    let kinds: Vec<String> = {
        let knowledge = halfsplit::knowledge::Knowledge::built_in();
        knowledge.kinds.iter().map(|k| format!("\"{}\"", k.name)).collect()
    };
    assert!(!kinds.is_empty());
    let mut wrong = Vec::new();
    for (_, path, code) in files() {
        for line in code.lines().filter(|l| !l.trim_start().starts_with("//")) {
            let key = |k: &str| path == Path::new(GRAMMAR) && GRAMMAR_KEYS.contains(&k);
            let named = kinds.iter().filter(|k| line.contains(k.as_str()) && !key(k));
            wrong.extend(named.map(|k| format!("{}: {k}", path.display())));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
