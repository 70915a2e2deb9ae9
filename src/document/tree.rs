//! The tree of a document.

use super::{Source, error::span_of};
use crate::diagnostic::{Diagnostic, Report, Span, harmless, quoted};
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_yaml::Spanned;
use std::borrow::Cow;
use std::fmt;

/// A value with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Where it stands.
    pub span: Span,
    /// What it is.
    pub value: Value,
}

/// What stands in a place.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing (`key:` with nothing behind it, `~`).
    Nothing,
    /// A scalar, as it was written.
    Text(String),
    /// A list.
    List(Vec<Node>),
    /// A map, in the order of the file.
    Map(Vec<Entry>),
}

/// A key and its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The key.
    pub key: Text,
    /// The value.
    pub value: Node,
}

/// A text with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    /// Where it stands, quotes included.
    pub span: Span,
    /// The text, unquoted.
    pub text: String,
}

impl Node {
    /// The text, if it is one.
    pub fn as_text(&self) -> Option<&str> {
        match &self.value {
            Value::Text(text) => Some(text),
            Value::Nothing | Value::List(_) | Value::Map(_) => None,
        }
    }

    /// The entries, if it is a map; none if it is nothing.
    pub fn as_map(&self) -> Option<&[Entry]> {
        match &self.value {
            Value::Map(entries) => Some(entries),
            Value::Nothing => Some(&[]),
            Value::Text(_) | Value::List(_) => None,
        }
    }

    /// The items, if it is a list; none if it is nothing.
    pub fn as_list(&self) -> Option<&[Node]> {
        match &self.value {
            Value::List(items) => Some(items),
            Value::Nothing => Some(&[]),
            Value::Text(_) | Value::Map(_) => None,
        }
    }

    /// The value of `key`, if it is a map that has it.
    pub fn get(&self, key: &str) -> Option<&Node> {
        let entries = self.as_map()?;
        entries.iter().find(|e| e.key.text == key).map(|e| &e.value)
    }
}

/// The value as the YAML reader hands it over.
pub(super) struct Raw(Spanned<RawValue>);

enum RawValue {
    Nothing,
    Text(String),
    /// A scalar that the reader took for a number or a truth value; its text is read from the source.
    Scalar(String),
    List(Vec<Raw>),
    Map(Vec<(Spanned<String>, Raw)>),
}

impl<'de> Deserialize<'de> for Raw {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Spanned::deserialize(deserializer).map(Raw)
    }
}

impl<'de> Deserialize<'de> for RawValue {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(AnyValue)
    }
}

struct AnyValue;

impl<'de> Visitor<'de> for AnyValue {
    type Value = RawValue;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a text, a list or a map")
    }
    fn visit_unit<E>(self) -> Result<RawValue, E> {
        Ok(RawValue::Nothing)
    }
    fn visit_none<E>(self) -> Result<RawValue, E> {
        Ok(RawValue::Nothing)
    }
    fn visit_bool<E>(self, v: bool) -> Result<RawValue, E> {
        Ok(RawValue::Scalar(v.to_string()))
    }
    fn visit_i64<E>(self, v: i64) -> Result<RawValue, E> {
        Ok(RawValue::Scalar(v.to_string()))
    }
    fn visit_u64<E>(self, v: u64) -> Result<RawValue, E> {
        Ok(RawValue::Scalar(v.to_string()))
    }
    fn visit_i128<E>(self, v: i128) -> Result<RawValue, E> {
        Ok(RawValue::Scalar(v.to_string()))
    }
    fn visit_u128<E>(self, v: u128) -> Result<RawValue, E> {
        Ok(RawValue::Scalar(v.to_string()))
    }
    fn visit_f64<E>(self, v: f64) -> Result<RawValue, E> {
        Ok(RawValue::Scalar(v.to_string()))
    }
    fn visit_str<E>(self, v: &str) -> Result<RawValue, E> {
        Ok(RawValue::Text(v.to_owned()))
    }
    fn visit_string<E>(self, v: String) -> Result<RawValue, E> {
        Ok(RawValue::Text(v))
    }
    fn visit_bytes<E>(self, v: &[u8]) -> Result<RawValue, E> {
        Ok(RawValue::Text(String::from_utf8_lossy(v).into_owned()))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<RawValue, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element()? {
            items.push(item);
        }
        Ok(RawValue::List(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<RawValue, A::Error> {
        let mut entries = Vec::new();
        while let Some(entry) = map.next_entry()? {
            entries.push(entry);
        }
        Ok(RawValue::Map(entries))
    }
}

/// Longest text, in bytes.
const LONGEST_TEXT: usize = 8_192;

/// Makes the tree from the raw values, with the source at hand for what was written.
pub(super) struct Builder<'s> {
    source: &'s Source,
    refused: Report,
    /// Texts are taken whatever they hold.
    trusting: bool,
}

impl<'s> Builder<'s> {
    pub(super) fn new(source: &'s Source) -> Self {
        let refused = Report::new();
        Self { source, refused, trusting: false }
    }

    /// The same for what a program wrote down as it was typed: any text of any length is one.
    pub(super) fn trusting(source: &'s Source) -> Self {
        Self { trusting: true, ..Self::new(source) }
    }

    /// The tree, and what in it is refused.
    pub(super) fn build(mut self, raw: Raw) -> (Node, Report) {
        let node = self.node(raw);
        (node, self.refused)
    }

    /// One value; its depth is bounded by the reader's budget.
    fn node(&mut self, Raw(raw): Raw) -> Node {
        let span = span_of(raw.defined, self.source);
        let value = match raw.value {
            RawValue::Nothing => Value::Nothing,
            RawValue::Text(text) => {
                self.check(&text, span);
                Value::Text(text)
            }
            RawValue::Scalar(read) => Value::Text(self.written(span, read)),
            RawValue::List(items) => Value::List(items.into_iter().map(|i| self.node(i)).collect()),
            RawValue::Map(entries) => Value::Map(
                entries
                    .into_iter()
                    .map(|(key, value)| {
                        let span = span_of(key.defined, self.source);
                        self.check(&key.value, span);
                        let text = key.value;
                        Entry { key: Text { span, text }, value: self.node(value) }
                    })
                    .collect(),
            ),
        };
        Node { span, value }
    }

    /// A text that would do something on a screen, or look like another, is refused, and one of absurd length.
    fn check(&mut self, text: &str, span: Span) {
        if self.trusting {
            return;
        }
        if text.len() > LONGEST_TEXT {
            let span = Span { len: 0, ..span };
            let message = format!("this text is too long: more than {LONGEST_TEXT} bytes");
            self.refused.push(Diagnostic::error("too-much", span, message));
            return;
        }
        let lines = text.split(['\n', '\t']);
        for line in lines {
            if let Cow::Owned(_) = harmless(line) {
                self.refused.push(
                    Diagnostic::error("unshowable", span, "this text holds a character that cannot be shown")
                        .hint(format!("it reads {}", quoted(text))),
                );
                return;
            }
        }
    }

    /// A number or truth value as it was written (`12.40` stays `12.40`), if the source has it.
    fn written(&self, span: Span, read: String) -> String {
        let end = span.offset.saturating_add(span.len);
        match self.source.text().get(span.offset..end) {
            Some(text) if !text.trim().is_empty() && !text.contains(['\n', '!', '&', '*']) => text.trim().to_owned(),
            _ => read,
        }
    }
}

impl Text {
    /// The span of the bytes `from..to` of the text. Exact for plain text on one line; for quoted and folded text
    /// the line is right and the column follows the characters that both have.
    pub fn part(&self, source: &Source, from: usize, to: usize) -> Span {
        let span = self.span;
        let end = span.offset.saturating_add(span.len).min(source.text().len());
        let Some(raw) = source.text().get(span.offset..end) else {
            return span;
        };
        if raw == self.text && !raw.contains('\n') {
            let before = raw.get(..from).unwrap_or(raw);
            return Span {
                offset: span.offset + before.len(),
                line: span.line,
                column: span.column + before.chars().count(),
                len: to.min(raw.len()).saturating_sub(before.len()),
            };
        }
        let map = Alignment::new(&self.text, raw);
        let (start, stop) = (map.at(from), map.at(to.max(from)));
        let before = raw.get(..start).unwrap_or_default();
        // Counted from the scalar on, not from the start of the file.
        let mut part = Span {
            offset: span.offset + start,
            line: span.line + before.matches('\n').count(),
            column: match before.rsplit_once('\n') {
                Some((_, line)) => line.chars().count() + 1,
                None => span.column + before.chars().count(),
            },
            len: stop.saturating_sub(start),
        };
        // A stretch that was folded over two lines is marked on its first.
        if let Some(text) = source.text().get(part.offset..part.offset + part.len)
            && let Some(line_end) = text.find('\n')
        {
            part.len = text.get(..line_end).map_or(0, |t| t.trim_end().len());
        }
        part
    }
}

/// Which byte of the source stands behind which byte of an unquoted, unfolded text.
struct Alignment {
    pairs: Vec<(usize, usize)>,
    end: usize,
}

impl Alignment {
    /// Walks both texts and pairs equal characters; what only the source has (quotes, escapes, folds) is passed over.
    fn new(text: &str, raw: &str) -> Self {
        let mut pairs = Vec::new();
        let mut rest = raw.char_indices().peekable();
        if raw.starts_with(['"', '\'', '|', '>']) && !text.starts_with(['|', '>']) {
            rest.next();
        }
        let mut end = 0;
        for (at, c) in text.char_indices() {
            let blank = c.is_whitespace();
            while let Some((_, r)) = rest.peek() {
                let same = *r == c || (blank && r.is_whitespace());
                if same {
                    break;
                }
                rest.next();
            }
            let here = rest.next().map_or(raw.len(), |(i, r)| {
                end = i + r.len_utf8();
                i
            });
            if blank {
                // A fold: one blank of the text for a line break and the indent behind it.
                let single = text.get(at + c.len_utf8()..).is_some_and(|t| !t.starts_with(char::is_whitespace));
                while single && rest.peek().is_some_and(|(_, r)| r.is_whitespace()) {
                    rest.next();
                }
            }
            pairs.push((at, here));
        }
        pairs.push((text.len(), end));
        Self { pairs, end }
    }

    fn at(&self, byte: usize) -> usize {
        match self.pairs.binary_search_by_key(&byte, |(t, _)| *t) {
            Ok(i) => self.pairs.get(i).map_or(self.end, |(_, r)| *r),
            Err(_) => self.end,
        }
    }
}
