//! Reads files and turns what is wrong with them into one report on the screen.

use super::output::Output;
use crate::circuit::Incomplete;
use crate::diagnostic::{Diagnostic, Report, Span, quoted};
use crate::document::Source;
use crate::index::Id;
use crate::install::{Install, load};
use crate::job::System;
use crate::job::record::OnBench;
use crate::knowledge::{Knowledge, NoFigure};
use crate::show;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Largest file that is read, in bytes.
const LARGEST: u64 = 16 * 1024 * 1024;

/// A file that was read, or nothing: what is wrong with it has been said.
pub(super) fn source(path: &Path, output: &Output) -> Option<Source> {
    let name = path.display().to_string();
    let bytes = bytes(path, output)?;
    match Source::from_bytes(name.clone(), bytes) {
        Ok(source) => Some(source),
        Err(report) => {
            told(output, &report, &Source::new(name, ""));
            None
        }
    }
}

/// The bytes of a file, one more than may be at most; or nothing: what is wrong with it has been said.
pub(super) fn bytes(path: &Path, output: &Output) -> Option<Vec<u8>> {
    let bytes = File::open(path).and_then(|file| {
        let mut bytes = Vec::new();
        file.take(LARGEST + 1).read_to_end(&mut bytes)?;
        Ok(bytes)
    });
    match bytes {
        Ok(bytes) => Some(bytes),
        Err(error) => {
            let name = path.display().to_string();
            failed(output, &name, &Diagnostic::error("unreadable", Span::default(), error.to_string()));
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
    ready(&source, install, output).map(|system| (source, system, warnings))
}

/// The same of an install that is no file.
pub(super) fn system_of(source: &Source, output: &Output) -> Option<System> {
    match load(source, &Knowledge::built_in()) {
        Ok((install, _)) => ready(source, install, output),
        Err(report) => {
            told(output, &report, source);
            None
        }
    }
}

/// The same install on the workshop bench, or nothing: why not has been said.
pub(super) fn on_bench(system: System, bench: &OnBench, output: &Output) -> Option<System> {
    match system.on_bench(bench) {
        Ok(system) => Some(system),
        Err(off) => {
            output.talk(&format!("error: {}", off.says()));
            None
        }
    }
}

fn ready(source: &Source, install: Install, output: &Output) -> Option<System> {
    let places: Vec<(usize, usize)> = install.parts.iter().map(|p| (p.line, p.column)).collect();
    match System::new(install) {
        Ok(system) => Some(system),
        Err(incomplete) => {
            lacking(output, &incomplete, &places, source);
            None
        }
    }
}

/// Says which parts lack a figure, or have an impossible one.
pub(super) fn lacking(output: &Output, incomplete: &[Incomplete], places: &[(usize, usize)], source: &Source) {
    let mut report = Report::new();
    for part in incomplete {
        let (line, column) = places.get(part.part.position()).copied().unwrap_or((1, 1));
        let message = match &part.why {
            NoFigure::NotStated(figure) => {
                format!("{} is not stated, and there is no usual one for it", quoted(figure))
            }
            NoFigure::Impossible(figure) => {
                format!("{} cannot be: it leaves {} impossible", quoted(figure), quoted(&part.at))
            }
        };
        report.push(Diagnostic::error("figure-missing", source.span_at(line, column), message));
    }
    told(output, &report, source);
}
