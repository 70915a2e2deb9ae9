//! Figures as people write them: `12.6 V`, `0,2 m`, `15 mΩ`, `2.5 mm²`, `14 AWG`, `10 ft`, `5 %`.

/// What a figure measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// V.
    Volts,
    /// A.
    Amps,
    /// Ω.
    Ohms,
    /// W.
    Watts,
    /// m.
    Metres,
    /// mm².
    SquareMillimetres,
    /// min.
    Minutes,
    /// A share: per cent.
    Ratio,
}

impl Dimension {
    /// All of them.
    const ALL: [Self; 8] = [
        Self::Volts,
        Self::Amps,
        Self::Ohms,
        Self::Watts,
        Self::Metres,
        Self::SquareMillimetres,
        Self::Minutes,
        Self::Ratio,
    ];

    /// What a unit measures; `symbol` as `Self::symbol` writes it.
    pub fn named(symbol: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|dimension| dimension.symbol() == symbol)
    }

    /// The unit as it is written, for messages.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Volts => "V",
            Self::Amps => "A",
            Self::Ohms => "Ω",
            Self::Watts => "W",
            Self::Metres => "m",
            Self::SquareMillimetres => "mm²",
            Self::Minutes => "min",
            Self::Ratio => "%",
        }
    }

    /// The least and the largest figure that makes sense in any install, in the unit of the dimension. From memory:
    /// systems of 5 V to 1 kV, milliohm joints to gigohm leaks, bonding straps of 1,000 mm², cable runs up to 10 km.
    pub const fn sane(self) -> (f64, f64) {
        match self {
            Self::Volts => (1e-3, 1e3),
            Self::Amps => (1e-6, 1e4),
            Self::Ohms => (1e-6, 1e10),
            Self::Watts => (1e-4, 1e5),
            Self::Metres => (1e-3, 1e4),
            Self::SquareMillimetres => (1e-2, 1e3),
            Self::Minutes => (0.0, 1e4),
            Self::Ratio => (1e-6, 1e3),
        }
    }
}

/// A figure: a finite number in the unit of its dimension (per cent: as a share of one).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The number.
    pub value: f64,
    /// What it measures.
    pub dimension: Dimension,
}

/// Why a text is no figure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FigureError {
    /// It does not start with a number.
    NoNumber,
    /// A number without a unit.
    NoUnit,
    /// What stands behind the number is no unit.
    UnknownUnit(String),
    /// The number is too long to be one.
    TooLarge,
    /// A figure that must be above zero is not.
    NotPositive,
    /// The number is outside of what makes sense: least and largest, with unit.
    Absurd(Dimension),
}

/// Reads the number at the start of `text`: an optional sign, digits, one decimal point or comma. Returns it with
/// the bytes that it takes.
///
/// # Errors
/// There is none, or it is not finite.
pub fn scan_number(text: &str) -> Result<(f64, usize), FigureError> {
    let mut digits = String::new();
    let mut len = 0;
    let mut seen_point = false;
    for c in text.chars() {
        match c {
            '-' | '+' | '−' if len == 0 => digits.push(if c == '+' { '+' } else { '-' }),
            '0'..='9' => digits.push(c),
            '.' | ',' if !seen_point => {
                let behind = text.get(len + 1..).and_then(|t| t.chars().next());
                if !behind.is_some_and(|d| d.is_ascii_digit()) {
                    break;
                }
                seen_point = true;
                digits.push('.');
            }
            _ => break,
        }
        len += c.len_utf8();
    }
    if !digits.contains(|c: char| c.is_ascii_digit()) {
        return Err(FigureError::NoNumber);
    }
    match digits.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok((value, len)),
        _ => Err(FigureError::TooLarge),
    }
}

/// Reads a whole text as a figure, for any sign and size.
///
/// # Errors
/// It is no number, has no unit or an unknown one.
pub fn parse_signed(text: &str) -> Result<Figure, FigureError> {
    let text = text.trim();
    let (number, len) = scan_number(text)?;
    let unit = text.get(len..).unwrap_or_default().trim();
    if unit.is_empty() {
        return Err(FigureError::NoUnit);
    }
    let (dimension, scale) = unit_of(unit).ok_or_else(|| FigureError::UnknownUnit(unit.to_owned()))?;
    let value = match scale {
        Scale::Times(factor) => number * factor,
        Scale::Awg => awg(number),
    };
    if value.is_finite() { Ok(Figure { value, dimension }) } else { Err(FigureError::TooLarge) }
}

/// Reads a whole text as a figure of an install: above zero (minutes: not below) and of a size that makes sense.
///
/// # Errors
/// As [`parse_signed`], and a figure that is negative, zero or absurd.
pub fn parse_figure(text: &str) -> Result<Figure, FigureError> {
    let figure = parse_signed(text)?;
    let (least, largest) = figure.dimension.sane();
    let may_be_zero = least <= 0.0;
    if figure.value < 0.0 || (figure.value <= 0.0 && !may_be_zero) {
        return Err(FigureError::NotPositive);
    }
    if figure.value < least || figure.value > largest {
        return Err(FigureError::Absurd(figure.dimension));
    }
    Ok(figure)
}

/// Whether `word` is a unit.
pub fn is_unit(word: &str) -> bool {
    unit_of(word).is_some()
}

/// How a number becomes the unit of its dimension.
#[derive(Clone, Copy)]
enum Scale {
    Times(f64),
    Awg,
}

/// Units that take no prefix, or whose prefixed forms are spelt out.
const PLAIN: &[(&str, Dimension, f64)] = &[
    ("mm²", Dimension::SquareMillimetres, 1.0),
    ("mm2", Dimension::SquareMillimetres, 1.0),
    ("mm^2", Dimension::SquareMillimetres, 1.0),
    ("sqmm", Dimension::SquareMillimetres, 1.0),
    ("qmm", Dimension::SquareMillimetres, 1.0),
    ("cm", Dimension::Metres, 1e-2),
    ("ft", Dimension::Metres, FOOT),
    ("feet", Dimension::Metres, FOOT),
    ("foot", Dimension::Metres, FOOT),
    ("in", Dimension::Metres, FOOT / 12.0),
    ("inch", Dimension::Metres, FOOT / 12.0),
    ("s", Dimension::Minutes, 1.0 / 60.0),
    ("min", Dimension::Minutes, 1.0),
    ("minute", Dimension::Minutes, 1.0),
    ("minutes", Dimension::Minutes, 1.0),
    ("h", Dimension::Minutes, 60.0),
    ("%", Dimension::Ratio, 0.01),
];

/// The international foot in metres (NIST SP 811, appendix B: exact).
const FOOT: f64 = 0.3048;

/// Units that take SI prefixes.
const PREFIXED: &[(&str, Dimension)] = &[
    ("V", Dimension::Volts),
    ("volts", Dimension::Volts),
    ("volt", Dimension::Volts),
    ("A", Dimension::Amps),
    ("amps", Dimension::Amps),
    ("amp", Dimension::Amps),
    // U+03A9, and U+2126 that some keyboards send.
    ("Ω", Dimension::Ohms),
    ("\u{2126}", Dimension::Ohms),
    ("ohms", Dimension::Ohms),
    ("ohm", Dimension::Ohms),
    ("Ohm", Dimension::Ohms),
    ("W", Dimension::Watts),
    ("watts", Dimension::Watts),
    ("watt", Dimension::Watts),
    ("m", Dimension::Metres),
];

fn unit_of(unit: &str) -> Option<(Dimension, Scale)> {
    if unit.eq_ignore_ascii_case("awg") {
        return Some((Dimension::SquareMillimetres, Scale::Awg));
    }
    if let Some((_, dimension, factor)) = PLAIN.iter().find(|(name, ..)| *name == unit) {
        return Some((*dimension, Scale::Times(*factor)));
    }
    PREFIXED.iter().find_map(|(name, dimension)| {
        let prefix = unit.strip_suffix(name)?;
        let factor = match prefix {
            "" => 1.0,
            "µ" | "μ" | "u" => 1e-6,
            "m" => 1e-3,
            "k" => 1e3,
            "M" if *dimension != Dimension::Metres => 1e6,
            _ => return None,
        };
        Some((*dimension, Scale::Times(factor)))
    })
}

/// Cross-section in mm² of an American wire gauge number: the diameter is 0.127 mm * 92^((36 - n) / 39)
/// (ASTM B258).
fn awg(number: f64) -> f64 {
    let diameter = 0.127 * 92_f64.powf((36.0 - number) / 39.0);
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

#[cfg(test)]
mod tests {
    use super::{Dimension, FigureError, parse_figure, parse_signed};

    #[track_caller]
    fn check(text: &str, value: f64, dimension: Dimension) {
        let figure = parse_figure(text).unwrap();
        assert_eq!(figure.dimension, dimension, "{text}");
        assert!((figure.value - value).abs() <= 1e-9 * value.abs().max(1.0), "{text}: {}", figure.value);
    }

    #[test]
    fn figures_are_read_as_people_write_them() {
        // Spellings: common practice; prefixes: SI brochure, table 7.
        check("12.6 V", 12.6, Dimension::Volts);
        check("12,6V", 12.6, Dimension::Volts);
        check("0,2 m", 0.2, Dimension::Metres);
        check("15 mΩ", 0.015, Dimension::Ohms);
        check("4.7 kohm", 4700.0, Dimension::Ohms);
        check("10 MΩ", 1e7, Dimension::Ohms);
        check("2.5 mm²", 2.5, Dimension::SquareMillimetres);
        check("2,5 mm2", 2.5, Dimension::SquareMillimetres);
        check("350 mm", 0.35, Dimension::Metres);
        check("5 %", 0.05, Dimension::Ratio);
        check("90 s", 1.5, Dimension::Minutes);
        check("0 min", 0.0, Dimension::Minutes);
        check("20 mA", 0.02, Dimension::Amps);
        // NIST SP 811: 1 ft = 0.3048 m.
        check("10 ft", 3.048, Dimension::Metres);
    }

    #[test]
    fn gauge_numbers_become_square_millimetres() {
        // ASTM B258 tables: 14 AWG is 2.08 mm², 10 AWG 5.26 mm², 18 AWG 0.823 mm².
        for (text, size) in [("14 AWG", 2.08), ("10awg", 5.26), ("18 AWG", 0.823)] {
            let figure = parse_figure(text).unwrap();
            assert!((figure.value / size - 1.0).abs() < 2e-3, "{text}");
        }
    }

    #[test]
    fn what_is_no_figure_is_refused_with_its_reason() {
        // Cases made up for this test.
        for (text, error) in [
            ("96", FigureError::NoUnit),
            ("96 Q", FigureError::UnknownUnit("Q".to_owned())),
            ("V", FigureError::NoNumber),
            ("nan V", FigureError::NoNumber),
            ("inf V", FigureError::NoNumber),
            ("-3 A", FigureError::NotPositive),
            ("0 Ω", FigureError::NotPositive),
            ("900 kV", FigureError::Absurd(Dimension::Volts)),
            ("5000 mm²", FigureError::Absurd(Dimension::SquareMillimetres)),
            (&format!("{} V", "9".repeat(400)), FigureError::TooLarge),
        ] {
            assert_eq!(parse_figure(text), Err(error), "{text}");
        }
        assert!((parse_signed("−0,3 V").unwrap().value + 0.3).abs() < 1e-12);
    }
}
