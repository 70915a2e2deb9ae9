//! Amounts as they are written in a kind: `0.6 * nominal`, `nominal^2 / watts`, `5 mΩ`, `10 %`.

use super::Amount;
use crate::units::Dimension;

impl Amount {
    /// A constant.
    pub const fn constant(factor: f64) -> Self {
        Self { factor, figures: Vec::new() }
    }

    /// Reads an amount. A lone number carries its unit, which must be `unit`; numbers in a product are bare.
    pub fn read(text: &str, unit: Dimension) -> Option<Self> {
        if let Some(value) = read_quantity(text, unit) {
            return Some(Self::constant(value));
        }
        let mut amount = Self::constant(1.0);
        let mut rest = text;
        let mut sign = 1;
        loop {
            let end = rest.find(['*', '/']).unwrap_or(rest.len());
            let (term, tail) = rest.split_at(end);
            amount.multiply(term.trim(), sign)?;
            match tail.chars().next() {
                None => break,
                Some('*') => sign = 1,
                Some(_) => sign = -1,
            }
            rest = &tail[1..];
        }
        let plausible = amount.factor.is_finite() && !amount.figures.is_empty();
        plausible.then_some(amount)
    }

    fn multiply(&mut self, term: &str, sign: i32) -> Option<()> {
        if let Ok(number) = term.parse::<f64>() {
            self.factor *= number.powi(sign);
            return Some(());
        }
        let (key, power) = match term.split_once('^') {
            None => (term, 1),
            Some((key, power)) => (key.trim(), power.trim().parse::<i32>().ok()?),
        };
        if !is_key(key) || power.abs() > 4 {
            return None;
        }
        self.figures.push((key.to_owned(), power * sign));
        Some(())
    }
}

/// Whether `text` can be the key of a figure, element or mode: lower case letters and digits, joined by hyphens.
pub(super) fn is_key(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

/// Reads a number with its unit (`5 mΩ`, `12 V`, `10 %`), to the SI unit of `unit`.
pub(super) fn read_quantity(text: &str, unit: Dimension) -> Option<f64> {
    let text = text.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(text.len());
    let (number, suffix) = text.split_at(end);
    let value: f64 = number.parse().ok()?;
    let scale = scale(suffix.trim(), unit)?;
    let value = value * scale;
    value.is_finite().then_some(value)
}

fn scale(suffix: &str, unit: Dimension) -> Option<f64> {
    let symbol = unit.symbol();
    if unit == Dimension::Ratio {
        return match suffix {
            "" => Some(1.0),
            "%" => Some(0.01),
            _ => None,
        };
    }
    if unit == Dimension::Minutes {
        return match suffix {
            "s" => Some(1.0 / 60.0),
            "min" => Some(1.0),
            "h" => Some(60.0),
            _ => None,
        };
    }
    match suffix.strip_suffix(symbol)? {
        "" => Some(1.0),
        // A prefix on mm² would be a power of a thousand no one means; metres take none either: `mm` is not a length here.
        _ if unit == Dimension::SquareMillimetres => None,
        "m" => Some(1e-3),
        "k" => Some(1e3),
        "M" => Some(1e6),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, unit: Dimension, expected: Option<(f64, &[(&str, i32)])>) {
        let expected = expected.map(|(factor, figures)| Amount {
            factor,
            figures: figures.iter().map(|(k, p)| ((*k).to_owned(), *p)).collect(),
        });
        assert_eq!(Amount::read(text, unit), expected, "{text}");
    }

    #[test]
    fn amounts_read_as_an_electrician_writes_them() {
        check("5 mΩ", Dimension::Ohms, Some((0.005, &[])));
        check("0.6 * nominal", Dimension::Volts, Some((0.6, &[("nominal", 1)])));
        check("nominal^2 / watts", Dimension::Ohms, Some((1.0, &[("nominal", 2), ("watts", -1)])));
        check("ohms", Dimension::Ohms, Some((1.0, &[("ohms", 1)])));
        check("90 s", Dimension::Minutes, Some((1.5, &[])));
        check("10 min", Dimension::Minutes, Some((10.0, &[])));
    }

    #[test]
    fn a_lone_number_without_its_unit_is_refused() {
        check("5", Dimension::Ohms, None);
        check("5 V", Dimension::Ohms, None);
        check("0.6 *", Dimension::Volts, None);
        check("", Dimension::Volts, None);
        check("watts / 0", Dimension::Volts, None);
    }
}
