//! How the figures of a part get their values: as stated, else by default, and with which spread.

use super::{Amount, ConductorSpec, Figure, Kind, LookupTable};
use crate::units::Volts;
use std::collections::BTreeMap;

/// A value with its relative spread (one sigma).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The value, in the SI unit of the figure.
    pub value: f64,
    /// Relative tolerance, one sigma.
    pub sigma: f64,
}

/// Why a figure has no value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoFigure {
    /// Not stated, and the kind has no default for it.
    NotStated(String),
    /// The stated or computed value makes no sense where it is used (not finite, or not above zero).
    Impossible(String),
}

/// The figures of one part.
#[derive(Clone, Copy, Debug)]
pub struct Figures<'a> {
    /// Its kind.
    pub kind: &'a Kind,
    /// What the install states, by key.
    pub stated: &'a BTreeMap<String, f64>,
    /// Nominal voltage of the install.
    pub nominal: Volts,
    /// The lookup tables.
    pub tables: &'a BTreeMap<String, LookupTable>,
}

impl Figures<'_> {
    /// The part's own nominal voltage: stated for it, else the install's.
    pub fn nominal(&self) -> f64 {
        let stated = self.stated.get("nominal").copied();
        stated.unwrap_or(self.nominal.get())
    }

    /// The value of the figure `key`.
    ///
    /// # Errors
    ///
    /// When it is neither stated nor has a default, or is not finite.
    pub fn value(&self, key: &str) -> Result<Spread, NoFigure> {
        self.value_among(key, self.kind.figures.len())
    }

    /// A default may lean only on figures listed before its own: so it ends, whatever a kind says.
    fn value_among(&self, key: &str, count: usize) -> Result<Spread, NoFigure> {
        let missing = || NoFigure::NotStated(key.to_owned());
        if key == "nominal" {
            return Ok(Spread { value: self.nominal(), sigma: 0.0 });
        }
        let mut listed = self.kind.figures.iter().take(count).enumerate();
        let (position, figure) = listed.rfind(|(_, figure)| figure.key == key).ok_or_else(missing)?;
        let found = match self.stated.get(key) {
            Some(value) => Spread { value: *value, sigma: figure.tolerance },
            None => self.default(figure, position)?,
        };
        if found.value.is_finite() { Ok(found) } else { Err(NoFigure::Impossible(key.to_owned())) }
    }

    fn default(&self, figure: &Figure, position: usize) -> Result<Spread, NoFigure> {
        let missing = || NoFigure::NotStated(figure.key.clone());
        let widened = |value: f64| Spread { value, sigma: figure.tolerance_of_default };
        if let Some(amount) = &figure.derived {
            let derived = self.amount_among(amount, position)?;
            let sigma = derived.sigma.hypot(figure.tolerance_of_default);
            return Ok(Spread { sigma, ..derived });
        }
        if let Some((key, table)) = &figure.lookup {
            let at = self.value_among(key, position)?;
            let table = self.tables.get(table).ok_or_else(missing)?;
            return table.value(at.value).map(widened).ok_or_else(missing);
        }
        let nominal = self.nominal();
        // The nearest nominal voltage on a logarithmic scale: a 13.8 V or 28 V supply takes the figures for 12 or 24 V.
        let distance =
            |default: &&(Option<Volts>, f64)| default.0.map_or(0.0, |volts| (volts.get() / nominal).ln().abs());
        let nearest = figure.defaults.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
        nearest.map(|(_, value)| widened(*value)).ok_or_else(missing)
    }

    /// The value of an amount.
    ///
    /// # Errors
    ///
    /// When a figure in it has no value, or the result is not finite.
    pub fn amount(&self, amount: &Amount) -> Result<Spread, NoFigure> {
        self.amount_among(amount, self.kind.figures.len())
    }

    fn amount_among(&self, amount: &Amount, count: usize) -> Result<Spread, NoFigure> {
        let mut value = amount.factor;
        let mut variance = 0.0;
        let mut last = "";
        for (key, power) in &amount.figures {
            let figure = self.value_among(key, count)?;
            value *= figure.value.powi(*power);
            variance += (f64::from(*power) * figure.sigma).powi(2);
            last = key;
        }
        if value.is_finite() {
            Ok(Spread { value, sigma: variance.sqrt() })
        } else {
            Err(NoFigure::Impossible(last.to_owned()))
        }
    }

    /// Ohms of a conductor at 20 °C: length times ohms per kilometre of its size.
    ///
    /// # Errors
    ///
    /// When size or length has no value, or no table covers the size.
    pub fn conductor(&self, spec: &ConductorSpec) -> Result<Spread, NoFigure> {
        let size = self.value(&spec.size)?;
        let length = self.value(&spec.length)?;
        let mut tables = spec.tables.iter().filter_map(|name| self.tables.get(name));
        let first = tables.clone().next();
        let per_km = tables
            .find_map(|table| table.row(size.value).map(|row| row.gives))
            .or_else(|| first?.value(size.value))
            .ok_or_else(|| NoFigure::Impossible(spec.size.clone()))?;
        Ok(Spread { value: per_km * length.value / 1000.0, sigma: size.sigma.hypot(length.sigma) })
    }
}
