//! The head of an install file and its places.

use super::Place;
use super::build::Build;
use super::grammar::bad_name;
use crate::diagnostic::Diagnostic;
use crate::document::{Entry, Fields, Text};
use crate::units::{Dimension, Minutes, Volts};

impl Build<'_> {
    /// `install`, `nominal`, `kind`, `earth is called`.
    pub(super) fn read_head(&mut self, fields: &mut Fields<'_>) {
        if let Some(title) = fields.needed_text("install", &mut self.report) {
            self.install.title = title.text;
        }
        if let Some(text) = fields.needed_text("nominal", &mut self.report)
            && let Some(value) = self.figure(&text, Dimension::Volts)
            && let Ok(volts) = Volts::try_from(value)
        {
            self.install.nominal = volts;
        }
        if let Some(setting) = fields.text("kind", &mut self.report) {
            self.install.setting = setting.text;
        }
        if let Some(fuel) = fields.text("fuel", &mut self.report) {
            self.install.fuel = fuel.text;
        }
        if let Some(word) = fields.text("earth is called", &mut self.report) {
            self.install.earth_word = word.text;
        }
    }

    /// `places`.
    pub(super) fn read_places(&mut self, entries: &[Entry]) {
        for entry in entries {
            if let Some(message) = bad_name(&entry.key.text) {
                let span = entry.key.span;
                self.report.push(Diagnostic::error("bad-name", span, message));
            }
            let mut fields = Fields::open(&entry.value, "a place", &mut self.report);
            let access = fields.text("access", &mut self.report);
            let open = fields.text("open", &mut self.report);
            let (access, open) = (self.minutes(access), self.minutes(open));
            let caution = fields.text("caution", &mut self.report).map(|t| t.text);
            fields.finish(&mut self.report);
            let id = self.install.places.push(Place { name: entry.key.text.clone(), access, open, caution });
            self.place_names.insert(entry.key.text.clone(), id);
        }
    }

    fn minutes(&mut self, text: Option<Text>) -> Minutes {
        let value = text.and_then(|t| self.figure(&t, Dimension::Minutes));
        value.and_then(|v| Minutes::try_from(v).ok()).unwrap_or(Minutes::ZERO)
    }
}
