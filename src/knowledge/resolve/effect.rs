//! Failure modes, resolved.

use super::super::amount::read_quantity;
use super::super::error::Wrong;
use super::super::raw::{RawMode, RawSoft, Text};
use super::super::{Knowledge, Mode, ModeEffect, PrimitiveSpec, Severity};
use super::Names;
use crate::units::Dimension;
use std::collections::BTreeMap;

/// The effects that a mode can have, for messages.
const EFFECTS: &str = "`open`, `open in all pins`, `series`, `leak to earth`, `short to earth`, `leak`, `short`, `leak between pins`, \
    `stuck closed`/`stuck open`, `value`, `swapped`, `swapped between pins`";

impl Names<'_, '_> {
    /// All modes of the kind.
    pub(super) fn modes(&mut self, known: &Knowledge) -> Vec<Mode> {
        let mut modes = Vec::new();
        for (key, raw) in &self.raw.modes.0 {
            let effect = self.effect(key, raw, known);
            let weight = raw.weight.value;
            if !(weight > 0.0 && weight <= 1.0) {
                let text = weight.to_string();
                let expected = "a weight above 0, at most 1";
                self.report.note(&raw.weight, Wrong::OutOfRange { text, expected });
            }
            let says = self.report.said(&raw.says, "what the screen says");
            let source = self.report.said(&raw.source, "a source");
            let repair_group = self.report.said(&raw.repair_group, "a repair group");
            let shows = self.report.said(&raw.shows, "how it shows");
            let proof = self.report.said(&raw.proof, "how it is proven");
            let repair = self.report.said(&raw.repair, "the usual repair");
            let cautions = self.report.cautions(&raw.cautions, known);
            let when = self.when(raw, known);
            if let Some(effect) = effect {
                let key = key.value.clone();
                modes.push(Mode {
                    key,
                    says,
                    effect,
                    mistake: raw.mistake,
                    when,
                    weight,
                    source,
                    repair_group,
                    shows,
                    proof,
                    repair,
                    cautions,
                });
            }
        }
        modes
    }

    /// What a mode states of when it shows.
    fn when(&mut self, raw: &RawMode, known: &Knowledge) -> BTreeMap<usize, f64> {
        let mut when = BTreeMap::new();
        for (word, share) in &raw.when.0 {
            match known.complaints.occasions.word(&word.value) {
                None => self.report.unknown(word, "occasion"),
                Some(position) => {
                    when.insert(position, *share);
                }
            }
            let sum: f64 = when.values().sum();
            if !(*share > 0.0 && sum <= 1.0) {
                let expected = "shares above 0 with a sum of at most 1";
                self.report.note(word, Wrong::OutOfRange { text: share.to_string(), expected });
            }
        }
        when
    }

    fn effect(&mut self, key: &Text, raw: &RawMode, known: &Knowledge) -> Option<ModeEffect> {
        let given = count_effects(raw);
        if given != 1 {
            let choices = EFFECTS;
            self.report.note(key, Wrong::OneOf { choices, given });
            return None;
        }
        if !raw.open.is_empty() {
            return Some(ModeEffect::Open(self.known_elements(&raw.open)));
        }
        if !raw.open_in_all_pins.is_empty() {
            self.has_pins(key);
            let elements = self.known_elements(&raw.open_in_all_pins);
            return Some(ModeEffect::OpenInAllPins(elements));
        }
        if let Some(soft) = &raw.series {
            let element = self.wanted(key, soft.element.as_ref(), "`in`")?;
            self.can_have_series(&element);
            return Some(ModeEffect::Series(element.value.clone(), self.severity(soft)?));
        }
        if let Some(soft) = &raw.leak_to_earth {
            let at = self.wanted(key, soft.at.as_ref(), "`at`")?;
            self.node(&at);
            return Some(ModeEffect::LeakToEarth(at.value, self.severity(soft)?));
        }
        if let Some(at) = &raw.short_to_earth {
            self.node(at);
            return Some(ModeEffect::ShortToEarth(at.value.clone()));
        }
        if let Some(soft) = &raw.leak {
            let (a, b) = self.two(key, &soft.between)?;
            return Some(ModeEffect::Leak(a, b, self.severity(soft)?));
        }
        if !raw.short.is_empty() {
            let (a, b) = self.two(key, &raw.short)?;
            return Some(ModeEffect::Short(a, b));
        }
        if let Some(soft) = &raw.leak_between_pins {
            self.has_pins(key);
            return Some(ModeEffect::LeakBetweenPins(self.severity(soft)?));
        }
        if !raw.swapped.is_empty() {
            let (a, b) = self.two(key, &raw.swapped)?;
            return Some(ModeEffect::Swapped(a, b));
        }
        if let Some(at) = &raw.swapped_between_pins {
            self.has_pins(key);
            self.node(at);
            return Some(ModeEffect::SwappedBetweenPins(at.value.clone()));
        }
        if !raw.value.0.is_empty() {
            return self.values(raw, known);
        }
        Some(ModeEffect::Stuck(self.stuck(raw)))
    }

    fn values(&mut self, raw: &RawMode, known: &Knowledge) -> Option<ModeEffect> {
        let mut values = Vec::new();
        for (element, primitive) in &raw.value.0 {
            self.known_elements(std::slice::from_ref(element));
            values.push((element.value.clone(), self.primitive(element, primitive, known)?));
        }
        Some(ModeEffect::Value(values))
    }

    fn stuck(&mut self, raw: &RawMode) -> Vec<(String, bool)> {
        let mut stuck = Vec::new();
        for (elements, closed) in [(&raw.stuck_closed, true), (&raw.stuck_open, false)] {
            for element in elements {
                let movable = self.spec(element).is_some_and(|p| {
                    matches!(p, PrimitiveSpec::Contact { .. } | PrimitiveSpec::ElectronicSwitch { .. })
                });
                if !movable {
                    let effect = "a stuck state: it is no contact";
                    self.report.note(element, Wrong::Unfit { element: element.value.clone(), effect });
                }
                stuck.push((element.value.clone(), closed));
            }
        }
        stuck
    }

    fn spec(&self, key: &Text) -> Option<&PrimitiveSpec> {
        let element = self.elements.iter().find(|e| e.key == key.value);
        element.map(|e| &e.primitive)
    }

    /// A series resistance has a meaning in these elements only; others take a resistance element of their own before them.
    fn can_have_series(&mut self, element: &Text) {
        match self.spec(element) {
            None => self.report.unknown(element, "element"),
            Some(
                PrimitiveSpec::Resistance(_)
                | PrimitiveSpec::Conductor(_)
                | PrimitiveSpec::Contact { .. }
                | PrimitiveSpec::Fuse { .. }
                | PrimitiveSpec::Source { .. }
                | PrimitiveSpec::Coil { .. }
                | PrimitiveSpec::ElectronicSwitch { .. }
                | PrimitiveSpec::Diode { .. },
            ) => {}
            Some(_) => {
                let effect = "a series resistance (give it a resistance element in series)";
                self.report.note(element, Wrong::Unfit { element: element.value.clone(), effect });
            }
        }
    }

    fn has_pins(&mut self, key: &Text) {
        if self.raw.pin_word.is_none() {
            let element = key.value.clone();
            let effect = "an effect on pins: the kind has none";
            self.report.note(key, Wrong::Unfit { element, effect });
        }
    }

    fn known_elements(&mut self, keys: &[Text]) -> Vec<String> {
        for key in keys {
            if self.spec(key).is_none() {
                self.report.unknown(key, "element");
            }
        }
        keys.iter().map(|key| key.value.clone()).collect()
    }

    /// Checks that a terminal or inner node of this name exists.
    fn node(&mut self, name: &Text) {
        let inner = self.elements.iter().any(|e| e.from == name.value || e.to == name.value);
        if !inner && self.raw.terminals.0.iter().all(|(t, _)| t.value != name.value) {
            self.report.unknown(name, "terminal or inner node");
        }
    }

    fn two(&mut self, key: &Text, ends: &[Text]) -> Option<(String, String)> {
        let [a, b] = ends else {
            self.report.note(key, Wrong::Missing("two ends"));
            return None;
        };
        self.node(a);
        self.node(b);
        Some((a.value.clone(), b.value.clone()))
    }

    fn wanted(&mut self, key: &Text, text: Option<&Text>, what: &'static str) -> Option<Text> {
        if text.is_none() {
            self.report.note(key, Wrong::Missing(what));
        }
        text.cloned()
    }

    fn severity(&mut self, soft: &RawSoft) -> Option<Severity> {
        let low = read_quantity(&soft.from.value, Dimension::Ohms).filter(|r| *r > 0.0);
        let high = read_quantity(&soft.to.value, Dimension::Ohms);
        match (low, high) {
            (None, _) => self.report.unreadable(&soft.from, "a resistance above zero"),
            (Some(low), Some(high)) if high > low => return Some(Severity { low, high }),
            _ => self.report.unreadable(&soft.to, "a resistance above `from`"),
        }
        None
    }
}

fn count_effects(raw: &RawMode) -> usize {
    let given = [
        !raw.open.is_empty(),
        !raw.open_in_all_pins.is_empty(),
        raw.series.is_some(),
        raw.leak_to_earth.is_some(),
        raw.short_to_earth.is_some(),
        raw.leak.is_some(),
        !raw.short.is_empty(),
        raw.leak_between_pins.is_some(),
        !raw.stuck_closed.is_empty() || !raw.stuck_open.is_empty(),
        !raw.value.0.is_empty(),
        !raw.swapped.is_empty(),
        raw.swapped_between_pins.is_some(),
    ];
    given.into_iter().filter(|g| *g).count()
}
