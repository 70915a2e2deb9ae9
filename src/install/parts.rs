//! Declared parts: `supplies`, `parts`, `controls`.

use super::build::{Build, NewPart};
use super::grammar::bad_name;
use super::scope::Named;
use super::step::{self, PartText, Wrong, figure_wrong};
use super::tokens;
use super::{PartId, PlaceId};
use crate::diagnostic::{Diagnostic, Span, nearest, quoted, with_article};
use crate::document::{CUT_OFF, Entry, Fields, Text, Value};
use crate::knowledge::Role;
use crate::units::FigureError;
use std::collections::BTreeMap;

/// Which section a declared part stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Section {
    Supplies,
    Parts,
    Controls,
}

impl Build<'_> {
    /// `supplies`, `parts`, `controls`.
    pub(super) fn read_parts(&mut self, entries: &[Entry], section: Section) {
        for entry in entries {
            let placed = self.read_part(entry, section);
            self.declare(&entry.key, placed.map_or(Named::Broken, Named::Part));
        }
    }

    /// A declared part: `{is: kind figures, place: ..., pins: [...], figure: ...}`, or `kind figures at place` alone.
    fn read_part(&mut self, entry: &Entry, section: Section) -> Option<PartId> {
        let name = &entry.key;
        if let Value::Text(text) = &entry.value.value {
            let text = Text { span: entry.value.span, text: text.clone() };
            let part = self.part_of(&text)?;
            return self.declared(name, &text, &part, None, Vec::new(), &[], section);
        }
        let mut fields = Fields::open(&entry.value, "a part", &mut self.report);
        let is = fields.needed_text("is", &mut self.report);
        let place_text = fields.text("place", &mut self.report);
        let place = self.place_of(place_text);
        let pins = fields.texts("pins", &mut self.report);
        let rest = fields.rest();
        let is = is?;
        let part = self.part_of(&is)?;
        self.declared(name, &is, &part, place, pins, &rest, section)
    }

    /// Kind and figures of a declared part.
    pub(super) fn part_of(&mut self, text: &Text) -> Option<PartText> {
        let trimmed = text.text.trim();
        let at = text.text.len() - text.text.trim_start().len();
        let whole = at..at + trimmed.len();
        let found = tokens::tokens(trimmed, at);
        match step::part_text(&found, &whole, &self.kinds) {
            Ok(Some(part)) => Some(part),
            Ok(None) => {
                let known = self.kinds.nearest(trimmed).map(str::to_owned);
                let wrong = Wrong::new("unknown-kind", whole, format!("no kind of part is called {}", quoted(trimmed)));
                self.wrong(
                    text,
                    match known {
                        Some(known) => wrong.hint(format!("did you mean `{known}`?")),
                        None => wrong.hint("the kinds are in `knowledge/parts`, or under `kinds:`"),
                    },
                );
                None
            }
            Err(wrong) => {
                self.wrong(text, wrong);
                None
            }
        }
    }

    #[expect(clippy::too_many_arguments, reason = "the parts of one declaration")]
    fn declared(
        &mut self,
        name: &Text,
        text: &Text,
        part: &PartText,
        place: Option<PlaceId>,
        pins: Vec<Text>,
        rest: &[&Entry],
        section: Section,
    ) -> Option<PartId> {
        let mut figures = self.figures(text, part);
        for entry in rest {
            self.keyed_figure(part, entry, &mut figures);
        }
        let written_place = part.place.as_ref().and_then(|words| {
            let at = text.part(self.source, words.range.start, words.range.end);
            self.place(&words.text, at)
        });
        self.missing_figures(part.kind, &figures, text.span);
        self.fits_section(part, text, section);
        let pins = self.pins(part, name, pins)?;
        Some(self.add_part(NewPart {
            id: name.text.clone(),
            label: name.text.clone(),
            kind: part.kind,
            span: name.span,
            place: place.or(written_place),
            figures,
            pins,
            colour: None,
        }))
    }

    /// A figure under its own key.
    pub(super) fn keyed_figure(&mut self, part: &PartText, entry: &Entry, figures: &mut BTreeMap<String, f64>) {
        let kind = self.kind(part.kind);
        let plain = |key: &str| key.replace(['-', '_'], " ");
        let wanted = plain(&entry.key.text);
        let figure = kind.figures.iter().find(|f| plain(&f.key) == wanted);
        let Some((key, unit)) = figure.map(|f| (f.key.clone(), f.unit)) else {
            let mut known: Vec<String> = kind.figures.iter().map(|f| f.key.clone()).collect();
            let message = format!("{} has no {}", with_article(&kind.name), quoted(&entry.key.text));
            known.extend(["is", "place", "pins"].map(str::to_owned));
            let mut d = Diagnostic::error("unknown-field", entry.key.span, message);
            d = match nearest(&entry.key.text, known.iter().map(String::as_str)) {
                _ if entry.is_cut_off() => d.hint(CUT_OFF),
                Some(near) => d.hint(format!("did you mean `{near}:`?")),
                None => d.hint(format!("it may have {}", known.join(", "))),
            };
            self.report.push(d);
            return;
        };
        if let Value::Text(text) = &entry.value.value {
            let text = Text { span: entry.value.span, text: text.clone() };
            if let Some(value) = self.figure(&text, unit) {
                figures.insert(key, value);
            }
        } else {
            let at = Text { span: entry.value.span, text: String::new() };
            let error = FigureError::NoNumber;
            self.wrong(&at, figure_wrong(&error, 0..0, Some(unit)));
        }
    }

    /// A supply under `supplies:`, a control under `controls:`.
    fn fits_section(&mut self, part: &PartText, text: &Text, section: Section) {
        let kind = self.kind(part.kind);
        let message = match section {
            Section::Supplies if kind.role != Role::Supply => {
                format!("{} delivers nothing: it is no supply", with_article(&kind.name))
            }
            Section::Controls if kind.positions.is_empty() => {
                format!("{} has no positions: nobody can set it", with_article(&kind.name))
            }
            Section::Supplies | Section::Parts | Section::Controls => return,
        };
        let whole = 0..text.text.len();
        let wrong = Wrong::new("wrong-section", whole, message).hint("declare it under `parts:`");
        self.wrong(text, wrong);
    }

    /// The pins of a declared part, each once, where its kind has pins.
    fn pins(&mut self, part: &PartText, name: &Text, pins: Vec<Text>) -> Option<Vec<String>> {
        let kind = self.kind(part.kind);
        let kind_name = kind.name.clone();
        match (kind.per_pin, pins.first()) {
            (true, None) => {
                let message = format!("{} needs its pins named", with_article(&kind_name));
                self.report
                    .push(Diagnostic::error("missing-field", name.span, message).hint("such as `pins: [plus, minus]`"));
                return None;
            }
            (false, Some(first)) => {
                let message = format!("{} has terminals of its own and takes no pins", with_article(&kind_name));
                self.report.push(Diagnostic::error("unknown-field", first.span, message));
            }
            (true, Some(_)) | (false, None) => {}
        }
        Some(self.each_once(pins, "pin"))
    }

    /// Names of pins or cores; one that stands twice, or holds what means something, is an error.
    pub(super) fn each_once(&mut self, names: Vec<Text>, what: &str) -> Vec<String> {
        let mut found: Vec<String> = Vec::with_capacity(names.len());
        let mut seen: BTreeMap<String, Span> = BTreeMap::new();
        for name in names {
            if let Some(message) = bad_name(&name.text) {
                self.report.push(Diagnostic::error("bad-name", name.span, message));
            } else if let Some(earlier) = seen.insert(name.text.clone(), name.span) {
                let message = format!("a second {what} called {}", quoted(&name.text));
                self.report.push(Diagnostic::error("duplicate-name", name.span, message).label(earlier, "first here"));
            } else {
                found.push(name.text);
            }
        }
        found
    }
}
