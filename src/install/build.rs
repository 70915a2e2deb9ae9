//! The install in the making: parts, points and joins are added here, and all that is wrong is collected.

use super::grammar::bad_name;
use super::kinds::KindNames;
use super::scope::{Named, Scope};
use super::step::{PartText, Wrong, figure_wrong};
use super::wires::WireJob;
use super::{Control, Install, Part, PartId, PlaceId, Point, PointId};
use crate::diagnostic::{Diagnostic, Report, Span, nearest, quoted, with_article};
use crate::document::{Source, Text};
use crate::index::{Id, IdVec};
use crate::knowledge::{Figure, Kind, KindId, Knowledge};
use crate::units::{Dimension, parse_figure};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// The install in the making.
pub(super) struct Build<'s> {
    pub(super) source: &'s Source,
    pub(super) kinds: KindNames,
    pub(super) install: Install,
    pub(super) scope: Scope,
    pub(super) report: Report,
    pub(super) place_names: BTreeMap<String, PlaceId>,
    /// Cables: where their ends are, and which cores were used where.
    pub(super) cables: BTreeMap<PartId, CableEnds>,
    /// Ways of all boards.
    pub(super) ways: Vec<WayPoints>,
    /// Points that are one metal with something named elsewhere in the file.
    pub(super) links: Vec<Link>,
    /// Wires and cores whose joints are finished last, when all places are known.
    pub(super) wires: Vec<WireJob>,
    /// How many wires each run, earth or board has.
    pub(super) wire_counts: BTreeMap<String, usize>,
    /// Labels of wires so far.
    pub(super) wire_labels: BTreeSet<String>,
    /// The way of a board that a part belongs to.
    pub(super) way_of: BTreeMap<PartId, String>,
    /// Where each part was written.
    pub(super) part_spans: IdVec<PartId, Span>,
    /// First and last point of each run, with the step that they belong to.
    pub(super) run_ends: Vec<(Span, PointId)>,
}

/// What a cable says of its ends, and the steps that used its cores.
#[derive(Clone, Debug, Default)]
pub(super) struct CableEnds {
    pub(super) from: Option<PlaceId>,
    pub(super) to: Option<PlaceId>,
    pub(super) used: BTreeMap<usize, Span>,
}

/// What a way of a board offers to runs.
#[derive(Clone, Debug)]
pub(super) struct WayPoints {
    pub(super) name: String,
    pub(super) output: Option<(PartId, PointId)>,
    pub(super) relay: Option<PartId>,
    /// The coil's terminals, plus first, and whether its minus side is the switched one.
    pub(super) coil: Option<(PointId, PointId, bool)>,
    /// The way's own current path, without the point that feeds it.
    pub(super) passes: Vec<(Option<PartId>, PointId, PointId)>,
}

/// A point to be joined with what a name elsewhere in the file stands for.
#[derive(Clone, Debug)]
pub(super) struct Link {
    pub(super) point: PointId,
    pub(super) to: Text,
    /// Metal to metal: at an earth, below its joint.
    pub(super) metal: bool,
    /// The wire whose far end this is.
    pub(super) wire: Option<usize>,
    /// The way that is fed from there.
    pub(super) feeds: Option<usize>,
}

/// All that a new part starts with.
pub(super) struct NewPart {
    pub(super) id: String,
    pub(super) label: String,
    pub(super) kind: KindId,
    pub(super) span: Span,
    pub(super) place: Option<PlaceId>,
    pub(super) figures: BTreeMap<String, f64>,
    pub(super) pins: Vec<String>,
    pub(super) colour: Option<String>,
}

impl<'s> Build<'s> {
    pub(super) fn new(source: &'s Source, knowledge: Knowledge) -> Self {
        Self {
            source,
            kinds: KindNames::new(&knowledge),
            install: Install {
                title: String::new(),
                nominal: crate::units::Volts::new(12.0),
                setting: String::new(),
                fuel: String::new(),
                earth_word: "earth".to_owned(),
                knowledge,
                places: IdVec::new(),
                parts: IdVec::new(),
                points: IdVec::new(),
                joins: Vec::new(),
                controls: IdVec::new(),
                runs: IdVec::new(),
                earth: PointId::new(0),
            },
            scope: Scope::default(),
            report: Report::new(),
            place_names: BTreeMap::new(),
            cables: BTreeMap::new(),
            ways: Vec::new(),
            links: Vec::new(),
            wires: Vec::new(),
            wire_counts: BTreeMap::new(),
            wire_labels: BTreeSet::new(),
            way_of: BTreeMap::new(),
            part_spans: IdVec::new(),
            run_ends: Vec::new(),
        }
    }

    /// Reports what is wrong with a piece of a text.
    pub(super) fn wrong(&mut self, text: &Text, wrong: Wrong) {
        let span = text.part(self.source, wrong.range.start, wrong.range.end);
        let mut diagnostic = Diagnostic::error(wrong.code, span, wrong.message);
        diagnostic.hints.extend(wrong.hint);
        self.report.push(diagnostic);
        self.kinds.quiet = self.report.is_full();
    }

    pub(super) fn kind(&self, id: KindId) -> &Kind {
        &self.install.knowledge.kinds[id]
    }

    pub(super) fn part(&self, id: PartId) -> &Part {
        &self.install.parts[id]
    }

    /// Adds a part with its terminals, and the control that its kind offers.
    pub(super) fn add_part(&mut self, new: NewPart) -> PartId {
        let kind = &self.install.knowledge.kinds[new.kind];
        let id = PartId::new(self.install.parts.len());
        let mut names: Vec<String> = Vec::new();
        if kind.per_pin {
            for pin in &new.pins {
                for terminal in &kind.terminals {
                    names.push(if kind.terminals.len() == 1 {
                        format!("{}.{pin}", new.id)
                    } else {
                        format!("{}.{pin}.{}", new.id, terminal.name)
                    });
                }
            }
        } else {
            names.extend(kind.terminals.iter().map(|t| format!("{}.{}", new.id, t.name)));
        }
        if !kind.positions.is_empty() {
            self.install.controls.push(Control {
                name: new.id.clone(),
                part: id,
                positions: kind.positions.clone(),
                momentary: kind.momentary,
                place: new.place,
            });
        }
        let mut terminals = Vec::with_capacity(names.len());
        for (at, name) in names.into_iter().enumerate() {
            terminals.push(self.install.points.push(Point { name, of: Some((id, at)), place: new.place }));
        }
        self.part_spans.push(new.span);
        self.install.parts.push(Part {
            id: new.id,
            label: new.label,
            kind: new.kind,
            place: new.place,
            figures: new.figures,
            terminals,
            pins: new.pins,
            colour: new.colour,
            joint_of: None,
            line: new.span.line,
            column: new.span.column,
        })
    }

    /// The terminals that a bare mention of a two-ended part passes: where current enters and leaves.
    pub(super) fn ends(&self, part: PartId) -> Option<(PointId, PointId)> {
        let part = self.part(part);
        let (from, to) = self.kind(part.kind).through?;
        Some((*part.terminals.get(from)?, *part.terminals.get(to)?))
    }

    /// Declares a name, or says that it stands there twice or holds a character that means something.
    pub(super) fn declare(&mut self, name: &Text, what: Named) {
        if let Some(message) = bad_name(&name.text) {
            self.report.push(Diagnostic::error("bad-name", name.span, message));
            return;
        }
        if let Err(earlier) = self.scope.declare(&name.text, what, name.span) {
            let message = match what {
                Named::Junction(_) => format!("{} is made a second time", quoted(&name.text)),
                _ => format!("{} is declared a second time", quoted(&name.text)),
            };
            let mut d = Diagnostic::error("duplicate-name", name.span, message);
            d = d.label(earlier, "first here");
            if let Named::Junction(_) = what {
                d = d.hint("write it without `*` where it is used again");
            }
            self.report.push(d);
        }
    }

    /// The place of a name; an unknown one is an error.
    pub(super) fn place(&mut self, name: &str, span: Span) -> Option<PlaceId> {
        if let Some(id) = self.place_names.get(name) {
            return Some(*id);
        }
        let mut d = Diagnostic::error("unknown-place", span, format!("no place called {}", quoted(name)));
        let full = self.report.is_full();
        let known = self.place_names.keys().map(String::as_str);
        d = match nearest(name, known.filter(|_| !full)) {
            Some(known) => d.hint(format!("did you mean `{known}`?")),
            None => d.hint("places are declared under `places:`"),
        };
        self.report.push(d);
        None
    }

    /// The place of an optional field.
    pub(super) fn place_of(&mut self, text: Option<Text>) -> Option<PlaceId> {
        let text = text?;
        self.place(&text.text, text.span)
    }

    /// A text as a figure of the wanted dimension.
    pub(super) fn figure(&mut self, text: &Text, wanted: Dimension) -> Option<f64> {
        let whole = 0..text.text.len();
        match parse_figure(&text.text) {
            Ok(figure) if figure.dimension == wanted => Some(figure.value),
            Ok(_) => {
                let unit = wanted.symbol();
                self.wrong(text, Wrong::new("wrong-unit", whole, format!("this figure is given in {unit}")));
                None
            }
            Err(e) => {
                self.wrong(text, figure_wrong(&e, whole, Some(wanted)));
                None
            }
        }
    }

    /// The figures of a part written in place, by the kind's keys.
    pub(super) fn figures(&mut self, text: &Text, part: &PartText) -> BTreeMap<String, f64> {
        let mut found = BTreeMap::new();
        let takes: Vec<Figure> = self.kind(part.kind).figures.clone();
        let name = self.kind(part.kind).name.clone();
        for (figure, range) in &part.figures {
            let mut fits = takes.iter().filter(|f| f.unit == figure.dimension);
            if let Some(f) = fits.find(|f| !found.contains_key(&f.key)) {
                found.insert(f.key.clone(), figure.value);
                continue;
            }
            let hint = self.kinds.takes(part.kind);
            let wrong = wrong_figure(&name, &takes, figure.dimension, range.clone(), hint);
            self.wrong(text, wrong);
        }
        found
    }

    /// Figures that must be given and are not.
    pub(super) fn missing_figures(&mut self, kind: KindId, given: &BTreeMap<String, f64>, span: Span) {
        let nominal = self.install.nominal;
        let kind = self.kind(kind);
        let missing: Vec<&Figure> = kind
            .figures
            .iter()
            .filter(|f| !given.contains_key(&f.key))
            .filter(|f| {
                let suits = |v: crate::units::Volts| (v.get() / nominal.get() - 1.0).abs() < 0.1;
                let by_nominal = f.defaults.iter().any(|(at, _)| at.is_none_or(suits));
                !by_nominal && f.derived.is_none() && f.lookup.is_none()
            })
            .collect();
        let found: Vec<Diagnostic> = missing
            .into_iter()
            .map(|f| {
                let unit = f.unit.symbol();
                let what = format!("{} needs its {} in {unit}", with_article(&kind.name), f.key);
                let message =
                    if f.defaults.is_empty() { what } else { format!("{what}: nothing is known of it at {nominal}") };
                Diagnostic::error("missing-figure", span, message)
            })
            .collect();
        for d in found {
            self.report.push(d);
        }
    }

    /// Joins two points.
    pub(super) fn join(&mut self, a: PointId, b: PointId) {
        self.install.joins.push((a, b));
    }
}

/// A figure that a kind has no use for.
fn wrong_figure(kind: &str, takes: &[Figure], got: Dimension, range: Range<usize>, hint: &str) -> Wrong {
    let unit = got.symbol();
    let again = takes.iter().any(|f| f.unit == got);
    let wrong = Wrong::new(
        "wrong-unit",
        range,
        if again {
            format!("a figure in {unit} is given twice")
        } else {
            format!("{} takes no figure in {unit}", with_article(kind))
        },
    );
    wrong.hint(hint)
}
