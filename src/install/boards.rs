//! Boards: a short way to write repeated ways. Each way becomes ordinary parts (`B.1.fuse`, `B.1.relay`), joins and
//! a run of its own.

use super::build::{Build, Link, NewPart, WayPoints};
use super::grammar::{FUSE_KEY, RELAY_KEY, WAY_COIL, bad_name};
use super::scope::Named;
use super::step;
use super::tokens;
use super::{PartId, PlaceId, PointId, Run};
use crate::diagnostic::{Diagnostic, Span, quoted};
use crate::document::{Entry, Fields, Node, Text, Value};
use crate::knowledge::Service;
use std::collections::BTreeMap;

/// What all ways of a board share.
struct Board {
    name: String,
    span: Span,
    place: Option<PlaceId>,
    live: Option<Text>,
    fuse: Option<Text>,
    relay: Option<Text>,
    minus_switched: bool,
    /// Where the minus sides of the coils meet.
    coil_earth: Option<PointId>,
}

/// What is fitted in a way.
enum Fitted {
    Nothing,
    Part(Text),
}

impl Build<'_> {
    /// `boards`.
    pub(super) fn read_boards(&mut self, entries: &[Entry]) {
        for entry in entries {
            self.declare(&entry.key, Named::Board);
            self.read_board(entry);
        }
    }

    fn read_board(&mut self, entry: &Entry) {
        let mut fields = Fields::open(&entry.value, "a board", &mut self.report);
        let place_text = fields.text("place", &mut self.report);
        let place = self.place_of(place_text);
        let live = fields.text("live", &mut self.report);
        let earth = fields.take("earth").cloned();
        let fuse = fields.text(FUSE_KEY, &mut self.report);
        let relay = fields.text(RELAY_KEY, &mut self.report);
        let switched = fields.text("switched", &mut self.report);
        let minus_switched = self.is_minus(switched);
        let ways = fields.map("ways", &mut self.report);
        if ways.is_empty() {
            self.report.push(
                Diagnostic::error("no-ways", entry.key.span, "this board has no ways")
                    .hint("such as `ways: {1: {fuse: 10 A}}`"),
            );
        }
        fields.finish(&mut self.report);
        let mut board = Board {
            name: entry.key.text.clone(),
            span: entry.key.span,
            place,
            live,
            fuse,
            relay,
            minus_switched,
            coil_earth: None,
        };
        if let Some(earth) = earth {
            board.coil_earth = self.board_earth(&board, &earth);
        }
        for way in ways {
            let named = self.read_way(&board, way);
            let full = format!("{}.{}", board.name, way.key.text);
            self.declare_part(&full, way.key.span, named.map_or(Named::Broken, Named::Way));
        }
    }

    fn is_minus(&mut self, text: Option<Text>) -> bool {
        match text.as_ref().map(|t| t.text.as_str()) {
            Some("minus") => true,
            Some("plus") | None => false,
            Some(other) => {
                let message = format!("{} is neither `plus` nor `minus`", quoted(other));
                let span = text.map_or_else(Span::default, |t| t.span);
                self.report.push(
                    Diagnostic::error("unknown-word", span, message)
                        .hint("it says which side of the coil its control switches"),
                );
                false
            }
        }
    }

    /// The common earth of the coils: `earth: frame`, or `earth: {to: frame, by: 1.5 mm² 1 m}`.
    fn board_earth(&mut self, board: &Board, node: &Node) -> Option<PointId> {
        let name = format!("{}.earth", board.name);
        if let Value::Text(text) = &node.value {
            let joint_kind = self.called_for(Service::WireEnd, board.span)?;
            let to = Text { span: node.span, text: text.clone() };
            let word = self.install.earth_word.clone();
            let joint = self.add_board_part(
                board,
                &name,
                format!("{word} connection of {}", board.name),
                joint_kind,
                BTreeMap::new(),
                node.span,
            );
            self.declare_part(&name, node.span, Named::Part(joint));
            self.scope.touch(&name);
            let (inner, outer) = self.ends_or_say(joint, node.span)?;
            self.links.push(Link { point: outer, to, metal: false, wire: None, feeds: None });
            return Some(inner);
        }
        let mut fields = Fields::open(node, "the earth of a board", &mut self.report);
        let to = fields.needed_text("to", &mut self.report);
        let by = fields.text("by", &mut self.report);
        fields.finish(&mut self.report);
        let word = &self.install.earth_word;
        let stud = self.install.points.push(super::Point {
            name: format!("{word} of {}", board.name),
            of: None,
            place: board.place,
        });
        self.declare_part(&name, node.span, Named::Junction(stud));
        self.lead_away(&name, &board.name, stud, to?, by, node.span)?;
        Some(stud)
    }

    /// A way: `{fuse: 15 A, relay: ..., fed from: ..., switched: minus}`, or its fuse alone.
    fn read_way(&mut self, board: &Board, entry: &Entry) -> Option<usize> {
        let name = format!("{}.{}", board.name, entry.key.text);
        let span = entry.key.span;
        if let Some(message) = bad_name(&entry.key.text) {
            self.report.push(Diagnostic::error("bad-name", span, message));
            return None;
        }
        let (mut fuse, mut relay, mut fed, mut minus) = (None, None, None, board.minus_switched);
        if let Value::Text(text) = &entry.value.value {
            fuse = Some(Text { span: entry.value.span, text: text.clone() });
        } else {
            let mut fields = Fields::open(&entry.value, "a way", &mut self.report);
            fuse = fields.text(FUSE_KEY, &mut self.report).or(fuse);
            relay = fields.text(RELAY_KEY, &mut self.report).or(relay);
            fed = fields.text("fed from", &mut self.report).or(fed);
            if let Some(switched) = fields.text("switched", &mut self.report) {
                minus = self.is_minus(Some(switched));
            }
            fields.finish(&mut self.report);
        }
        let default = |own: Option<Text>, shared: &Option<Text>| {
            // No words at all are figures alone, of the usual kind.
            let text = own.or_else(|| shared.clone()).unwrap_or_else(|| Text { span, text: String::new() });
            if text.text.trim() == "none" { Fitted::Nothing } else { Fitted::Part(text) }
        };
        let fuse = match default(fuse, &board.fuse) {
            Fitted::Nothing => None,
            Fitted::Part(text) => Some(self.way_part(board, &name, FUSE_KEY, Service::WayFuse, &text)?),
        };
        let relay = match default(relay, &board.relay) {
            Fitted::Nothing => None,
            Fitted::Part(text) => Some(self.way_part(board, &name, RELAY_KEY, Service::WayRelay, &text)?),
        };
        if fuse.is_none() && relay.is_none() {
            let message = format!("{} has neither fuse nor relay", quoted(&name));
            self.report.push(Diagnostic::error("empty-way", span, message));
            return None;
        }
        self.wire_way(board, name, span, [fuse, relay], fed, minus)
    }

    /// Joins the parts of a way with one another, the board's live, and the earth of the coils.
    fn wire_way(
        &mut self,
        board: &Board,
        name: String,
        span: Span,
        [fuse, relay]: [Option<PartId>; 2],
        fed: Option<Text>,
        minus: bool,
    ) -> Option<usize> {
        let mut passes = Vec::new();
        for part in [fuse, relay].into_iter().flatten() {
            let (enter, leave) = self.ends_or_say(part, span)?;
            if let Some((_, _, before)) = passes.last() {
                self.join(*before, enter);
            }
            passes.push((Some(part), enter, leave));
            self.way_of.insert(part, name.clone());
        }
        let (_, enter, _) = *passes.first()?;
        let (last, _, output) = *passes.last()?;
        let way = self.ways.len();
        if let Some(to) = fed.or_else(|| board.live.clone()) {
            self.links.push(Link { point: enter, to, metal: false, wire: None, feeds: Some(way) });
        } else {
            let message = format!("nothing feeds {}", quoted(&name));
            self.report.push(
                Diagnostic::error("missing-field", span, message)
                    .hint("give the board `live:`, or the way `fed from:`"),
            );
        }
        let coil = relay.and_then(|r| self.way_coil(board, &name, r, minus, span));
        self.ways.push(WayPoints { name, output: last.map(|part| (part, output)), relay, coil, passes });
        Some(way)
    }

    /// The coil of a way's relay; the side that its control does not switch is joined here.
    fn way_coil(
        &mut self,
        board: &Board,
        name: &str,
        relay: PartId,
        minus: bool,
        span: Span,
    ) -> Option<(PointId, PointId, bool)> {
        let kind = self.kind(self.part(relay).kind);
        let coil = kind.elements.iter().find(|e| e.key == WAY_COIL)?;
        let (plus, other) = (coil.from.clone(), coil.to.clone());
        let plus = self.terminal(relay, &plus)?;
        let other = self.terminal(relay, &other)?;
        if minus {
            if let Some(to) = board.live.clone() {
                self.links.push(Link { point: plus, to, metal: false, wire: None, feeds: None });
            } else {
                let message = format!("nothing feeds the coil of {}", quoted(name));
                self.report.push(Diagnostic::error("missing-field", span, message).hint("give the board `live:`"));
            }
        } else if let Some(earth) = board.coil_earth {
            self.join(other, earth);
        } else {
            let message = format!("the coil of {} has no way back", quoted(name));
            self.report.push(
                Diagnostic::error("missing-field", span, message)
                    .hint("give the board `earth:`, or the way `switched: minus`"),
            );
        }
        Some((plus, other, minus))
    }

    /// The fuse or relay of a way: a kind with figures, or figures alone for the usual kind.
    fn way_part(&mut self, board: &Board, way: &str, key: &str, usual: Service, text: &Text) -> Option<PartId> {
        let words = text.text.trim();
        let at = text.text.len() - text.text.trim_start().len();
        let found = tokens::tokens(words, at);
        let figure = |t: &tokens::Token| matches!(t.kind, tokens::TokenKind::Figure(_));
        let part = if found.iter().all(figure) {
            let kind = self.called_for(usual, text.span)?;
            match step::bare_figures(kind, &found, at..at + words.len(), &self.kinds) {
                Ok(part) => part,
                Err(wrong) => {
                    self.wrong(text, wrong);
                    return None;
                }
            }
        } else {
            self.part_of(text)?
        };
        let figures = self.figures(text, &part);
        self.missing_figures(part.kind, &figures, text.span);
        let id = format!("{way}.{key}");
        let label = format!("{key} of {way}");
        let placed = self.add_board_part(board, &id, label, part.kind, figures, text.span);
        self.declare_part(&id, text.span, Named::Part(placed));
        self.scope.touch(&id);
        Some(placed)
    }

    fn add_board_part(
        &mut self,
        board: &Board,
        id: &str,
        label: String,
        kind: crate::knowledge::KindId,
        figures: BTreeMap<String, f64>,
        span: Span,
    ) -> PartId {
        self.add_part(NewPart {
            id: id.to_owned(),
            label,
            kind,
            span,
            place: board.place,
            figures,
            pins: Vec::new(),
            colour: None,
        })
    }

    /// Declares the dotted name of a piece of a board.
    fn declare_part(&mut self, name: &str, span: Span, what: Named) {
        if let Err(earlier) = self.scope.declare(name, what, span) {
            let message = format!("{} is declared a second time", quoted(name));
            self.report.push(Diagnostic::error("duplicate-name", span, message).label(earlier, "first here"));
        }
    }

    /// Joins what boards, earths and ways lead to, once all names are known; a way becomes a run.
    pub(super) fn finish_links(&mut self) {
        let links = std::mem::take(&mut self.links);
        for link in links {
            let Some(point) = self.point(&link.to, link.metal) else {
                continue;
            };
            if point == link.point {
                self.report.push(Diagnostic::error("self-joined", link.to.span, "this leads back to itself"));
                continue;
            }
            self.join(link.point, point);
            if let Some(wire) = link.wire.and_then(|w| self.wires.get_mut(w)) {
                wire.after = Some(point);
            }
            if let Some(way) = link.feeds.and_then(|w| self.ways.get(w)) {
                let part = self.install.points[point].of.map(|(part, _)| part);
                let mut steps = vec![(part, point, point)];
                steps.extend(&way.passes);
                self.install.runs.push(Run { name: way.name.clone(), steps });
            }
        }
    }
}
