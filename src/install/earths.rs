//! Earths: each is a joint where loads land, and a conductor that leads on from its metal.

use super::build::{Build, Link, NewPart};
use super::scope::Named;
use super::step::{self, PartText, Wrong};
use super::{PartId, PointId};
use crate::diagnostic::{Span, with_article};
use crate::document::{Entry, Fields, Text};
use crate::knowledge::{Role, Service};
use std::collections::BTreeMap;

impl Build<'_> {
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
        let kind = self.called_for(Service::EarthPoint, name.span)?;
        let word = self.install.earth_word.clone();
        let joint = self.add_part(NewPart {
            id: name.text.clone(),
            label: format!("{word} \"{}\"", name.text),
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
            self.lead_away(&name.text, &name.text, inner, to, by, name.span);
        }
        Some(joint)
    }

    /// Leads a conductor `by` away, with parts called `name/1` and, on the screen, after `title`: `by` (left out: a wire of which nothing is known) from `start` to what `to` names.
    pub(super) fn lead_away(
        &mut self,
        name: &str,
        title: &str,
        start: PointId,
        to: Text,
        by: Option<Text>,
        span: Span,
    ) -> Option<()> {
        let id = format!("{name}/1");
        let by = if let Some(by) = by {
            by
        } else {
            let wire = self.called_for(Service::Wire, span)?;
            Text { span, text: self.kind(wire).name.clone() }
        };
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
            let placed = self.add_wire(&id, title, &by, &part, by.span)?;
            let (enter, leave) = self.wires.get(placed.job)?.outside;
            let word = self.install.earth_word.clone();
            let job = self.wires.get_mut(placed.job)?;
            (job.before, job.word) = (Some(start), Some(word));
            self.join(start, enter);
            self.links.push(Link { point: leave, to, metal: false, wire: Some(placed.job), feeds: None });
        } else {
            self.conducts(&by, &part)?;
            let conductor = self.add_written(&id, title, &by, &part)?;
            let (enter, leave) = self.ends_or_say(conductor, by.span)?;
            self.join(start, enter);
            self.links.push(Link { point: leave, to, metal: true, wire: None, feeds: None });
        }
        Some(())
    }

    /// What stands behind `by` must be a conductor.
    pub(super) fn conducts(&mut self, text: &Text, part: &PartText) -> Option<()> {
        let kind = self.kind(part.kind);
        if kind.role == Role::Conductor {
            return Some(());
        }
        let message = format!("{} is no conductor", with_article(&kind.name));
        let wrong = Wrong::new("wrong-section", part.range.clone(), message)
            .hint("behind `by` stands a wire, a frame, a strap");
        self.wrong(text, wrong);
        None
    }
}
