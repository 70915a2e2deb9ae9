//! The installed system, resolved: every reference points at something, every part has its figures.
//!
//! [`load`] reads an install file: the document tree becomes sections, runs become steps, names become parts,
//! points and joins. All that is wrong is said at once, each with its place. It deliberately knows no solved number.

mod boards;
mod build;
mod cables;
mod earths;
mod finish;
mod grammar;
mod graph;
mod kinds;
mod model;
mod parts;
mod paths;
mod run_text;
mod runs;
mod scope;
mod sections;
mod step;
mod tokens;
mod wires;

pub use graph::{Passage, Shared, Stands, Wiring};
pub use model::{Control, ControlId, Install, JointOf, Part, PartId, Place, PlaceId, Point, PointId, Run, RunId};

use crate::diagnostic::{Diagnostic, Report};
use crate::document::{Fields, Source, read};
use crate::knowledge::Knowledge;
use build::Build;
use parts::Section;

/// Reads an install file. With it come the warnings.
///
/// # Errors
/// Everything that is wrong with the file, and the warnings.
pub fn load(source: &Source, knowledge: &Knowledge) -> Result<(Install, Report), Report> {
    let document = read(source)?;
    let mut report = Report::new();
    if document.as_map().is_none_or(<[_]>::is_empty) {
        let message = "an install is written as a map of `key: value`";
        let span = document.span;
        return Err(Diagnostic::error("wrong-form", span, message).into());
    }
    let mut fields = Fields::open(&document, "an install", &mut report);
    let mut knowledge = knowledge.clone();
    if fields.take("kinds").is_some() {
        let read = knowledge.add_kinds_of_install(source.name(), source.text());
        for mistake in read.err().unwrap_or_default() {
            let span = source.span_at(mistake.line, mistake.column);
            let said = mistake.wrong.to_string();
            // The reader of kinds ends its words with a place of its own; ours stands before them.
            let said = said.split(" at line ").next().unwrap_or(&said);
            report.push(Diagnostic::error("kind", span, said));
        }
    }
    let mut build = Build::new(source, knowledge);
    build.report.extend(report);
    build.read_head(&mut fields);
    let mut section = |key, build: &mut Build<'_>| fields.map(key, &mut build.report);
    let places = section("places", &mut build);
    let supplies = section("supplies", &mut build);
    let earths = section("earths", &mut build);
    let parts = section("parts", &mut build);
    let controls = section("controls", &mut build);
    let cables = section("cables", &mut build);
    let boards = section("boards", &mut build);
    let runs = section("runs", &mut build);
    fields.finish(&mut build.report);
    build.read_places(places);
    build.read_parts(supplies, Section::Supplies);
    build.read_earths(earths);
    build.read_parts(parts, Section::Parts);
    build.read_parts(controls, Section::Controls);
    build.read_cables(cables);
    build.read_boards(boards);
    let runs = build.run_texts(runs);
    build.declare_in_runs(&runs);
    let drafts = build.place_runs(runs);
    build.finish_links();
    for draft in drafts {
        build.finish_run(draft);
    }
    build.finish(&document)
}
