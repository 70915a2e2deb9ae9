//! Stretches of wire and cores of cables: each stands between two end joints, which are parts of their own.

use super::build::{Build, NewPart};
use super::step::PartText;
use super::{JointOf, PartId, PlaceId, PointId, RunId};
use crate::diagnostic::{Diagnostic, Span, with_article};
use crate::document::Text;
use crate::index::Id;
use crate::knowledge::{KindId, Service};
use std::collections::BTreeMap;

/// A wire or core that was placed; its neighbours and places are filled in later.
#[derive(Clone, Debug)]
pub(super) struct WireJob {
    /// The wire, or the cable.
    pub(super) conductor: PartId,
    /// Its two terminals: where current enters and leaves; a core may still turn out the other way round.
    pub(super) inside: (PointId, PointId),
    /// The end joints; of an end joint the first end is the wire's side, the second the metal of what it is on.
    pub(super) joints: (PartId, PartId),
    /// Outer points of the joints.
    pub(super) outside: (PointId, PointId),
    /// The neighbours' points.
    pub(super) before: Option<PointId>,
    pub(super) after: Option<PointId>,
    /// The run, board or earth that it belongs to, as a person calls it.
    pub(super) title: String,
    /// What sort of wire it is, where it has no colour: an earth wire.
    pub(super) word: Option<String>,
    /// The pin of the cable, for a core.
    pub(super) core: Option<usize>,
    /// The run that passes it.
    pub(super) run: Option<RunId>,
}

/// What a run needs to know of a wire that was placed.
pub(super) struct Placed {
    pub(super) job: usize,
    pub(super) passes: Vec<(Option<PartId>, PointId, PointId)>,
}

impl Build<'_> {
    /// Adds a stretch of wire with its two end joints.
    pub(super) fn add_wire(
        &mut self,
        id: &str,
        title: &str,
        text: &Text,
        wire: &PartText,
        span: Span,
    ) -> Option<Placed> {
        let joint_kind = self.called_for(Service::WireEnd, span)?;
        let figures = self.figures(text, wire);
        self.missing_figures(wire.kind, &figures, span);
        if let Some(place) = &wire.place {
            let at = text.part(self.source, place.range.start, place.range.end);
            self.report.push(
                Diagnostic::error("wire-has-ends", at, "a wire has two ends and no one place")
                    .hint("its ends are where its neighbours are"),
            );
        }
        let id = wire.name.as_ref().map_or(id, |n| n.text.as_str());
        let a = self.add_joint(&format!("{id}.a"), joint_kind, span);
        let conductor = self.add_part(NewPart {
            id: id.to_owned(),
            label: String::new(),
            kind: wire.kind,
            span,
            place: None,
            figures,
            pins: Vec::new(),
            colour: wire.colour.clone(),
        });
        let b = self.add_joint(&format!("{id}.b"), joint_kind, span);
        let inside = self.ends_or_say(conductor, span)?;
        self.place_wire(conductor, inside, (a, b), title, None)
    }

    /// Adds the end joints of a core of `cable`.
    pub(super) fn add_core(&mut self, id: &str, title: &str, cable: PartId, pin: usize, span: Span) -> Option<Placed> {
        let joint_kind = self.called_for(Service::WireEnd, span)?;
        let kind = self.kind(self.part(cable).kind);
        let per_pin = kind.terminals.len();
        let (from, to) = kind.through?;
        let at = |t: usize| self.part(cable).terminals.get(pin * per_pin + t).copied();
        let inside = (at(from)?, at(to)?);
        let a = self.add_joint(&format!("{id}.a"), joint_kind, span);
        let b = self.add_joint(&format!("{id}.b"), joint_kind, span);
        self.place_wire(cable, inside, (a, b), title, Some(pin))
    }

    fn add_joint(&mut self, id: &str, kind: KindId, span: Span) -> PartId {
        self.add_part(NewPart {
            id: id.to_owned(),
            label: String::new(),
            kind,
            span,
            place: None,
            figures: BTreeMap::new(),
            pins: Vec::new(),
            colour: None,
        })
    }

    fn place_wire(
        &mut self,
        conductor: PartId,
        inside: (PointId, PointId),
        joints: (PartId, PartId),
        title: &str,
        core: Option<usize>,
    ) -> Option<Placed> {
        for (joint, first_end) in [(joints.0, true), (joints.1, false)] {
            self.install.parts[joint].joint_of = Some(JointOf { conductor, first_end });
        }
        let (inner_a, outer_a) = self.ends(joints.0)?;
        let (inner_b, outer_b) = self.ends(joints.1)?;
        let job = self.wires.len();
        if core.is_none() {
            *self.wire_counts.entry(title.to_owned()).or_default() += 1;
        }
        self.wires.push(WireJob {
            conductor,
            inside,
            joints,
            outside: (outer_a, outer_b),
            before: None,
            after: None,
            title: title.to_owned(),
            word: None,
            core,
            run: None,
        });
        Some(Placed {
            job,
            passes: vec![
                (Some(joints.0), outer_a, inner_a),
                (Some(conductor), inside.0, inside.1),
                (Some(joints.1), inner_b, outer_b),
            ],
        })
    }

    /// A kind that the grammar itself calls for.
    pub(super) fn called_for(&mut self, service: Service, span: Span) -> Option<KindId> {
        let found = self.install.knowledge.serving(service);
        if found.is_none() {
            self.report.push(Diagnostic::error(
                "unknown-kind",
                span,
                format!("no kind of part says `serves: [{}]`, which this needs", service.says()),
            ));
        }
        found
    }

    /// The ends of a part that a run passes whole.
    pub(super) fn ends_or_say(&mut self, part: PartId, span: Span) -> Option<(PointId, PointId)> {
        let ends = self.ends(part);
        if ends.is_none() {
            let kind = self.kind(self.part(part).kind);
            let names: Vec<String> = kind.terminals.iter().map(|t| format!("`{}`", t.name)).collect();
            let hint = format!("its terminals are {}", names.join(", "));
            let message = format!("{} has no one way through: a path is needed", with_article(&kind.name));
            self.report.push(Diagnostic::error("path-needed", span, message).hint(hint));
        }
        ends
    }

    /// Turns cores round so that the end at each place is the cable's end there, joins joints with conductors, and
    /// gives joints their places. `place_at` says where a point's metal is.
    pub(super) fn finish_wires(&mut self, place_at: &dyn Fn(PointId) -> Option<PlaceId>) {
        let jobs = std::mem::take(&mut self.wires);
        for mut job in jobs.iter().cloned() {
            let mut places = (job.before.and_then(place_at), job.after.and_then(place_at));
            if let (Some(_), Some(ends)) = (job.core, self.cables.get(&job.conductor)) {
                let says = |place: Option<PlaceId>, end: Option<PlaceId>| place.is_some() && place == end;
                let straight = says(places.0, ends.from) || says(places.1, ends.to);
                let turned = says(places.0, ends.to) || says(places.1, ends.from);
                let (at_enter, at_leave) = if turned && !straight {
                    self.turn(&mut job);
                    (ends_of(self, &job).1, ends_of(self, &job).0)
                } else {
                    ends_of(self, &job)
                };
                places = (places.0.or(at_enter), places.1.or(at_leave));
            }
            let (a, b) = job.joints;
            if let (Some((inner_a, _)), Some((inner_b, _))) = (self.ends(a), self.ends(b)) {
                self.join(inner_a, job.inside.0);
                self.join(inner_b, job.inside.1);
            }
            for (joint, place) in [(a, places.0), (b, places.1)] {
                self.install.parts[joint].place = place;
                for point in self.install.parts[joint].terminals.clone() {
                    self.install.points[point].place = place;
                }
            }
            self.label_wire(&job, places);
        }
        self.wires = jobs;
    }

    /// Exchanges the two ends of a core, in the run that passes it too.
    fn turn(&mut self, job: &mut WireJob) {
        let (enter, leave) = job.inside;
        job.inside = (leave, enter);
        let Some(run) = job.run.filter(|r| r.position() < self.install.runs.len()) else {
            return;
        };
        for step in &mut self.install.runs[run].steps {
            if step.1 == enter && step.2 == leave {
                (step.1, step.2) = (leave, enter);
            }
        }
    }

    /// How a person finds a wire and its two ends.
    fn label_wire(&mut self, job: &WireJob, places: (Option<PlaceId>, Option<PlaceId>)) {
        let ends = [(job.before, places.0), (job.after, places.1)].map(|(point, place)| {
            let thing = point.map_or_else(String::new, |p| self.thing(p));
            let place = place.map(|p| self.install.places[p].name.clone());
            (thing, place)
        });
        let [(thing_a, place_a), (thing_b, place_b)] = ends;
        let conductor = self.part(job.conductor);
        let base = if let Some(pin) = job.core {
            let core = conductor.pins.get(pin).map_or("", String::as_str);
            format!("{core} core of \"{}\"", conductor.id)
        } else {
            let id = conductor.id.clone();
            let kind = &self.kind(conductor.kind).name;
            let lead = conductor.colour.as_ref().or(job.word.as_ref());
            let wire = lead.map_or_else(|| kind.clone(), |lead| format!("{lead} {kind}"));
            let base = if self.wire_counts.get(&job.title).is_none_or(|n| *n < 2) {
                format!("{wire} of \"{}\"", job.title)
            } else {
                format!("{wire} from {thing_a} to {thing_b}")
            };
            if self.wire_labels.insert(base.clone()) { base } else { format!("{base} ({id})") }
        };
        if job.core.is_none() {
            self.install.parts[job.conductor].label.clone_from(&base);
        }
        let by_place = place_a.is_some() && place_b.is_some() && place_a != place_b;
        let both = [(job.joints.0, thing_a, place_a), (job.joints.1, thing_b, place_b)];
        for (joint, thing, place) in both {
            let end = if by_place { place.unwrap_or(thing) } else { thing };
            let label = format!("{base}, {end} end");
            let terminals = self.part(joint).terminals.clone();
            let outer = self.ends(joint).map(|(_, outer)| outer);
            for point in terminals {
                self.install.points[point].name =
                    if Some(point) == outer { label.clone() } else { format!("{label}, behind the joint") };
            }
            self.install.parts[joint].label = label;
        }
    }

    /// What a person calls the thing at a point: the part or the junction.
    fn thing(&self, point: PointId) -> String {
        let point = &self.install.points[point];
        let Some((id, _)) = point.of else {
            return point.name.clone();
        };
        let part = self.part(id);
        if part.joint_of.is_some() {
            return "the next wire".to_owned();
        }
        match self.way_of.get(&id) {
            Some(way) => way.clone(),
            // The id of a part without a name is `run/step`; its label says more.
            None if part.id.contains('/') => part.label.clone(),
            None => part.id.clone(),
        }
    }
}

/// The places of the cable's own ends.
fn ends_of(build: &Build<'_>, job: &WireJob) -> (Option<PlaceId>, Option<PlaceId>) {
    build.cables.get(&job.conductor).map_or((None, None), |c| (c.from, c.to))
}
