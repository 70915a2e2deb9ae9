//! What a name in a run, or behind `to:` and `live:`, stands for: points and the parts between them.

use super::build::Build;
use super::scope::Named;
use super::step::Wrong;
use super::{PartId, PointId};
use crate::diagnostic::{nearest, quoted};
use crate::document::Text;
use crate::knowledge::Kind;
use std::ops::Range;

/// A path: where current enters and leaves, and the part between.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Path {
    pub(super) part: Option<PartId>,
    pub(super) enter: PointId,
    pub(super) leave: PointId,
}

/// What a mention turns out to be.
pub(super) enum Mentioned {
    /// A path.
    Path(Path),
    /// An earth: its joint; loads land outside, frames inside.
    Earth { joint: PartId, outer: PointId, inner: PointId },
    /// A core of a cable.
    Core(PartId, usize),
    /// Something that was said to be wrong before.
    Broken,
}

impl Build<'_> {
    /// Resolves `words`, which stand at `range` of a text.
    pub(super) fn mention(&mut self, words: &str, range: Range<usize>) -> Result<Mentioned, Wrong> {
        let Some((head, rest)) = self.scope.split(words) else {
            return Err(self.unknown(words, range));
        };
        let rest_at = range.end - rest.len()..range.end;
        self.scope.touch(head);
        let what = self.scope.get(head).map_or(Named::Broken, |d| d.what);
        match what {
            Named::Broken => Ok(Mentioned::Broken),
            Named::Junction(point) if rest.is_empty() => {
                Ok(Mentioned::Path(Path { part: None, enter: point, leave: point }))
            }
            Named::Earth(joint) if rest.is_empty() => {
                let (outer, inner) =
                    self.ends(joint).ok_or_else(|| Wrong::new("path-needed", range, "this earth has no ends"))?;
                Ok(Mentioned::Earth { joint, outer, inner })
            }
            Named::Junction(_) | Named::Earth(_) => {
                Err(Wrong::new("unknown-terminal", rest_at, format!("{} has no terminals", quoted(head))))
            }
            Named::Part(part) => self.part_path(part, rest, rest_at, &range).map(Mentioned::Path),
            Named::Cable(cable) => self.core(cable, rest, rest_at, range),
            Named::Board => Err(self.no_way(head, rest, rest_at, range)),
            Named::Way(way) => self.way_path(way, rest, rest_at, &range),
        }
    }

    fn unknown(&self, words: &str, range: Range<usize>) -> Wrong {
        let head = words.split('.').next().unwrap_or(words);
        let board = words.split('.').next().and_then(|h| self.scope.get(h)).is_some();
        let at = range.start..range.start + if board { words.len() } else { head.len() };
        let shown = if board { words } else { head };
        if let Some((name, behind)) = words.split_once(' ').filter(|(n, _)| self.scope.split(n).is_some()) {
            let at = range.end - behind.len()..range.end;
            return Wrong::new("unknown-word", at, format!("{} means nothing here", quoted(behind)))
                .hint(format!("{} is declared elsewhere and stands alone", quoted(name)));
        }
        let wrong = Wrong::new("unknown-part", at, format!("no part called {}", quoted(shown)));
        if self.report.is_full() {
            return wrong;
        }
        match self.scope.nearest(shown) {
            Some(known) => wrong.hint(format!("did you mean `{known}`?")),
            None => match self.kinds.nearest(words) {
                Some(kind) => wrong.hint(format!("is the kind `{kind}` meant?")),
                None => wrong.hint("declare it, or make a junction of it with `*` where it first stands"),
            },
        }
    }

    /// A path through a part: nothing, a terminal, an inner element, or `in>out`.
    fn part_path(&self, id: PartId, rest: &str, at: Range<usize>, all: &Range<usize>) -> Result<Path, Wrong> {
        let part = self.part(id);
        let kind = self.kind(part.kind);
        let path = |enter, leave| Path { part: Some(id), enter, leave };
        if rest.is_empty() {
            if let (false, Some((enter, leave))) = (kind.per_pin, self.ends(id)) {
                return Ok(path(enter, leave));
            }
            if let [only] = part.terminals.as_slice() {
                return Ok(path(*only, *only));
            }
            return Err(Wrong::new(
                "path-needed",
                all.clone(),
                format!("{} needs a path: where current enters and leaves", quoted(&part.id)),
            )
            .hint(path_hint(kind, &part.id, &part.pins)));
        }
        if let Some((from, to)) = rest.split_once('>') {
            let middle = at.start + from.len();
            let (from, to) = (from.trim(), to.trim());
            let pin = from.rsplit_once('.').map(|(pin, _)| format!("{pin}."));
            let enter = self.terminal(id, from);
            let leave =
                self.terminal(id, to).or_else(|| self.terminal(id, &format!("{}{to}", pin.unwrap_or_default())));
            let enter = enter.ok_or_else(|| self.no_terminal(id, from, at.start..middle))?;
            let leave = leave.ok_or_else(|| self.no_terminal(id, to, middle + 1..at.end))?;
            if enter == leave {
                return Err(Wrong::new(
                    "self-joined",
                    at,
                    format!("this path enters and leaves {} at one terminal", quoted(&part.id)),
                ));
            }
            return Ok(path(enter, leave));
        }
        if let Some(point) = self.terminal(id, rest) {
            return Ok(path(point, point));
        }
        if let Some(ends) = self.pin_ends(id, rest) {
            return Ok(path(ends.0, ends.1));
        }
        if let Some(element) = kind.elements.iter().find(|e| e.key == rest)
            && let (Some(enter), Some(leave)) = (self.terminal(id, &element.from), self.terminal(id, &element.to))
        {
            return Ok(path(enter, leave));
        }
        Err(self.no_terminal(id, rest, at))
    }

    /// The terminal `name` of a part; `pin.terminal` or a lone `pin` where the kind has pins.
    pub(super) fn terminal(&self, id: PartId, name: &str) -> Option<PointId> {
        let part = self.part(id);
        let kind = self.kind(part.kind);
        if !kind.per_pin {
            let at = kind.terminals.iter().position(|t| same(&t.name, name))?;
            return part.terminals.get(at).copied();
        }
        let each = kind.terminals.len();
        let pin_of = |pin: &str| part.pins.iter().position(|p| p == pin);
        if each == 1 {
            return part.terminals.get(pin_of(name)?).copied();
        }
        let (pin, terminal) = name.rsplit_once('.')?;
        let at = kind.terminals.iter().position(|t| same(&t.name, terminal))?;
        part.terminals.get(pin_of(pin)? * each + at).copied()
    }

    /// The ends of one pin, where current enters and leaves.
    fn pin_ends(&self, id: PartId, pin: &str) -> Option<(PointId, PointId)> {
        let part = self.part(id);
        let kind = self.kind(part.kind);
        if !kind.per_pin {
            return None;
        }
        let first = part.pins.iter().position(|p| p == pin)? * kind.terminals.len();
        let (from, to) = kind.through?;
        let at = |t: usize| part.terminals.get(first + t).copied();
        Some((at(from)?, at(to)?))
    }

    fn no_terminal(&self, id: PartId, said: &str, at: Range<usize>) -> Wrong {
        let part = self.part(id);
        let kind = self.kind(part.kind);
        let mut known: Vec<&str> = Vec::new();
        let what = if kind.per_pin {
            known.extend(part.pins.iter().map(String::as_str));
            "pin"
        } else {
            known.extend(kind.terminals.iter().map(|t| t.name.as_str()));
            "terminal"
        };
        let wrong =
            Wrong::new("unknown-terminal", at, format!("{} has no {what} called {}", quoted(&part.id), quoted(said)));
        match nearest(said, known.iter().copied()) {
            Some(near) if said.chars().count() > 2 => wrong.hint(format!("did you mean `{near}`?")),
            _ => wrong.hint(format!("its {what}s are {}", list(&known))),
        }
    }

    fn core(&self, cable: PartId, rest: &str, at: Range<usize>, all: Range<usize>) -> Result<Mentioned, Wrong> {
        let part = self.part(cable);
        let pins: Vec<&str> = part.pins.iter().map(String::as_str).collect();
        if rest.is_empty() {
            return Err(Wrong::new("path-needed", all, format!("{} is a cable: name a core of it", quoted(&part.id)))
                .hint(format!("its cores are {}", list(&pins))));
        }
        if let Some(pin) = pins.iter().position(|p| *p == rest) {
            return Ok(Mentioned::Core(cable, pin));
        }
        let wrong = Wrong::new("unknown-core", at, format!("{} has no core called {}", quoted(&part.id), quoted(rest)));
        Err(match nearest(rest, pins.iter().copied()) {
            Some(known) => wrong.hint(format!("did you mean `{known}`?")),
            None => wrong.hint(format!("its cores are {}", list(&pins))),
        })
    }

    fn no_way(&self, head: &str, rest: &str, at: Range<usize>, all: Range<usize>) -> Wrong {
        let start = format!("{head}.");
        let ways: Vec<&str> = self.ways.iter().filter_map(|w| w.name.strip_prefix(&start)).collect();
        if rest.is_empty() {
            return Wrong::new("path-needed", all, format!("{} is a board: name a way of it", quoted(head)))
                .hint(format!("its ways are {}", list(&ways)));
        }
        Wrong::new("unknown-way", at, format!("{} has no way called {}", quoted(head), quoted(rest)))
            .hint(format!("its ways are {}", list(&ways)))
    }

    /// A way of a board: its output, the path through its coil, or a path through its relay.
    fn way_path(&mut self, way: usize, rest: &str, at: Range<usize>, all: &Range<usize>) -> Result<Mentioned, Wrong> {
        let Some(points) = self.ways.get(way).cloned() else {
            return Ok(Mentioned::Broken);
        };
        if rest.is_empty() {
            return Ok(match points.output {
                Some((part, point)) => Mentioned::Path(Path { part: Some(part), enter: point, leave: point }),
                None => Mentioned::Broken,
            });
        }
        match (rest, points.coil, points.relay) {
            (super::grammar::WAY_COIL, Some((enter, leave, _)), Some(relay)) => {
                Ok(Mentioned::Path(Path { part: Some(relay), enter, leave }))
            }
            (_, _, Some(relay)) => {
                let id = self.part(relay).id.clone();
                self.scope.touch(&id);
                self.part_path(relay, rest, at, all).map(Mentioned::Path)
            }
            _ => Err(Wrong::new("unknown-terminal", at, format!("{} has no relay", quoted(&points.name)))),
        }
    }

    /// The one point that a text names: for `to:`, `live:`, `earth:`, `fed from:`. `metal`: at an earth, the metal
    /// below its joint.
    pub(super) fn point(&mut self, text: &Text, metal: bool) -> Option<PointId> {
        let words = text.text.trim();
        let lead = text.text.len() - text.text.trim_start().len();
        match self.mention(words, lead..lead + words.len()) {
            Ok(Mentioned::Path(path)) => Some(path.enter),
            Ok(Mentioned::Earth { outer, inner, .. }) => Some(if metal { inner } else { outer }),
            Ok(Mentioned::Core(..)) => {
                let wrong =
                    Wrong::new("path-needed", 0..text.text.len(), "a core has two ends: name what it is joined to");
                self.wrong(text, wrong);
                None
            }
            Ok(Mentioned::Broken) => None,
            Err(wrong) => {
                self.wrong(text, wrong);
                None
            }
        }
    }
}

/// Terminal names are equal; both minus signs are one.
fn same(known: &str, said: &str) -> bool {
    known == said || (known == "-" && said == "−")
}

fn list(names: &[&str]) -> String {
    let all: Vec<String> = names.iter().take(12).map(|n| quoted(n)).collect();
    let more = if names.len() > 12 { ", …" } else { "" };
    format!("{}{more}", all.join(", "))
}

fn path_hint(kind: &Kind, name: &str, pins: &[String]) -> String {
    let name = crate::diagnostic::harmless(name);
    if kind.per_pin {
        let pin = pins.first().map_or("pin", String::as_str);
        let pin = crate::diagnostic::harmless(pin);
        return format!("name a pin, such as `{name}.{pin}`");
    }
    let known: Vec<&str> = kind.terminals.iter().map(|t| t.name.as_str()).collect();
    match known.as_slice() {
        [a, b, ..] => format!("such as `{name}.{a}>{b}`; its terminals are {}", list(&known)),
        _ => "it has too few terminals for a path".to_owned(),
    }
}
