//! What the YAML reader refuses, in our words and with a place.

use super::Source;
use crate::diagnostic::{Diagnostic, Span, harmless, quoted};
use serde_yaml::Error;
use serde_yaml::budget::BudgetBreach;

/// Turns an error of the YAML reader into a diagnostic.
pub(super) fn diagnose(error: &Error, source: &Source) -> Diagnostic {
    let error = innermost(error);
    let span = error.location().map_or_else(|| source.span(0, 0), |l| span_of(l, source));
    match error {
        Error::DuplicateMappingKey { key, .. } => {
            let what = key.as_deref().map_or_else(|| "this key".to_owned(), quoted);
            let long = key.as_deref().map_or(0, str::len);
            Diagnostic::error(
                "duplicate-key",
                Span { len: span.len.max(long), ..span },
                format!("{what} stands here a second time"),
            )
        }
        Error::Budget { breach, .. } => Diagnostic::error("too-much", span, too_much(breach)),
        Error::AliasReplayLimitExceeded { .. }
        | Error::AliasExpansionLimitExceeded { .. }
        | Error::AliasReplayStackDepthExceeded { .. } => {
            Diagnostic::error("too-much", span, "this file repeats itself by `*` too often")
        }
        Error::NullIntoString { .. } | Error::Unexpected { .. } => {
            Diagnostic::error("wrong-form", span, "this is no name: a text stands here")
        }
        Error::UnknownAnchor { .. } => Diagnostic::error("yaml", span, "a text that starts with `*` needs quotes here")
            .hint("a run may start with what feeds its first junction instead"),
        Error::MultipleDocuments { .. } => {
            Diagnostic::error("yaml", span, "a second document starts here; a file holds one")
        }
        other => match other.to_string() {
            said if said.contains("mapping values are not allowed") => {
                Diagnostic::error("yaml", span, "a colon with a blank behind it stands inside a text here")
                    .hint("put the whole text in single quotes")
            }
            said if said.contains("recursion limit") => Diagnostic::error("too-much", span, NESTED),
            said => Diagnostic::error("yaml", span, in_one_line(&said)),
        },
    }
}

/// The error without the wrappers that carry drawings.
fn innermost(error: &Error) -> &Error {
    let mut error = error;
    loop {
        error = match error {
            Error::WithSnippet { error, .. } | Error::AliasError { error, .. } => error,
            _ => return error,
        };
    }
}

/// The reader's place as ours.
pub(super) fn span_of(location: serde_yaml::Location, source: &Source) -> Span {
    let whole = location.span();
    let (offset, len) = match (whole.byte_offset(), whole.byte_len()) {
        (Some(offset), Some(len)) => (usize_of(offset), usize_of(len)),
        _ => return source.span_at(usize_of(location.line()), usize_of(location.column())),
    };
    Span { offset, line: usize_of(location.line()).max(1), column: usize_of(location.column()).max(1), len }
}

fn usize_of(n: u64) -> usize {
    usize::try_from(n).unwrap_or(usize::MAX)
}

const NESTED: &str = "this file is nested too deeply from here on";

fn too_much(breach: &BudgetBreach) -> String {
    match breach {
        BudgetBreach::Depth { .. } => NESTED,
        BudgetBreach::Nodes { .. } | BudgetBreach::Events { .. } => "this file holds too many entries",
        BudgetBreach::Documents { .. } => "a second document starts here; a file holds one",
        _ => "this file is built to take more room than it should",
    }
    .to_owned()
}

/// The reader's own words: the first line, without its place at the end, harmless.
fn in_one_line(text: &str) -> String {
    let first = text.lines().next().unwrap_or_default();
    let first = first.split(" at line ").next().unwrap_or(first);
    let first = first.strip_prefix("error: ").unwrap_or(first);
    let short: String = first.chars().take(200).collect();
    format!("this is not YAML: {}", harmless(short.trim()))
}
