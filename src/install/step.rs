//! What a step of a run is, by its words alone: a junction made, a part written in place, a stretch of wire, or
//! something that is declared elsewhere.

use super::kinds::KindNames;
use super::tokens::{Token, TokenKind, tokens};
use crate::diagnostic::quoted;
use crate::knowledge::KindId;
use crate::units::{Dimension, Figure, FigureError};
use std::ops::Range;

/// A step by its words.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Step {
    /// `*bus`.
    Make(Words),
    /// `motor 96 W "pump" at boom`.
    Part(PartText),
    /// `by bracket`.
    By(PartText),
    /// `brown 2.5 mm² 3 m`.
    Wire(PartText),
    /// Anything else: a name, a path through a part, a core.
    Mention(Words),
}

/// A piece of text with its bytes in the run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Words {
    pub(super) text: String,
    pub(super) range: Range<usize>,
}

/// A part written in place.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PartText {
    /// Its kind.
    pub(super) kind: KindId,
    /// All of it.
    pub(super) range: Range<usize>,
    /// Its figures in the order of the text.
    pub(super) figures: Vec<(Figure, Range<usize>)>,
    /// Its name.
    pub(super) name: Option<Words>,
    /// Its place.
    pub(super) place: Option<Words>,
    /// Colour or mark of a wire.
    pub(super) colour: Option<String>,
}

/// What is wrong with a step.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Wrong {
    pub(super) code: &'static str,
    pub(super) range: Range<usize>,
    pub(super) message: String,
    pub(super) hint: Option<String>,
}

impl Wrong {
    pub(super) fn new(code: &'static str, range: Range<usize>, message: impl Into<String>) -> Self {
        Self { code, range, message: message.into(), hint: None }
    }

    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

/// Reads a step. `is_name` says whether a text starts with a declared name; a declared name goes before a kind.
pub(super) fn read(text: &str, start: usize, kinds: &KindNames, is_name: &dyn Fn(&str) -> bool) -> Result<Step, Wrong> {
    let whole = start..start + text.len();
    let words = || Words { text: text.to_owned(), range: whole.clone() };
    if text.is_empty() {
        return Err(Wrong::new("empty-step", whole, "nothing stands between the bars here"));
    }
    if let Some(name) = text.strip_prefix('*') {
        let name = name.trim().to_owned();
        return Ok(Step::Make(Words { text: name, range: whole }));
    }
    if is_name(text) {
        return Ok(Step::Mention(words()));
    }
    if let Some(behind) = text.strip_prefix("by ") {
        let at = start + text.len() - behind.len();
        return conductor(behind, at, kinds).map(|found| match as_step(found) {
            Step::Part(part) => Step::By(part),
            other => other,
        });
    }
    let found = tokens(text, start);
    let has_name = found.iter().any(|t| matches!(t.kind, TokenKind::Quoted(_)));
    let has_figure = found.iter().any(|t| matches!(t.kind, TokenKind::Figure(_)));
    if let Some(part) = part_text(&found, &whole, kinds)? {
        if let Some(colour) = part.colour.as_ref().filter(|colour| is_name(colour)) {
            return Err(bar_missing(whole, colour));
        }
        return Ok(as_step((part, kinds)));
    }
    if !has_name && !has_figure {
        return Ok(Step::Mention(words()));
    }
    Err(stranger(&found, whole, kinds, is_name))
}

/// Reads the text behind `by`: a wire, or a kind of conductor.
pub(super) fn conductor<'k>(
    text: &str,
    start: usize,
    kinds: &'k KindNames,
) -> Result<(PartText, &'k KindNames), Wrong> {
    let whole = start..start + text.len();
    let found = tokens(text, start);
    match part_text(&found, &whole, kinds)? {
        Some(part) => Ok((part, kinds)),
        None => Err(stranger(&found, whole, kinds, &|_| false)),
    }
}

/// Reads a part: kind, figures in any order, name, place. `None`: no kind is named and it is no wire either.
pub(super) fn part_text(found: &[Token], whole: &Range<usize>, kinds: &KindNames) -> Result<Option<PartText>, Wrong> {
    let mut words: Vec<(&str, Range<usize>)> = Vec::new();
    let mut place_words: Option<Vec<(&str, Range<usize>)>> = None;
    let mut figures = Vec::new();
    let mut broken: Option<Wrong> = None;
    let mut name: Option<Words> = None;
    for token in found {
        let range = token.range.clone();
        match &token.kind {
            TokenKind::Word(w) if w == "at" && !words.is_empty() => {
                place_words = Some(Vec::new());
            }
            TokenKind::Word(w) => match &mut place_words {
                Some(place) => place.push((w, range)),
                None => words.push((w, range)),
            },
            // `at mast 2`: a number behind `at` belongs to the name of the place.
            TokenKind::Figure(Ok(figure)) => figures.push((*figure, range)),
            TokenKind::Figure(Err(e)) => {
                broken.get_or_insert_with(|| figure_wrong(e, range, None));
            }
            TokenKind::Quoted(text) if name.is_none() => {
                name = Some(Words { text: text.clone(), range });
            }
            TokenKind::Quoted(_) => {
                return Err(Wrong::new("two-names", range, "a second name stands here"));
            }
            TokenKind::Unclosed => {
                return Err(Wrong::new("open-quote", range, "this name is not closed by a quote"));
            }
        }
    }
    let place = place_words.map(|p| joined(&p, whole));
    let plain: Vec<&str> = words.iter().map(|(w, _)| *w).collect();
    let at_end = plain.split_last().filter(|(last, _)| is_wire_word(last, kinds));
    let (kind, rest) = match kinds.at_start(&plain) {
        Some((kind, n)) => (kind, words.get(n..).unwrap_or_default()),
        None => match (kinds.wire(), at_end, is_wire(&figures)) {
            (Some(wire), Some((_, before)), _) => (wire, words.get(..before.len()).unwrap_or_default()),
            (Some(wire), None, true) => (wire, words.as_slice()),
            // `2.5 "x"`: nothing but a number, its unit missing.
            (Some(_), None, false) if words.is_empty() => {
                return Err(broken.unwrap_or_else(|| {
                    Wrong::new("unknown-kind", whole.clone(), "this is no wire, and no kind of part is named")
                }));
            }
            _ => return Ok(None),
        },
    };
    if let Some(mut wrong) = broken {
        if wrong.hint.is_some() {
            wrong.hint = Some(kinds.takes(kind).to_owned());
        }
        return Err(wrong);
    }
    let mut colour = None;
    if Some(kind) == kinds.wire() {
        // Colour and mark stand before size and length: what stands behind them is the next step, its bar forgotten.
        let measured = figures.first().map_or(whole.end, |(_, range)| range.start);
        let behind: Vec<(&str, Range<usize>)> = rest.iter().filter(|(_, r)| r.start > measured).cloned().collect();
        if !behind.is_empty() {
            let behind = joined(&behind, whole);
            return Err(bar_missing(behind.range, &behind.text));
        }
        if !rest.is_empty() {
            colour = Some(joined(rest, whole).text);
        }
    } else if let Some((first, range)) = rest.first() {
        let is_id = rest.len() == 1 && first.starts_with(char::is_uppercase);
        if !is_id || name.is_some() {
            let all = joined(rest, whole);
            return Err(Wrong::new("unknown-word", all.range, format!("{} means nothing here", quoted(&all.text)))
                .hint("a name stands in quotes, a place behind `at`"));
        }
        name = Some(Words { text: (*first).to_owned(), range: range.clone() });
    }
    Ok(Some(PartText { kind, range: whole.clone(), figures, name, place, colour }))
}

/// Figures alone, for a kind that is understood; `found` holds nothing but figures.
pub(super) fn bare_figures(
    kind: KindId,
    found: &[Token],
    range: Range<usize>,
    kinds: &KindNames,
) -> Result<PartText, Wrong> {
    let mut figures = Vec::new();
    for token in found {
        match &token.kind {
            TokenKind::Figure(Ok(figure)) => figures.push((*figure, token.range.clone())),
            TokenKind::Figure(Err(e)) => {
                return Err(figure_wrong(e, token.range.clone(), None).hint(kinds.takes(kind)));
            }
            TokenKind::Word(_) | TokenKind::Quoted(_) | TokenKind::Unclosed => {}
        }
    }
    Ok(PartText { kind, range, figures, name: None, place: None, colour: None })
}

/// Something that is a step of its own stands in that of a wire.
fn bar_missing(range: Range<usize>, what: &str) -> Wrong {
    Wrong::new("bar-missing", range, format!("{} is no colour or mark of this wire", quoted(what)))
        .hint("steps are divided by `|`; a wire is written `colour 2.5 mm² 3 m`, its colour first")
}

fn as_step((part, kinds): (PartText, &KindNames)) -> Step {
    if Some(part.kind) == kinds.wire() { Step::Wire(part) } else { Step::Part(part) }
}

fn is_wire_word(word: &str, kinds: &KindNames) -> bool {
    kinds.wire().is_some() && kinds.get(word) == kinds.wire()
}

/// Whether figures describe a stretch of wire: its size, its length or both, and nothing else.
fn is_wire(figures: &[(Figure, Range<usize>)]) -> bool {
    let wires = |d| matches!(d, Dimension::SquareMillimetres | Dimension::Metres);
    !figures.is_empty() && figures.iter().all(|(f, _)| wires(f.dimension))
}

fn joined(words: &[(&str, Range<usize>)], whole: &Range<usize>) -> Words {
    let text: Vec<&str> = words.iter().map(|(w, _)| *w).collect();
    let start = words.first().map_or(whole.end, |(_, r)| r.start);
    let end = words.last().map_or(whole.end, |(_, r)| r.end);
    Words { text: text.join(" "), range: start..end }
}

/// A step with figures or a name that is neither a wire nor starts with a kind.
fn stranger(found: &[Token], whole: Range<usize>, kinds: &KindNames, is_name: &dyn Fn(&str) -> bool) -> Wrong {
    let words: Vec<(&str, Range<usize>)> = found
        .iter()
        .map_while(|t| match &t.kind {
            TokenKind::Word(w) => Some((w.as_str(), t.range.clone())),
            _ => None,
        })
        .collect();
    let kind = joined(&words, &whole);
    if is_name(&kind.text) {
        return Wrong::new("figure-on-name", whole, format!("{} takes no figures here", quoted(&kind.text)))
            .hint("write its figures where it is declared");
    }
    let range = if kind.text.is_empty() { whole } else { kind.range };
    let wrong = Wrong::new("unknown-kind", range, format!("no kind of part is called {}", quoted(&kind.text)));
    match kinds.nearest(&kind.text) {
        Some(known) => wrong.hint(format!("did you mean `{known}`?")),
        None => wrong.hint("a part is written `kind figures \"name\"`, a wire `colour 2.5 mm² 3 m`"),
    }
}

/// What is wrong with a figure; `wanted` is the unit that belongs there, where that is known.
pub(super) fn figure_wrong(error: &FigureError, range: Range<usize>, wanted: Option<Dimension>) -> Wrong {
    let unit = wanted.map(Dimension::symbol);
    match error {
        FigureError::NoNumber => Wrong::new(
            "no-figure",
            range,
            match unit {
                Some(unit) => format!("a figure in {unit} stands here, such as `12 {unit}`"),
                None => "a figure with its unit stands here".to_owned(),
            },
        ),
        FigureError::NoUnit => {
            let wrong = Wrong::new("unit-missing", range, "this number has no unit");
            match unit {
                Some(unit) => wrong.hint(format!("write it with its unit: {unit}")),
                None => wrong.hint("write it with its unit: V, A, W, Ω, mm², AWG, m or ft"),
            }
        }
        FigureError::UnknownUnit(said) => {
            let wrong = Wrong::new("unknown-unit", range, format!("{} is no unit", quoted(said)));
            match unit {
                Some(unit) => wrong.hint(format!("the unit here is {unit}")),
                None => wrong.hint("units are V, A, W, Ω, mm², AWG, m, ft, %, with m, k or M before"),
            }
        }
        FigureError::TooLarge => Wrong::new("absurd-figure", range, "this number is too large to be one"),
        FigureError::NotPositive => Wrong::new("not-positive", range, "this figure must be above zero"),
        FigureError::Absurd(dimension) => {
            let (least, largest) = dimension.sane();
            let symbol = dimension.symbol();
            Wrong::new(
                "absurd-figure",
                range,
                format!("no install has this: a figure in {symbol} lies between {least} and {largest} {symbol}"),
            )
        }
    }
}
