//! Cables: one part of several named cores; each core that a run takes gets end joints there.

use super::PartId;
use super::build::{Build, CableEnds, NewPart};
use super::scope::Named;
use super::step::PartText;
use crate::diagnostic::{Diagnostic, with_article};
use crate::document::{Entry, Fields, Node, Text, Value};
use crate::knowledge::Service;
use std::collections::BTreeMap;

impl Build<'_> {
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
                kind: self.called_for(Service::Cable, entry.key.span)?,
                range: 0..0,
                figures: Vec::new(),
                name: None,
                place: None,
                colour: None,
            },
        };
        let kind = self.kind(part.kind);
        if !kind.per_pin || kind.through.is_none() {
            let message = format!("{} has no cores", with_article(&kind.name));
            let span = is.map_or(entry.key.span, |t| t.span);
            self.report.push(Diagnostic::error("wrong-section", span, message));
            return None;
        }
        let empty = Text { span: entry.key.span, text: String::new() };
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
        let text = |node: &Node, text: String| Text { span: node.span, text };
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
                        .hint("such as `cores: [brown, blue]`, or `cores: 7` when they are numbered"),
                );
                Vec::new()
            }
        }
    }
}
