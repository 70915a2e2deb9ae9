//! The sections of an install file, in the order in which they build on one another: title, places, supplies,
//! earths, parts, controls, cables. Boards and runs have files of their own.

use super::build::{Build, CableEnds, Link, NewPart};
use super::grammar::{CABLE, EARTH_JOINT, bad_name};
use super::scope::Named;
use super::step::{self, PartText, Wrong, figure_wrong};
use super::tokens;
use super::{PartId, Place, PlaceId};
use crate::diagnostic::{Diagnostic, Span, nearest, quoted};
use crate::document::{Entry, Fields, Node, Text, Value};
use crate::knowledge::Role;
use crate::units::{Dimension, Minutes, Volts};
use std::collections::BTreeMap;

/// Which section a declared part stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Section {
    Supplies,
    Parts,
    Controls,
}

impl Build<'_> {
    /// `install`, `nominal`, `kind`, `earth is called`.
    pub(super) fn read_head(&mut self, fields: &mut Fields<'_>) {
        if let Some(title) = fields.needed_text("install", &mut self.report) {
            self.install.title = title.text;
        }
        if let Some(text) = fields.needed_text("nominal", &mut self.report)
            && let Some(value) = self.figure(&text, Dimension::Volts)
            && let Ok(volts) = Volts::try_from(value)
        {
            self.install.nominal = volts;
        }
        if let Some(setting) = fields.text("kind", &mut self.report) {
            self.install.setting = setting.text;
        }
        if let Some(word) = fields.text("earth is called", &mut self.report) {
            self.install.earth_word = word.text;
        }
    }

    /// `places`.
    pub(super) fn read_places(&mut self, entries: &[Entry]) {
        for entry in entries {
            if let Some(message) = bad_name(&entry.key.text) {
                let span = entry.key.span;
                self.report
                    .push(Diagnostic::error("bad-name", span, message));
            }
            let mut fields = Fields::open(&entry.value, "a place", &mut self.report);
            let access = fields.text("access", &mut self.report);
            let open = fields.text("open", &mut self.report);
            let (access, open) = (self.minutes(access), self.minutes(open));
            let caution = fields.text("caution", &mut self.report).map(|t| t.text);
            fields.finish(&mut self.report);
            let id = self.install.places.push(Place {
                name: entry.key.text.clone(),
                access,
                open,
                caution,
            });
            self.place_names.insert(entry.key.text.clone(), id);
        }
    }

    fn minutes(&mut self, text: Option<Text>) -> Minutes {
        let value = text.and_then(|t| self.figure(&t, Dimension::Minutes));
        value
            .and_then(|v| Minutes::try_from(v).ok())
            .unwrap_or(Minutes::ZERO)
    }

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
            let text = Text {
                span: entry.value.span,
                text: text.clone(),
            };
            let part = self.part_of(&text)?;
            return self.declared(name, &text, part, None, Vec::new(), &[], section);
        }
        let mut fields = Fields::open(&entry.value, "a part", &mut self.report);
        let is = fields.needed_text("is", &mut self.report);
        let place_text = fields.text("place", &mut self.report);
        let place = self.place_of(place_text);
        let pins = fields.texts("pins", &mut self.report);
        let rest = fields.rest();
        let is = is?;
        let part = self.part_of(&is)?;
        self.declared(name, &is, part, place, pins, &rest, section)
    }

    /// Kind and figures of a declared part.
    fn part_of(&mut self, text: &Text) -> Option<PartText> {
        let trimmed = text.text.trim();
        let at = text.text.len() - text.text.trim_start().len();
        let whole = at..at + trimmed.len();
        let found = tokens::tokens(trimmed, at);
        match step::part_text(&found, &whole, &self.kinds) {
            Ok(Some(part)) => Some(part),
            Ok(None) => {
                let known = self.kinds.nearest(trimmed).map(str::to_owned);
                let wrong = Wrong::new(
                    "unknown-kind",
                    whole,
                    format!("no kind of part is called {}", quoted(trimmed)),
                );
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
        part: PartText,
        place: Option<PlaceId>,
        pins: Vec<Text>,
        rest: &[&Entry],
        section: Section,
    ) -> Option<PartId> {
        let mut figures = self.figures(text, &part);
        for entry in rest {
            self.keyed_figure(&part, entry, &mut figures);
        }
        let written_place = part.place.as_ref().and_then(|words| {
            let at = text.part(self.source, words.range.start, words.range.end);
            self.place(&words.text, at)
        });
        self.missing_figures(part.kind, &figures, text.span);
        self.fits_section(&part, text, section);
        let pins = self.pins(&part, name, pins)?;
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
    fn keyed_figure(
        &mut self,
        part: &PartText,
        entry: &Entry,
        figures: &mut BTreeMap<String, f64>,
    ) {
        let kind = self.kind(part.kind);
        let plain = |key: &str| key.replace(['-', '_'], " ");
        let wanted = plain(&entry.key.text);
        let figure = kind.figures.iter().find(|f| plain(&f.key) == wanted);
        let Some((key, unit)) = figure.map(|f| (f.key.clone(), super::kinds::dimension(f.unit)))
        else {
            let mut known: Vec<String> = kind.figures.iter().map(|f| f.key.clone()).collect();
            let message = format!("a {} has no {}", kind.name, quoted(&entry.key.text));
            known.extend(["is", "place", "pins"].map(str::to_owned));
            let mut d = Diagnostic::error("unknown-field", entry.key.span, message);
            d = match nearest(&entry.key.text, known.iter().map(String::as_str)) {
                Some(near) => d.hint(format!("did you mean `{near}:`?")),
                None => d.hint(format!("it may have {}", known.join(", "))),
            };
            self.report.push(d);
            return;
        };
        if let Value::Text(text) = &entry.value.value {
            let text = Text {
                span: entry.value.span,
                text: text.clone(),
            };
            if let Some(value) = self.figure(&text, unit) {
                figures.insert(key, value);
            }
        } else {
            let at = Text {
                span: entry.value.span,
                text: String::new(),
            };
            let error = crate::units::FigureError::NoNumber;
            self.wrong(&at, figure_wrong(&error, 0..0, Some(unit)));
        }
    }

    /// A supply under `supplies:`, a control under `controls:`.
    fn fits_section(&mut self, part: &PartText, text: &Text, section: Section) {
        let kind = self.kind(part.kind);
        let message = match section {
            Section::Supplies if kind.role != Role::Supply => {
                format!("a {} delivers nothing: it is no supply", kind.name)
            }
            Section::Controls if kind.positions.is_empty() => {
                format!("a {} has no positions: nobody can set it", kind.name)
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
                let message = format!("a {kind_name} needs its pins named");
                self.report.push(
                    Diagnostic::error("missing-field", name.span, message)
                        .hint("such as `pins: [plus, minus]`"),
                );
                return None;
            }
            (false, Some(first)) => {
                let message = format!("a {kind_name} has terminals of its own and takes no pins");
                self.report
                    .push(Diagnostic::error("unknown-field", first.span, message));
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
                self.report
                    .push(Diagnostic::error("bad-name", name.span, message));
            } else if let Some(earlier) = seen.insert(name.text.clone(), name.span) {
                let message = format!("a second {what} called {}", quoted(&name.text));
                self.report.push(
                    Diagnostic::error("duplicate-name", name.span, message)
                        .label(earlier, "first here"),
                );
            } else {
                found.push(name.text);
            }
        }
        found
    }

    /// `cables`.
    pub(super) fn read_cables(&mut self, entries: &[Entry]) {
        for entry in entries {
            let placed = self.read_cable(entry);
            self.declare(&entry.key, placed.map_or(Named::Broken, Named::Cable));
        }
    }

    fn read_cable(&mut self, entry: &Entry) -> Option<PartId> {
        let mut fields = Fields::open(&entry.value, "a cable", &mut self.report);
        let is = fields.text("is", &mut self.report);
        let cores_node = fields.needed("cores", &mut self.report);
        let cores = cores_node.map_or_else(Vec::new, |node| self.core_names(node));
        let from_text = fields.text("from", &mut self.report);
        let from = self.place_of(from_text);
        let to_text = fields.text("to", &mut self.report);
        let to = self.place_of(to_text);
        let rest = fields.rest();
        let part = match &is {
            Some(text) => self.part_of(text)?,
            None => PartText {
                kind: self.called_for(CABLE, entry.key.span)?,
                range: 0..0,
                figures: Vec::new(),
                name: None,
                place: None,
                colour: None,
            },
        };
        let kind = self.kind(part.kind);
        if !kind.per_pin || kind.through.is_none() {
            let message = format!("a {} has no cores", kind.name);
            let span = is.map_or(entry.key.span, |t| t.span);
            self.report
                .push(Diagnostic::error("wrong-section", span, message));
            return None;
        }
        let empty = Text {
            span: entry.key.span,
            text: String::new(),
        };
        let mut figures = self.figures(is.as_ref().unwrap_or(&empty), &part);
        for entry in rest {
            self.keyed_figure(&part, entry, &mut figures);
        }
        self.missing_figures(part.kind, &figures, entry.key.span);
        let pins = self.each_once(cores, "core");
        let id = self.add_part(NewPart {
            id: entry.key.text.clone(),
            label: format!("cable \"{}\"", entry.key.text),
            kind: part.kind,
            span: entry.key.span,
            place: None,
            figures,
            pins,
            colour: None,
        });
        let used = BTreeMap::new();
        self.cables.insert(id, CableEnds { from, to, used });
        Some(id)
    }

    /// The cores of a cable: `[brown, blue]`, or a number: then they are numbered.
    fn core_names(&mut self, node: &Node) -> Vec<Text> {
        let text = |node: &Node, text: String| Text {
            span: node.span,
            text,
        };
        match &node.value {
            Value::List(items) => {
                let mut found = Vec::new();
                for item in items {
                    match item.as_text() {
                        Some(name) => found.push(text(item, name.to_owned())),
                        None => self.report.push(Diagnostic::error(
                            "wrong-form",
                            item.span,
                            "a core is named by its colour or mark",
                        )),
                    }
                }
                found
            }
            Value::Text(count) if count.parse().is_ok_and(|n: usize| (1..=200).contains(&n)) => {
                let n: usize = count.parse().unwrap_or(0);
                (1..=n).map(|i| text(node, i.to_string())).collect()
            }
            Value::Text(_) | Value::Nothing | Value::Map(_) => {
                self.report.push(
                    Diagnostic::error("wrong-form", node.span, "the cores are a list of names")
                        .hint(
                            "such as `cores: [brown, blue]`, or `cores: 7` when they are numbered",
                        ),
                );
                Vec::new()
            }
        }
    }

    /// `earths`: each is a joint where loads land, and a conductor that leads on from its metal.
    pub(super) fn read_earths(&mut self, entries: &[Entry]) {
        for entry in entries {
            let placed = self.read_earth(entry);
            self.declare(&entry.key, placed.map_or(Named::Broken, Named::Earth));
        }
    }

    fn read_earth(&mut self, entry: &Entry) -> Option<PartId> {
        let name = &entry.key;
        let mut fields = Fields::open(&entry.value, "an earth", &mut self.report);
        let to = fields.needed_text("to", &mut self.report);
        let by = fields.text("by", &mut self.report);
        let place_text = fields.text("place", &mut self.report);
        let place = self.place_of(place_text);
        fields.finish(&mut self.report);
        let kind = self.called_for(EARTH_JOINT, name.span)?;
        let word = self.install.earth_word.clone();
        let joint = self.add_part(NewPart {
            id: name.text.clone(),
            label: format!("{word} point \"{}\"", name.text),
            kind,
            span: name.span,
            place,
            figures: BTreeMap::new(),
            pins: Vec::new(),
            colour: None,
        });
        let (outer, inner) = self.ends_or_say(joint, name.span)?;
        self.install.points[outer].name.clone_from(&name.text);
        self.install.points[inner].name = format!("{}, bare metal", name.text);
        if let Some(to) = to {
            self.lead_away(&name.text, inner, to, by, name.span);
        }
        Some(joint)
    }

    /// Leads a conductor `by` (left out: a wire of which nothing is known) from `start` to what `to` names.
    pub(super) fn lead_away(
        &mut self,
        name: &str,
        start: super::PointId,
        to: Text,
        by: Option<Text>,
        span: Span,
    ) -> Option<()> {
        let id = format!("{name}/1");
        let by = by.unwrap_or_else(|| Text {
            span,
            text: super::grammar::WIRE.to_owned(),
        });
        let words = by.text.trim();
        let words = words.strip_prefix("by ").unwrap_or(words);
        let at = by.text.find(words).unwrap_or(0);
        let read = step::conductor(words, at, &self.kinds).map(|(part, _)| part);
        let part = match read {
            Ok(part) => part,
            Err(wrong) => {
                self.wrong(&by, wrong);
                return None;
            }
        };
        if Some(part.kind) == self.kinds.wire() {
            let placed = self.add_wire(&id, name, &by, &part, by.span)?;
            let (enter, leave) = self.wires.get(placed.job)?.outside;
            let word = self.install.earth_word.clone();
            let job = self.wires.get_mut(placed.job)?;
            (job.before, job.word) = (Some(start), Some(word));
            self.join(start, enter);
            self.links.push(Link {
                point: leave,
                to,
                metal: false,
                wire: Some(placed.job),
                feeds: None,
            });
        } else {
            self.conducts(&by, &part)?;
            let conductor = self.add_written(&id, name, &by, &part)?;
            let (enter, leave) = self.ends_or_say(conductor, by.span)?;
            self.join(start, enter);
            self.links.push(Link {
                point: leave,
                to,
                metal: true,
                wire: None,
                feeds: None,
            });
        }
        Some(())
    }

    /// What stands behind `by` must be a conductor.
    pub(super) fn conducts(&mut self, text: &Text, part: &PartText) -> Option<()> {
        let kind = self.kind(part.kind);
        if kind.role == Role::Conductor {
            return Some(());
        }
        let message = format!("a {} is no conductor", kind.name);
        let wrong = Wrong::new("wrong-section", part.range.clone(), message)
            .hint("behind `by` stands a wire, a frame, a strap");
        self.wrong(text, wrong);
        None
    }
}
