//! Draws what is wrong with a file: for each one line for machines (`path:line:column: message`), then the line of
//! the file with the place marked, then hints.

use crate::diagnostic::{Diagnostic, Report, Severity, Span, harmless};
use crate::document::Source;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use std::fmt::Write;
use std::ops::Range;

/// Characters of a line that are drawn before and behind the marked place.
const BEFORE: usize = 60;
const BEHIND: usize = 60;

/// Draws a report. The text holds no control character but line breaks, and escape sequences for colour only when
/// `colour` asks for them.
pub fn diagnostics(report: &Report, source: &Source, colour: bool) -> String {
    let mut out = String::new();
    for diagnostic in report.sorted() {
        one(&mut out, diagnostic, source, colour);
        out.push('\n');
    }
    if report.left_out() > 0 {
        let more = report.left_out();
        // Writing to a string does not fail.
        let _ = writeln!(out, "{more} more are not shown");
    }
    out
}

fn one(out: &mut String, diagnostic: &Diagnostic, source: &Source, colour: bool) {
    let name = harmless(source.name()).into_owned();
    let message = harmless(&diagnostic.message).into_owned();
    let Span { line, column, .. } = diagnostic.span;
    if line == 0 {
        // A file that cannot be opened has no places.
        let _ = writeln!(out, "{name}: {message}");
        return;
    }
    let _ = writeln!(out, "{name}:{line}:{column}: {message}");
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let main = Excerpt::new(source, diagnostic.span);
    let others: Vec<(Excerpt, String)> =
        diagnostic.labels.iter().map(|l| (Excerpt::new(source, l.span), harmless(&l.text).into_owned())).collect();
    let hints: Vec<String> = diagnostic.hints.iter().map(|h| harmless(h).into_owned()).collect();
    let title = level.primary_title(message.as_str()).id(diagnostic.code);
    if source.text().is_empty() {
        // The file could not even be taken as text: there is no line to draw.
        return;
    }
    let mut group = title.element(main.snippet(AnnotationKind::Primary, None));
    for (excerpt, label) in &others {
        group = group.element(excerpt.snippet(AnnotationKind::Context, Some(label)));
    }
    for hint in &hints {
        group = group.element(Level::HELP.message(hint.as_str()));
    }
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let _ = writeln!(out, "{}", renderer.render(&[group]));
}

/// The piece of one line around a place, made harmless, with the place in it.
struct Excerpt {
    text: String,
    line: usize,
    mark: Range<usize>,
}

impl Excerpt {
    fn new(source: &Source, span: Span) -> Self {
        let text = source.text();
        let offset = span.offset.min(text.len());
        let before = text.get(..offset).unwrap_or_default();
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        let line_end = text.get(offset..).and_then(|rest| rest.find('\n')).map_or(text.len(), |i| offset + i);
        let end = offset.saturating_add(span.len).clamp(offset, line_end);
        let lead = text.get(line_start..offset).unwrap_or_default();
        let lead_start = lead.char_indices().rev().nth(BEFORE).map_or(0, |(i, _)| i);
        let marked = text.get(offset..end).unwrap_or_default();
        let tail = text.get(end..line_end).unwrap_or_default().trim_end();
        let mut drawn = String::new();
        drawn.extend(lead.get(lead_start..).unwrap_or_default().chars().map(shown));
        let start = drawn.len();
        drawn.extend(marked.chars().take(BEHIND).map(shown));
        let stop = drawn.len();
        drawn.extend(tail.chars().take(BEHIND).map(shown));
        Self { text: drawn, line: span.line, mark: start..stop }
    }

    fn snippet<'e>(
        &'e self,
        kind: AnnotationKind,
        label: Option<&'e str>,
    ) -> Snippet<'e, annotate_snippets::Annotation<'e>> {
        let mark = kind.span(self.mark.clone());
        let mark = match label {
            Some(label) => mark.label(label),
            None => mark,
        };
        Snippet::source(self.text.as_str()).line_start(self.line).annotation(mark)
    }
}

/// A character as it may stand in a drawn line: one column for what has none.
fn shown(c: char) -> char {
    if c == '\t' {
        return ' ';
    }
    let mut buffer = [0; 4];
    match harmless(c.encode_utf8(&mut buffer)) {
        std::borrow::Cow::Borrowed(_) => c,
        std::borrow::Cow::Owned(_) => '\u{fffd}',
    }
}
