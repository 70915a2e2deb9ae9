//! A file's text, checked to be text at all.

use crate::diagnostic::{Diagnostic, Report, Span};

/// The largest file that is read, in bytes (5,000 circuits are about one megabyte).
pub const LARGEST: usize = 16 << 20;

/// The text of a file with the name that messages give it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    name: String,
    text: String,
}

impl Source {
    /// Takes the text of a file; a byte order mark at its start is dropped.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        let mut text: String = text.into();
        if text.starts_with('\u{feff}') {
            text.drain(..'\u{feff}'.len_utf8());
        }
        Self { name: name.into(), text }
    }

    /// Takes the bytes of a file.
    ///
    /// # Errors
    /// It is too large, or no UTF-8 text: the place of the first byte that is not.
    pub fn from_bytes(name: impl Into<String>, bytes: Vec<u8>) -> Result<Self, Report> {
        if bytes.len() > LARGEST {
            let megabytes = LARGEST >> 20;
            let message = format!("this file is larger than {megabytes} MB");
            return Err(Diagnostic::error("file-too-large", START, message).into());
        }
        match String::from_utf8(bytes) {
            Ok(text) => Ok(Self::new(name, text)),
            Err(e) => {
                let offset = e.utf8_error().valid_up_to();
                let good = e.as_bytes().get(..offset).unwrap_or_default();
                let good = String::from_utf8_lossy(good).into_owned();
                let span = Self::new(name, good).span(offset, 0);
                {
                    let message = "this is not UTF-8 text from here on";
                    let d = Diagnostic::error("not-text", span, message);
                    Err(d.hint("save the file as UTF-8 text").into())
                }
            }
        }
    }

    /// The name of the file, as messages show it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The span of `len` bytes from `offset` on. Counts lines from the start of the text: for errors only.
    pub fn span(&self, offset: usize, len: usize) -> Span {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let before = self.text.get(..offset).unwrap_or_default();
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        Span {
            offset,
            line: before.bytes().filter(|b| *b == b'\n').count() + 1,
            column: before.get(line_start..).map_or(0, |l| l.chars().count()) + 1,
            len,
        }
    }

    /// The place at `line` and `column` (1-based, in characters).
    pub fn span_at(&self, line: usize, column: usize) -> Span {
        let mut offset = 0;
        for (i, text) in self.text.split_inclusive('\n').enumerate() {
            if i + 1 == line {
                let inside = text.char_indices().nth(column.saturating_sub(1));
                return self.span(offset + inside.map_or(0, |(at, _)| at), 0);
            }
            offset += text.len();
        }
        self.span(self.text.len(), 0)
    }
}

/// The start of a file.
const START: Span = Span { offset: 0, line: 1, column: 1, len: 0 };
