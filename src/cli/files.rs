//! Reads files and turns what is wrong with them into one report on the screen.

use super::output::Output;
use crate::diagnostic::{Diagnostic, Report, Span};
use crate::document::Source;
use crate::install::{Install, load};
use crate::job::System;
use crate::knowledge::Knowledge;
use crate::show;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Largest file that is read, in bytes.
const LARGEST: u64 = 16 * 1024 * 1024;

/// A file that was read, or nothing: what is wrong with it has been said.
pub(super) fn source(path: &Path, output: &Output) -> Option<Source> {
    let name = path.display().to_string();
    let bytes = File::open(path).and_then(|file| {
        let mut bytes = Vec::new();
        file.take(LARGEST + 1).read_to_end(&mut bytes)?;
        Ok(bytes)
    });
    let bytes = match bytes {
        Ok(bytes) => bytes,
        Err(error) => {
            failed(output, &name, &Diagnostic::error("unreadable", Span::default(), error.to_string()));
            return None;
        }
    };
    match Source::from_bytes(name.clone(), bytes) {
        Ok(source) => Some(source),
        Err(report) => {
            told(output, &report, &Source::new(name, ""));
            None
        }
    }
}

fn failed(output: &Output, name: &str, diagnostic: &Diagnostic) {
    let mut report = Report::new();
    report.push(diagnostic.clone());
    told(output, &report, &Source::new(name, ""));
}

/// Says what is wrong with a file, in the format asked for.
pub(super) fn told(output: &Output, report: &Report, source: &Source) {
    if output.is_json() {
        output.json(&show::json::report(report, source));
    } else {
        output.drawn(&show::diagnostics(report, source, output.colour));
    }
}

/// An install and the warnings about it, or nothing: what is wrong has been said.
pub(super) fn install(path: &Path, output: &Output) -> Option<(Source, Install, Report)> {
    let source = source(path, output)?;
    let knowledge = Knowledge::built_in();
    match load(&source, &knowledge) {
        Ok((install, warnings)) => Some((source, install, warnings)),
        Err(report) => {
            told(output, &report, &source);
            None
        }
    }
}

/// An install made ready for fault finding, or nothing: what is wrong has been said.
pub(super) fn system(path: &Path, output: &Output) -> Option<(Source, System, Report)> {
    let (source, install, warnings) = install(path, output)?;
    let places: Vec<(usize, usize)> = install.parts.iter().map(|p| (p.line, p.column)).collect();
    match System::new(install) {
        Ok(system) => Some((source, system, warnings)),
        Err(incomplete) => {
            let mut report = Report::new();
            for part in incomplete {
                let (line, column) = places.get(crate::index::Id::position(part.part)).copied().unwrap_or((1, 1));
                let span = source.span_at(line, column);
                report.push(Diagnostic::error("figure-missing", span, format!("{}: {:?}", part.at, part.why)));
            }
            told(output, &report, &source);
            None
        }
    }
}
