//! The last steps: where junctions are, wires and their joints, the earth that faults short to, and what is doubtful.

use super::build::Build;
use super::scope::Named;
use super::{Install, PartId, PlaceId, PointId};
use crate::diagnostic::{Diagnostic, Report, Span, quoted};
use crate::document::Node;
use crate::index::Id;
use crate::knowledge::{PrimitiveSpec, Role};
use std::collections::{BTreeMap, BTreeSet};

/// Points in sets that are one metal.
pub(super) struct Metal {
    up: Vec<usize>,
}

impl Metal {
    pub(super) fn new(points: usize, joins: &[(PointId, PointId)]) -> Self {
        let mut metal = Self { up: (0..points).collect() };
        for (a, b) in joins {
            let (a, b) = (metal.root(a.position()), metal.root(b.position()));
            // The smaller number stands for the set: the result does not depend on the order of joins.
            if let Some(up) = metal.up.get_mut(a.max(b)) {
                *up = a.min(b);
            }
        }
        metal
    }

    /// The point that stands for the set of `point`.
    pub(super) fn root(&mut self, point: usize) -> usize {
        let mut at = point;
        while let Some(up) = self.up.get(at).copied().filter(|up| *up != at) {
            let above = self.up.get(up).copied().unwrap_or(up);
            if let Some(slot) = self.up.get_mut(at) {
                *slot = above;
            }
            at = above;
        }
        at
    }
}

impl Build<'_> {
    /// Finishes the install.
    pub(super) fn finish(mut self, document: &Node) -> Result<(Install, Report), Report> {
        self.earth_circles(document);
        self.place_junctions();
        self.need_supply(document.span);
        self.find_earth();
        if !self.report.has_errors() {
            self.self_joined();
            self.doubts();
            self.unreached();
        }
        if self.report.has_errors() { Err(self.report) } else { Ok((self.install, self.report)) }
    }

    /// Gives junctions the place of the parts that are joined to them, and wires their ends.
    fn place_junctions(&mut self) {
        let mut metal = Metal::new(self.install.points.len(), &self.install.joins);
        let mut places: BTreeMap<usize, BTreeSet<Option<PlaceId>>> = BTreeMap::new();
        let roots: Vec<usize> = (0..self.install.points.len()).map(|p| metal.root(p)).collect();
        for (id, point) in self.install.points.enumerate() {
            let Some(root) = roots.get(id.position()) else {
                continue;
            };
            if point.place.is_some() {
                places.entry(*root).or_default().insert(point.place);
            }
        }
        let place_at: Vec<Option<PlaceId>> = roots
            .iter()
            .map(|root| {
                let all = places.get(root).filter(|all| all.len() == 1)?;
                all.first().copied().flatten()
            })
            .collect();
        let place_at = |p: PointId| place_at.get(p.position()).copied().flatten();
        for (at, point) in self.install.points.iter_mut().enumerate() {
            if point.of.is_none() && point.place.is_none() {
                point.place = place_at(PointId::new(at));
            }
        }
        self.finish_wires(&place_at);
    }

    /// Earths that lead in a circle lead nowhere.
    fn earth_circles(&mut self, document: &Node) {
        let earths = document.get("earths").and_then(Node::as_map).unwrap_or(&[]);
        let next: BTreeMap<&str, &Node> =
            earths.iter().filter_map(|e| Some((e.key.text.as_str(), e.value.get("to")?))).collect();
        let mut said: BTreeSet<&str> = BTreeSet::new();
        for entry in earths {
            let mut path: Vec<&str> = Vec::new();
            let mut seen: BTreeSet<&str> = BTreeSet::new();
            let mut at = entry.key.text.as_str();
            while let Some(to) = next.get(at) {
                if said.contains(at) {
                    break;
                }
                if !seen.insert(at) {
                    let circle = path.iter().skip_while(|p| **p != at).copied();
                    let names: Vec<String> = circle.map(quoted).collect();
                    let message = format!("these earths lead in a circle: {}", names.join(" to "));
                    self.report.push(
                        Diagnostic::error("earth-circle", entry.key.span, message)
                            .hint("one of them leads to the minus of a supply"),
                    );
                    said.extend(&seen);
                    break;
                }
                path.push(at);
                let Some(name) = to.as_text() else { break };
                at = name.trim();
            }
            said.extend(path);
        }
    }

    fn need_supply(&mut self, span: Span) {
        let kinds = &self.install.knowledge.kinds;
        let mut parts = self.install.parts.iter();
        if !self.report.has_errors() && !parts.any(|p| kinds[p.kind].role == Role::Supply) {
            let start = Span { len: 0, ..span };
            self.report.push(
                Diagnostic::error("no-supply", start, "nothing supplies this install")
                    .hint("such as `supplies: {battery: {is: lead-acid battery}}`"),
            );
        }
    }

    /// The metal of the first earth; without one, the minus of the first supply.
    fn find_earth(&mut self) {
        let earths = self.scope.iter().filter_map(|(_, d)| match d.what {
            Named::Earth(part) => Some((d.span.offset, part)),
            _ => None,
        });
        let first = earths.min().and_then(|(_, part)| self.ends(part));
        if let Some((_, inner)) = first {
            self.install.earth = inner;
            return;
        }
        let supply = self.install.parts.enumerate().find_map(|(id, part)| {
            let kind = self.kind(part.kind);
            let source = kind.elements.iter().find(|e| matches!(e.primitive, PrimitiveSpec::Source { .. }))?;
            (kind.role == Role::Supply).then_some((id, source.to.clone()))
        });
        if let Some(minus) = supply.and_then(|(id, name)| self.terminal(id, &name)) {
            self.install.earth = minus;
        }
    }

    /// Parts whose two ends are one metal: nothing ever flows through them.
    fn self_joined(&mut self) {
        let mut metal = Metal::new(self.install.points.len(), &self.install.joins);
        let parts: Vec<PartId> = self.install.parts.ids().collect();
        for id in parts {
            if self.part(id).joint_of.is_some() || self.kind(self.part(id).kind).per_pin {
                continue;
            }
            let Some((a, b)) = self.ends(id) else {
                continue;
            };
            if a != b && metal.root(a.position()) == metal.root(b.position()) {
                let label = self.part(id).label.clone();
                let message = format!("both ends of {} are joined to each other", quoted(&label));
                let span = self.part_spans[id];
                self.report.push(Diagnostic::error("self-joined", span, message));
            }
        }
    }

    /// Warnings: loads that no plus, or no minus, of any supply can reach, however all switches stand.
    fn unreached(&mut self) {
        let wiring = self.install.wiring();
        let mut found = Vec::new();
        for load in wiring.loads() {
            let Some((enter, leave)) = wiring.ends(load) else {
                continue;
            };
            let label = quoted(&self.part(load).label);
            let (code, message, hint) = if !wiring.reaches(enter, true) {
                ("no-feed", format!("nothing feeds {label}"), "no run leads from the plus of a supply to it")
            } else if !wiring.reaches(leave, false) {
                ("no-return", format!("{label} has no way back"), "no run leads from it to the minus of a supply")
            } else {
                continue;
            };
            found.push(Diagnostic::warning(code, self.part_spans[load], message).hint(hint));
        }
        for warning in found {
            self.report.push(warning);
        }
    }

    /// Warnings: what is declared and never used, junctions that join nothing.
    fn doubts(&mut self) {
        let mut touches: BTreeMap<PointId, usize> = BTreeMap::new();
        for (a, b) in &self.install.joins {
            *touches.entry(*a).or_default() += 1;
            *touches.entry(*b).or_default() += 1;
        }
        let mut found = Vec::new();
        for (name, declared) in self.scope.iter() {
            let (code, message) = match declared.what {
                Named::Part(part) => {
                    let mut terminals = self.part(part).terminals.iter();
                    if declared.used > 0 || terminals.any(|t| touches.contains_key(t)) {
                        continue;
                    }
                    ("unused-part", format!("{} is in no run", quoted(name)))
                }
                Named::Earth(part) => {
                    let outer = self.ends(part).map(|(outer, _)| outer);
                    let lands = outer.is_some_and(|o| touches.contains_key(&o));
                    if lands || declared.used > 0 {
                        continue;
                    }
                    ("unused-part", format!("nothing lands on {}", quoted(name)))
                }
                Named::Cable(part) => {
                    if self.cables.get(&part).is_some_and(|c| !c.used.is_empty()) {
                        continue;
                    }
                    ("unused-part", format!("no core of {} is in a run", quoted(name)))
                }
                Named::Junction(point) => {
                    if touches.get(&point).is_some_and(|n| *n > 1) {
                        continue;
                    }
                    let message = format!("only one thing touches the junction {}", quoted(name));
                    ("lone-junction", message)
                }
                Named::Way(_) | Named::Board | Named::Broken => continue,
            };
            found.push(Diagnostic::warning(code, declared.span, message));
        }
        for (span, point) in &self.run_ends {
            let Some((part, _)) = self.install.points[*point].of.filter(|_| !touches.contains_key(point)) else {
                continue;
            };
            let message = format!("nothing is joined to this end of {}", quoted(&self.part(part).label));
            found.push(
                Diagnostic::warning("loose-end", *span, message)
                    .hint("a run goes on to an earth, a junction or a terminal"),
            );
        }
        for warning in found {
            self.report.push(warning);
        }
    }
}
