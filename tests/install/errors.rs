//! Mistakes, each at its place: every file of `tests/cases/errors` carries beside its lines what is wrong with them,
//! as `# error: 12-15 code` (columns in characters, the second one behind the last). `UPDATE=1` rewrites the marks
//! and `messages.txt`, which holds the words and hints.
//!
//! The files are made up for this test; the columns are those of the words meant, looked at once by a person.

use halfsplit::diagnostic::{Diagnostic, Severity};
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::knowledge::Knowledge;
use std::fmt::Write;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/errors")
}

fn files() -> Vec<PathBuf> {
    let listed = std::fs::read_dir(folder()).expect("the folder of mistakes");
    let mut files: Vec<PathBuf> = listed.map(|f| f.expect("a folder entry").path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "yaml"));
    files.sort();
    files
}

/// The line without its marks.
fn unmarked(line: &str) -> &str {
    let cut = [" # error: ", " # warning: "].map(|m| line.find(m).unwrap_or(line.len()));
    line[..cut[0].min(cut[1])].trim_end_matches(' ')
}

fn mark(source: &Source, d: &Diagnostic) -> String {
    let severity = match d.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    };
    let marked = source.text().get(d.span.offset..d.span.offset + d.span.len);
    let end = d.span.column + marked.map_or(0, |t| t.chars().count());
    format!(" # {severity}: {}-{end} {}", d.span.column, d.code)
}

#[test]
fn every_mistake_is_found_at_its_place() {
    let knowledge = Knowledge::built_in();
    let update = std::env::var_os("UPDATE").is_some();
    let mut messages = String::new();
    let mut wrong = String::new();
    for path in files() {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let written = std::fs::read_to_string(&path).unwrap();
        let lines: Vec<&str> = written.lines().map(unmarked).collect();
        let mut text = lines.join(
            "
",
        ) + "
";
        if !written.ends_with('\n') {
            text.pop();
        }
        let source = Source::new(name.clone(), text);
        let report = match load(&source, &knowledge) {
            Ok((_, warnings)) => warnings,
            Err(report) => report,
        };
        let found = report.sorted();
        let mut lines: Vec<String> = source.text().lines().map(str::to_owned).collect();
        let mut last = None;
        for d in &found {
            assert!(last <= Some(d.span.offset), "{name}: not sorted by place");
            last = Some(d.span.offset);
            let at = (d.span.line - 1).min(lines.len() - 1);
            lines[at] += &mark(&source, d);
            let _ = writeln!(messages, "{name}:{}:{}: {}", d.span.line, d.span.column, d.message);
            for hint in &d.hints {
                let _ = writeln!(messages, "    {hint}");
            }
        }
        if found.is_empty() {
            let _ = writeln!(wrong, "{name}: nothing was found");
        }
        let marked = lines.join("\n") + "\n";
        if marked != written {
            if update {
                std::fs::write(&path, marked).unwrap();
            } else {
                for (now, then) in marked.lines().zip(written.lines()).filter(|(a, b)| a != b) {
                    let _ = writeln!(wrong, "{name}: wanted {then}\n{name}: found  {now}");
                }
            }
        }
    }
    let path = folder().join("messages.txt");
    if update {
        std::fs::write(path, messages).unwrap();
    } else {
        let wanted = std::fs::read_to_string(path).expect("the words of all mistakes");
        for (now, then) in messages.lines().zip(wanted.lines()) {
            assert_eq!(now, then, "messages.txt");
        }
        assert_eq!(messages.lines().count(), wanted.lines().count());
    }
    assert!(wrong.is_empty(), "{wrong}");
}
