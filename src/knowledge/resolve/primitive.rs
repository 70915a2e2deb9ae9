//! The electrical behaviour of an element, resolved.

use super::super::error::Wrong;
use super::super::raw::{RawConductor, RawContact, RawElectronic, RawElement, RawFuse, RawSource, Text};
use super::super::{Amount, ConductorSpec, DriveSpec, ElementSpec, Knowledge, PrimitiveSpec, Reset};
use super::Names;
use crate::units::Dimension;

/// The behaviours that an element can have, for messages.
const BEHAVIOURS: &str = "`source`, `resistance`, `conductor`, `filament`, `motor`, `power`, `fuse`, `coil`, \
    `contact`, `electronic`, `diode`, `converter input`, `converter output`";

impl Names<'_, '_> {
    /// All elements of the kind.
    pub(super) fn elements(&mut self, known: &Knowledge) -> Vec<ElementSpec> {
        let mut elements = Vec::new();
        for (key, raw) in &self.raw.elements.0 {
            let (Some(from), Some(to)) = (&raw.from, &raw.to) else {
                self.report.note(key, Wrong::Missing("`from` or `to`"));
                continue;
            };
            if from.value == to.value {
                self.report.unreadable(to, "another end than `from`");
            }
            if let Some(primitive) = self.primitive(key, raw, known) {
                elements.push(ElementSpec {
                    key: key.value.clone(),
                    from: from.value.clone(),
                    to: to.value.clone(),
                    primitive,
                });
            }
        }
        elements
    }

    /// The one behaviour of an element.
    pub(super) fn primitive(&mut self, key: &Text, raw: &RawElement, known: &Knowledge) -> Option<PrimitiveSpec> {
        let given = count_behaviours(raw);
        if given != 1 {
            let choices = BEHAVIOURS;
            self.report.note(key, Wrong::OneOf { choices, given });
            return None;
        }
        if let Some(s) = &raw.source {
            return self.source(key, s);
        }
        if let Some(ohms) = &raw.resistance {
            return Some(PrimitiveSpec::Resistance(self.amount(ohms, Dimension::Ohms)?));
        }
        if let Some(c) = &raw.conductor {
            return self.conductor(c, known);
        }
        if let Some(f) = &raw.filament {
            return Some(PrimitiveSpec::Filament {
                hot: self.amount(&f.hot, Dimension::Ohms)?,
                nominal: self.amount(&f.nominal, Dimension::Volts)?,
            });
        }
        if let Some(m) = &raw.motor {
            return Some(PrimitiveSpec::Motor {
                winding: self.amount(&m.winding, Dimension::Ohms)?,
                running: self.amount(&m.running, Dimension::Ohms)?,
                start: self.amount(&m.start, Dimension::Volts)?,
                stop: self.amount(&m.stop, Dimension::Volts)?,
            });
        }
        if let Some(p) = &raw.power {
            return Some(PrimitiveSpec::Power {
                watts: self.amount(&p.watts, Dimension::Watts)?,
                cut_off: self.amount(&p.cut_off, Dimension::Volts)?,
                leakage: self.amount(&p.leakage, Dimension::Ohms)?,
                polarised: p.polarised,
            });
        }
        if let Some(f) = &raw.fuse {
            return self.fuse(f, known);
        }
        if let Some(c) = &raw.coil {
            return Some(PrimitiveSpec::Coil {
                ohms: self.amount(&c.ohms, Dimension::Ohms)?,
                pull_in: self.amount(&c.pull_in, Dimension::Volts)?,
                release: self.amount(&c.release, Dimension::Volts)?,
            });
        }
        if let Some(c) = &raw.contact {
            return Some(PrimitiveSpec::Contact {
                closed: self.amount(&c.closed, Dimension::Ohms)?,
                drive: self.drive(key, c)?,
            });
        }
        self.rarer(key, raw)
    }

    fn rarer(&mut self, key: &Text, raw: &RawElement) -> Option<PrimitiveSpec> {
        if let Some(e) = &raw.electronic {
            return self.electronic(key, e);
        }
        if let Some(d) = &raw.diode {
            return Some(PrimitiveSpec::Diode {
                forward: self.amount(&d.forward, Dimension::Volts)?,
                series: self.amount(&d.series, Dimension::Ohms)?,
            });
        }
        if let Some(c) = &raw.converter_input {
            self.element(&c.output);
            c.enable.iter().for_each(|enable| self.element(enable));
            return Some(PrimitiveSpec::ConverterInput {
                output: c.output.value.clone(),
                efficiency: self.report.share(&c.efficiency),
                cut_off: self.amount(&c.cut_off, Dimension::Volts)?,
                idle: self.amount(&c.idle, Dimension::Ohms)?,
                enable: c.enable.as_ref().map(|e| e.value.clone()),
            });
        }
        let c = raw.converter_output.as_ref()?;
        self.element(&c.input);
        Some(PrimitiveSpec::ConverterOutput {
            emf: self.amount(&c.emf, Dimension::Volts)?,
            internal: self.amount(&c.internal, Dimension::Ohms)?,
            limit: self.optional(c.limit.as_ref(), Dimension::Amps),
            input: c.input.value.clone(),
        })
    }

    fn source(&mut self, key: &Text, raw: &RawSource) -> Option<PrimitiveSpec> {
        let mut emf = Vec::new();
        if let Some(text) = &raw.emf {
            emf.push(Some(self.amount(text, Dimension::Volts)?));
        }
        for position in self.raw.positions.iter().filter(|_| raw.emf.is_none()) {
            let entry = raw.by_position.0.iter().find(|(p, _)| p.value == position.value);
            match entry {
                None => self.report.note(position, Wrong::Missing("its EMF in `emf by position`")),
                Some((_, text)) if text.value == "open" => emf.push(None),
                Some((_, text)) => emf.push(Some(self.amount(text, Dimension::Volts)?)),
            }
        }
        for (position, _) in &raw.by_position.0 {
            if self.raw.positions.iter().all(|p| p.value != position.value) {
                self.report.unknown(position, "position");
            }
        }
        if emf.is_empty() || raw.emf.is_some() != raw.by_position.0.is_empty() {
            let given = usize::from(raw.emf.is_some()) + usize::from(!raw.by_position.0.is_empty());
            let choices = "`emf`, `emf by position` (of a kind with positions)";
            self.report.note(key, Wrong::OneOf { choices, given });
        }
        Some(PrimitiveSpec::Source {
            emf,
            internal: self.amount(&raw.internal, Dimension::Ohms)?,
            limit: self.optional(raw.limit.as_ref(), Dimension::Amps),
        })
    }

    fn conductor(&mut self, raw: &RawConductor, known: &Knowledge) -> Option<PrimitiveSpec> {
        for (key, unit) in [(&raw.size, Dimension::SquareMillimetres), (&raw.length, Dimension::Metres)] {
            if self.figures.iter().all(|f| f.key != key.value || f.unit != unit) {
                self.report.unknown(key, "figure of that unit");
                return None;
            }
        }
        for table in &raw.tables {
            if !known.tables.contains_key(&table.value) {
                self.report.unknown(table, "lookup table");
            }
        }
        Some(PrimitiveSpec::Conductor(ConductorSpec {
            size: raw.size.value.clone(),
            length: raw.length.value.clone(),
            tables: raw.tables.iter().map(|t| t.value.clone()).collect(),
        }))
    }

    fn fuse(&mut self, raw: &RawFuse, known: &Knowledge) -> Option<PrimitiveSpec> {
        let Some(gate) = known.tables.get(&raw.gate.value) else {
            self.report.unknown(&raw.gate, "lookup table");
            return None;
        };
        let reset = match raw.reset.value.as_str() {
            "never" => Reset::Never,
            "by hand" => Reset::ByHand,
            "by itself" => Reset::ByItself,
            "when dead" => Reset::WhenDead,
            _ => {
                self.report.unreadable(&raw.reset, "`never`, `by hand`, `by itself` or `when dead`");
                return None;
            }
        };
        Some(PrimitiveSpec::Fuse {
            ohms: self.amount(&raw.ohms, Dimension::Ohms)?,
            rating: self.amount(&raw.rating, Dimension::Amps)?,
            gate: gate.points(),
            reset,
        })
    }

    fn electronic(&mut self, key: &Text, raw: &RawElectronic) -> Option<PrimitiveSpec> {
        let given = usize::from(!raw.positions.is_empty()) + usize::from(!raw.coils.is_empty());
        if given != 1 {
            let choices = "`on in`, `commanded by`";
            self.report.note(key, Wrong::OneOf { choices, given });
        }
        raw.coils.iter().for_each(|coil| self.element(coil));
        let drive = if raw.coils.is_empty() {
            DriveSpec::Positions(self.positions(&raw.positions))
        } else {
            DriveSpec::Coils { coils: texts(&raw.coils), closed_at_rest: false }
        };
        Some(PrimitiveSpec::ElectronicSwitch {
            on: self.amount(&raw.on, Dimension::Ohms)?,
            leakage: self.amount(&raw.leakage, Dimension::Ohms)?,
            trip: self.optional(raw.trip.as_ref(), Dimension::Amps),
            on_share: raw.on_share.as_ref().map_or(1.0, |share| self.report.share(share)),
            drive,
        })
    }

    fn drive(&mut self, key: &Text, raw: &RawContact) -> Option<DriveSpec> {
        let latch = raw.set_by.as_ref().zip(raw.reset_by.as_ref());
        let given = [
            !raw.positions.is_empty(),
            !raw.made_by.is_empty(),
            !raw.broken_by.is_empty(),
            latch.is_some(),
            raw.stepped_by.is_some(),
        ];
        let given = given.into_iter().filter(|g| *g).count();
        if given != 1 {
            let choices = "`closed in`, `made by`, `broken by`, `set by` with `reset by`, `stepped by`";
            self.report.note(key, Wrong::OneOf { choices, given });
            return None;
        }
        for coil in raw.made_by.iter().chain(&raw.broken_by) {
            self.element(coil);
        }
        if let Some((set, reset)) = latch {
            self.element(set);
            self.element(reset);
            return Some(DriveSpec::Latch { set: set.value.clone(), reset: reset.value.clone() });
        }
        if let Some(coil) = &raw.stepped_by {
            self.element(coil);
            return Some(DriveSpec::Step { coil: coil.value.clone() });
        }
        if !raw.positions.is_empty() {
            return Some(DriveSpec::Positions(self.positions(&raw.positions)));
        }
        let closed_at_rest = !raw.broken_by.is_empty();
        let coils = if closed_at_rest { &raw.broken_by } else { &raw.made_by };
        Some(DriveSpec::Coils { coils: texts(coils), closed_at_rest })
    }

    fn positions(&mut self, named: &[Text]) -> Vec<String> {
        for position in named {
            if self.raw.positions.iter().all(|p| p.value != position.value) {
                self.report.unknown(position, "position");
            }
        }
        texts(named)
    }

    /// Checks that an element of this key is written in the kind.
    fn element(&mut self, key: &Text) {
        if self.raw.elements.0.iter().all(|(k, _)| k.value != key.value) {
            self.report.unknown(key, "element");
        }
    }

    fn amount(&mut self, text: &Text, unit: Dimension) -> Option<Amount> {
        let amount = Amount::read(&text.value, unit);
        match &amount {
            None => self.report.unreadable(text, "an amount with its unit, or a product of figures"),
            Some(amount) => self.report.figures_of(text, amount, self.figures),
        }
        amount
    }

    /// An amount that may be left out. One that does not read is in the report, so the kind is refused whatever comes of it.
    pub(super) fn optional(&mut self, text: Option<&Text>, unit: Dimension) -> Option<Amount> {
        text.and_then(|text| self.amount(text, unit))
    }
}

fn texts(texts: &[Text]) -> Vec<String> {
    texts.iter().map(|t| t.value.clone()).collect()
}

fn count_behaviours(raw: &RawElement) -> usize {
    let given = [
        raw.source.is_some(),
        raw.resistance.is_some(),
        raw.conductor.is_some(),
        raw.filament.is_some(),
        raw.motor.is_some(),
        raw.power.is_some(),
        raw.fuse.is_some(),
        raw.coil.is_some(),
        raw.contact.is_some(),
        raw.electronic.is_some(),
        raw.diode.is_some(),
        raw.converter_input.is_some(),
        raw.converter_output.is_some(),
    ];
    given.into_iter().filter(|g| *g).count()
}
