//! Runs: lines of text that follow the current, resolved step by step.

use super::build::{Build, NewPart};
use super::grammar::MOST_PARTS;
use super::paths::Mentioned;
use super::run_text::RunText;
use super::scope::Named;
use super::step::{self, PartText, Step, Words, Wrong};
use super::tokens;
use super::{PartId, PointId, Run, RunId};
use crate::diagnostic::{Diagnostic, Span, quoted, with_article};
use crate::document::Text;
use crate::index::Id;
use crate::knowledge::Service;
use std::ops::Range;

/// A run whose parts are placed and whose names are still to be looked up.
pub(super) struct Draft {
    name: Text,
    text: Text,
    steps: Vec<Option<Drafted>>,
}

/// A step on its way.
enum Drafted {
    /// Points known.
    Known {
        range: Range<usize>,
        enter: PointId,
        leave: PointId,
        passes: Vec<(Option<PartId>, PointId, PointId)>,
        job: Option<usize>,
    },
    /// A name to be looked up.
    Name(Words),
}

impl Build<'_> {
    /// Places all parts and wires that are written in runs.
    pub(super) fn place_runs(&mut self, runs: Vec<RunText>) -> Vec<Draft> {
        let mut drafts = Vec::new();
        for RunText { name, text } in runs {
            if self.install.parts.len() > MOST_PARTS {
                let message = format!("more than {MOST_PARTS} parts are not read");
                self.report.push(Diagnostic::error("too-much", name.span, message));
                break;
            }
            let pieces: Vec<(usize, String)> =
                tokens::steps(&text.text).into_iter().map(|(at, s)| (at, s.to_owned())).collect();
            if pieces.len() < 2 {
                self.report.push(
                    Diagnostic::error("one-step", text.span, "a run of one step joins nothing")
                        .hint("steps are divided by `|`"),
                );
            }
            let mut steps = Vec::with_capacity(pieces.len());
            for (number, (at, piece)) in pieces.iter().enumerate() {
                let id = format!("{}/{}", name.text, number + 1);
                steps.push(self.place_step(&id, &name.text, &text, *at, piece));
            }
            drafts.push(Draft { name, text, steps });
        }
        drafts
    }

    fn place_step(&mut self, id: &str, title: &str, text: &Text, at: usize, piece: &str) -> Option<Drafted> {
        let read = {
            let scope = &self.scope;
            // A path's head counts as a name, as does a lone head with a wrong rest.
            step::read(piece, at, &self.kinds, &|s| scope.split(s).is_some())
        };
        let step = match read {
            Ok(step) => step,
            Err(wrong) => {
                self.wrong(text, wrong);
                return None;
            }
        };
        match step {
            Step::Mention(words) => self.place_mention(id, title, text, words),
            Step::Make(words) => {
                let declared = self.scope.get(&words.text)?;
                let Named::Junction(point) = declared.what else {
                    return None;
                };
                Some(Drafted::Known {
                    range: words.range,
                    enter: point,
                    leave: point,
                    passes: vec![(None, point, point)],
                    job: None,
                })
            }
            Step::Part(part) | Step::By(part) => {
                if piece.starts_with("by ") {
                    self.conducts(text, &part)?;
                }
                let placed = self.add_written(id, title, text, &part)?;
                let span = text.part(self.source, part.range.start, part.range.end);
                let (enter, leave) = self.ends_or_say(placed, span)?;
                Some(Drafted::Known {
                    range: part.range,
                    enter,
                    leave,
                    passes: vec![(Some(placed), enter, leave)],
                    job: None,
                })
            }
            Step::Wire(wire) => {
                let span = text.part(self.source, wire.range.start, wire.range.end);
                let placed = self.add_wire(id, title, text, &wire, span)?;
                if let Some(name) = &wire.name {
                    let part = self.wires.get(placed.job).map(|j| j.conductor)?;
                    self.scope.settle(&name.text, Named::Part(part));
                }
                self.wire_step(wire.range, placed)
            }
        }
    }

    /// Cores get their joints now, so that parts stay in the order of the file; other names wait.
    fn place_mention(&mut self, id: &str, title: &str, text: &Text, words: Words) -> Option<Drafted> {
        let is_cable = self
            .scope
            .split(&words.text)
            .and_then(|(head, _)| self.scope.get(head))
            .is_some_and(|d| matches!(d.what, Named::Cable(_)));
        if !is_cable {
            return Some(Drafted::Name(words));
        }
        let span = text.part(self.source, words.range.start, words.range.end);
        match self.mention(&words.text, words.range.clone()) {
            Ok(Mentioned::Core(cable, pin)) => {
                self.use_core(cable, pin, span);
                let placed = self.add_core(id, title, cable, pin, span)?;
                self.wire_step(words.range, placed)
            }
            Ok(_) => None,
            Err(wrong) => {
                self.wrong(text, wrong);
                None
            }
        }
    }

    fn use_core(&mut self, cable: PartId, pin: usize, span: Span) {
        let name = {
            let part = self.part(cable);
            let core = part.pins.get(pin).map_or("", String::as_str);
            format!("{}.{core}", part.id)
        };
        let Some(ends) = self.cables.get_mut(&cable) else {
            return;
        };
        if let Some(earlier) = ends.used.insert(pin, span) {
            let message = format!("{} is used a second time", quoted(&name));
            self.report.push(
                Diagnostic::warning("core-used-twice", span, message)
                    .label(earlier, "first here")
                    .hint("a core has two ends; both uses are joined to them"),
            );
        }
    }

    fn wire_step(&mut self, range: Range<usize>, placed: super::wires::Placed) -> Option<Drafted> {
        let (enter, leave) = self.wires.get(placed.job)?.outside;
        Some(Drafted::Known { range, enter, leave, passes: placed.passes, job: Some(placed.job) })
    }

    /// Adds a part that is written in a run, or behind `by:`.
    pub(super) fn add_written(&mut self, id: &str, title: &str, text: &Text, part: &PartText) -> Option<PartId> {
        let span = text.part(self.source, part.range.start, part.range.end);
        let kind = self.kind(part.kind);
        if kind.per_pin || kind.serves.contains(&Service::Cable) {
            let message = format!("{} is declared with its pins, not in a run", with_article(&kind.name));
            self.report.push(Diagnostic::error("declare-first", span, message));
            return None;
        }
        let kind_name = kind.name.clone();
        let figures = self.figures(text, part);
        self.missing_figures(part.kind, &figures, span);
        let place = part.place.as_ref().and_then(|words| {
            let at = text.part(self.source, words.range.start, words.range.end);
            self.place(&words.text, at)
        });
        let (id, label) = match &part.name {
            Some(name) => (name.text.clone(), name.text.clone()),
            None => (id.to_owned(), format!("{kind_name} of \"{title}\"")),
        };
        let placed =
            self.add_part(NewPart { id, label, kind: part.kind, span, place, figures, pins: Vec::new(), colour: None });
        if let Some(name) = &part.name {
            self.scope.settle(&name.text, Named::Part(placed));
        }
        Some(placed)
    }

    /// Looks up the names in a run, joins its steps and adds it.
    pub(super) fn finish_run(&mut self, draft: Draft) {
        let id = RunId::new(self.install.runs.len());
        let mut run = Run { name: draft.name.text.clone(), steps: Vec::new() };
        let mut last: Option<(PointId, Option<usize>)> = None;
        let mut first: Option<PointId> = None;
        let count = draft.steps.len();
        for (number, step) in draft.steps.into_iter().enumerate() {
            let Some((range, enter, leave, passes, job)) = step.and_then(|s| self.resolve(&draft.text, s)) else {
                last = None;
                continue;
            };
            if let Some((before, before_job)) = last {
                if before == enter {
                    let wrong =
                        Wrong::new("self-joined", range.clone(), "this step stands where the one before it ends");
                    self.wrong(&draft.text, wrong);
                } else {
                    self.join(before, enter);
                }
                if let Some(wire) = job.and_then(|j| self.wires.get_mut(j)) {
                    wire.before = Some(before);
                }
                if let Some(wire) = before_job.and_then(|j| self.wires.get_mut(j)) {
                    wire.after = Some(enter);
                }
            }
            if let Some(wire) = job.and_then(|j| self.wires.get_mut(j)) {
                wire.run = Some(id);
                if count > 1 && (number == 0 || number + 1 == count) {
                    let wrong = Wrong::new("loose-wire", range.clone(), "this wire ends at nothing")
                        .hint("a run starts and ends at a part, a junction or an earth");
                    self.wrong(&draft.text, wrong);
                }
            }
            let span = draft.text.part(self.source, range.start, range.end);
            if number == 0 {
                self.run_ends.push((span, enter));
            }
            if number + 1 == count {
                self.run_ends.push((span, leave));
            }
            if number == 0 {
                first = Some(enter);
            } else if number + 1 == count && first == Some(leave) {
                let wrong = Wrong::new("self-joined", range, "this run ends at the point where it starts");
                self.wrong(&draft.text, wrong);
            }
            last = Some((leave, job));
            run.steps.extend(passes);
        }
        self.install.runs.push(run);
    }

    #[expect(clippy::type_complexity, reason = "the fields of one drafted step")]
    fn resolve(
        &mut self,
        text: &Text,
        step: Drafted,
    ) -> Option<(Range<usize>, PointId, PointId, Vec<(Option<PartId>, PointId, PointId)>, Option<usize>)> {
        let words = match step {
            Drafted::Known { range, enter, leave, passes, job } => return Some((range, enter, leave, passes, job)),
            Drafted::Name(words) => words,
        };
        let range = words.range.clone();
        match self.mention(&words.text, range.clone()) {
            Ok(Mentioned::Path(path)) => {
                let passes = vec![(path.part, path.enter, path.leave)];
                Some((range, path.enter, path.leave, passes, None))
            }
            Ok(Mentioned::Earth { joint, outer, .. }) => {
                let passes = vec![(Some(joint), outer, outer)];
                Some((range, outer, outer, passes, None))
            }
            Ok(Mentioned::Core(..) | Mentioned::Broken) => None,
            Err(wrong) => {
                self.wrong(text, wrong);
                None
            }
        }
    }
}
