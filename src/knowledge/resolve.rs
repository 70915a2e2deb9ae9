//! From the kind as written to the kind resolved: every name in it points at something, all mistakes at once.

mod effect;
mod primitive;
mod sight;

use super::amount::{is_key, read_quantity};
use super::error::{Mistake, Wrong};
use super::raw::{RawFigure, RawKind, Text};
use super::{Amount, ElementSpec, Figure, Kind, Role, Service, Terminal};
use crate::units::Dimension;
use crate::units::Volts;
use serde_yaml::Spanned;

/// Collects mistakes of one file.
pub(super) struct Report<'a> {
    /// The file.
    pub(super) file: &'a str,
    /// What was found.
    pub(super) mistakes: Vec<Mistake>,
}

impl Report<'_> {
    /// Notes a mistake at `at`.
    pub(super) fn note<T>(&mut self, at: &Spanned<T>, wrong: Wrong) {
        let place = |n: u64| usize::try_from(n).unwrap_or(usize::MAX);
        self.mistakes.push(Mistake {
            file: self.file.to_owned(),
            line: place(at.referenced.line()),
            column: place(at.referenced.column()),
            wrong,
        });
    }

    pub(super) fn unknown(&mut self, at: &Text, what: &'static str) {
        let name = at.value.clone();
        self.note(at, Wrong::Unknown { what, name });
    }

    pub(super) fn unreadable(&mut self, at: &Text, expected: &'static str) {
        let text = at.value.clone();
        self.note(at, Wrong::Unreadable { text, expected });
    }

    /// A text that must say something.
    pub(super) fn said(&mut self, at: &Text, what: &'static str) -> String {
        if at.value.trim().is_empty() {
            self.note(at, Wrong::Missing(what));
        }
        at.value.trim().to_owned()
    }

    /// A name that an install file can write: its runs give these characters a meaning.
    fn writable(&mut self, name: &Text) {
        let taken = |c: char| matches!(c, '|' | '*' | '>' | '"' | '.' | '/') || c.is_control();
        if name.value.trim().is_empty() || name.value.contains(taken) {
            self.unreadable(name, "a name without any of `| * > \" . /`");
        }
    }

    /// Keys of a map: well formed and each once.
    fn keys<'t>(&mut self, keys: impl Iterator<Item = &'t Text>) {
        let mut seen: Vec<&str> = Vec::new();
        for key in keys {
            if !is_key(&key.value) {
                self.unreadable(key, "a key (lower case letters, digits, hyphens)");
            }
            if seen.contains(&key.value.as_str()) {
                self.note(key, Wrong::Twice(key.value.clone()));
            }
            seen.push(&key.value);
        }
    }
}

/// Words for the roles.
pub(super) const ROLES: [(&str, Role); 9] = [
    ("supply", Role::Supply),
    ("protection", Role::Protection),
    ("control", Role::Control),
    ("switching", Role::Switching),
    ("load", Role::Load),
    ("indicator", Role::Indicator),
    ("conductor", Role::Conductor),
    ("joint", Role::Joint),
    ("component", Role::Component),
];

/// The role that a word stands for.
pub(super) fn role(word: &str) -> Option<Role> {
    ROLES.iter().find(|(known, _)| *known == word).map(|(_, role)| *role)
}

/// What a kind's own names are, while it is being resolved.
struct Names<'a, 'f> {
    raw: &'a RawKind,
    figures: &'a [Figure],
    elements: &'a [ElementSpec],
    report: &'a mut Report<'f>,
}

/// Resolves one kind; `None` when it has mistakes, which are in the report.
pub(super) fn kind(raw: &RawKind, report: &mut Report<'_>, known: &super::Knowledge) -> Option<Kind> {
    let before = report.mistakes.len();
    for name in std::iter::once(&raw.kind).chain(&raw.also) {
        report.writable(name);
    }
    let name = raw.kind.value.trim().to_owned();
    if name != name.to_lowercase() {
        report.unreadable(&raw.kind, "a lower-case name");
    }
    let role = ROLES.iter().find(|(word, _)| *word == raw.role.value);
    if role.is_none() {
        report.unknown(&raw.role, "role");
    }
    report.keys(raw.figures.0.iter().map(|(key, _)| key));
    report.keys(raw.elements.0.iter().map(|(key, _)| key));
    report.keys(raw.modes.0.iter().map(|(key, _)| key));
    let mut figures = Vec::new();
    for (key, figure) in &raw.figures.0 {
        if let Some(figure) = self::figure(key, figure, &figures, report, known) {
            figures.push(figure);
        }
    }
    let terminals = terminals(raw, report);
    let mut names = Names { raw, figures: &figures, elements: &[], report: &mut *report };
    let elements = names.elements(known);
    let mut names = Names { raw, figures: &figures, elements: &elements, report: &mut *report };
    let modes = names.modes(known);
    let sights = names.sights(known);
    let through = through(raw, &terminals, report);
    let parting = super::parting::parting(raw, &elements, &terminals, report);
    if !["free", "open", "sealed"].contains(&raw.access.value.as_str()) {
        report.unreadable(&raw.access, "`free`, `open` or `sealed`");
    }
    let cautions = report.cautions(&raw.cautions, known);
    let serves = services(raw, report);
    let kind = Kind {
        name,
        aliases: raw.also.iter().map(|a| a.value.trim().to_owned()).collect(),
        about: report.said(&raw.about, "what it is"),
        role: role?.1,
        serves,
        terminals,
        per_pin: raw.pin_word.is_some(),
        pin_word: raw.pin_word.as_ref().map_or_else(String::new, |word| report.said(word, "a word")),
        through,
        figures,
        elements,
        positions: raw.positions.iter().map(|p| p.value.clone()).collect(),
        momentary: raw.springs_back,
        modes,
        sights,
        parting,
        access: raw.access.value.clone(),
        cautions,
    };
    (report.mistakes.len() == before).then_some(kind)
}

fn services(raw: &RawKind, report: &mut Report<'_>) -> Vec<Service> {
    let mut services = Vec::new();
    for text in &raw.serves {
        match Service::ALL.iter().find(|(words, _)| *words == text.value) {
            None => report.unknown(text, "service"),
            Some((_, service)) if services.contains(service) => {
                report.note(text, Wrong::Twice(text.value.clone()));
            }
            Some((_, service)) => services.push(*service),
        }
    }
    services
}

fn terminals(raw: &RawKind, report: &mut Report<'_>) -> Vec<Terminal> {
    let mut terminals: Vec<Terminal> = Vec::new();
    for (name, meaning) in &raw.terminals.0 {
        report.writable(name);
        if terminals.iter().any(|t| t.name == name.value) {
            report.note(name, Wrong::Twice(name.value.clone()));
        }
        terminals.push(Terminal { name: name.value.clone(), meaning: meaning.clone() });
    }
    if terminals.is_empty() {
        report.note(&raw.kind, Wrong::Missing("a terminal"));
    }
    terminals
}

fn through(raw: &RawKind, terminals: &[Terminal], report: &mut Report<'_>) -> Option<(usize, usize)> {
    path(raw.through.as_ref()?, terminals, report)
}

/// Two different terminals of a kind, written `30 > 87`, as indices.
pub(super) fn path(text: &Text, terminals: &[Terminal], report: &mut Report<'_>) -> Option<(usize, usize)> {
    let position = |name: &str| terminals.iter().position(|t| t.name == name.trim());
    let path = text
        .value
        .split_once('>')
        .and_then(|(from, to)| Some((position(from)?, position(to)?)))
        .filter(|(from, to)| from != to);
    if path.is_none() {
        report.unreadable(text, "a path such as `30 > 87` between two terminals");
    }
    path
}

fn figure(
    key: &Text,
    raw: &RawFigure,
    before: &[Figure],
    report: &mut Report<'_>,
    known: &super::Knowledge,
) -> Option<Figure> {
    let Some(unit) = Dimension::named(&raw.unit.value) else {
        report.unknown(&raw.unit, "unit (V, A, Ω, W, m, mm², min, %)");
        return None;
    };
    let ways =
        usize::from(raw.default.is_some()) + usize::from(!raw.by_nominal.0.is_empty()) + usize::from(raw.by.is_some());
    if ways > 1 {
        let choices = "`default`, `by nominal`, `by`";
        report.note(key, Wrong::OneOf { choices, given: ways });
    }
    let mut figure = Figure {
        key: key.value.clone(),
        unit,
        defaults: Vec::new(),
        derived: None,
        lookup: None,
        tolerance: report.share(&raw.tolerance),
        tolerance_of_default: raw.not_stated.as_ref().map_or(0.0, |t| report.share(t)),
        source: report.said(&raw.source, "a source"),
    };
    if let Some(default) = &raw.default {
        match Amount::read(&default.value, unit) {
            None => {
                report.unreadable(default, "an amount with its unit, or a product of figures");
            }
            Some(amount) if amount.figures.is_empty() => {
                figure.defaults.push((None, amount.factor));
            }
            Some(amount) => {
                report.figures_of(default, &amount, before);
                figure.derived = Some(amount);
            }
        }
    }
    for (nominal, default) in &raw.by_nominal.0 {
        let volts = read_quantity(&nominal.value, Dimension::Volts).filter(|v| *v > 0.0);
        let value = read_quantity(&default.value, unit);
        match (volts.map(Volts::try_from), value) {
            (Some(Ok(volts)), Some(value)) => figure.defaults.push((Some(volts), value)),
            (_, None) => report.unreadable(default, "a quantity with its unit"),
            _ => report.unreadable(nominal, "a nominal voltage such as `12 V`"),
        }
    }
    if let Some(by) = &raw.by {
        if before.iter().all(|f| f.key != by.value) {
            report.unknown(by, "figure listed before this one");
        }
        match &raw.table {
            None => report.note(by, Wrong::Missing("`table`")),
            Some(table) if !known.tables.contains_key(&table.value) => {
                report.unknown(table, "lookup table");
            }
            Some(table) => figure.lookup = Some((by.value.clone(), table.value.clone())),
        }
    }
    Some(figure)
}

impl Report<'_> {
    /// A share such as `10 %`.
    pub(super) fn share(&mut self, text: &Text) -> f64 {
        let share = read_quantity(&text.value, Dimension::Ratio);
        if share.is_none_or(|s| !(0.0..=5.0).contains(&s)) {
            self.unreadable(text, "a share such as `10 %`");
        }
        share.unwrap_or_default()
    }

    /// Keys of cautions.
    pub(super) fn cautions(&mut self, raw: &[Text], known: &super::Knowledge) -> Vec<String> {
        for key in raw {
            if !known.cautions.contains_key(&key.value) {
                self.unknown(key, "caution");
            }
        }
        raw.iter().map(|key| key.value.clone()).collect()
    }

    /// Checks that an amount uses known figures only.
    fn figures_of(&mut self, at: &Text, amount: &Amount, figures: &[Figure]) {
        for (key, _) in &amount.figures {
            if key != "nominal" && figures.iter().all(|f| f.key != *key) {
                let name = key.clone();
                self.note(at, Wrong::Unknown { what: "figure", name });
            }
        }
    }
}
