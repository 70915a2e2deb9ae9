//! The texts of runs, and the names that they make.

use super::Point;
use super::build::Build;
use super::grammar::{LONGEST_RUN, MOST_STEPS, bad_name};
use super::scope::Named;
use super::step;
use super::tokens::{self, TokenKind};
use crate::diagnostic::{Diagnostic, Span, quoted};
use crate::document::{Entry, Node, Text, Value};
use std::ops::Range;

/// A run's text with its name.
pub(super) struct RunText {
    pub(super) name: Text,
    pub(super) text: Text,
}

impl Build<'_> {
    /// The texts of all runs.
    pub(super) fn run_texts(&mut self, entries: &[Entry]) -> Vec<RunText> {
        let mut found = Vec::new();
        let mut steps = 0;
        for entry in entries {
            let Node { span, value } = &entry.value;
            if let Some(message) = bad_name(&entry.key.text) {
                let span = entry.key.span;
                self.report.push(Diagnostic::error("bad-name", span, message));
            }
            match value {
                Value::Text(text) if text.len() > LONGEST_RUN => {
                    let message = format!("a run of more than {LONGEST_RUN} letters is not read");
                    let span = Span { len: 0, ..*span };
                    self.report.push(Diagnostic::error("too-much", span, message).hint("divide it at a junction"));
                }
                Value::Text(text) if !text.trim().is_empty() => {
                    steps += text.matches('|').count() + 1;
                    if steps > MOST_STEPS {
                        let message = format!("more than {MOST_STEPS} steps are not read");
                        self.report.push(Diagnostic::error("too-much", *span, message));
                        return Vec::new();
                    }
                    self.comment_behind(*span);
                    found.push(RunText { name: entry.key.clone(), text: Text { span: *span, text: text.clone() } });
                }
                Value::Text(_) | Value::Nothing => self.report.push(
                    Diagnostic::error(
                        "empty-run",
                        entry.key.span,
                        format!("the run {} is empty", quoted(&entry.key.text)),
                    )
                    .hint("a run follows the current: steps divided by `|`"),
                ),
                Value::List(_) | Value::Map(_) => self.report.push(
                    Diagnostic::error("wrong-form", *span, "a run is one line of text")
                        .hint("steps are divided by `|`"),
                ),
            }
        }
        found
    }

    /// Declares what the runs make: junctions with a star, parts with a name.
    pub(super) fn declare_in_runs(&mut self, runs: &[RunText]) {
        for run in runs {
            for (at, step) in tokens::steps(&run.text.text) {
                if let Some(name) = step.strip_prefix('*') {
                    let name = name.trim();
                    let span = run.text.part(self.source, at, at + step.len());
                    let point = self.install.points.push(Point { name: name.to_owned(), of: None, place: None });
                    let name = Text { span, text: name.to_owned() };
                    self.declare(&name, Named::Junction(point));
                    continue;
                }
                if self.scope.split(step).is_some() {
                    continue;
                }
                let mut names: Vec<(String, Range<usize>)> = Vec::new();
                let found = tokens::tokens(step, at);
                for token in &found {
                    if let TokenKind::Quoted(name) = &token.kind {
                        names.push((name.clone(), token.range.clone()));
                    }
                }
                let whole = at..at + step.len();
                if names.is_empty()
                    && let Ok(Some(part)) = step::part_text(&found, &whole, &self.kinds)
                    && let Some(name) = part.name
                {
                    names.push((name.text, name.range));
                }
                if let Some((text, range)) = names.into_iter().next() {
                    let span = run.text.part(self.source, range.start, range.end);
                    self.declare(&Text { span, text }, Named::Broken);
                }
            }
        }
    }

    /// A `#` behind a blank starts a comment: one that holds a bar has cut a run short.
    fn comment_behind(&mut self, run: Span) {
        let end = run.offset.saturating_add(run.len);
        let behind = self.source.text().get(end..).unwrap_or_default();
        let behind = behind.lines().next().unwrap_or_default();
        let mark = behind.trim_start();
        if !mark.starts_with('#') || !mark.contains('|') {
            return;
        }
        let at = self.source.span(end + behind.len() - mark.len(), mark.trim_end().len());
        self.report.push(
            Diagnostic::warning("comment-in-run", at, "this is a comment, not part of the run")
                .hint("where `#` belongs to a mark, put the whole run in single quotes"),
        );
    }
}
